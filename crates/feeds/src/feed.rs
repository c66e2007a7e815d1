//! One feed: what its catalogue entry says. When its steps come is in `schedule`, where its files lie in `files`.

pub use crate::files::StepFile;
use crate::subset::Subset;
pub use crate::want::{Scale, Want, WantKind};
use chrono::{DateTime, NaiveDate, Utc};
use forecast::{Member, Parameter, SourceId};
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
    /// Runs that end sooner or come out at another time than the others.
    #[serde(default)]
    pub short_runs: Option<ShortRuns>,
    /// Path of a file below the base address, as it stands in an address: percent-encoded.
    pub path: String,
    /// What to add to a file's path to get its index, unless `index_path` says otherwise.
    #[serde(default)]
    pub index_suffix: String,
    /// Path of a file's index, where it is not the file's path with a suffix.
    #[serde(default)]
    pub index_path: Option<String>,
    /// How the index reads.
    pub index_kind: IndexKind,
    /// How a file is compressed as a whole.
    #[serde(default)]
    pub compression: Compression,
    /// Minutes after the reference time from which a run's first files are usually out.
    pub usual_delay_min: u32,
    /// Minutes after the reference time after which steps still absent are taken to be lost.
    pub given_up_after_min: u32,
    /// Minutes after the reference time of the newest run at hand after which a newer one should long be out.
    pub stale_after_min: u32,
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
    /// The fields that tell where the cells of an unstructured mesh lie; none where the message says it itself.
    #[serde(default)]
    pub coordinates: Option<Coordinates>,
    /// A service that cuts its files to an area; none if the producer has none.
    #[serde(default)]
    pub subset: Option<Subset>,
    /// The day on which the producer has said it ends.
    #[serde(default)]
    pub ends: Option<NaiveDate>,
    /// The feed that takes its place then.
    #[serde(default)]
    pub successor: Option<SourceId>,
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

/// Runs that end sooner than the others.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShortRuns {
    /// Hours of the day, UTC, at which they start.
    pub cycles: Vec<u8>,
    /// Their last step.
    pub last_step: u16,
    /// Minutes after the reference time from which their first files are usually out, where it is not the feed's.
    #[serde(default)]
    pub usual_delay_min: Option<u32>,
}

/// How an index reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum IndexKind {
    /// Lines of `number:offset:d=...:variable:level:forecast:tail`, without lengths.
    #[serde(rename = "noaa-idx")]
    NoaaIdx,
    /// One JSON object a line, in no order, with offset and length.
    #[serde(rename = "ecmwf-index")]
    EcmwfIndex,
    /// No index: each file holds the one message that its path names.
    #[serde(rename = "one-field-a-file")]
    OneFieldAFile,
}

impl IndexKind {
    /// True if files have an index beside them.
    pub fn has_index(self) -> bool {
        self != Self::OneFieldAFile
    }
}

/// How a file is compressed as a whole, outside GRIB.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Compression {
    /// It is not.
    #[default]
    None,
    /// By bzip2.
    Bzip2,
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
    /// In the index: the end of a line, or the number.
    pub index_tail: String,
    /// False if its messages say no member: it is taken from the producer's deterministic run.
    #[serde(default = "numbered")]
    pub numbered: bool,
}

fn numbered() -> bool {
    true
}

/// How the perturbed members are named: `{NN}` is the number in two digits, `{N}` as it is.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PerturbedNames {
    /// In paths.
    pub name: String,
    /// In the index: the end of a line, or the number.
    pub index_tail: String,
    /// How many there are.
    pub count: u16,
}

/// The two fields of step 0 that tell where the cells of an unstructured mesh lie, degrees.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coordinates {
    /// Latitude of each cell's centre, degrees north.
    pub latitude: CoordinateField,
    /// Longitude of each cell's centre, degrees east.
    pub longitude: CoordinateField,
}

/// One coordinate field.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoordinateField {
    /// Its variable in the path.
    pub variable: String,
    /// Accepted discipline, category and number.
    pub codes: Vec<[u8; 3]>,
    /// Accepted types of first fixed surface.
    pub surfaces: Vec<u8>,
}

