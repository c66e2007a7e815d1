//! Plans: which messages of a part to read, at which octets, and what is missing already. Plans are values.

use crate::expected::Expected;
use crate::feed::{Feed, StepFile, Want, WantKind};
use crate::index::{ByteRange, NoaaIndex, accumulation_text, instant_text};
use chrono::{DateTime, TimeDelta, Utc};
use forecast::{Gap, Interval, Member, Parameter, Process, Step};
use std::collections::HashMap;

/// One message to read.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedMessage {
    /// Which quantity.
    pub parameter: Parameter,
    /// Which member.
    pub member: Member,
    /// Which step.
    pub step: Step,
    /// Path of its file below the base address.
    pub file: String,
    /// Where it lies in the file.
    pub range: ByteRange,
    /// What it must turn out to be.
    pub expected: Expected,
}

/// One message that cannot be read.
#[derive(Clone, Debug, PartialEq)]
pub struct MissingMessage {
    /// Which quantity.
    pub parameter: Parameter,
    /// Which member.
    pub member: Member,
    /// Which step.
    pub step: Step,
    /// Path of its file below the base address.
    pub file: String,
    /// Why, as readers of the part will see it.
    pub gap: Gap,
    /// Why, in words for the report.
    pub reason: String,
}

/// All that is to be done for one part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartPlan {
    /// The part's members.
    pub members: Vec<Member>,
    /// The part's steps.
    pub steps: Vec<Step>,
    /// Messages to read, in the order of files and octets.
    pub wanted: Vec<WantedMessage>,
    /// Messages that cannot be read.
    pub missing: Vec<MissingMessage>,
}

/// By index path: an index that is there, or why it cannot be used. An index that is not there is left out.
pub type IndexTexts = HashMap<String, Result<String, String>>;

/// Plans one part of a run from the indexes of its files.
pub fn plan_part(feed: &Feed, run: DateTime<Utc>, part: u16, index_texts: &IndexTexts) -> PartPlan {
    let (members, steps) = (feed.all_members(), feed.steps_of_part(part));
    let mut plan = PartPlan {
        members,
        steps,
        wanted: Vec::new(),
        missing: Vec::new(),
    };
    for file in feed.files_of_part(run, part) {
        let index = read_index(run, &file, index_texts);
        for want in feed.want.iter().filter(|want| is_due(want, file.step)) {
            match locate(feed, &file, want, &index) {
                Ok(range) => plan.wanted.push(WantedMessage {
                    parameter: want.parameter,
                    member: file.member,
                    step: file.step,
                    file: file.path.clone(),
                    range,
                    expected: expected(feed, run, &file, want),
                }),
                Err((gap, reason)) => plan.missing.push(MissingMessage {
                    parameter: want.parameter,
                    member: file.member,
                    step: file.step,
                    file: file.path.clone(),
                    gap,
                    reason,
                }),
            }
        }
    }
    let files: HashMap<String, usize> = (feed.files_of_part(run, part).into_iter().map(|file| file.path))
        .zip(0..)
        .collect();
    plan.wanted
        .sort_by_key(|message| (files.get(&message.file).copied(), message.range.first));
    plan
}

fn is_due(want: &Want, step: Step) -> bool {
    step.0 >= want.first_step && (!want.static_field || step.0 == 0)
}

fn read_index(run: DateTime<Utc>, file: &StepFile, index_texts: &IndexTexts) -> Result<NoaaIndex, String> {
    match index_texts.get(&file.index_path) {
        Some(Ok(text)) => Ok(NoaaIndex::parse(text, run)),
        Some(Err(reason)) => Err(reason.clone()),
        None => Err(format!("{} is not there", file.index_path)),
    }
}

/// Where a wanted message lies, or why it cannot be told.
fn locate(
    feed: &Feed,
    file: &StepFile,
    want: &Want,
    index: &Result<NoaaIndex, String>,
) -> Result<ByteRange, (Gap, String)> {
    let index = index.as_ref().map_err(|reason| (Gap::NotThere, reason.clone()))?;
    let forecast = match want.kind {
        WantKind::Instant => instant_text(file.step.0),
        WantKind::Bucket => accumulation_text(feed.bucket_start(file.step), file.step.0),
    };
    let tail = feed
        .member_name(file.member)
        .map_or(String::new(), |member| member.index_tail);
    if let Some(record) = index.find(&want.variable, &want.level_text, &forecast, &tail) {
        return Ok(record.range);
    }
    // Only a sound index says that the producer does not offer a field.
    match index.faults.first() {
        Some(fault) => Err((Gap::NotThere, format!("{}: {fault}", file.index_path))),
        None if index.records.is_empty() => Err((Gap::NotThere, format!("{} is empty", file.index_path))),
        None => {
            let line = format!("{}:{}:{forecast}:{tail}", want.variable, want.level_text);
            Err((Gap::NotInFeed, format!("{} has no line {line}", file.index_path)))
        }
    }
}

