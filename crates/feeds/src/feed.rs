//! One feed: its cycles, steps, members, parts and file names, and the messages wanted of each file.

use chrono::{DateTime, TimeDelta, Timelike, Utc};
use forecast::{Member, Parameter, SourceId, Step};
use serde::Deserialize;

/// One catalogue entry. The fields are explained at the head of the catalogue.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Feed {
    /// Its name.
    pub name: SourceId,
    /// Its name for people.
    pub title: String,
    /// Who makes it.
    pub producer: String,
    /// The licence it is published under.
    pub licence: String,
    /// The sentence to be shown where its data are shown.
    pub attribution: String,
    /// Where it lies, unless settings say otherwise.
    pub base_url: String,
    /// Hours of the day, UTC, at which runs start.
    pub cycles: Vec<u8>,
    /// Its steps.
    pub steps: Vec<StepRange>,
    /// Path of a file below the base address.
    pub path: String,
    /// What to add to a file's path to get its index.
    pub index_suffix: String,
    /// How the index reads.
    pub index_kind: IndexKind,
    /// Minutes after the reference time from which a run's first files are usually out.
    pub usual_delay_min: u32,
    /// Minutes after the reference time after which steps still absent are taken to be lost.
    pub given_up_after_min: u32,
    /// Hours of steps in a part.
    pub part_hours: u16,
    /// What its gust is; none if it has none.
    #[serde(default)]
    pub gust: Option<GustKind>,
    /// Hours after which accumulations restart; none if it has none.
    #[serde(default)]
    pub bucket_hours: Option<u16>,
    /// The feed whose land share tells land from water on the same grid; none if it has its own or needs none.
    #[serde(default)]
    pub land_mask: Option<SourceId>,
    /// The members; none for a deterministic run.
    #[serde(default)]
    pub members: Option<Members>,
    /// The messages wanted of each file.
    pub want: Vec<Want>,
}

/// Steps from the first to the last, both included, hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepRange {
    /// First step.
    pub first: u16,
    /// Last step.
    pub last: u16,
    /// Spacing.
    pub every: u16,
}

/// How an index reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum IndexKind {
    /// Lines of `number:offset:d=...:variable:level:forecast:tail`, without lengths.
    #[serde(rename = "noaa-idx")]
    NoaaIdx,
}

/// What a gust value stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GustKind {
    /// An estimate for one moment: between steps the real peak is missed.
    Instant,
    /// The maximum of the message's own interval.
    IntervalMaximum,
}

/// The members of an ensemble.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Members {
    /// Member 0.
    pub control: MemberName,
    /// Members 1 to `count`.
    pub perturbed: PerturbedNames,
}

/// How one member is named in paths and in the index.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MemberName {
    /// In paths.
    pub name: String,
    /// At the end of an index line.
    pub index_tail: String,
}

/// How the perturbed members are named: `{NN}` is the number in two digits, `{N}` as it is.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PerturbedNames {
    /// In paths.
    pub name: String,
    /// At the end of an index line.
    pub index_tail: String,
    /// How many there are.
    pub count: u16,
}

/// One wanted message of each file.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Want {
    /// Which quantity.
    pub parameter: Parameter,
    /// Its variable in the index.
    pub variable: String,
    /// Its level in the index.
    pub level_text: String,
    /// A moment or an accumulation.
    pub kind: WantKind,
    /// First step that has it.
    #[serde(default)]
    pub first_step: u16,
    /// True for a field that does not change: it is taken from step 0 only.
    #[serde(default)]
    pub static_field: bool,
    /// Accepted discipline, category and number.
    pub codes: Vec<[u8; 3]>,
    /// Accepted types of first fixed surface.
    pub surfaces: Vec<u8>,
    /// Value on that surface, where it matters.
    #[serde(default)]
    pub level: Option<f64>,
}

/// Whether a message is of a moment or accumulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WantKind {
    /// A value of one moment.
    Instant,
    /// An accumulation since the last multiple of the feed's `bucket_hours`.
    Bucket,
}

/// The file of one member and step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StepFile {
    /// The member.
    pub member: Member,
    /// The step.
    pub step: Step,
    /// Its path below the base address.
    pub path: String,
    /// Its index's path.
    pub index_path: String,
}

impl Feed {
    /// Every step, ascending.
    pub fn all_steps(&self) -> Vec<Step> {
        let hours = |range: &StepRange| (range.first..=range.last).step_by(usize::from(range.every.max(1)));
        self.steps.iter().flat_map(hours).map(Step).collect()
    }

