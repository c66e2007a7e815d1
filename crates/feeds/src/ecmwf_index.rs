//! ECMWF's index beside a file: a JSON object a line, in no order, with offset and length.
//!
//! Source of the form: real indexes of its open data. Lines are foreign: their number and length are bounded, a bad one
//! is named and left out. Must not know: feeds, steps of a run, GRIB.

use crate::index::{ByteRange, LineFault, MOST_FAULTS};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Deserializer, de};
use std::fmt;

/// Most lines that are read: five times those of the largest known index, all members of one step.
pub const MOST_LINES: usize = 50_000;
/// Most octets of a line that is read: ten times the longest known.
pub const LONGEST_LINE: usize = 4_096;
/// How a quantity is called that the producer's own program could not name.
const UNKNOWN: &str = "unknown";

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EcmwfRecord {
    /// Line in the index, from 1.
    pub line: usize,
    /// Where the message lies.
    pub range: ByteRange,
    /// The quantity.
    pub param: String,
    /// The type of level: `sfc` for all that is not on levels.
    pub levtype: String,
    /// The level, where there are several.
    pub levelist: Option<String>,
    /// The step, hours, as text: a few products have a span.
    pub step: String,
    /// The member; none for one run.
    pub number: Option<u16>,
}

/// A read index.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EcmwfIndex {
    /// Its lines, in their order, which is no order of offsets.
    pub records: Vec<EcmwfRecord>,
    /// Lines left out, the first thousand.
    pub faults: Vec<LineFault>,
}

#[derive(Deserialize)]
struct Line {
    date: Text,
    time: Text,
    param: Text,
    levtype: Text,
    step: Text,
    levelist: Option<Text>,
    number: Option<Text>,
    #[serde(rename = "_offset")]
    offset: u64,
    #[serde(rename = "_length")]
    length: u64,
}

impl EcmwfIndex {
    /// Reads an index of the run that began at `run`. Lines of another run or form are left out and named.
    pub fn parse(text: &str, run: DateTime<Utc>) -> Self {
        let wanted = run_in_words(&run.format("%Y%m%d").to_string(), &run.format("%H%M").to_string());
        let (mut records, mut faults) = (Vec::new(), Vec::new());
        let lines = (1..)
            .zip(text.lines())
            .filter(|(_, line)| !line.trim().is_empty());
        for (count, (number, line)) in lines.enumerate() {
            let read = if count < MOST_LINES {
                parse_line(number, line, &wanted)
            } else {
                Err(too_many())
            };
            match read {
                Ok(record) => records.push(record),
                Err(fault) => faults.push(fault),
            }
            if count == MOST_LINES || faults.len() == MOST_FAULTS {
                break;
            }
        }
        Self { records, faults }
    }

    /// The first line of a quantity of one name without several levels. A member is found by its number only, and one
    /// run only where there is none.
    pub fn find(&self, param: &str, levtype: &str, step: &str, number: Option<u16>) -> Option<&EcmwfRecord> {
        self.records.iter().find(|record| {
            record.param == param
                && record.levtype == levtype
                && record.levelist.is_none()
                && record.step == step
                && record.number == number
        })
    }

    /// Lines whose quantity the producer could not name: a wanted one may be among them.
    pub fn unnamed(&self) -> usize {
        self.records
            .iter()
            .filter(|record| record.param == UNKNOWN)
            .count()
    }
}

fn parse_line(line: usize, text: &str, wanted: &str) -> Result<EcmwfRecord, LineFault> {
    let form = || LineFault::Form { line };
    if text.len() > LONGEST_LINE {
        return Err(form());
    }
    let read: Line = serde_json::from_str(text).map_err(|_| form())?;
    let found = run_in_words(&read.date.0, &read.time.0);
    if found != wanted {
        return Err(LineFault::OtherRun {
            line,
            found,
            wanted: wanted.to_owned(),
        });
    }
    let after = read
        .offset
        .checked_add(read.length)
        .filter(|_| read.length > 0)
        .ok_or_else(form)?;
    let number = read.number.map(|number| number.0.parse().map_err(|_| form()));
    Ok(EcmwfRecord {
        line,
        range: ByteRange {
            first: read.offset,
            last: Some(after - 1),
        },
        param: read.param.0,
        levtype: read.levtype.0,
        levelist: read.levelist.map(|level| level.0),
        step: read.step.0,
        number: number.transpose()?,
    })
}

fn too_many() -> LineFault {
    LineFault::TooMany { most: MOST_LINES }
}

fn run_in_words(date: &str, time: &str) -> String {
    format!("date {date}, time {time}")
}

