//! `cringle fetch`: one pull of every enabled source, and what came of it.

use crate::commands::pull::Puller;
use crate::context::{Context, ContextArguments, Surroundings, Use};
use crate::notes::gave_something;
use crate::output::{CommandError, print};
use crate::progress::Progress;
use clap::Args;
use fetcher::{PullReport, RunReport, SourceReport};
use std::fmt::Write;
use std::process::ExitCode;

/// Reasons named of one run; the others are counted.
const REASONS_NAMED: usize = 8;

/// Fetch what the enabled sources have published and the store has not yet, once.
///
/// Exit code 0 if every source gave something, 1 if one did not (the others are fetched all the same), 2 if the settings are wrong.
#[derive(Args, Debug)]
pub struct FetchArguments {
    #[command(flatten)]
    pub context: ContextArguments,
}

/// Pulls and says what came of it.
pub async fn run(around: &Surroundings, arguments: FetchArguments) -> Result<ExitCode, CommandError> {
    let context = Context::open(
        around,
        &arguments.context,
        Use::Writes("fetch writes what it finds"),
    )
    .await?;
    if context.sources.is_empty() {
        return Err(CommandError::Wrong(
            "cringle: no source is enabled, or none has a tree in the folder of --feeds: set [sources] enabled, or \
             name another folder"
                .to_owned(),
        ));
    }
    let puller = Puller::new(&context)?;
    let progress = Progress::new();
    let pulled = puller.pull(&context, context.now, &progress).await;
    progress.end();
    let report = pulled?;
    print(&in_words(&report));
    Ok(if report.sources.iter().all(gave_something) {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn in_words(report: &PullReport) -> String {
    report.sources.iter().map(source_words).collect()
}

fn source_words(report: &SourceReport) -> String {
    let mut text = String::new();
    let name = &report.source;
    match &report.failure {
        Some(failure) => {
            let verdict = if gave_something(report) {
                "in part"
            } else {
                "FAILED"
            };
            let _ = writeln!(text, "{name}: {verdict}: {}", failure);
        }
        None => {
            let _ = writeln!(
                text,
                "{name}: received {} for {} of wanted messages",
                octets(report.octets_received),
                octets(report.octets_wanted)
            );
        }
    }
    for run in &report.runs {
        text += &run_words(run);
    }
    text
}

fn run_words(run: &RunReport) -> String {
    let mut text = format!("  run {}: {}\n", run.reference.format("%a %-d %b %H:%M UTC"), run);
    if !run.parts_written.is_empty() {
        let _ = writeln!(
            text,
            "    received {} for {} of wanted messages",
            octets(run.octets_received),
            octets(run.octets_wanted)
        );
    }
    for reason in run.main_reasons(REASONS_NAMED) {
        let _ = writeln!(text, "    {}", reason);
    }
    text
}

/// Octets in the unit one thinks in; powers of ten (ISO 80000-1).
pub fn octets(count: u64) -> String {
    match count {
        0..1_000 => format!("{count} octets"),
        1_000..1_000_000 => format!("{:.1} kB", count as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", count as f64 / 1e6),
        _ => format!("{:.2} GB", count as f64 / 1e9),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn octets_are_said_in_powers_of_ten() {
        for (count, words) in [
            (0, "0 octets"),
            (999, "999 octets"),
            (1_500, "1.5 kB"),
            (4_990_000, "5.0 MB"),
            (1_250_000_000, "1.25 GB"),
        ] {
            assert_eq!(octets(count), words);
        }
    }
}
