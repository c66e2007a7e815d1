//! Where a wanted message lies, by the kind of index; the one place that knows all kinds.
//!
//! Is given: texts of indexes. Must not know: producers, parts, GRIB.

use crate::ecmwf_index::EcmwfIndex;
use crate::feed::{Feed, IndexKind, StepFile, Want, WantKind};
use crate::index::{ByteRange, LineFault, NoaaIndex, accumulation_text, instant_text, maximum_text};
use chrono::{DateTime, Utc};
use forecast::Gap;

/// A read index of any kind.
pub(crate) enum Index {
    Noaa(NoaaIndex),
    Ecmwf(EcmwfIndex),
    /// There is none: the file is the message.
    None,
}

impl Index {
    pub(crate) fn read(kind: IndexKind, text: &str, run: DateTime<Utc>) -> Self {
        match kind {
            IndexKind::NoaaIdx => Self::Noaa(NoaaIndex::parse(text, run)),
            IndexKind::EcmwfIndex => Self::Ecmwf(EcmwfIndex::parse(text, run)),
            IndexKind::OneFieldAFile => Self::None,
        }
    }

    /// Where a wanted message lies, or why it cannot be told.
    pub(crate) fn locate(
        &self,
        feed: &Feed,
        file: &StepFile,
        want: &Want,
    ) -> Result<ByteRange, (Gap, String)> {
        let member = feed.member_name(file.member);
        let tail = member.map_or(String::new(), |member| member.index_tail);
        match self {
            Self::None => Ok(ByteRange::WHOLE_FILE),
            Self::Noaa(index) => {
                let sought = NoaaLine {
                    feed,
                    file,
                    want,
                    tail,
                };
                let range = want.names().find_map(|name| sought.find(index, name));
                range.ok_or_else(|| not_found(file, &index.faults, index.records.len(), 0, &sought.words()))
            }
            Self::Ecmwf(index) => {
                let (step, number) = (file.step.0.to_string(), tail.parse().ok());
                let find = |name| index.find(name, &want.level_text, &step, number);
                let range = want.names().find_map(find).map(|record| record.range);
                let words = || ecmwf_words(want, &step, number);
                let (faults, records, unnamed) = (&index.faults, index.records.len(), index.unnamed());
                range.ok_or_else(|| not_found(file, faults, records, unnamed, &words()))
            }
        }
    }
}

struct NoaaLine<'a> {
    feed: &'a Feed,
    file: &'a StepFile,
    want: &'a Want,
    tail: String,
}

impl NoaaLine<'_> {
    fn find(&self, index: &NoaaIndex, name: &str) -> Option<ByteRange> {
        let mut texts = self.forecast_texts().into_iter();
        let record = texts.find_map(|text| index.find(name, &self.want.level_text, &text, &self.tail));
        record.map(|record| record.range)
    }

    /// The forecast time in words; several where the length of an interval is the message's own.
    fn forecast_texts(&self) -> Vec<String> {
        let step = self.file.step;
        match self.want.kind {
            WantKind::Instant => vec![instant_text(step.0)],
            WantKind::Bucket => vec![accumulation_text(self.feed.bucket_start(step), step.0)],
            WantKind::SinceRunStart => vec![accumulation_text(0, step.0)],
            WantKind::Maximum => {
                let starts = self
                    .want
                    .window_hours
                    .iter()
                    .filter_map(|hours| step.0.checked_sub(*hours));
                starts.map(|start| maximum_text(start, step.0)).collect()
            }
        }
    }

    fn words(&self) -> String {
        let (names, texts) = (joined(self.want), self.forecast_texts().join(" or "));
        format!("line {names}:{}:{texts}:{}", self.want.level_text, self.tail)
    }
}

fn ecmwf_words(want: &Want, step: &str, number: Option<u16>) -> String {
    let number = number.map_or(String::new(), |number| format!(", number {number}"));
    format!(
        "line of param {}, levtype {}, step {step}{number}",
        joined(want),
        want.level_text
    )
}

fn joined(want: &Want) -> String {
    want.names().collect::<Vec<_>>().join(" or ")
}

/// Only a sound index says that the producer does not offer a field.
fn not_found(
    file: &StepFile,
    faults: &[LineFault],
    records: usize,
    unnamed: usize,
    sought: &str,
) -> (Gap, String) {
    let path = &file.index_path;
    match (faults.first(), records, unnamed) {
        (Some(fault), ..) => (Gap::NotThere, format!("{path}: {fault}")),
        (None, 0, _) => (Gap::NotThere, format!("{path} is empty")),
        (None, _, 0) => (Gap::NotInFeed, format!("{path} has no {sought}")),
        (None, _, unnamed) => (
            Gap::NotThere,
            format!("{path} has no {sought}; {unnamed} of its lines name an unknown quantity"),
        ),
    }
}