impl Feed {
    /// Every member, ascending; a deterministic run has the one member 0.
    pub fn all_members(&self) -> Vec<Member> {
        let count = self.members.as_ref().map_or(0, |members| members.perturbed.count);
        (0..=count).map(Member).collect()
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
            numbered: true,
        })
    }

    /// The entry of a wanted quantity.
    pub fn wanted(&self, parameter: Parameter) -> Option<&Want> {
        self.want.iter().find(|want| want.parameter == parameter)
    }

    /// The factor by which values of a message of this code are multiplied to be in the parameter's unit.
    pub fn factor(&self, parameter: Parameter, codes: [u8; 3]) -> f64 {
        self.wanted(parameter).map_or(1.0, |want| want.factor(codes))
    }

    /// True if the newest run at hand is so old that a newer one should long be out.
    pub fn is_stale(&self, newest_run: DateTime<Utc>, now: DateTime<Utc>) -> bool {
        now >= newest_run + chrono::TimeDelta::minutes(i64::from(self.stale_after_min))
    }

    /// What the operator should know of the feed's end, in a sentence; none where no end is announced.
    pub fn notice(&self, today: NaiveDate) -> Option<String> {
        let ends = self.ends?;
        let (name, day) = (&self.name, ends.format("%-d %B %Y"));
        let verb = if today > ends { "was to end" } else { "ends" };
        let instead = self.successor.as_ref();
        let instead = instead.map_or(String::new(), |other| format!("; take {other} instead"));
        Some(format!(
            "{name} {verb} on {day}, as its producer has announced{instead}"
        ))
    }
}

#[cfg(test)]
mod tests {
    use crate::testing::feed;
    use forecast::{Member, Parameter};

    #[test]
    fn members_are_the_producers() {
        // Source: NOAA's and ECMWF's file lists: 30 and 50 perturbed members.
        assert_eq!(feed("gefs").all_members().len(), 31);
        assert_eq!(feed("gefs").member_name(Member(7)).unwrap().index_tail, "ENS=+7");
        assert_eq!(feed("gefs").member_name(Member(30)).unwrap().name, "gep30");
        assert_eq!(feed("ecmwf-ens").all_members().len(), 51);
        assert_eq!(feed("ecmwf-ens").member_name(Member(7)).unwrap().index_tail, "7");
        let control = feed("ecmwf-ens").member_name(Member(0)).unwrap();
        assert_eq!((control.index_tail.as_str(), control.numbered), ("", false));
        assert_eq!(feed("gfs").all_members(), [Member(0)]);
    }

    #[test]
    fn metres_of_rain_become_kilograms_by_their_code_only() {
        // Source: 1 m of water weighs 1000 kg/m2; 0/1/193 is ECMWF's local code in metres, 0/1/52 is in kg/m2.
        let ifs = feed("ecmwf-ifs");
        assert_eq!(ifs.factor(Parameter::Precipitation, [0, 1, 193]), 1000.0);
        assert_eq!(ifs.factor(Parameter::Precipitation, [0, 1, 52]), 1.0);
        assert_eq!(ifs.factor(Parameter::WindU, [0, 2, 2]), 1.0);
    }

    #[test]
    fn an_announced_end_is_told_before_and_after() {
        // Source: DWD's announcement that the bzip2 trees end on 30 November 2026.
        let notice = |day: &str| feed("icon-eu").notice(day.parse().unwrap()).unwrap();
        assert_eq!(
            notice("2026-11-30"),
            "icon-eu ends on 30 November 2026, as its producer has announced; take icon-eu-native instead"
        );
        assert!(notice("2026-12-01").starts_with("icon-eu was to end on 30 November 2026"));
        assert_eq!(feed("gfs").notice("2026-11-30".parse().unwrap()), None);
    }

    #[test]
    fn a_run_grows_stale() {
        // No source: 00 UTC plus the catalogue's 13 hours.
        let (run, at) = ("2030-05-13T00:00:00Z", |now: &str| now.parse().unwrap());
        assert!(!feed("gfs").is_stale(at(run), at("2030-05-13T12:59:59Z")));
        assert!(feed("gfs").is_stale(at(run), at("2030-05-13T13:00:00Z")));
    }
}
