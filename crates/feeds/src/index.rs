//! NOAA's index beside a file: lines without lengths, from which byte ranges follow.

use chrono::{DateTime, Utc};
use thiserror::Error;

/// First and last octet of a message in its file; no last octet for the last message of an index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ByteRange {
    /// First octet.
    pub first: u64,
    /// Last octet, included; none: up to the end of the file.
    pub last: Option<u64>,
}

impl ByteRange {
    /// All of a file.
    pub const WHOLE_FILE: Self = Self { first: 0, last: None };

    /// Octets in the range, if its end is known.
    pub fn length(self) -> Option<u64> {
        self.last.map(|last| last + 1 - self.first)
    }
}

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IndexRecord {
    /// Line in the index, from 1.
    pub line: usize,
    /// Message number and, for one of several fields of a message, its number after a dot.
    pub number: String,
    /// Where the message lies; fields of one message share their range.
    pub range: ByteRange,
    /// The variable.
    pub variable: String,
    /// The level.
    pub level: String,
    /// The forecast time in words.
    pub forecast: String,
    /// Whatever follows: the member, or nothing.
    pub tail: String,
}

/// A line that is not one of the run's index.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LineFault {
    /// Too few fields or no offset.
    #[error("line {line} is no index line")]
    Form {
        /// The line, from 1.
        line: usize,
    },
    /// The line belongs to another run.
    #[error("line {line} is of another run: {found}, not {wanted}")]
    OtherRun {
        /// The line, from 1.
        line: usize,
        /// The run it names, as it names it.
        found: String,
        /// The run asked for, likewise.
        wanted: String,
    },
    /// What follows is left out.
    #[error("there are more than {most} lines: the others are left out")]
    TooMany {
        /// Lines that are read.
        most: usize,
    },
}

/// Most lines that are named as left out: what has more of them is no index, and the rest of it is not read.
pub const MOST_FAULTS: usize = 1_000;

/// A read index.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoaaIndex {
    /// Its lines, in their order.
    pub records: Vec<IndexRecord>,
    /// Lines left out, the first thousand.
    pub faults: Vec<LineFault>,
}

impl NoaaIndex {
    /// Reads an index of the run that began at `run`. Lines of another run or form are left out and named.
    pub fn parse(text: &str, run: DateTime<Utc>) -> Self {
        let wanted = format!("d={}", run.format("%Y%m%d%H"));
        let (mut records, mut faults) = (Vec::new(), Vec::new());
        let lines = (1..)
            .zip(text.lines())
            .filter(|(_, line)| !line.trim().is_empty());
        for (number, line) in lines {
            match parse_line(number, line, &wanted) {
                Ok(record) => records.push(record),
                Err(fault) => faults.push(fault),
            }
            if faults.len() == MOST_FAULTS {
                break;
            }
        }
        close_ranges(&mut records);
        Self { records, faults }
    }

    /// The first line that matches in all four. A partial match would take `100 m above ground` for `10 m above ground`;
    /// of two identical lines (the bucket and the run total of the first hours) the first is the bucket.
    pub fn find(&self, variable: &str, level: &str, forecast: &str, tail: &str) -> Option<&IndexRecord> {
        self.records.iter().find(|record| {
            record.variable == variable
                && record.level == level
                && record.forecast == forecast
                && record.tail == tail
        })
    }
}

fn parse_line(line: usize, text: &str, wanted: &str) -> Result<IndexRecord, LineFault> {
    let form = || LineFault::Form { line };
    let mut fields = text.trim_end().splitn(7, ':');
    let mut field = || fields.next().ok_or_else(form);
    let (number, offset, date) = (field()?, field()?, field()?);
    let (variable, level, forecast) = (field()?, field()?, field()?);
    let tail = fields.next().unwrap_or_default().trim_end_matches(':');
    let first: u64 = offset.parse().map_err(|_| form())?;
    if !date.starts_with("d=") {
        return Err(form());
    }
    if date != wanted {
        return Err(LineFault::OtherRun {
            line,
            found: date.to_owned(),
            wanted: wanted.to_owned(),
        });
    }
    Ok(IndexRecord {
        line,
        number: number.to_owned(),
        range: ByteRange { first, last: None },
        variable: variable.to_owned(),
        level: level.to_owned(),
        forecast: forecast.to_owned(),
        tail: tail.to_owned(),
    })
}

/// A range ends before the next larger offset, so that fields of one message share their range.
fn close_ranges(records: &mut [IndexRecord]) {
    let mut offsets: Vec<u64> = records.iter().map(|record| record.range.first).collect();
    offsets.sort_unstable();
    offsets.dedup();
    for record in records {
        let next = offsets.partition_point(|offset| *offset <= record.range.first);
        record.range.last = offsets.get(next).map(|next| next - 1);
    }
}

/// The forecast time in words of a value of one moment: `anl`, `30 hour fcst`.
pub fn instant_text(step: u16) -> String {
    if step == 0 {
        "anl".to_owned()
    } else {
        format!("{step} hour fcst")
    }
}

/// The forecast time in words of an accumulation: `24-30 hour acc fcst`; whole days read `0-1 day acc fcst`.
pub fn accumulation_text(start: u16, end: u16) -> String {
    interval_text(start, end, "acc")
}

/// The forecast time in words of a maximum: `12-15 hour max fcst`; whole days read `0-1 day max fcst`.
pub fn maximum_text(start: u16, end: u16) -> String {
    interval_text(start, end, "max")
}