/// A text, or the whole number that stands for it in some writers' lines.
struct Text(String);

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl de::Visitor<'_> for Visitor {
            type Value = Text;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text or a whole number")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Text, E> {
                Ok(Text(text.to_owned()))
            }
            fn visit_u64<E: de::Error>(self, number: u64) -> Result<Text, E> {
                Ok(Text(number.to_string()))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::instant;

    fn index(text: &str) -> EcmwfIndex {
        EcmwfIndex::parse(text, instant("2026-11-24T00:00:00Z"))
    }

    fn range(first: u64, last: u64) -> ByteRange {
        ByteRange {
            first,
            last: Some(last),
        }
    }

    /// Lines of our own in ECMWF's form, keys and lines in no order; offsets invented, one beyond 32 bits.
    const SAMPLE: &str = r#"{"domain": "g", "date": "20261124", "time": "0000", "expver": "0001", "class": "od", "type": "fc", "stream": "oper", "step": "24", "levtype": "sfc", "param": "10u", "_offset": 41522377, "_length": 749722}
{"_length": 200, "param": "u", "levelist": "1000", "levtype": "pl", "_offset": 0, "date": "20261124", "time": "0000", "step": "24"}
{"_offset": 6633500000, "_length": 702114, "param": "10fg", "levtype": "sfc", "date": "20261124", "time": "0000", "step": "24"}
{"date": "20261124", "time": "0000", "type": "pf", "step": "24", "levtype": "sfc", "number": "17", "param": "10u", "_offset": 2140883312, "_length": 751036, "model": "any"}
"#;

    // Source of the rules below: real indexes (see tests/sidecars.rs) and what ECMWF says of them.
    #[test]
    fn lines_are_found_whatever_their_order() {
        let index = index(SAMPLE);
        assert_eq!((index.records.len(), index.faults.len()), (4, 0));
        let found = |param, number| {
            index
                .find(param, "sfc", "24", number)
                .map(|record| (record.line, record.range))
        };
        assert_eq!(found("10u", None), Some((1, range(41_522_377, 42_272_098))));
        assert_eq!(
            found("10fg", None),
            Some((3, range(6_633_500_000, 6_634_202_113)))
        );
        assert_eq!(
            found("10u", Some(17)),
            Some((4, range(2_140_883_312, 2_141_634_347)))
        );
    }

    #[test]
    fn a_member_is_found_by_its_number_only() {
        let index = index(SAMPLE);
        assert!(index.find("10u", "sfc", "24", Some(1)).is_none());
        assert!(index.find("10fg", "sfc", "24", Some(17)).is_none());
        let member = SAMPLE.lines().last().unwrap();
        assert!(tests::index(member).find("10u", "sfc", "24", None).is_none());
    }

    #[test]
    fn levels_and_steps_must_match() {
        let index = index(SAMPLE);
        assert!(index.find("u", "pl", "24", None).is_none(), "several levels");
        assert!(index.find("10u", "pl", "24", None).is_none());
        assert!(index.find("10u", "sfc", "2", None).is_none());
    }

    #[test]
    fn unnamed_quantities_are_counted() {
        assert_eq!(index(SAMPLE).unnamed(), 0);
        assert_eq!(index(&SAMPLE.replace("10fg", "unknown")).unnamed(), 1);
    }

    #[test]
    fn whole_numbers_may_stand_for_texts() {
        let line = r#"{"date": 20261124, "time": "0000", "step": 3, "levtype": "sfc", "number": 5, "param": "10u", "_offset": 0, "_length": 9}"#;
        assert_eq!(
            index(line).find("10u", "sfc", "3", Some(5)).unwrap().range,
            range(0, 8)
        );
    }

    #[test]
    fn lines_of_another_run_or_form_are_left_out_and_named() {
        let good = SAMPLE.lines().next().unwrap();
        let changed = |from: &str, to: &str| {
            let line = good.replacen(from, to, 1);
            assert_ne!(line, good, "{from}");
            line
        };
        let bad = [
            "<html><title>302</title>".to_owned(),
            good[..good.len() - 1].to_owned(),
            changed("749722", "0"),
            changed("749722", "-1"),
            changed("41522377", "18446744073709551615"),
            changed("41522377", "1e30"),
            changed("\"_offset\"", "\"offset\""),
            changed("\"10u\"", "\"10u\", \"param\": \"10v\""),
            changed("\"24\"", "\"24\", \"number\": \"all\""),
            changed("\"24\"", "[\"24\"]"),
            changed("\"g\"", &format!("\"{}\"", "g".repeat(LONGEST_LINE))),
            "[".repeat(LONGEST_LINE),
        ];
        for line in bad {
            let index = index(&format!("{good}\n\n{line}\n{good}\r\n"));
            assert_eq!(index.records.len(), 2, "{line}");
            assert_eq!(index.faults, [LineFault::Form { line: 3 }], "{line}");
        }
        let older = index(&changed("\"0000\"", "\"1200\""));
        assert_eq!(
            older.faults[0].to_string(),
            "line 1 is of another run: date 20261124, time 1200, not date 20261124, time 0000"
        );
        assert!(older.records.is_empty());
    }

    // No source: the bounds above.
    #[test]
    fn lines_and_faults_are_bounded() {
        let good = format!("{}\n", SAMPLE.lines().next().unwrap());
        let many = index(&good.repeat(MOST_LINES + 2));
        assert_eq!(many.records.len(), MOST_LINES);
        assert_eq!(many.faults, [too_many()]);
        assert_eq!(index(&good.repeat(MOST_LINES)).faults, []);
        assert_eq!(index(&"x\n".repeat(MOST_FAULTS + 9)).faults.len(), MOST_FAULTS);
    }
}
