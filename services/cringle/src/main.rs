//! `cringle`: the one binary. Command line, clock, tracing and the wiring of the services; no weather lives here.
//!
//! Exit codes: 0 done; 1 something failed and standard error says what; 2 the command line or a club file is wrong.

mod area;
mod commands;
mod context;
mod demo_run;
mod keeping;
mod kept;
mod mailing;
mod notes;
mod output;
mod progress;
mod settings;
mod sources;
mod standing;
mod supposed;

use chrono::{DateTime, Utc};
use clap::{Parser, Subcommand};
use context::Surroundings;
use std::path::PathBuf;
use std::process::ExitCode;

/// Tells a sailing school which sessions can go, with how many reefs and how much headsail, and why.
///
/// Cringle advises. The skipper on the water decides on what they see; official warnings, local rules and licensed practice come first.
/// Club, store, sources and the rest come from the settings: one TOML file (--config), each key overridable by a variable of the
/// environment named CRINGLE__SECTION__KEY, such as CRINGLE__STORE__URL or CRINGLE__SOURCES__GFS_WAVE__BASE_URL (a hyphen of a source's
/// name is an underscore there). --club, --feeds and --store win over both. Without any of these a command works on the demo: an
/// invented club on an invented, bundled forecast run, at a clock fixed inside it.
#[derive(Parser, Debug)]
#[command(name = "cringle", version, about, long_about, max_term_width = 100)]
struct CommandLine {
    /// Settings file (TOML); variables of the environment (CRINGLE__SECTION__KEY) win over it, and flags over both
    #[arg(long, global = true, value_name = "FILE")]
    config: Option<PathBuf>,
    /// Work as of this moment (RFC 3339, with its offset), in place of the clock: nothing that became known later is seen.
    /// What writes to the store then needs one of its own (--store)
    #[arg(long, global = true, value_name = "TIME", value_parser = context::moment)]
    now: Option<DateTime<Utc>>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    /// Run everything on the bundled, invented forecast: print the board and serve its pages on a local address
    Demo(commands::demo::DemoArguments),
    /// Keep fetching and advising, and serve the pages
    ///
    /// Stops on SIGTERM or Ctrl-C after the answers at hand. With --now its clock begins at that moment and goes on from there.
    Serve(commands::serve::ServeArguments),
    /// Fetch what the enabled sources have published, once
    ///
    /// Says for each source and cycle what was received, what is missing and why. Exit code 0 if every source gave something, 1 if one
    /// did not (the others are fetched all the same), 2 if the settings are wrong.
    Fetch(commands::fetch::FetchArguments),
    /// Say what is kept of each source: its newest run, how old and how complete it is, what is late, what went wrong last
    ///
    /// Nothing is fetched. A run is called complete only if every part and message of it is there.
    Runs(commands::runs::RunsArguments),
    /// Print what is kept for a venue: hour by hour, quantity by quantity
    ///
    /// The values of each source's newest run at the venue's points, interpolated as advisories do it and in the units of the forecast,
    /// or why a value is missing.
    Conditions(commands::conditions::ConditionsArguments),
    /// Print the coming sessions' calls and sail plans, or one session in full
    Advise(commands::advise::AdviseArguments),
    /// Make an issued advisory again from its stored inputs and trace its numbers to messages, nodes and rules
    Explain(commands::explain::ExplainArguments),
    /// List the stretches of the coming days that are good enough for a boat and a level
    Windows(commands::windows::WindowsArguments),
    /// Make the mails that are due and send what waits, once; or write the daily mail to files
    ///
    /// `serve` does it by itself. Exit code 1 if a mail waits to be tried again or the server is in trouble.
    Digest(commands::digest::DigestArguments),
    /// Keep what the club has decided of a session: on, off or moved; it stands beside the call
    Decide(commands::decide::DecideArguments),
    /// Say what the rules would say of given hours: what would we do at 20 knots gusting 26?
    ///
    /// The same rules as for a forecast, over hours from a CSV file. No clock, store or source is looked at; exit code 2 if a file or
    /// an argument is wrong.
    Suppose(commands::suppose::SupposeArguments),
    /// Check a club file: every mistake at once, with line and column; or say what it means
    Check(commands::check::CheckArguments),
    /// Print the JSON Schema (2020-12) of a club file: every key with its meaning, unit, range and default
    ///
    /// For editors that check while one writes. `cringle check` says more: it also compares one part of the file with another.
    Schema,
    /// Make, list and revoke the tokens with which programs read and write a club over the API
    #[command(subcommand)]
    Token(commands::token::TokenCommand),
    /// Print the values of GRIB2 files at places
    Grib(commands::grib::GribArguments),
    /// Decode messages for another process (used by the program itself)
    #[command(hide = true)]
    DecodeWorker,
}

fn main() -> ExitCode {
    let command_line = CommandLine::parse();
    if let Command::DecodeWorker = command_line.command {
        return fetcher::decoder::run_worker();
    }
    start_tracing();
    let runtime = match tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .worker_threads(2)
        .build()
    {
        Ok(runtime) => runtime,
        Err(error) => return output::fail("the async runtime cannot start", &error),
    };
    let around = Surroundings::of_process(command_line.config, command_line.now);
    runtime.block_on(run(&around, command_line.command))
}

async fn run(around: &Surroundings, command: Command) -> ExitCode {
    let done = match command {
        Command::Demo(arguments) => commands::demo::run(around, arguments).await,
        Command::Serve(arguments) => commands::serve::run(around, arguments).await,
        Command::Fetch(arguments) => commands::fetch::run(around, arguments).await,
        Command::Runs(arguments) => commands::runs::run(around, arguments).await,
        Command::Conditions(arguments) => commands::conditions::run(around, arguments).await,
        Command::Advise(arguments) => commands::advise::run(around, arguments).await,
        Command::Explain(arguments) => commands::explain::run(around, arguments).await,
        Command::Windows(arguments) => commands::windows::run(around, arguments).await,
        Command::Digest(arguments) => commands::digest::run(around, arguments).await,
        Command::Decide(arguments) => commands::decide::run(around, arguments).await,
        Command::Suppose(arguments) => commands::suppose::run(arguments).await,
        Command::Check(arguments) => return commands::check::run(around, arguments).await,
        Command::Schema => return commands::schema::run(),
        Command::Token(command) => commands::token::run(around, command).await,
        Command::Grib(arguments) => return commands::grib::run(arguments).await,
        Command::DecodeWorker => Ok(ExitCode::SUCCESS),
    };
    done.unwrap_or_else(|error| output::fail_with(&error))
}

/// Warnings and errors on standard error, more with `RUST_LOG`.
fn start_tracing() {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("warn"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .init();
}
