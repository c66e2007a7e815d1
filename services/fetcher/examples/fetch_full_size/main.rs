//! The processes of `tests/bench/fetch_full_size.py`, which measures them from outside, and a look at what was kept.
//!
//! Owns: what is served and what is pulled. Prints JSON lines. Must not know: memory and time, how figures are shown.
//!
//!     fetch_full_size serve RUN MEMBERS STEPS POOL PACE LINE    a full-size ensemble; octets a second of each body and of all
//!                                                          together, 0 for no bound. Ends with its input.
//!     fetch_full_size serve-folder FOLDER NOW              a tree of files, as of NOW
//!     fetch_full_size pull ADDRESS RUN LAST_STEP STORE     five parameters of GEFS by byte ranges for 100 places
//!     fetch_full_size download ADDRESS RUN LAST_STEP       the same octets, of which nothing is made
//!     fetch_full_size pull-four ADDRESS RUN LAST_STEP STORE    the catalogue's four, between which one is left out
//!     fetch_full_size pull-subset ADDRESS NOW STORE        one venue's GFS run by the subset service
//!     fetch_full_size look RUN STORE                       the values kept at one node, each once
//!     fetch_full_size decode-worker                        the decoding child

#![expect(clippy::print_stdout, reason = "a benchmark prints")]

mod download;

use chrono::{DateTime, TimeDelta, Utc};
use feeds::{Catalogue, Feed};
use fetcher::decoder::{WorkerCommand, run_worker};
use fetcher::{FetchPlan, SizeLimits, pull};
use forecast::SourceId;
use replica::{FullSize, Replica, ReplicaSettings, Tree, VirtualTree, fixed_clock};
use seaway::LatLon;
use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use store::Store;

type Failure = Box<dyn std::error::Error>;

