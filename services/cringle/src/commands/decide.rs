//! `cringle decide`: keeps what the club has decided of a session. The program itself never decides.

use crate::commands::advise::{choose, issue};
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::output::{CommandError, failed, print};
use advisory::{Decided, Decision};
use clap::{Args, ValueEnum};
use std::process::ExitCode;
use store::NewDecision;

/// Keep what the club has decided of a session: it stands beside the call from then on.
///
/// Decisions are added, never changed: the last one counts, and the earlier ones stay on record.
#[derive(Args, Debug)]
pub struct DecideArguments {
    /// A coming session as the board names it, or the beginning of its name
    pub session: String,
    /// What was decided
    pub decided: Choice,
    /// Who decided: a name or initials, as the crew knows them
    #[arg(long)]
    pub by: String,
    /// A note for the crew; of a session that is moved, to when or where
    #[arg(long)]
    pub note: Option<String>,
    #[command(flatten)]
    pub context: ContextArguments,
}

/// What can be decided.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Choice {
    /// The session is on.
    On,
    /// The session is off.
    Off,
    /// The session is moved; the note says to when or where.
    Moved,
}

/// Days ahead in which sessions are looked for.
const DAYS: u16 = 16;

/// Keeps the decision and says what now stands.
pub async fn run(around: &Surroundings, arguments: DecideArguments) -> Result<ExitCode, CommandError> {
    let of_store = Use::Writes("decide keeps a decision");
    let context = Context::open(around, &arguments.context, of_store).await?;
    context.fetch_first().await?;
    let advisories = issue(&context, DAYS).await?;
    let advisory = choose(&advisories, &arguments.session)?;
    let decision = Decision {
        session: advisory.session.id.clone(),
        decided: match arguments.decided {
            Choice::On => Decided::On,
            Choice::Off => Decided::Off,
            Choice::Moved => Decided::Moved,
        },
        by: arguments.by,
        at: context.now,
        note: arguments.note,
    };
    let decision = decision
        .checked()
        .map_err(|words| CommandError::Wrong(format!("cringle: {words}")))?;
    let document = serde_json::to_vec(&decision).map_err(failed("the decision cannot be written"))?;
    let new = NewDecision {
        club: context.club.slug.clone(),
        occurrence: decision.session.clone(),
        document,
        at: decision.at,
    };
    let kept = context.store.put_decision(&new).await;
    kept.map_err(failed("the decision cannot be kept"))?;
    print(&format!(
        "{}: {}, decided by {}. The call is {}; both are shown.\n",
        decision.session,
        decision.decided.word(),
        decision.by,
        advisory.call.words().to_lowercase()
    ));
    Ok(ExitCode::SUCCESS)
}
