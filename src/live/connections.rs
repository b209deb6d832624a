//! Connections: so many at once, none of which may dawdle.

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::time::timeout;

/// The most connections at once; what comes then is closed.
const AT_ONCE: usize = 256;

/// How long the head of a request may take to arrive, and a connection be idle.
const HEAD_WITHIN: Duration = Duration::from_secs(5);

/// How long a connection takes requests, and how long its last answer may then take: none whose
/// answers nobody takes stays for ever.
const LASTS: Duration = Duration::from_secs(30);
const ENDS_WITHIN: Duration = Duration::from_secs(30);

/// The largest head of a request, bytes.
const HEAD_BYTES: usize = 32_768;

/// Serves for ever.
pub async fn serve(listener: TcpListener, router: Router) -> ! {
    let room = Arc::new(Semaphore::new(AT_ONCE));
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            // No file handle is left, or the caller has gone: there is room again in a while.
            tokio::time::sleep(Duration::from_millis(20)).await;
            continue;
        };
        let Ok(place) = room.clone().try_acquire_owned() else { continue };
        let _ = stream.set_nodelay(true);
        let service = TowerToHyperService::new(router.clone());
        tokio::spawn(async move {
            let mut connection = pin!(
                http1::Builder::new()
                    .timer(TokioTimer::new())
                    .header_read_timeout(HEAD_WITHIN)
                    .max_buf_size(HEAD_BYTES)
                    .serve_connection(TokioIo::new(stream), service)
            );
            // Whether it ends well is a matter of whoever asked.
            if timeout(LASTS, connection.as_mut()).await.is_err() {
                connection.as_mut().graceful_shutdown();
                let _ = timeout(ENDS_WITHIN, connection).await;
            }
            drop(place);
        });
    }
}
