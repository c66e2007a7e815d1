//! One pull of short runs that tells of every commit point on a line, and ends itself by SIGKILL at a named one if told to.
//! It is its own decoding child.
//!
//! `dying_pull --store STORE --now TIME --source NAME=ADDRESS.. [--cache FOLDER] [--die-at EVENT --count N] [--file-limit OCTETS]`
//!
//! Owns: the end of this process. Must not know: what is shown with it.

use chrono::{DateTime, Utc};
use cringle_tests::dying::DyingTeller;
use cringle_tests::short_runs::plan;
use fetcher::decoder::{WorkerCommand, run_worker};
use fetcher::{
    CacheLimits, HttpClient, HttpSettings, MessageCache, PullEvent, PullMeans, PullReport, PullWatcher,
    RetryLimits, pull_over,
};
use rustix::process::{Resource, Rlimit, setrlimit};
use std::io::Write;
use std::process::ExitCode;
use std::time::Duration;
use store::Store;

type Failure = Box<dyn std::error::Error + Send + Sync>;

fn main() -> ExitCode {
    if std::env::args().nth(1).as_deref() == Some("decode-worker") {
        return run_worker();
    }
    let told = arguments().and_then(|arguments| {
        let runtime = tokio::runtime::Runtime::new()?;
        runtime.block_on(pull_and_tell(arguments))
    });
    match told {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // A test reads it where this fails.
            let _ = writeln!(std::io::stderr(), "{error}");
            ExitCode::FAILURE
        }
    }
}

/// What the command line says.
#[derive(Default)]
struct Arguments {
    store: String,
    cache: Option<String>,
    now: DateTime<Utc>,
    sources: Vec<(String, String)>,
    die_at: Option<String>,
    count: usize,
    file_limit: Option<u64>,
}

fn arguments() -> Result<Arguments, Failure> {
    let mut read = Arguments::default();
    let mut words = std::env::args().skip(1);
    while let Some(key) = words.next() {
        let value = words.next().ok_or_else(|| format!("{key} needs a value"))?;
        match key.as_str() {
            "--store" => read.store = value,
            "--cache" => read.cache = Some(value),
            "--now" => read.now = value.parse()?,
            "--source" => {
                let (name, address) = value.split_once('=').ok_or("--source NAME=ADDRESS")?;
                read.sources.push((name.to_owned(), address.to_owned()));
            }
            "--die-at" => read.die_at = Some(value),
            "--count" => read.count = value.parse()?,
            "--file-limit" => read.file_limit = Some(value.parse()?),
            _ => return Err(format!("{key} is unknown").into()),
        }
    }
    Ok(read)
}

async fn pull_and_tell(arguments: Arguments) -> Result<(), Failure> {
    // A copy of the output that decoding children inherit: whoever reads it to its end knows that none is left.
    let _inherited = rustix::io::dup(std::io::stdout())?;
    let store = Store::open(&arguments.store).await?;
    let limits = CacheLimits::default();
    let cache = arguments.cache.as_ref();
    let cache = cache
        .map(|folder| MessageCache::in_folder(folder.as_ref(), limits))
        .transpose()?;
    if let Some(octets) = arguments.file_limit {
        bound_files(octets)?;
    }
    let (http, worker) = (HttpClient::new(settings()), WorkerCommand::of_this_program()?);
    let watcher = Teller(DyingTeller::new(arguments.die_at, arguments.count));
    let means = PullMeans {
        cache: cache.as_ref(),
        watcher: &watcher,
        ..PullMeans::new(&http, &store, &worker)
    };
    let report = pull_over(&plan(&arguments.sources, arguments.now), &means).await?;
    failure_of(&report).map_or(Ok(()), |failure| Err(failure.into()))
}

/// Nothing of a sound tree may be missing.
fn failure_of(report: &PullReport) -> Option<String> {
    report.sources.iter().find_map(|source| {
        let missing = source.runs.iter().flat_map(|run| run.reasons()).next();
        let reason = source.failure.clone().or(missing.map(|(reason, _)| reason))?;
        Some(format!("{}: {reason}", source.source))
    })
}

/// Without waits between tries.
fn settings() -> HttpSettings {
    HttpSettings {
        contact: Some("mail@example.org".to_owned()),
        retry: RetryLimits {
            times: 2,
            first_wait: Duration::ZERO,
            ..RetryLimits::default()
        },
        ..HttpSettings::default()
    }
}

/// From now on a write beyond so many octets of a file is cut there, and the system ends this process (SIGXFSZ).
fn bound_files(octets: u64) -> Result<(), Failure> {
    let most = |octets| Rlimit {
        current: Some(octets),
        maximum: Some(octets),
    };
    setrlimit(Resource::Core, most(0))?;
    setrlimit(Resource::Fsize, most(octets))?;
    Ok(())
}

struct Teller(DyingTeller);

impl PullWatcher for Teller {
    fn tell(&self, event: PullEvent<'_>) {
        let (name, about) = line_of(&event);
        self.0.step(name, &about);
    }
}

/// The event's name, and what it is about: source, run, part.
fn line_of(event: &PullEvent<'_>) -> (&'static str, String) {
    match event {
        PullEvent::SourceBegins { source } => ("SourceBegins", source.to_string()),
        PullEvent::RunBegins { source, run, .. } => ("RunBegins", format!("{source} {}", run.to_rfc3339())),
        PullEvent::PartPlanned {
            source, run, part, ..
        } => ("PartPlanned", format!("{source} {} {part}", run.to_rfc3339())),
        PullEvent::OctetsReceived { source, .. } => ("OctetsReceived", source.to_string()),
        PullEvent::MessagesDone { source, .. } => ("MessagesDone", source.to_string()),
        PullEvent::MessageCached { source } => ("MessageCached", source.to_string()),
        PullEvent::PartRead { source, run, part } => {
            ("PartRead", format!("{source} {} {part}", run.to_rfc3339()))
        }
        PullEvent::PartWritten { source, run, part } => {
            ("PartWritten", format!("{source} {} {part}", run.to_rfc3339()))
        }
        PullEvent::SourceEnds { report } => ("SourceEnds", report.source.to_string()),
    }
}