fn interval_text(start: u16, end: u16, process: &str) -> String {
    if start.is_multiple_of(24) && end.is_multiple_of(24) {
        return format!("{}-{} day {process} fcst", start / 24, end / 24);
    }
    format!("{start}-{end} hour {process} fcst")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn index(text: &str) -> NoaaIndex {
        NoaaIndex::parse(text, "2026-11-24T06:00:00Z".parse().unwrap())
    }

    /// Lines of our own in NOAA's form; offsets invented.
    const SAMPLE: &str = "\
1:0:d=2026112406:PRMSL:mean sea level:30 hour fcst:
588:423011840:d=2026112406:UGRD:10 m above ground:30 hour fcst:
589:423995310:d=2026112406:VGRD:10 m above ground:30 hour fcst:
590:423999000:d=2026112406:UGRD:100 m above ground:30 hour fcst:
596:428310977:d=2026112406:APCP:surface:24-30 hour acc fcst:
597:428561200:d=2026112406:APCP:surface:0-30 hour acc fcst:
";

    // Source of the rules below: wgrib2's description of its inventory, and real indexes (see tests/sidecars.rs).
    #[test]
    fn a_record_ends_before_the_next_and_the_last_is_open() {
        let index = index(SAMPLE);
        let u = index
            .find("UGRD", "10 m above ground", "30 hour fcst", "")
            .unwrap();
        assert_eq!(
            u.range,
            ByteRange {
                first: 423_011_840,
                last: Some(423_995_309)
            }
        );
        assert_eq!(u.range.length(), Some(983_470));
        let total = index.find("APCP", "surface", "0-30 hour acc fcst", "").unwrap();
        assert_eq!(
            total.range,
            ByteRange {
                first: 428_561_200,
                last: None
            }
        );
    }

    #[test]
    fn matching_is_exact() {
        let index = index(SAMPLE);
        assert!(index.find("UGRD", "10 m", "30 hour fcst", "").is_none());
        assert!(
            index
                .find("UGRD", "10 m above ground", "30 hour fcst", "ENS=+7")
                .is_none()
        );
        assert_eq!(
            index
                .find("UGRD", "100 m above ground", "30 hour fcst", "")
                .unwrap()
                .line,
            4
        );
    }

    #[test]
    fn fields_of_one_message_share_their_range() {
        let index = index(
            "12.1:5120334:d=2026112406:UGRD:10 m above ground:3 hour fcst:\n\
             12.2:5120334:d=2026112406:VGRD:10 m above ground:3 hour fcst:\n\
             13:6003121:d=2026112406:TMP:2 m above ground:3 hour fcst:\n",
        );
        let shared = ByteRange {
            first: 5_120_334,
            last: Some(6_003_120),
        };
        assert_eq!((index.records[0].range, index.records[1].range), (shared, shared));
        assert_eq!(index.records[1].number, "12.2");
    }

    #[test]
    fn of_identical_lines_the_first_is_taken() {
        let index = index(
            "596:100:d=2026112406:APCP:surface:0-3 hour acc fcst:\n\
             597:200:d=2026112406:APCP:surface:0-3 hour acc fcst:\n",
        );
        assert_eq!(
            index
                .find("APCP", "surface", "0-3 hour acc fcst", "")
                .unwrap()
                .range
                .first,
            100
        );
    }

    #[test]
    fn the_member_stands_in_the_tail_and_odd_variables_are_read() {
        let index = index(
            "15:0:d=2026112406:UGRD:10 m above ground:30 hour fcst:ENS=+7\n\
             16:9:d=2026112406:var discipline=0 center=7 local_table=1 parmcat=16 parm=201:surface:anl:ENS=low-res ctl\n",
        );
        assert_eq!(index.records[0].tail, "ENS=+7");
        assert_eq!(index.records[1].tail, "ENS=low-res ctl");
        assert_eq!(index.records[1].level, "surface");
    }

    #[test]
    fn lines_of_another_run_or_form_are_left_out_and_named() {
        let index = index(
            "1:0:d=2026112400:PRMSL:mean sea level:30 hour fcst:\n\
             <html><title>302</title>\n\
             2:x:d=2026112406:GUST:surface:30 hour fcst:\n\
             3:7:d=2026112406:GUST:surface\n\
             4:-5:d=2026112406:GUST:surface:anl:\n\
             5:99999999999999999999999:d=2026112406:GUST:surface:anl:\n\
             \n\
             6:8:d=2026112406:GUST:surface:anl:\r\n",
        );
        assert_eq!(index.records.len(), 1);
        assert_eq!((index.records[0].line, index.records[0].tail.as_str()), (8, ""));
        let lines: Vec<_> = index.faults.iter().map(ToString::to_string).collect();
        assert_eq!(
            lines[0],
            "line 1 is of another run: d=2026112400, not d=2026112406"
        );
        assert_eq!(
            lines[1..],
            [2, 3, 4, 5, 6].map(|line| format!("line {line} is no index line"))
        );
    }

    // No source: the bound above.
    #[test]
    fn what_is_no_index_is_not_read_to_its_end() {
        let text = "x\n".repeat(MOST_FAULTS) + "6:8:d=2026112406:GUST:surface:anl:\n";
        let index = index(&text);
        assert_eq!((index.records.len(), index.faults.len()), (0, MOST_FAULTS));
    }

    #[test]
    fn forecast_times_in_words() {
        // Source: lines of real NOAA indexes, f000 to f030.
        assert_eq!(
            (instant_text(0), instant_text(30)),
            ("anl".into(), "30 hour fcst".into())
        );
        assert_eq!(accumulation_text(24, 30), "24-30 hour acc fcst");
        assert_eq!(accumulation_text(18, 24), "18-24 hour acc fcst");
        assert_eq!(accumulation_text(0, 24), "0-1 day acc fcst");
        assert_eq!(accumulation_text(0, 48), "0-2 day acc fcst");
        assert_eq!(maximum_text(12, 15), "12-15 hour max fcst");
    }
}
