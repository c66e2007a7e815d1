//! `cringle runs`: what is kept of each source, how old it is, what is late and what went wrong last.

use crate::commands::advise::{style, with_banner};
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use crate::standing::standings;
use clap::Args;
use feeds::Feed;
use present::terminal;
use std::process::ExitCode;

/// Say what is kept of each source: its newest run, how old and how complete it is, what is late, what went wrong last.
#[derive(Args, Debug)]
pub struct RunsArguments {
    /// Print JSON: a list, one object a source
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Reads and prints. Only the demo is fetched first: elsewhere the store is shown as it is.
pub async fn run(around: &Surroundings, arguments: RunsArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(around, &arguments.context, Use::Reads).await?;
    if context.banner.is_some() {
        context.fetch_first().await?;
    }
    let feeds: Vec<Feed> = context.sources.iter().map(|(feed, _)| feed.clone()).collect();
    let standings = standings(&context.store, &feeds, context.now)
        .await
        .map_err(failed("what is kept cannot be read"))?;
    let credit = |source: &str| {
        let feed = feeds.iter().find(|feed| feed.name.as_str() == source)?;
        Some(format!(
            "{}. {}",
            feed.licence.trim_end_matches('.'),
            feed.attribution
        ))
    };
    if arguments.json {
        let text = serde_json::to_string_pretty(&standings)
            .map_err(failed("the sources cannot be written as JSON"))?;
        print(&format!("{text}\n"));
    } else {
        print(&with_banner(
            &context,
            terminal::runs(&standings, &credit, context.now, style()),
        ));
    }
    Ok(ExitCode::SUCCESS)
}
