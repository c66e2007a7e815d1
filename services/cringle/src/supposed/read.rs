//! The file of supposed hours: CSV read within bounds, every mistake told at once.
//!
//! Owns: what a cell may say. Must not know: limits, calls, what becomes of the hours.

use super::{COLUMNS, Column, Hour, Supposed};
use chrono::{DateTime, Utc};
use csv::StringRecord;
use std::collections::BTreeMap;
use std::fmt;

/// Largest file, octets.
pub const FILE_AT_MOST: usize = 4 << 20;
/// Most rows: ten days hourly with 51 members are 12,240.
pub const ROWS_AT_MOST: usize = 20_000;
/// Most members; the largest open ensemble has 51.
pub const MEMBERS_AT_MOST: usize = 100;
/// Mistakes told in full; the rest are counted.
const TOLD_AT_MOST: usize = 100;

/// One thing wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// Line of the file.
    pub line: u64,
    /// Number of the cell in its line, from 1.
    pub column: usize,
    /// Name of its column.
    pub name: String,
    /// What is there.
    pub found: String,
    /// What should be.
    pub expected: String,
}

/// Everything wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistakes {
    /// The file.
    pub file: String,
    /// What is wrong, by line.
    pub all: Vec<Mistake>,
}

impl fmt::Display for Mistakes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for mistake in self.all.iter().take(TOLD_AT_MOST) {
            let Mistake {
                line,
                column,
                name,
                found,
                expected,
            } = mistake;
            writeln!(
                f,
                "{}: line {line}, column {column} ({name}): found {found}, expected {expected}",
                self.file
            )?;
        }
        let total = self.all.len();
        let more = total.saturating_sub(TOLD_AT_MOST);
        if more > 0 {
            writeln!(f, "{}: and {more} more", self.file)?;
        }
        let noun = if total == 1 { "mistake" } else { "mistakes" };
        write!(f, "{}: {total} {noun}; mend them and suppose again", self.file)
    }
}

/// What a cell of the header means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Head {
    Time,
    Member,
    Value(Column),
}

impl Head {
    fn named(name: &str) -> Option<Self> {
        match name {
            "time" => Some(Self::Time),
            "member" => Some(Self::Member),
            _ => Column::ALL
                .into_iter()
                .find(|column| column.name() == name)
                .map(Self::Value),
        }
    }
}

/// The file as it is read.
pub(super) struct Reading {
    /// The line of the header.
    pub(super) header_line: u64,
    heads: Vec<(String, Option<Head>)>,
    pub(super) mistakes: Vec<Mistake>,
    pub(super) hours: BTreeMap<(u16, DateTime<Utc>), Hour>,
}

/// Reads a file's octets.
pub fn read(file: &str, octets: &[u8]) -> Result<Supposed, Mistakes> {
    let wrong = |all| Mistakes {
        file: file.to_owned(),
        all,
    };
    let text = text_of(octets).map_err(|mistake| wrong(vec![mistake]))?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut records = reader.records();
    let header = match records.next() {
        Some(Ok(header)) => header,
        _ => {
            return Err(wrong(vec![whole(
                "nothing",
                "a header naming the columns, time first",
            )]));
        }
    };
    let mut reading = Reading::of_header(&header);
    if !reading.has(Head::Time) {
        let line = line_of(&header);
        let expected = "a column named time, RFC 3339 with an offset";
        reading.wrong(line, 0, "no such column", expected);
        return Err(wrong(reading.mistakes));
    }
    for (index, record) in records.enumerate() {
        if index >= ROWS_AT_MOST {
            let expected = format!("at most {ROWS_AT_MOST} rows: give fewer hours or members");
            reading.mistakes.push(whole("more rows", &expected));
            break;
        }
        match record {
            Ok(record) => reading.take(&record),
            Err(error) => reading.mistakes.push(whole(
                &error.to_string(),
                "lines of cells with commas between them",
            )),
        }
    }
    reading.check_together();
    if !reading.mistakes.is_empty() {
        reading
            .mistakes
            .sort_by_key(|mistake| (mistake.line, mistake.column));
        return Err(wrong(reading.mistakes));
    }
    let values = |(_, head): &(String, Option<Head>)| match head {
        Some(Head::Value(column)) => Some(*column),
        _ => None,
    };
    Ok(Supposed {
        columns: reading.heads.iter().filter_map(values).collect(),
        hours: reading.hours,
    })
}