    /// Every member, ascending; a deterministic run has the one member 0.
    pub fn all_members(&self) -> Vec<Member> {
        let count = self.members.as_ref().map_or(0, |members| members.perturbed.count);
        (0..=count).map(Member).collect()
    }

    /// How many parts a whole run has.
    pub fn part_count(&self) -> u16 {
        self.all_steps().last().map_or(0, |step| self.part_of(*step) + 1)
    }

    /// The part a step lies in. A part ends with a multiple of `part_hours`; the first holds step 0 too.
    pub fn part_of(&self, step: Step) -> u16 {
        step.0.saturating_sub(1) / self.part_hours.max(1)
    }

    /// The steps of a part, ascending.
    pub fn steps_of_part(&self, part: u16) -> Vec<Step> {
        self.all_steps()
            .into_iter()
            .filter(|step| self.part_of(*step) == part)
            .collect()
    }

    /// The files of a part, by member, then step.
    pub fn files_of_part(&self, run: DateTime<Utc>, part: u16) -> Vec<StepFile> {
        let steps = self.steps_of_part(part);
        let files = |member| steps.iter().map(move |step| self.file(run, member, *step));
        self.all_members().into_iter().flat_map(files).collect()
    }

    /// The file of one member and step.
    pub fn file(&self, run: DateTime<Utc>, member: Member, step: Step) -> StepFile {
        let name = self
            .member_name(member)
            .map_or(String::new(), |member| member.name);
        let path = self
            .path
            .replace("{YYYYMMDD}", &run.format("%Y%m%d").to_string())
            .replace("{HH}", &run.format("%H").to_string())
            .replace("{FFF}", &format!("{:03}", step.0))
            .replace("{MEMBER}", &name);
        let index_path = format!("{path}{}", self.index_suffix);
        StepFile {
            member,
            step,
            path,
            index_path,
        }
    }

    /// How a member is named; none for a deterministic run.
    pub fn member_name(&self, member: Member) -> Option<MemberName> {
        let members = self.members.as_ref()?;
        if member.0 == 0 {
            return Some(members.control.clone());
        }
        let (two_digits, number) = (format!("{:02}", member.0), member.0.to_string());
        let fill = |text: &str| text.replace("{NN}", &two_digits).replace("{N}", &number);
        Some(MemberName {
            name: fill(&members.perturbed.name),
            index_tail: fill(&members.perturbed.index_tail),
        })
    }

    /// The reference times of runs that should be out at `now`, newest first, as far back as `look_back`.
    pub fn runs_out_at(&self, now: DateTime<Utc>, look_back: TimeDelta) -> Vec<DateTime<Utc>> {
        let newest = now - TimeDelta::minutes(i64::from(self.usual_delay_min));
        let oldest = now - look_back;
        let this_hour = newest
            - TimeDelta::seconds(newest.timestamp().rem_euclid(3600))
            - TimeDelta::nanoseconds(i64::from(newest.timestamp_subsec_nanos()));
        let hours = (0..)
            .map(|hours| this_hour - TimeDelta::hours(hours))
            .take_while(|time| *time >= oldest);
        hours
            .filter(|time| self.cycles.iter().any(|cycle| u32::from(*cycle) == time.hour()))
            .collect()
    }

    /// True when steps of a run that are still absent at `now` are taken to be lost, not late.
    pub fn given_up(&self, run: DateTime<Utc>, now: DateTime<Utc>) -> bool {
        now >= run + TimeDelta::minutes(i64::from(self.given_up_after_min))
    }

    /// The first hour of the bucket that ends with a step.
    pub fn bucket_start(&self, step: Step) -> u16 {
        let hours = self.bucket_hours.unwrap_or(1).max(1);
        hours * (step.0.saturating_sub(1) / hours)
    }

    /// What is wrong with the entry by itself.
    pub(crate) fn mistake(&self) -> Option<String> {
        let rising = self.all_steps().is_sorted_by(|a, b| a < b);
        if self
            .steps
            .iter()
            .any(|range| range.every == 0 || range.first > range.last)
            || !rising
        {
            return Some("steps must rise, each range with first <= last and every >= 1".into());
        }
        if self.part_hours == 0 {
            return Some("part_hours must be at least 1".into());
        }
        if self.cycles.is_empty() || self.cycles.iter().any(|hour| *hour > 23) {
            return Some("cycles must name hours of the day, 0 to 23".into());
        }
        if self.bucket_hours.is_none() && self.want.iter().any(|want| want.kind == WantKind::Bucket) {
            return Some("a wanted bucket needs bucket_hours".into());
        }
        let example = self.file(DateTime::UNIX_EPOCH, Member(0), Step(0)).path;
        example
            .contains('{')
            .then(|| format!("path holds a sign the program does not know: {example}"))
    }
}

