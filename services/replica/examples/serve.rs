//! Serves forecasts on 127.0.0.1 until it is interrupted, and prints its address.
//!
//!     serve FOLDER [--at TIME] [--port PORT] [--pace OCTETS]
//!     serve --full-size RUN MEMBERS STEPS [--pool FOLDER] [--port PORT] [--pace OCTETS]
//!
//! With `--at TIME` (as 2030-05-13T05:00:00Z) the clock stands there, and runs have grown as they do 3 h 30 min after their
//! reference time and a minute for each hour of step later. Without it everything is there, by the machine's time.
//! `--full-size` serves an ensemble's full-size files out of memory: STEPS steps, three hours apart. PACE is octets a second
//! of each body.

use chrono::{DateTime, TimeDelta, Utc};
use replica::{FullSize, Publication, Replica, ReplicaSettings, Tree, VirtualTree, fixed_clock};
use std::collections::HashMap;
use std::error::Error;
use std::path::PathBuf;
use std::sync::Arc;

/// What stands on the command line: words, and options with their values.
struct Arguments {
    words: Vec<String>,
    options: HashMap<String, String>,
}

fn arguments() -> Result<Arguments, String> {
    let (mut words, mut options) = (Vec::new(), HashMap::new());
    let mut rest = std::env::args().skip(1);
    while let Some(word) = rest.next() {
        match word.as_str() {
            "--at" | "--port" | "--pace" | "--pool" => {
                let value = rest.next().ok_or_else(|| format!("{word} needs a value"))?;
                options.insert(word, value);
            }
            _ => words.push(word),
        }
    }
    Ok(Arguments { words, options })
}

fn tree(arguments: &Arguments) -> Result<Tree, Box<dyn Error>> {
    let words: Vec<&str> = arguments.words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["--full-size", run, members, steps] => Ok(Tree::FullSize(VirtualTree::full_size(FullSize {
            run: run.parse()?,
            members: members.parse()?,
            steps: (0..steps.parse()?).map(|step: u32| 3 * step).collect(),
            pool: arguments.options.get("--pool").map(PathBuf::from),
        })?)),
        [folder] if !folder.starts_with("--") => Ok(Tree::Folder(PathBuf::from(folder))),
        _ => Err("name a folder, or --full-size RUN MEMBERS STEPS".into()),
    }
}

#[expect(
    clippy::print_stdout,
    reason = "it tells its address to the person who started it"
)]
fn main() -> Result<(), Box<dyn Error>> {
    let arguments = arguments()?;
    let option = |name: &str| arguments.options.get(name);
    let mut settings = ReplicaSettings::tree(tree(&arguments)?, Arc::new(Utc::now));
    if let Some(time) = option("--at") {
        settings.clock = fixed_clock(time.parse::<DateTime<Utc>>()?);
        settings.publication = Publication::StepByStep {
            first_delay: TimeDelta::minutes(210),
            per_step: TimeDelta::minutes(1),
        };
    }
    settings.pace = option("--pace").map(|pace| pace.parse()).transpose()?;
    let port = option("--port").map_or(Ok(0), |port| port.parse())?;
    let replica = Replica::start_at(port, settings)?;
    println!("{}", replica.base_url());
    loop {
        std::thread::park();
    }
}
