//! Pages in a real browser. Each test needs Chromium on the path:
//! `cargo test --release --test browser -- --ignored`.

mod chromium;
mod live;
#[path = "../program/served.rs"]
mod served;
