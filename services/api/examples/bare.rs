//! The peer of `tests/bench/api.py`: a bare handler that returns the bytes of a file from memory, and nothing else.
//!
//! Arguments: a port and a file.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark's peer may fail by panicking; its address is its output"
)]

use axum::Router;
use axum::body::Bytes;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;

#[tokio::main]
async fn main() {
    let mut arguments = std::env::args().skip(1);
    let port: u16 = arguments.next().unwrap().parse().unwrap();
    let bytes = Bytes::from(std::fs::read(arguments.next().unwrap()).unwrap());
    let answer = move || {
        let bytes = bytes.clone();
        async move { ([(CONTENT_TYPE, "application/json")], bytes) }
    };
    let listener = tokio::net::TcpListener::bind(("127.0.0.1", port)).await.unwrap();
    println!("http://{}/", listener.local_addr().unwrap());
    axum::serve(listener, Router::new().route("/", get(answer)))
        .await
        .unwrap();
}
