//! `cringle demo --live`: the bundled run published step by step by a server on this machine, by a clock that runs fast,
//! while the program fetches and advises as it does for a club.
//!
//! Owns: that clock and that server. Must not know: how runs are fetched, what is advised.

use crate::commands::demo::{DemoArguments, reached_at};
use crate::commands::pull::Puller;
use crate::commands::serve::{listen, run_until_told, state};
use crate::context::{Context, Surroundings};
use crate::demo_run;
use crate::keeping::{Clock, Keeping};
use crate::output::{CommandError, failed, print};
use chrono::{DateTime, TimeDelta, Utc};
use replica::{Publication, Replica, ReplicaSettings};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Instant;
use store::Store;

/// Minutes of the demo's clock that pass in a minute.
const PACE: u32 = 60;
/// The demo's clock begins so long before the moment at which it stands in `cringle demo`: ten minutes before the first
/// files of the 06 UTC run.
const BEGINS_BEFORE: TimeDelta = TimeDelta::minutes(340);
/// From a run's reference time to its first file, and for each hour of step beyond it: about as GFS comes out.
const FIRST_DELAY: TimeDelta = TimeDelta::minutes(210);
const PER_STEP: TimeDelta = TimeDelta::seconds(30);
/// How often the demo looks for new steps, by its own clock.
const INTERVAL: TimeDelta = TimeDelta::minutes(10);

/// Publishes, fetches, advises and serves until it is told to stop.
pub async fn run(around: &Surroundings, arguments: DemoArguments) -> Result<ExitCode, CommandError> {
    let begins = around.now.unwrap_or(demo_run::clock() - BEGINS_BEFORE);
    let clock = fast_clock(begins);
    let server = publish(clock.clone())?;
    let mut context = Context::of_demo(around, Some(begins)).await?;
    // A file of its own, gone at the end: two live demos do not meet, and memory holds what a club's service would hold.
    let folder = tempfile::tempdir().map_err(failed("no folder can be made for the demo's store"))?;
    context.store = Store::open(&folder.path().join("live.db").to_string_lossy())
        .await
        .map_err(failed("the demo's store cannot be opened"))?;
    context.settings.interval = INTERVAL;
    // The server is ours and on this machine.
    context.settings.per_minute = u32::MAX;
    context.banner = Some(banner(begins));
    for (_, address) in &mut context.sources {
        // The trees lie side by side; the last part of a folder's address is the producer's.
        let tree = address.rsplit('/').next().unwrap_or_default().to_owned();
        *address = format!("{}/{tree}", server.base_url());
    }
    let puller = Puller::new(&context)?;
    print(&format!(
        "{}\nForecasts: {}/   Files appear as they would from the producers.\n",
        banner(begins),
        server.base_url()
    ));
    let listening = listen(arguments.listen).await?;
    reached_at(&mut context, listening.1);
    let state = state(&context, clock.clone(), false);
    let keeping = Keeping::new(context, puller, None, (clock, PACE));
    run_until_told(listening, state, keeping).await
}

fn publish(clock: Clock) -> Result<Replica, CommandError> {
    let folder = demo_run::folder();
    std::fs::create_dir_all(&folder)
        .map_err(failed(format!("the folder {} cannot be made", folder.display())))?;
    let settings = ReplicaSettings {
        publication: Publication::StepByStep {
            first_delay: FIRST_DELAY,
            per_step: PER_STEP,
        },
        ..ReplicaSettings::folder(demo_run::unpack(&folder)?, clock)
    };
    Replica::start(settings).map_err(failed("the server of the demo's forecasts cannot be started"))
}

fn fast_clock(begins: DateTime<Utc>) -> Clock {
    let started = Instant::now();
    Arc::new(move || {
        let gone = TimeDelta::from_std(started.elapsed() * PACE).unwrap_or_default();
        begins + gone
    })
}

fn banner(begins: DateTime<Utc>) -> String {
    let began = begins.format("%A %-d %B %Y %H:%M UTC");
    format!(
        "Demo: invented weather, club and place; the clock began at {began} and runs {PACE} times as fast as yours."
    )
}
