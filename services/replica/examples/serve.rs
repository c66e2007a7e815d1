//! Serves a folder of forecasts on 127.0.0.1 until it is interrupted: `serve FOLDER [--at TIME] [--port PORT]`.
//!
//! TIME is as in 2030-05-13T05:00:00Z: the clock stands there, and runs have grown as they do 3 h 30 min after their
//! reference time and a minute for each hour of step later. Without it everything is there, by the machine's time.

use chrono::{DateTime, TimeDelta, Utc};
use replica::{Clock, Publication, Replica, ReplicaSettings, fixed_clock};
use std::error::Error;
use std::sync::Arc;

#[expect(
    clippy::print_stdout,
    reason = "it tells its address to the person who started it"
)]
fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().ok_or("name a folder")?;
    let mut clock: Clock = Arc::new(Utc::now);
    let (mut port, mut publication) = (0, Publication::Everything);
    while let Some(option) = arguments.next() {
        let value = arguments
            .next()
            .ok_or_else(|| format!("{option} needs a value"))?;
        match option.as_str() {
            "--at" => {
                clock = fixed_clock(value.parse::<DateTime<Utc>>()?);
                publication = Publication::StepByStep {
                    first_delay: TimeDelta::minutes(210),
                    per_step: TimeDelta::minutes(1),
                };
            }
            "--port" => port = value.parse()?,
            _ => return Err(format!("unknown option {option}").into()),
        }
    }
    let mut settings = ReplicaSettings::folder(folder, clock);
    settings.publication = publication;
    let replica = Replica::start_at(port, settings)?;
    println!("{}", replica.base_url());
    loop {
        std::thread::park();
    }
}
