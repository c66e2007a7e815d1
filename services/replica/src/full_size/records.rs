//! The records of a full-size file: what each head and each index line says.
//!
//! Owns: section 1 and section 4 (product definition template 4.1). Source: WMO FM 92 GRIB2; names and levels as
//! ../shared/design/data-sources.md, section 5, has them.

use super::pool::Recycled;
use crate::message::INDICATOR_OCTETS;
use crate::simple_packing::section;
use chrono::{DateTime, Datelike, Timelike, Utc};

/// Where a file stands in the tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// 0 for the control.
    pub member: u8,
    /// Hours.
    pub step: u32,
}

/// One record of every file.
pub(super) struct Record {
    variable: &'static str,
    level_text: &'static str,
    /// Category and number (code tables 4.1 and 4.2) of discipline 0.
    pub parameter: [u8; 2],
    /// Type and value of the first fixed surface.
    surface: (u8, u32),
}

/// The records in the order of the file.
pub(super) const RECORDS: [Record; 5] = [
    Record::new("GUST", "surface", [2, 22], (1, 0)),
    Record::new("TMP", "2 m above ground", [0, 0], (103, 2)),
    Record::new("UGRD", "10 m above ground", [2, 2], (103, 10)),
    Record::new("VGRD", "10 m above ground", [2, 3], (103, 10)),
    Record::new("PRMSL", "mean sea level", [3, 1], (101, 0)),
];

impl Record {
    const fn new(
        variable: &'static str,
        level_text: &'static str,
        parameter: [u8; 2],
        surface: (u8, u32),
    ) -> Self {
        Self {
            variable,
            level_text,
            parameter,
            surface,
        }
    }

    /// A line of the `.idx`, its end included.
    pub fn index_line(&self, number: usize, offset: usize, run: DateTime<Utc>, place: Place) -> String {
        let (variable, level, run) = (self.variable, self.level_text, run.format("%Y%m%d%H"));
        let forecast = match place.step {
            0 => "anl".to_owned(),
            step => format!("{step} hour fcst"),
        };
        let member = match place.member {
            0 => "low-res ctl".to_owned(),
            number => format!("+{number}"),
        };
        format!("{number}:{offset}:d={run}:{variable}:{level}:{forecast}:ENS={member}\n")
    }

    /// Sections 0 to 4 of the record's message in a file.
    pub fn head(&self, run: DateTime<Utc>, place: Place, members: u8, recycled: &Recycled) -> Vec<u8> {
        // Section 0; its length follows when it is known.
        let mut head = b"GRIB\xff\xff\x00\x02".to_vec();
        head.resize(INDICATOR_OCTETS, 0);
        section(&mut head, 1, |body| identification(body, run, place));
        head.extend_from_slice(&recycled.grid);
        section(&mut head, 4, |body| self.product(body, place, members));
        let length = (head.len() + recycled.tail.len()) as u64;
        head[8..16].copy_from_slice(&length.to_be_bytes());
        head
    }

    fn product(&self, body: &mut Vec<u8>, place: Place, members: u8) {
        body.extend_from_slice(&[0, 0, 0, 1]); // no coordinates; template 4.1
        body.extend_from_slice(&self.parameter);
        body.extend_from_slice(&[4, 0, 107]); // an ensemble forecast; process 107
        body.extend_from_slice(&[0, 0, 0, 1]); // no cut-off; hours
        body.extend_from_slice(&place.step.to_be_bytes());
        let (kind, value) = self.surface;
        body.extend_from_slice(&[kind, 0]);
        body.extend_from_slice(&value.to_be_bytes());
        body.extend_from_slice(&[255; 6]); // no second surface
        let kind = if place.member == 0 { 1 } else { 3 };
        body.extend_from_slice(&[kind, place.member, members]);
    }
}

/// Section 1: NCEP (7), its ensemble products (2), tables 2 and 1, start of forecast.
fn identification(body: &mut Vec<u8>, run: DateTime<Utc>, place: Place) {
    body.extend_from_slice(&[0, 7, 0, 2, 2, 1, 1]);
    let year = u16::try_from(run.year()).unwrap_or(0);
    body.extend_from_slice(&year.to_be_bytes());
    let parts = [run.month(), run.day(), run.hour(), run.minute(), run.second()];
    body.extend(parts.map(|part| part as u8));
    // Operational; a control (3) or a perturbed forecast (4), code table 1.4.
    body.extend_from_slice(&[0, if place.member == 0 { 3 } else { 4 }]);
}
