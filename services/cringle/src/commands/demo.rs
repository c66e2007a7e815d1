//! `cringle demo`: everything on the bundled run, on a local address, without a network.

use crate::commands::advise::{decisions, issue, style, with_banner};
use crate::commands::demo_live;
use crate::commands::serve::{cannot, listen, state};
use crate::context::{Context, Surroundings};
use crate::output::{CommandError, print};
use crate::standing::standings;
use api::PublicAddress;
use clap::Args;
use feeds::Feed;
use present::terminal;
use std::net::SocketAddr;
use std::process::ExitCode;
use std::sync::Arc;

/// Run everything on the bundled, invented forecast.
#[derive(Args, Debug)]
pub struct DemoArguments {
    /// Local address to serve the pages on; port 0 takes a free one
    #[arg(long, default_value = "127.0.0.1:8730")]
    pub listen: SocketAddr,
    /// Print the board and stop, serving nothing
    #[arg(long)]
    pub once: bool,
    /// Publish the bundled run step by step by a server on this machine, a minute each second, and fetch, advise and
    /// serve meanwhile
    #[arg(long, conflicts_with = "once")]
    pub live: bool,
}

/// Fetches the bundled run, issues, prints the board, serves the pages until interrupted.
pub async fn run(around: &Surroundings, arguments: DemoArguments) -> Result<ExitCode, CommandError> {
    if arguments.live {
        return demo_live::run(around, arguments).await;
    }
    let mut context = Context::of_demo(around, around.now).await?;
    context.fetch_first().await?;
    let advisories = issue(&context, 7).await?;
    print(&with_banner(
        &context,
        terminal::board(&advisories, &decisions(&context).await?, context.now, style()),
    ));
    if arguments.once {
        return Ok(ExitCode::SUCCESS);
    }
    let (listener, address) = listen(arguments.listen).await?;
    reached_at(&mut context, address);
    print(&format!(
        "\nThe same as pages: http://{address}/   (Ctrl-C stops)\n"
    ));
    let now = context.now;
    let state = state(&context, Arc::new(move || now), false);
    api::serve(listener, state, async {
        let _stopped = tokio::signal::ctrl_c().await;
    })
    .await
    .map_err(cannot(address))?;
    Ok(ExitCode::SUCCESS)
}

/// A demo is reached where it listens, unless the settings name an address or it listens on all that the machine has.
pub fn reached_at(context: &mut Context, address: SocketAddr) {
    let public = &mut context.settings.serving.public_address;
    if public.is_none() && !address.ip().is_unspecified() {
        *public = PublicAddress::read(&format!("http://{address}"));
    }
}

/// How the sources of a context stand, for `/readyz`.
pub fn readiness(context: &Context) -> api::AskSources {
    let store = context.store.clone();
    let feeds: Arc<[Feed]> = context.sources.iter().map(|(feed, _)| feed.clone()).collect();
    Arc::new(move |now| {
        let (store, feeds) = (store.clone(), feeds.clone());
        Box::pin(async move { standings(&store, &feeds, now).await })
    })
}
