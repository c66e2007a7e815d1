//! `cringle`: the one binary. Command line, clock, tracing and the wiring of the services; no weather lives here.
//!
//! Exit codes: 0 done; 1 something failed and standard error says what; 2 the command line or a club file is wrong.

mod area;
mod commands;
mod context;
mod demo_run;
mod output;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Tells a sailing school which sessions can go, with how many reefs and how much headsail, and why.
///
/// Cringle advises. The skipper on the water decides on what they see; official warnings, local rules and licensed practice come first.
/// Without --club, --feeds, --store and --now a command works on the demo: an invented club on an invented, bundled forecast run, at a
/// clock fixed inside it.
#[derive(Parser, Debug)]
#[command(name = "cringle", version, about, long_about, max_term_width = 100)]
struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    /// Run everything on the bundled, invented forecast: print the board and serve its pages on a local address
    Demo(commands::demo::DemoArguments),
    /// Print the coming sessions' calls and sail plans, or one session in full
    Advise(commands::advise::AdviseArguments),
    /// Make an issued advisory again from its stored inputs and trace its numbers to messages, nodes and rules
    Explain(commands::explain::ExplainArguments),
    /// List the stretches of the coming days that are good enough for a boat and a level
    Windows(commands::windows::WindowsArguments),
    /// Check a club file: every mistake at once, with line and column; or say what it means
    Check(commands::check::CheckArguments),
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
    runtime.block_on(run(command_line.command))
}

async fn run(command: Command) -> ExitCode {
    let done = match command {
        Command::Demo(arguments) => commands::demo::run(arguments).await,
        Command::Advise(arguments) => commands::advise::run(arguments).await,
        Command::Explain(arguments) => commands::explain::run(arguments).await,
        Command::Windows(arguments) => commands::windows::run(arguments).await,
        Command::Check(arguments) => return commands::check::run(arguments).await,
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
