//! `cringle advise`: the board in the terminal, or one session in full.

use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, colour, failed, print};
use advisory::document::CallWord;
use advisory::{Advisory, Decision, Opening, OpeningQuery};
use chrono::TimeDelta;
use clap::Args;
use present::terminal::{self, Style};
use std::process::ExitCode;

/// A session is decided on at most so long before it ends.
const LOOK_BACK: TimeDelta = TimeDelta::days(16);

/// Openings told for a session that cannot go.
const OPENINGS_TOLD: usize = 3;

/// Print the coming sessions' calls and sail plans, or one session in full.
#[derive(Args, Debug)]
pub struct AdviseArguments {
    /// A session as the board names it, or the beginning of its name; without one, the board
    pub session: Option<String>,
    /// Print the documents as JSON: a list, or the one session's document as it is stored
    #[arg(long)]
    pub json: bool,
    /// Days ahead
    #[arg(long, default_value_t = 7, value_parser = clap::value_parser!(u16).range(1..=16))]
    pub days: u16,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Fetches, issues and prints.
pub async fn run(around: &Surroundings, arguments: AdviseArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(
        around,
        &arguments.context,
        Use::Writes("advise issues what has changed"),
    )
    .await?;
    context.fetch_first().await?;
    let advisories = issue(&context, arguments.days).await?;
    let chosen = match &arguments.session {
        None => None,
        Some(name) => Some(choose(&advisories, name)?),
    };
    match (chosen, arguments.json) {
        (Some(one), true) => print_json(one)?,
        (None, true) => print_json(&advisories)?,
        (Some(one), false) => {
            let instead = instead(&context, one, arguments.days).await?;
            let decisions = decisions(&context).await?;
            let text = terminal::session(one, &decisions, instead.as_deref(), context.now, style());
            print(&with_banner(&context, text));
        }
        (None, false) => print(&with_banner(
            &context,
            terminal::board(&advisories, &decisions(&context).await?, context.now, style()),
        )),
    }
    Ok(ExitCode::SUCCESS)
}

/// The best openings for the crew of a session that cannot go; none are told for any other.
async fn instead(
    context: &Context,
    advisory: &Advisory,
    days: u16,
) -> Result<Option<Vec<Opening>>, CommandError> {
    let club = &context.club;
    let of = |id: &str| club.sessions.iter().find(|session| session.id == id);
    let session = advisory.session.id.split('@').next().and_then(of);
    let Some(session) = session.filter(|_| advisory.call == CallWord::NoGo) else {
        return Ok(None);
    };
    let query = OpeningQuery {
        venue: &club.venues[session.venue],
        boat: &club.boats[session.boat],
        level: &club.levels[session.level],
        marginal_too: false,
        at_least: session.lasts,
        days,
    };
    let found = advisor::openings(&context.store, &context.catalogue, club, query, context.now)
        .await
        .map_err(failed("the openings cannot be found"))?;
    Ok(Some(advisory::openings::best(found, OPENINGS_TOLD)))
}

/// Colour only where a terminal shows it.
pub fn style() -> Style {
    Style { colour: colour() }
}

/// The demo says first what it is.
pub fn with_banner(context: &Context, text: String) -> String {
    match &context.banner {
        Some(banner) => format!("{}\n{text}", terminal::paragraph("", banner)),
        None => text,
    }
}

/// What the club has decided lately, in the order it decided.
pub async fn decisions(context: &Context) -> Result<Vec<Decision>, CommandError> {
    let (slug, now) = (&context.club.slug, context.now);
    let kept = context.store.decisions(slug, now - LOOK_BACK, now).await;
    let kept = kept.map_err(failed("the club's decisions cannot be read"))?;
    let read = |document: &[u8]| serde_json::from_slice(document);
    let read: Result<_, serde_json::Error> = kept.iter().map(|decision| read(&decision.document)).collect();
    read.map_err(failed("a kept decision cannot be read"))
}

/// Issues what has changed for the coming sessions and gives the advisory that stands for each.
pub async fn issue(context: &Context, days: u16) -> Result<Vec<Advisory>, CommandError> {
    let coming = context.coming(days);
    let issued = advisor::issue(
        &context.store,
        &context.catalogue,
        &context.club,
        &context.club_text,
        &coming,
        context.now,
    )
    .await
    .map_err(failed("the advisories cannot be issued"))?;
    // One session's fault is in the log and hides no other session.
    match issued.failed.into_iter().next() {
        Some(first) if issued.issued.is_empty() => {
            let what = format!("the advisory of {} cannot be issued", first.what);
            Err(failed(what)(first.error))
        }
        _ => Ok(issued.issued.into_iter().map(|issued| issued.advisory).collect()),
    }
}

/// The one session that goes by a name or its beginning.
pub fn choose<'a>(advisories: &'a [Advisory], name: &str) -> Result<&'a Advisory, CommandError> {
    let exact = advisories
        .iter()
        .find(|advisory| advisory.session.id == name || advisory.id == name);
    let beginning: Vec<&Advisory> = advisories
        .iter()
        .filter(|a| a.session.id.starts_with(name) || a.id.starts_with(name))
        .collect();
    match (exact, beginning.as_slice()) {
        (Some(one), _) => Ok(one),
        (None, [one]) => Ok(one),
        (None, several) => {
            let known: Vec<&str> = if several.is_empty() {
                advisories.iter().collect()
            } else {
                several.to_vec()
            }
            .into_iter()
            .map(|advisory| advisory.session.id.as_str())
            .collect();
            let known = if known.is_empty() {
                "none is coming".to_owned()
            } else {
                known.join("\n  ")
            };
            Err(CommandError::Wrong(format!(
                "cringle: no single session is named {name}; the coming ones:\n  {known}"
            )))
        }
    }
}

fn print_json(value: &impl serde::Serialize) -> Result<(), CommandError> {
    let text =
        serde_json::to_string_pretty(value).map_err(failed("the documents cannot be written as JSON"))?;
    print(&format!("{text}\n"));
    Ok(())
}
