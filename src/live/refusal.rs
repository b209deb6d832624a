//! What is not done, in one sentence.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::json;

/// A refusal.
#[derive(Debug)]
pub struct Refusal {
    status: StatusCode,
    sentence: String,
}

impl Refusal {
    /// A refusal for a reason.
    pub fn new(status: StatusCode, sentence: &str) -> Self {
        Self { status, sentence: crate::plain::line(sentence) }
    }

    /// Of something that was asked for and cannot be.
    pub fn of(reason: impl ToString) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, &reason.to_string())
    }

    /// Why.
    pub fn sentence(&self) -> &str {
        &self.sentence
    }
}

impl From<scenarios::Error> for Refusal {
    fn from(error: scenarios::Error) -> Self {
        Self::of(error)
    }
}

impl From<crate::failure::Failure> for Refusal {
    fn from(failure: crate::failure::Failure) -> Self {
        Self::of(failure.sentence())
    }
}

impl From<scenarios::runs::Failure> for Refusal {
    fn from(failure: scenarios::runs::Failure) -> Self {
        crate::failure::Failure::from(failure).into()
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        (self.status, Json(json!({ "refused": self.sentence }))).into_response()
    }
}