#[cfg(test)]
mod tests {
    use crate::Catalogue;
    use chrono::{DateTime, Utc};
    use forecast::{Member, SourceId, Step};

    fn feed(name: &str) -> crate::Feed {
        Catalogue::embedded()
            .unwrap()
            .feed(&SourceId::new(name))
            .unwrap()
            .clone()
    }

    #[test]
    fn paths_are_the_producers() {
        // Source: example paths of NOAA's public buckets, run of 24 November 2026, 06 UTC.
        let run = "2026-11-24T06:00:00Z".parse().unwrap();
        let path = |name: &str, member| feed(name).file(run, Member(member), Step(30)).path;
        assert_eq!(path("gfs", 0), "gfs.20261124/06/atmos/gfs.t06z.pgrb2.0p25.f030");
        assert_eq!(
            path("gfs-wave", 0),
            "gfs.20261124/06/wave/gridded/gfswave.t06z.global.0p25.f030.grib2"
        );
        assert_eq!(
            path("gefs", 7),
            "gefs.20261124/06/atmos/pgrb2sp25/gep07.t06z.pgrb2s.0p25.f030"
        );
        assert_eq!(
            path("gefs", 0),
            "gefs.20261124/06/atmos/pgrb2sp25/gec00.t06z.pgrb2s.0p25.f030"
        );
        assert_eq!(
            feed("gfs").file(run, Member(0), Step(30)).index_path,
            format!("{}.idx", path("gfs", 0))
        );
    }

    #[test]
    fn steps_and_members_are_the_producers() {
        // Source: NOAA's schedule: GFS has 209 files a run, GEFS 0.25 degree 81 steps of 31 members.
        assert_eq!(
            (feed("gfs").all_steps().len(), feed("gfs").all_members().len()),
            (209, 1)
        );
        assert_eq!(
            (feed("gefs").all_steps().len(), feed("gefs").all_members().len()),
            (81, 31)
        );
        assert_eq!(feed("gefs").member_name(Member(7)).unwrap().index_tail, "ENS=+7");
        assert_eq!(feed("gefs").member_name(Member(30)).unwrap().name, "gep30");
    }

    #[test]
    fn every_step_lies_in_one_part() {
        // No source: arithmetic of the blocks.
        for feed in Catalogue::embedded().unwrap().feeds() {
            let joined: Vec<Step> = (0..feed.part_count())
                .flat_map(|part| feed.steps_of_part(part))
                .collect();
            assert_eq!(joined, feed.all_steps(), "{}", feed.name);
        }
        assert_eq!(feed("gefs").steps_of_part(0), [0, 3, 6, 9, 12].map(Step));
        assert_eq!(feed("gefs").steps_of_part(1), [15, 18, 21, 24].map(Step));
    }

    #[test]
    fn runs_are_looked_for_once_they_are_usually_out() {
        // No source: 06 UTC plus the catalogue's 3 h 30 min is 09:30.
        let runs = |now: &str| feed("gfs").runs_out_at(now.parse().unwrap(), chrono::TimeDelta::hours(13));
        let at = |times: &[&str]| {
            times
                .iter()
                .map(|time| time.parse::<DateTime<Utc>>().unwrap())
                .collect::<Vec<_>>()
        };
        assert_eq!(runs("2030-05-13T09:29:59.5Z"), at(&["2030-05-13T00:00:00Z"]));
        assert_eq!(
            runs("2030-05-13T09:30:00Z"),
            at(&["2030-05-13T06:00:00Z", "2030-05-13T00:00:00Z"])
        );
    }

    #[test]
    fn buckets_restart_every_six_hours() {
        // Source: NOAA index lines of accumulated rain: 6-7, 24-30 and 18-24 hour.
        let starts = [1, 6, 7, 24, 30, 123].map(|step| feed("gfs").bucket_start(Step(step)));
        assert_eq!(starts, [0, 0, 6, 18, 24, 120]);
    }
}
