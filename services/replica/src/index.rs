//! The two kinds of index, as text whose offsets, lengths and run can be read and rewritten line by line.
//!
//! Owns: `.idx` (`number:offset:d=run:variable:level:forecast:`) and `.index` (a JSON object a line). Keeps everything
//! that it does not change as it stands, key order included. Must not know: why an index is rewritten.

use chrono::{DateTime, Utc};

/// The kind of an index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum IndexKind {
    /// NOAA's, sorted by offset, without lengths.
    Idx,
    /// ECMWF's, in no order, with lengths.
    JsonLines,
}

/// Where a record lies in its file; a length only where the index states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Extent {
    pub offset: u64,
    pub length: Option<u64>,
}

impl IndexKind {
    pub fn of(path: &str) -> Option<Self> {
        match path.rsplit_once('.') {
            Some((_, "idx")) => Some(Self::Idx),
            Some((_, "index")) => Some(Self::JsonLines),
            _ => None,
        }
    }

    /// The index of a file.
    pub fn path_beside(self, file: &str) -> String {
        match self {
            Self::Idx => format!("{file}.idx"),
            Self::JsonLines => format!("{}.index", file.strip_suffix(".grib2").unwrap_or(file)),
        }
    }

    pub fn extent(self, line: &str) -> Option<Extent> {
        let number = |text: &str| text.parse().ok();
        Some(match self {
            Self::Idx => Extent {
                offset: number(line.split(':').nth(1)?)?,
                length: None,
            },
            Self::JsonLines => Extent {
                offset: number(json_value(line, "_offset")?)?,
                length: Some(number(json_value(line, "_length")?)?),
            },
        })
    }

    /// The line with another extent.
    pub fn with_extent(self, line: &str, extent: Extent) -> String {
        match self {
            Self::Idx => with_field(line, 1, &extent.offset.to_string()),
            Self::JsonLines => {
                let line = with_json_value(line, "_offset", &extent.offset.to_string());
                match extent.length {
                    Some(length) => with_json_value(&line, "_length", &length.to_string()),
                    None => line,
                }
            }
        }
    }

    /// The line with another run.
    pub fn with_run(self, line: &str, run: DateTime<Utc>) -> String {
        match self {
            Self::Idx => with_field(line, 2, &run.format("d=%Y%m%d%H").to_string()),
            Self::JsonLines => {
                let line = with_json_value(line, "date", &run.format("\"%Y%m%d\"").to_string());
                with_json_value(&line, "time", &run.format("\"%H%M\"").to_string())
            }
        }
    }

    /// What a record is of, but for its run and step.
    pub fn subject(self, line: &str) -> String {
        match self {
            Self::Idx => line.split(':').skip(3).take(2).collect::<Vec<_>>().join(":"),
            Self::JsonLines => {
                let values =
                    ["param", "levtype", "levelist", "number"].map(|key| json_value(line, key).unwrap_or(""));
                values.join(":")
            }
        }
    }
}

fn with_field(line: &str, at: usize, value: &str) -> String {
    let mut fields: Vec<&str> = line.split(':').collect();
    if let Some(field) = fields.get_mut(at) {
        *field = value;
    }
    fields.join(":")
}

/// The value of a key of a flat JSON object, quotes included.
fn json_value<'a>(line: &'a str, key: &str) -> Option<&'a str> {
    let key = format!("\"{key}\":");
    let after = &line[line.find(&key)? + key.len()..];
    let value = after.trim_start();
    let end = match value.strip_prefix('"') {
        Some(text) => text.find('"')? + 2,
        None => value.find([',', '}'])?,
    };
    Some(value[..end].trim_end())
}

fn with_json_value(line: &str, key: &str, value: &str) -> String {
    match json_value(line, key) {
        Some(old) => {
            let at = old.as_ptr() as usize - line.as_ptr() as usize;
            format!("{}{value}{}", &line[..at], &line[at + old.len()..])
        }
        None => line.to_owned(),
    }
}
