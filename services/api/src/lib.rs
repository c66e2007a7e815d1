//! The service that answers: board, session page, and the API under `/v1` with its description.
//!
//! Owns: routes, status codes, cache and security headers, problem details. Is given: a store, a clock, a club's short
//! name. Must not know: GRIB, where forecasts come from, how a call is made; it issues nothing.

mod addresses;
mod answer;
mod around;
mod body;
mod cache;
mod caller;
mod client;
mod club_file;
mod clubs;
mod documents;
mod embed;
mod extract;
mod finished;
mod flight;
mod forms;
mod front;
mod limits;
mod listening;
mod mail;
mod media;
mod metrics;
mod pages;
mod paging;
mod precondition;
mod problem;
mod problem_page;
mod routes;
mod serving;
mod sheet;
mod state;
mod subscriptions;
mod v1;

pub use around::served;
pub use present::PublicAddress;
pub use serving::{MetricsFor, Serving};
pub use state::{ApiState, AskSources, Standings};

use axum::Router;
use axum::routing::get;
use std::io;
use tokio::net::TcpListener;

/// All routes with their headers.
pub fn router(state: ApiState) -> Router {
    let routes = Router::new()
        .route("/", get(routes::board))
        .route("/sessions/{id}", get(routes::session))
        .route("/sheet", get(sheet::next))
        .route("/sheet/{day}", get(sheet::of_day))
        .route("/style.css", get(routes::style))
        .route("/healthz", get(routes::health))
        .route("/readyz", get(routes::readiness))
        .route("/metrics", get(routes::metrics))
        .merge(pages::router())
        .merge(embed::router())
        .merge(v1::router())
        .fallback(routes::unknown)
        .method_not_allowed_fallback(routes::wrong_method);
    around::around(routes, &state).with_state(state)
}

/// Answers on a listener until `shutdown` is done, then lets the requests at hand finish.
///
/// # Errors
/// What the listener gives when it can no longer accept connections.
pub async fn serve(
    listener: TcpListener,
    state: ApiState,
    shutdown: impl Future<Output = ()>,
) -> io::Result<()> {
    listening::listen(listener, state, shutdown).await
}
