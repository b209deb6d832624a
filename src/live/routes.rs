//! What can be asked for.

use super::answers::{Piece, Question};
use super::guard;
use super::refusal::Refusal;
use super::save::Wish;
use super::state::State;
use crate::pictures;
use axum::Json;
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract;
use axum::http::header::CONTENT_TYPE;
use axum::http::{Method, StatusCode, Uri};
use axum::middleware;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use futures_util::stream;
use serde::de::DeserializeOwned;
use serde_json::json;
use std::convert::Infallible;
use std::sync::Arc;
use tokio::sync::mpsc;

type Own = extract::State<Arc<State>>;

/// Pieces of an answer that may wait to be taken; more there are none.
const WAITING: usize = 64;

/// The files of the page.
const FILES: [(&str, &str, &str); 5] = [
    ("/", "text/html; charset=utf-8", include_str!("assets/index.html")),
    ("/style.css", "text/css; charset=utf-8", include_str!("assets/style.css")),
    ("/pictures.css", "text/css; charset=utf-8", pictures::STYLE),
    ("/app.js", "text/javascript; charset=utf-8", include_str!("assets/app.js")),
    ("/icon.svg", "image/svg+xml", include_str!("assets/icon.svg")),
];

/// All that is answered; what is not named here is not there.
pub fn router(state: Arc<State>) -> Router {
    let mut router = Router::new();
    for (path, kind, text) in FILES {
        router = router.route(path, get(move || async move { ([(CONTENT_TYPE, kind)], text) }));
    }
    router
        .route("/api/answer", post(answer))
        .route("/api/save", post(save))
        .fallback(missing)
        .method_not_allowed_fallback(not_so)
        .layer(middleware::from_fn_with_state(state.clone(), guard::check))
        .with_state(state)
}

async fn missing(uri: Uri) -> Refusal {
    let text = format!("there is nothing at {}", cycles::short(uri.path()));
    Refusal::new(StatusCode::NOT_FOUND, &text)
}

async fn not_so(method: Method, uri: Uri) -> Refusal {
    let (path, method) = (cycles::short(uri.path()), cycles::short(method.as_str()));
    Refusal::new(StatusCode::METHOD_NOT_ALLOWED, &format!("{path} is not asked by {method}"))
}

fn read<T: DeserializeOwned>(body: &[u8]) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|e| Refusal::new(StatusCode::BAD_REQUEST, &e.to_string()))
}

/// Answers a move, a line of JSON for each piece.
async fn answer(extract::State(state): Own, body: Bytes) -> Result<Response, Refusal> {
    let question: Question = read(&body)?;
    question.check()?;
    let page = state.page(&question.page);
    page.moved(question.number);
    let superseded = || {
        let text = "something newer was asked";
        Err(Refusal::new(StatusCode::CONFLICT, text))
    };
    // One computation of a page at a time; who waits longest comes first, and has become old.
    let turn = page.turn.clone().lock_owned().await;
    if !page.is_newest(question.number) {
        return superseded();
    }
    let (sender, mut receiver) = mpsc::channel::<String>(WAITING);
    tokio::task::spawn_blocking(move || {
        let tell = |piece: Option<&Piece>| match piece.map(crate::plain::json) {
            // Asked with nothing, it says whether anybody listens.
            None => !sender.is_closed(),
            Some(Ok(line)) => sender.try_send(line + "\n").is_ok(),
            Some(Err(_)) => false,
        };
        state.pool.install(|| question.answer(&state, &page, &tell));
        drop(turn);
    });
    let pieces = stream::poll_fn(move |context| {
        receiver.poll_recv(context).map(|piece| piece.map(Ok::<_, Infallible>))
    });
    Ok(([(CONTENT_TYPE, "application/x-ndjson")], Body::from_stream(pieces)).into_response())
}

/// Saves the car.
async fn save(extract::State(state): Own, body: Bytes) -> Result<Response, Refusal> {
    let wish: Wish = read(&body)?;
    let saved = tokio::task::spawn_blocking(move || wish.fulfil(&state)).await;
    let path = saved.map_err(Refusal::of)??;
    Ok(Json(json!({ "saved": crate::plain::line(&path.display().to_string()) })).into_response())
}