/// The venue whose run is pulled through the subset service: `home-pool` of the invented week.
const VENUE: LatLon = LatLon {
    lat: 43.5,
    lon: -15.5,
};
/// Places of the ensemble pull.
const PLACES: u32 = 100;
/// The fifth parameter beside the four of the catalogue. Numbers: WMO FM 92 GRIB2, code table 4.2.
const AIR_TEMPERATURE: &str = "want.air-temperature = { variable = \"TMP\", level_text = \"2 m above ground\", \
    kind = \"instant\", codes = [[0, 0, 0]], surfaces = [103], level = 2.0 }";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match arguments.as_slice() {
        ["decode-worker"] => return run_worker(),
        ["serve", run, members, steps, pool, pace, line] => {
            full_size(run, members, steps, pool, (pace, line))
        }
        ["serve-folder", folder, now] => folder_as_of(folder, now),
        rest => in_runtime(rest),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            println!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn in_runtime(arguments: &[&str]) -> Result<(), Failure> {
    tokio::runtime::Runtime::new()?.block_on(async {
        match arguments {
            ["pull", address, run, last, store] => {
                pull_ensemble(address, run, last, AIR_TEMPERATURE, store).await
            }
            ["pull-four", address, run, last, store] => pull_ensemble(address, run, last, "", store).await,
            ["download", address, run, last] => download_ensemble(address, run, last).await,
            ["pull-subset", address, now, store] => pull_subset(address, now, store).await,
            ["look", run, store] => look(run, store).await,
            _ => Err("the words at the top of this file say what can be asked".into()),
        }
    })
}

fn full_size(
    run: &str,
    members: &str,
    steps: &str,
    pool: &str,
    (pace, line): (&str, &str),
) -> Result<(), Failure> {
    let tree = VirtualTree::full_size(FullSize {
        run: run.parse()?,
        members: members.parse()?,
        steps: (0..steps.parse()?).map(|step: u32| 3 * step).collect(),
        pool: Some(PathBuf::from(pool)),
    })?;
    let octets = tree.message_octets();
    let mut settings = ReplicaSettings::tree(Tree::FullSize(tree), Arc::new(Utc::now));
    let bound = |word: &str| Ok::<_, Failure>(Some(word.parse()?).filter(|bound| *bound > 0));
    (settings.pace, settings.line) = (bound(pace)?, bound(line)?);
    serve(settings, octets)
}

fn folder_as_of(folder: &str, now: &str) -> Result<(), Failure> {
    serve(ReplicaSettings::folder(folder, fixed_clock(now.parse()?)), 0)
}

/// Serves until its input ends, then says what it sent by its own count.
fn serve(settings: ReplicaSettings, octets: u64) -> Result<(), Failure> {
    let replica = Replica::start(settings)?;
    println!(
        "{{\"address\": {:?}, \"message_octets\": {octets}}}",
        replica.base_url()
    );
    std::io::stdout().flush()?;
    std::io::stdin().read_to_end(&mut Vec::new())?;
    let asked = replica.requests();
    let sent: u64 = asked.iter().map(|seen| seen.body_octets).sum();
    println!("{{\"requests\": {}, \"body_octets\": {sent}}}", asked.len());
    Ok(())
}

async fn pull_ensemble(
    address: &str,
    run: &str,
    last_step: &str,
    more: &str,
    store: &str,
) -> Result<(), Failure> {
    let feed = ensemble(last_step, more)?;
    let run: DateTime<Utc> = run.parse()?;
    let plan = FetchPlan {
        feeds: vec![(feed, address.to_owned())],
        places: (0..PLACES).filter_map(place).collect(),
        ring: 1,
        // The run is out and the next one is not.
        now: run + TimeDelta::hours(6),
        runs: 1,
        limits: SizeLimits::default(),
    };
    carry_out(&plan, store).await
}

async fn download_ensemble(address: &str, run: &str, last_step: &str) -> Result<(), Failure> {
    let (feed, run) = (ensemble(last_step, AIR_TEMPERATURE)?, run.parse()?);
    let octets = download::download(&feed, address, run, feed.part_count_of_run(run)).await?;
    println!("{{\"octets_received\": {octets}}}");
    Ok(())
}

fn ensemble(last_step: &str, more: &str) -> Result<Feed, Failure> {
    let steps = format!("steps = [{{ first = 0, last = {last_step}, every = 3 }}]");
    overridden("gefs", &format!("[gefs]\n{steps}\n{more}\n"))
}

async fn pull_subset(address: &str, now: &str, store: &str) -> Result<(), Failure> {
    let subset = format!("subset = {{ base_url = {address:?}, requests_per_minute = 100000 }}");
    let settings = format!("[gfs]\nbase_url = {address:?}\n{subset}\n");
    let plan = FetchPlan {
        feeds: vec![(overridden("gfs", &settings)?, address.to_owned())],
        places: vec![VENUE],
        ring: 1,
        now: now.parse()?,
        runs: 1,
        limits: SizeLimits::default(),
    };
    carry_out(&plan, store).await
}

async fn carry_out(plan: &FetchPlan, store: &str) -> Result<(), Failure> {
    let store = Store::open(store).await?;
    let report = pull(plan, &store, &WorkerCommand::of_this_program()?).await?;
    let source = report.sources.first().ok_or("no source was pulled")?;
    if let Some(failure) = &source.failure {
        return Err(failure.clone().into());
    }
    let run = source.runs.first().ok_or("no run was found")?;
    println!(
        "{{\"messages\": {}, \"missing\": {}, \"parts\": {}, \"octets_received\": {}, \"octets_wanted\": {}}}",
        run.messages_read,
        run.missing.len(),
        run.parts_written.len(),
        source.octets_received,
        source.octets_wanted
    );
    Ok(())
}

/// What is kept at the first node near the first place: for each parameter its values, each once.
async fn look(run: &str, store: &str) -> Result<(), Failure> {
    let store = Store::open(store).await?;
    let run: DateTime<Utc> = run.parse()?;
    let near: Vec<LatLon> = place(0).into_iter().collect();
    let (source, until) = (SourceId::new("gefs"), run + TimeDelta::days(1));
    let slice = store.read_slice(&source, run, until, &near, None).await?;
    let slice = slice.ok_or("the run is not kept")?;
    let node = slice.nodes.first().ok_or("no node is kept")?;
    let mut fields = Vec::new();
    for field in &node.fields {
        let samples = field.samples.iter();
        let bits: BTreeSet<u32> = samples.clone().flatten().map(|value| value.to_bits()).collect();
        let values: Vec<f32> = bits.into_iter().map(f32::from_bits).collect();
        let gaps = samples.filter(|sample| sample.is_err()).count();
        fields.push(format!(
            "\"{}\": {{\"values\": {values:?}, \"gaps\": {gaps}}}",
            field.parameter
        ));
    }
    let (row, column) = (node.node.row, node.node.column);
    println!(
        "{{\"row\": {row}, \"column\": {column}, \"fields\": {{{}}}}}",
        fields.join(", ")
    );
    Ok(())
}

/// Places in 45-60 N, 12 W-25 E, none near another: the fractions of multiples of two irrational numbers.
fn place(number: u32) -> Option<LatLon> {
    let fraction = |step: f64| (f64::from(number + 1) * step).fract();
    LatLon::new(
        45.0 + 15.0 * fraction(2.0_f64.sqrt()),
        -12.0 + 37.0 * fraction(3.0_f64.sqrt()),
    )
}

fn overridden(name: &str, settings: &str) -> Result<Feed, Failure> {
    let changed = Catalogue::embedded()?.with_overrides_text(settings)?;
    let feed = changed.feed(&SourceId::new(name));
    Ok(feed.ok_or("no such feed")?.clone())
}
