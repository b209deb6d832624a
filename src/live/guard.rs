//! What is looked at before a request is answered, and what every answer carries.

use super::refusal::Refusal;
use super::state::State;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{self, Request};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Duration;

/// The header in which the page sends the key.
///
/// The page takes it out of the part of the address behind `#`, which a browser never sends, and
/// keeps it for its own tab. A cookie would be sent to every server on this machine, whatever its
/// port, and by forms of other pages; a header of this name no other page can send.
pub const KEY: &str = "x-shakedown-key";

/// The largest request, bytes.
pub const LARGEST_BYTES: usize = 1_000_000;

/// How long a request may take to arrive.
const ARRIVES_WITHIN: Duration = Duration::from_secs(10);

/// Nothing but what comes from here is loaded, run or sent to, and nobody frames the page.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                      connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// Lets through what the page itself asks for.
pub async fn check(
    extract::State(state): extract::State<Arc<State>>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match admit(&state, request).await {
        Ok(request) => next.run(request).await,
        Err(refusal) => refusal.into_response(),
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

async fn admit(state: &State, request: Request) -> Result<Request, Refusal> {
    let refused = |status, text: &str| Err(Refusal::new(status, text));
    let headers = request.headers();
    let only = |name: &str| {
        let mut all = headers.get_all(name).iter();
        let first = all.next().map(HeaderValue::as_bytes);
        if all.next().is_some() { Some(&b"twice"[..]) } else { first }
    };
    // A name that another site made lead here is not ours.
    if !only("host").is_some_and(|host| state.is_host(host)) {
        return refused(StatusCode::FORBIDDEN, "the host is not the address that was printed");
    }
    let origin = only("origin");
    if origin.is_some_and(|origin| !state.is_origin(origin)) {
        return refused(StatusCode::FORBIDDEN, "another page asks, and gets no answer");
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let from = only("sec-fetch-site");
    if from.is_some_and(|from| from != b"same-origin" && !(reads && from == b"none")) {
        return refused(StatusCode::FORBIDDEN, "another page asks, and gets no answer");
    }
    if !request.uri().path().starts_with("/api/") {
        return Ok(request);
    }
    if !only(KEY).is_some_and(|key| state.key.is(key)) {
        return refused(StatusCode::UNAUTHORIZED, "the key of the printed address is needed");
    }
    if reads {
        return Ok(request);
    }
    if origin.is_none() {
        return refused(StatusCode::FORBIDDEN, "the origin is missing");
    }
    if !is_json(headers) {
        return refused(StatusCode::UNSUPPORTED_MEDIA_TYPE, "needed: application/json");
    }
    let (head, body) = request.into_parts();
    Ok(Request::from_parts(head, Body::from(whole(body).await?)))
}

fn is_json(headers: &HeaderMap) -> bool {
    headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind == "application/json")
}

/// The body, which may be neither too large nor too slow.
async fn whole(body: Body) -> Result<Bytes, Refusal> {
    match tokio::time::timeout(ARRIVES_WITHIN, to_bytes(body, LARGEST_BYTES)).await {
        Ok(Ok(bytes)) => Ok(bytes),
        Ok(Err(_)) => {
            let text = format!("the request is too large; allowed: {LARGEST_BYTES} bytes");
            Err(Refusal::new(StatusCode::PAYLOAD_TOO_LARGE, &text))
        }
        Err(_) => Err(Refusal::new(StatusCode::REQUEST_TIMEOUT, "the request came too slowly")),
    }
}
