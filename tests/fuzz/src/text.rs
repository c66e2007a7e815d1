//! The texts of others: both kinds of index, and club files.

use crate::bounded::within;
use chrono::{DateTime, TimeDelta, Utc};
use feeds::{EcmwfIndex, NoaaIndex};

/// Octets a line of an index, a value or a mistake may take for each of its own.
const EACH: usize = 128;
/// What any text may take.
const FEW: usize = 64 << 10;
/// A club file's zone, patterns of recurrence and mistakes come on top of its text.
const CLUB: usize = 4 << 20;
/// 2030-05-13 00 UTC, the run of the seeds.
const RUN: i64 = 1_904_860_800;

/// NOAA's, a line for each message.
pub fn noaa_index(octets: &[u8]) {
    let text = String::from_utf8_lossy(octets);
    let index = within(FEW + EACH * text.len(), || NoaaIndex::parse(&text, run()));
    assert!(index.records.len() <= text.lines().count());
}

/// ECMWF's, an object of JSON for each message.
pub fn ecmwf_index(octets: &[u8]) {
    let text = String::from_utf8_lossy(octets);
    let index = within(FEW + EACH * text.len(), || EcmwfIndex::parse(&text, run()));
    assert!(index.records.len() <= text.lines().count());
}

/// A club file, and where it is one its sessions of two weeks.
pub fn club_file(octets: &[u8]) {
    let Ok(parsed) = within(CLUB + 256 * octets.len(), || club::parse_bytes(octets, None)) else {
        return;
    };
    let sessions = club::occurrences(&parsed.club, run(), run() + TimeDelta::days(14));
    assert!(sessions.is_sorted_by_key(|session| session.leaves));
}

fn run() -> DateTime<Utc> {
    DateTime::from_timestamp(RUN, 0).expect("an instant")
}
