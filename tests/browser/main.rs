//! Pages in a real browser. Each test needs Chromium on the path:
//! `cargo test --release --test browser -- --ignored`.

mod chromium;
mod live;
mod print;
#[path = "../program/served.rs"]
mod served;