fn text_of(octets: &[u8]) -> Result<&str, Mistake> {
    if octets.len() > FILE_AT_MOST {
        return Err(whole(
            "a longer file",
            &format!("at most {FILE_AT_MOST} octets: give fewer hours or members"),
        ));
    }
    let text = std::str::from_utf8(octets).map_err(|error| {
        let before = &octets[..error.valid_up_to()];
        let lines = before.iter().filter(|&&octet| octet == b'\n').count();
        Mistake {
            line: lines as u64 + 1,
            ..whole("octets that are no UTF-8", "text in UTF-8")
        }
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

pub(super) fn whole(found: &str, expected: &str) -> Mistake {
    Mistake {
        line: 1,
        column: 1,
        name: "the file".to_owned(),
        found: found.to_owned(),
        expected: expected.to_owned(),
    }
}

fn line_of(record: &StringRecord) -> u64 {
    record.position().map_or(1, csv::Position::line)
}

/// A cell as it is shown: a long one is cut.
fn shown(cell: &str) -> String {
    if cell.is_empty() {
        return "nothing".to_owned();
    }
    let cut: String = cell.chars().take(40).collect();
    format!("{cut:?}")
}

impl Reading {
    fn of_header(header: &StringRecord) -> Self {
        let line = line_of(header);
        let mut reading = Self {
            header_line: line,
            heads: Vec::new(),
            mistakes: Vec::new(),
            hours: BTreeMap::new(),
        };
        for (index, cell) in header.iter().enumerate() {
            let head = Head::named(cell);
            let again = head.is_some_and(|head| reading.has(head));
            reading
                .heads
                .push((cell.chars().take(40).collect(), head.filter(|_| !again)));
            if again {
                reading.wrong(line, index, &format!("{} again", shown(cell)), "each column once");
            } else if head.is_none() {
                let known: Vec<&str> = Column::ALL.into_iter().map(Column::name).collect();
                let expected = format!("time, member or one of {}", known.join(", "));
                reading.wrong(line, index, &shown(cell), &expected);
            }
        }
        reading
    }

    fn has(&self, head: Head) -> bool {
        self.place(head).is_some()
    }

    pub(super) fn place(&self, head: Head) -> Option<usize> {
        self.heads.iter().position(|(_, known)| *known == Some(head))
    }

    pub(super) fn wrong(&mut self, line: u64, index: usize, found: &str, expected: &str) {
        let name = self.heads.get(index).map_or("", |(name, _)| name.as_str());
        self.mistakes.push(Mistake {
            line,
            column: index + 1,
            name: name.to_owned(),
            found: found.to_owned(),
            expected: expected.to_owned(),
        });
    }

    fn take(&mut self, record: &StringRecord) {
        let line = line_of(record);
        let wanted = self.heads.len();
        if record.len() != wanted {
            let found = format!("{} cells", record.len());
            let expected = format!("{wanted} as in the header, empty where a value is missing");
            self.wrong(
                line,
                record.len().min(wanted).saturating_sub(1),
                &found,
                &expected,
            );
            return;
        }
        let before = self.mistakes.len();
        let (mut time, mut member) = (None, Some(0));
        let mut values = [None; COLUMNS];
        for (index, cell) in record.iter().enumerate() {
            match self.heads[index].1 {
                Some(Head::Time) => time = self.time(line, index, cell),
                Some(Head::Member) => member = self.member(line, index, cell),
                Some(Head::Value(column)) => values[column as usize] = self.value(line, index, column, cell),
                None => {}
            }
        }
        let (Some(time), Some(member)) = (time, member) else {
            return;
        };
        let hour = Hour { line, values };
        if let Some(first) = self.hours.get(&(member, time)) {
            let found = format!("the hour and member of line {} again", first.line);
            self.wrong(
                line,
                self.place(Head::Time).unwrap_or(0),
                &found,
                "each hour once for each member",
            );
        } else if before == self.mistakes.len() {
            self.hours.insert((member, time), hour);
        }
    }

    fn time(&mut self, line: u64, index: usize, cell: &str) -> Option<DateTime<Utc>> {
        let parsed = DateTime::parse_from_rfc3339(cell).map(|at| at.with_timezone(&Utc));
        if parsed.is_err() {
            self.wrong(
                line,
                index,
                &shown(cell),
                "a time with its offset, such as 2030-05-14T10:00:00Z",
            );
        }
        parsed.ok()
    }

    fn member(&mut self, line: u64, index: usize, cell: &str) -> Option<u16> {
        let parsed = cell.parse().ok();
        if parsed.is_none() {
            self.wrong(line, index, &shown(cell), "the member's number, 0 to 65535");
        }
        parsed
    }

    fn value(&mut self, line: u64, index: usize, column: Column, cell: &str) -> Option<f64> {
        if cell.is_empty() {
            return None;
        }
        let (_, least, most) = column.facts();
        let parsed = cell
            .parse::<f64>()
            .ok()
            .filter(|value| (least..=most).contains(value));
        if parsed.is_none() {
            let expected = format!("a number from {least} to {most}, or nothing where it is missing");
            self.wrong(line, index, &shown(cell), &expected);
        }
        parsed
    }
}
