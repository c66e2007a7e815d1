//! `cringle serve`: keeps fetching and advising, and serves the pages, until it is told to stop.
//!
//! Owns: the listening address, the clock that is handed down, the signals that stop it.

use crate::commands::demo::readiness;
use crate::commands::pull::Puller;
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::keeping::{Clock, Keeping};
use crate::mailing;
use crate::output::{CommandError, failed, print};
use api::{ApiState, Serving};
use chrono::{DateTime, TimeDelta, Utc};
use clap::Args;
use std::net::SocketAddr;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::watch;

/// Keep fetching and advising, and serve the pages.
///
/// Stops on SIGTERM or Ctrl-C after the answers at hand. With --now its clock begins at that moment and goes on from there.
#[derive(Args, Debug)]
pub struct ServeArguments {
    /// Address to serve the pages on; port 0 takes a free one; wins over `[serve] listen`
    #[arg(long)]
    pub listen: Option<SocketAddr>,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Serves until it is told to stop.
pub async fn run(around: &Surroundings, arguments: ServeArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(
        around,
        &arguments.context,
        Use::Writes("serve fetches and issues"),
    )
    .await?;
    let puller = Puller::new(&context)?;
    let office = mailing::office(&context).await?;
    let address = arguments.listen.unwrap_or(context.settings.listen);
    let clock = clock(around.now.or(context.banner.as_ref().map(|_| context.now)));
    let state = state(&context, clock.clone(), office.is_some());
    let listening = listen(address).await?;
    run_until_told(
        listening,
        state,
        Keeping::new(context, puller, office, (clock, 1)),
    )
    .await
}

/// A listener for pages, with the address it has.
pub async fn listen(address: SocketAddr) -> Result<(TcpListener, SocketAddr), CommandError> {
    let listener = TcpListener::bind(address).await.map_err(cannot(address))?;
    let address = listener.local_addr().map_err(cannot(address))?;
    Ok((listener, address))
}

/// Why pages cannot be served on an address.
pub fn cannot(address: SocketAddr) -> impl FnOnce(std::io::Error) -> CommandError {
    failed(format!(
        "pages cannot be served on {address}: give --listen another address"
    ))
}

/// Serves pages on an address and keeps going what is to be kept going, until the signal.
pub async fn run_until_told(
    (listener, address): (TcpListener, SocketAddr),
    state: ApiState,
    keeping: Keeping,
) -> Result<ExitCode, CommandError> {
    let stop = stop_signals()?;
    keeping
        .keep_club()
        .await
        .map_err(failed("the club's file cannot be kept in the store"))?;
    print(&format!("Pages: http://{address}/   (Ctrl-C or SIGTERM stops)\n"));
    let (served, ()) = tokio::join!(
        api::serve(listener, state, stopped(stop.clone())),
        keeping.until(&stop)
    );
    served.map_err(cannot(address))?;
    print("Stopped.\n");
    Ok(ExitCode::SUCCESS)
}

/// What pages are made from; `sends_mail`: clubs take subscriptions.
pub fn state(context: &Context, clock: Clock, sends_mail: bool) -> ApiState {
    let serving = Serving {
        sends_mail,
        ..context.settings.serving.clone()
    };
    let state = ApiState::new(
        context.store.clone(),
        context.club.slug.clone(),
        move || clock(),
        context.banner.clone(),
        context.catalogue.clone(),
        serving,
    );
    state.with_sources(readiness(context))
}

/// The system's clock, or one that begins at a moment.
fn clock(begins: Option<DateTime<Utc>>) -> Clock {
    let started = Instant::now();
    match begins {
        None => Arc::new(Utc::now),
        Some(begins) => Arc::new(move || {
            let gone = TimeDelta::from_std(started.elapsed()).unwrap_or_default();
            begins + gone
        }),
    }
}

/// Turns true with the first SIGTERM or Ctrl-C.
fn stop_signals() -> Result<watch::Receiver<bool>, CommandError> {
    let cannot = || failed::<std::io::Error>("the signals that stop the program cannot be watched");
    let mut terminate = signal(SignalKind::terminate()).map_err(cannot())?;
    let mut interrupt = signal(SignalKind::interrupt()).map_err(cannot())?;
    let (tell, told) = watch::channel(false);
    tokio::spawn(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
        // Nobody listens any more only if the program is ending already.
        let _ended = tell.send(true);
    });
    Ok(told)
}

/// Done once the signal has come.
pub async fn stopped(mut stop: watch::Receiver<bool>) {
    // An error means that no signal can come any more.
    let _gone = stop.wait_for(|stop| *stop).await;
}
