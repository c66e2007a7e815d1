//! Plans: which messages of a part to read, at which octets, and what is missing already. Plans are values.

use crate::expected::{Expected, ExpectedInterval};
use crate::feed::{Feed, StepFile, Want, WantKind};
use crate::index::ByteRange;
use crate::lookup::Index;
use crate::subset::Area;
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

/// Plans one part of a run from the indexes of its files; where files have no index, `index_texts` are not looked at.
pub fn plan_part(feed: &Feed, run: DateTime<Utc>, part: u16, index_texts: &IndexTexts) -> PartPlan {
    let files = feed.files_of_part(run, part);
    let indexes = read_indexes(feed, run, &files, index_texts);
    plan(feed, run, part, &files, |file, want| {
        match indexes.get(file.index_path.as_str()) {
            Some(Ok(index)) => index.locate(feed, file, want),
            Some(Err(reason)) => Err((Gap::NotThere, reason.clone())),
            None if !feed.index_kind.has_index() => Index::None.locate(feed, file, want),
            None => Err((Gap::NotThere, format!("{} is not there", file.index_path))),
        }
    })
}

/// Plans one part of a run through the feed's subset service: each file's wanted fields, cut to an area, are one answer.
/// None where the feed has no such service.
pub fn plan_part_of_subset(feed: &Feed, run: DateTime<Utc>, part: u16, area: Area) -> Option<PartPlan> {
    let mut files = feed.files_of_part(run, part);
    for file in &mut files {
        file.path = feed.subset_path(run, file, area)?;
    }
    Some(plan(feed, run, part, &files, |_, _| Ok(ByteRange::WHOLE_FILE)))
}

fn plan(
    feed: &Feed,
    run: DateTime<Utc>,
    part: u16,
    files: &[StepFile],
    locate: impl Fn(&StepFile, &Want) -> Result<ByteRange, (Gap, String)>,
) -> PartPlan {
    let mut plan = PartPlan {
        members: feed.all_members(),
        steps: feed.steps_of_run_part(run, part),
        wanted: Vec::new(),
        missing: Vec::new(),
    };
    for file in files {
        for want in feed.want.iter().filter(|want| want.is_due(file.step)) {
            let mut of_want = file.clone();
            if !feed.index_kind.has_index() {
                of_want = feed.message_file(run, file.member, file.step, want);
            }
            match locate(&of_want, want) {
                Ok(range) => plan.wanted.push(wanted(feed, run, of_want, want, range)),
                Err(fault) => plan.missing.push(missing(of_want, want, fault)),
            }
        }
    }
    let mut places: HashMap<String, usize> = HashMap::new();
    for (place, message) in plan.wanted.iter().enumerate() {
        places.entry(message.file.clone()).or_insert(place);
    }
    plan.wanted
        .sort_by_key(|message| (places.get(&message.file).copied(), message.range.first));
    plan
}

/// Each index is read once, however many members it speaks of.
fn read_indexes<'a>(
    feed: &Feed,
    run: DateTime<Utc>,
    files: &'a [StepFile],
    index_texts: &IndexTexts,
) -> HashMap<&'a str, Result<Index, String>> {
    let mut indexes = HashMap::new();
    if !feed.index_kind.has_index() {
        return indexes;
    }
    for path in files.iter().map(|file| file.index_path.as_str()) {
        if let Some(text) = index_texts.get(path).filter(|_| !indexes.contains_key(path)) {
            let index = text.as_ref().map_err(Clone::clone);
            indexes.insert(path, index.map(|text| Index::read(feed.index_kind, text, run)));
        }
    }
    indexes
}

fn wanted(feed: &Feed, run: DateTime<Utc>, file: StepFile, want: &Want, range: ByteRange) -> WantedMessage {
    WantedMessage {
        parameter: want.parameter,
        member: file.member,
        step: file.step,
        expected: expected(feed, run, &file, want),
        file: file.path,
        range,
    }
}

fn missing(file: StepFile, want: &Want, (gap, reason): (Gap, String)) -> MissingMessage {
    MissingMessage {
        parameter: want.parameter,
        member: file.member,
        step: file.step,
        file: file.path,
        gap,
        reason,
    }
}

fn expected(feed: &Feed, run: DateTime<Utc>, file: &StepFile, want: &Want) -> Expected {
    let hour = |step: u16| run + TimeDelta::hours(i64::from(step));
    let accumulated_since = |start: u16| {
        Some(ExpectedInterval::This(Interval {
            start: hour(start),
            end: hour(file.step.0),
            process: Process::Accumulation,
        }))
    };
    Expected {
        codes: want.codes.clone(),
        surfaces: want.surfaces.clone(),
        level: want.level,
        reference: run,
        valid: hour(file.step.0),
        interval: match want.kind {
            WantKind::Instant => None,
            WantKind::Bucket => accumulated_since(feed.bucket_start(file.step)),
            WantKind::SinceRunStart => accumulated_since(0),
            WantKind::Maximum => Some(ExpectedInterval::MaximumOver {
                hours: want.window_hours.clone(),
            }),
        },
        member: feed
            .member_name(file.member)
            .filter(|name| name.numbered)
            .map(|_| file.member.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{feed, instant};

    fn run() -> DateTime<Utc> {
        instant("2026-11-24T06:00:00Z")
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
        let bucket = Interval {
            start: instant("2026-11-25T00:00:00Z"),
            end: instant("2026-11-25T06:00:00Z"),
            process: Process::Accumulation,
        };
        assert_eq!(rain.interval, Some(ExpectedInterval::This(bucket)));
        assert_eq!(rain.valid.to_rfc3339(), "2026-11-25T06:00:00+00:00");
        assert_eq!((rain.member, &plan.wanted[0].expected.interval), (None, &None));
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