fn expected(feed: &Feed, run: DateTime<Utc>, file: &StepFile, want: &Want) -> Expected {
    let hour = |step: u16| run + TimeDelta::hours(i64::from(step));
    let bucket = || Interval {
        start: hour(feed.bucket_start(file.step)),
        end: hour(file.step.0),
        process: Process::Accumulation,
    };
    Expected {
        codes: want.codes.clone(),
        surfaces: want.surfaces.clone(),
        level: want.level,
        reference: run,
        valid: hour(file.step.0),
        interval: (want.kind == WantKind::Bucket).then(bucket),
        member: feed.members.as_ref().map(|_| file.member.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Catalogue;
    use forecast::SourceId;

    fn feed(name: &str) -> Feed {
        Catalogue::embedded()
            .unwrap()
            .feed(&SourceId::new(name))
            .unwrap()
            .clone()
    }

    fn run() -> DateTime<Utc> {
        "2026-11-24T06:00:00Z".parse().unwrap()
    }

    fn gfs_index(step: u16, lines: &[(&str, u64)]) -> IndexTexts {
        let path = feed("gfs").file(run(), Member(0), Step(step)).index_path;
        let line = |(text, offset): &(&str, u64)| format!("1:{offset}:d=2026112406:{text}:\n");
        IndexTexts::from([(path, Ok(lines.iter().map(line).collect()))])
    }

    // No source: offsets are invented; the expected plan follows from the index by hand.
    #[test]
    fn a_plan_says_which_octets_and_what_must_be_there() {
        let texts = gfs_index(
            24,
            &[
                ("GUST:surface:24 hour fcst", 10),
                ("UGRD:10 m above ground:24 hour fcst", 110),
                ("UGRD:100 m above ground:24 hour fcst", 150),
                ("APCP:surface:18-24 hour acc fcst", 210),
                ("APCP:surface:0-1 day acc fcst", 310),
            ],
        );
        let plan = plan_part(&feed("gfs"), run(), 1, &texts);
        assert_eq!((plan.members.len(), plan.steps.len()), (1, 12));
        let found: Vec<_> = plan
            .wanted
            .iter()
            .map(|m| (m.parameter, m.step.0, m.range.first, m.range.last))
            .collect();
        assert_eq!(
            found,
            [
                (Parameter::Gust, 24, 10, Some(109)),
                (Parameter::WindU, 24, 110, Some(149)),
                (Parameter::Precipitation, 24, 210, Some(309)),
            ]
        );
        let rain = &plan.wanted[2].expected;
        let interval = rain.interval.unwrap();
        assert_eq!(interval.start.to_rfc3339(), "2026-11-25T00:00:00+00:00");
        assert_eq!(rain.valid.to_rfc3339(), "2026-11-25T06:00:00+00:00");
        assert_eq!((rain.member, plan.wanted[0].expected.interval), (None, None));
    }

    #[test]
    fn what_a_sound_index_lacks_is_not_in_the_feed() {
        let plan = plan_part(
            &feed("gfs"),
            run(),
            1,
            &gfs_index(24, &[("GUST:surface:24 hour fcst", 10)]),
        );
        let wind = plan
            .missing
            .iter()
            .find(|m| m.parameter == Parameter::WindV && m.step.0 == 24)
            .unwrap();
        assert_eq!(wind.gap, Gap::NotInFeed);
        assert!(
            wind.reason
                .ends_with("f024.idx has no line VGRD:10 m above ground:24 hour fcst:"),
            "{}",
            wind.reason
        );
    }

    #[test]
    fn an_absent_index_and_one_of_another_run_say_not_there() {
        let path = feed("gfs").file(run(), Member(0), Step(13)).index_path;
        let large = feed("gfs").file(run(), Member(0), Step(15)).index_path;
        let other = "1:0:d=2026112400:GUST:surface:13 hour fcst:\n".to_owned();
        let plan = plan_part(
            &feed("gfs"),
            run(),
            1,
            &IndexTexts::from([
                (path, Ok(other)),
                (large, Err("f015.idx has 9 octets, more than 8".into())),
            ]),
        );
        assert!(plan.wanted.is_empty() && plan.missing.iter().all(|m| m.gap == Gap::NotThere));
        let reason = |step| {
            plan.missing
                .iter()
                .find(|m| m.step.0 == step)
                .unwrap()
                .reason
                .clone()
        };
        assert!(
            reason(13).contains("of another run: d=2026112400, not d=2026112406"),
            "{}",
            reason(13)
        );
        assert!(reason(14).ends_with("f014.idx is not there"), "{}", reason(14));
        assert!(reason(15).contains("more than 8"), "{}", reason(15));
    }

    #[test]
    fn land_is_wanted_once_and_rain_from_the_first_hour() {
        let plan = plan_part(&feed("gfs"), run(), 0, &IndexTexts::new());
        let steps = |parameter| {
            let of = plan.missing.iter().filter(|m| m.parameter == parameter);
            of.map(|m| m.step.0).collect::<Vec<_>>()
        };
        assert_eq!(steps(Parameter::LandShare), [0]);
        assert_eq!(steps(Parameter::Precipitation), (1..=12).collect::<Vec<_>>());
        assert_eq!(steps(Parameter::WindU), (0..=12).collect::<Vec<_>>());
    }

    #[test]
    fn members_are_told_apart_by_their_tail() {
        let gefs = feed("gefs");
        let path = gefs.file(run(), Member(7), Step(15)).index_path;
        let text = "1:0:d=2026112406:GUST:surface:15 hour fcst:ENS=+6\n\
                    2:50:d=2026112406:GUST:surface:15 hour fcst:ENS=+7\n";
        let plan = plan_part(&gefs, run(), 1, &IndexTexts::from([(path, Ok(text.to_owned()))]));
        assert_eq!(plan.wanted.len(), 1);
        assert_eq!(
            plan.wanted[0].range,
            ByteRange {
                first: 50,
                last: None
            }
        );
        assert_eq!(plan.wanted[0].expected.member, Some(7));
    }
}
