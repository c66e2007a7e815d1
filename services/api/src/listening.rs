//! Connections: accepted in bounded number, each with its times, and let finish when the service is told to stop.
//!
//! Owns: sockets. Must not know: routes. HTTP/1.1 only: HTTP/2 and TLS are the reverse proxy's.

use crate::around::served;
use crate::client::Peer;
use crate::{ApiState, router};
use axum::Router;
use axum::body::Body;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use std::convert::Infallible;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutStream;

/// Largest head of a request, octets.
const LARGEST_HEAD: usize = 32 * 1024;
/// After a connection could not be accepted, for want of file handles for example.
const TRY_AGAIN_AFTER: Duration = Duration::from_millis(100);

/// Answers on a listener until `shutdown` is done, then lets the answers at hand finish, for a bounded time.
pub(crate) async fn listen(
    listener: TcpListener,
    state: ApiState,
    shutdown: impl Future<Output = ()>,
) -> io::Result<()> {
    let (routes, serving) = (router(state.clone()), &state.serving);
    let room = Arc::new(Semaphore::new(serving.connections));
    let graceful = GracefulShutdown::new();
    let mut shutdown = std::pin::pin!(shutdown);
    loop {
        // Room first: what cannot be served waits in the listener's own queue.
        let place = tokio::select! {
            () = &mut shutdown => break,
            place = room.clone().acquire_owned() => place.map_err(io::Error::other)?,
        };
        let accepted = tokio::select! {
            () = &mut shutdown => break,
            accepted = listener.accept() => accepted,
        };
        let (stream, peer) = match accepted {
            Ok(accepted) => accepted,
            Err(error) => {
                tracing::warn!(%error, "a connection could not be accepted; it is tried again");
                tokio::time::sleep(TRY_AGAIN_AFTER).await;
                continue;
            }
        };
        let connection = graceful.watch(connection(stream, peer, (routes.clone(), state.clone())));
        tokio::spawn(async move {
            // Its error is the client's: gone, too slow, or no HTTP.
            let _ended = connection.await;
            drop(place);
        });
    }
    drop(listener);
    if tokio::time::timeout(serving.finish_within, graceful.shutdown())
        .await
        .is_err()
    {
        tracing::warn!("some answers were not taken in time and are cut off");
    }
    Ok(())
}

/// One connection, ready to be driven.
fn connection(
    stream: TcpStream,
    peer: SocketAddr,
    (routes, state): (Router, ApiState),
) -> impl hyper_util::server::graceful::GracefulConnection<Error = hyper::Error> + Send + use<> {
    let (head_within, taken_within) = (state.serving.head_within, state.serving.taken_within);
    // Small answers are sent at once; where it cannot be set they are a little later.
    let _set = stream.set_nodelay(true);
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(taken_within));
    let answer = service_fn(move |request: hyper::Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(Peer(peer.ip()));
        let (routes, state) = (routes.clone(), state.clone());
        async move { Ok::<_, Infallible>(served(&state, routes, request).await) }
    });
    http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(head_within)
        .max_buf_size(LARGEST_HEAD)
        .serve_connection(TokioIo::new(Box::pin(stream)), answer)
}
