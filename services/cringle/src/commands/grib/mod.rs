//! `cringle grib`: the values of GRIB2 files at places, a line for each field and place, for people and for programs.
//!
//! Owns: reading the files, telling damage. Must not know: how values are decoded, which the decoder does.

mod lines;
mod source;

use clap::Args;
use fetcher::decoder::{Ask, DecodeFailure, DecodeRequest, DecodedValues, Decoder, Limits, WorkerCommand};
use grid::{Damage, Frame, Message};
use seaway::LatLon;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Print the values of GRIB2 files at places, a line for each field and place.
///
/// Damage is told on standard error with file, message and section; intact messages are printed all the same. Exit code
/// 1 if any message failed.
#[derive(Args, Debug)]
pub struct GribArguments {
    /// GRIB2 files; those compressed with bzip2 are read too
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// A place in degrees north and east, for example --at=43.5,-15.5; may be given several times
    #[arg(long, required = true, value_name = "LAT,LON", value_parser = parse_place, allow_hyphen_values = true)]
    at: Vec<LatLon>,
    /// Print JSON Lines: one object for each field and place
    #[arg(long)]
    json: bool,
}

fn parse_place(text: &str) -> Result<LatLon, String> {
    let degrees = |part: &str| part.trim().parse::<f64>().ok();
    let parts = text
        .split_once(',')
        .and_then(|(lat, lon)| Some((degrees(lat)?, degrees(lon)?)));
    parts.and_then(|(lat, lon)| LatLon::new(lat, lon)).ok_or_else(|| {
        "expected latitude and longitude in degrees, as in 43.5,-15.5 (south and west are negative)"
            .to_owned()
    })
}

/// Reads every file and prints what it holds.
pub async fn run(arguments: GribArguments) -> ExitCode {
    let command = match WorkerCommand::of_this_program() {
        Ok(command) => command,
        Err(error) => {
            tell(&format!(
                "cringle: this program cannot find itself to start its decoder: {error}"
            ));
            return ExitCode::FAILURE;
        }
    };
    let mut reading = Reading {
        decoder: Decoder::new(command, Limits::default()),
        arguments: &arguments,
        failed: false,
    };
    for path in &arguments.files {
        reading.file(path).await;
    }
    if reading.failed {
        ExitCode::FAILURE
    } else {
        ExitCode::SUCCESS
    }
}

/// One run of the command.
struct Reading<'a> {
    decoder: Decoder,
    arguments: &'a GribArguments,
    failed: bool,
}

impl Reading<'_> {
    async fn file(&mut self, path: &std::path::Path) {
        let name = path.display().to_string();
        let bytes = match source::read(path) {
            Ok(bytes) => bytes,
            Err(error) => return self.fail(&format!("{name}: {error}")),
        };
        for frame in grid::split(&bytes) {
            match frame {
                Frame::Message(message) => self.message(&name, &message).await,
                Frame::Damage(damage) if damage.is_outside_messages() => {
                    tell(&format!("warning: {}", damage.in_file(&name)));
                }
                Frame::Damage(damage) => self.damage(&name, &damage),
            }
        }
    }

    async fn message(&mut self, name: &str, message: &Message<'_>) {
        let ask = Ask::At {
            places: self.arguments.at.clone(),
        };
        let request = DecodeRequest {
            message: message.bytes.to_vec().into(),
            number: message.number,
            ask,
        };
        let fields = match self.decoder.decode(request).await {
            Ok(fields) => fields,
            Err(DecodeFailure::Damaged(damage)) => {
                return self.damage(name, &damage.in_message_at(message.offset));
            }
            Err(failure @ DecodeFailure::NotStarted { .. }) => return self.fail(&with_causes(&failure)),
            Err(failure) => return self.fail(&format!("{name}: {}", with_causes(&failure))),
        };
        for field in fields {
            match field.outcome {
                Ok(DecodedValues::At(places)) => {
                    for place in places {
                        let line = lines::Line::new(name, &field.header, &place);
                        print(&if self.arguments.json {
                            line.json()
                        } else {
                            line.text()
                        });
                    }
                }
                Ok(DecodedValues::Around { .. } | DecodedValues::NearestCells(_)) => {
                    self.fail(&format!("{name}: not what the decoder was asked"))
                }
                Err(damage) => self.damage(name, &damage.in_message_at(message.offset)),
            }
        }
    }

    fn damage(&mut self, name: &str, damage: &Damage) {
        self.fail(&damage.in_file(name));
    }

    fn fail(&mut self, words: &str) {
        self.failed = true;
        tell(words);
    }
}

fn with_causes(failure: &dyn std::error::Error) -> String {
    let mut words = failure.to_string();
    let mut cause = failure.source();
    while let Some(error) = cause {
        words += &format!(": {error}");
        cause = error.source();
    }
    words
}

/// A reader that has gone away (a closed pager) is no failure.
fn print(line: &str) {
    let _gone = writeln!(std::io::stdout(), "{line}");
}

fn tell(line: &str) {
    let _gone = writeln!(std::io::stderr(), "{line}");
}
