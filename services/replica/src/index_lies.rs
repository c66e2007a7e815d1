//! Indexes that are wrong: from the text of a right one.
//!
//! Must not know: HTTP.

use crate::fault::Fault;
use crate::index::{Extent, IndexKind};
use crate::stamp::Stamp;
use chrono::TimeDelta;
use std::collections::HashMap;

/// The index as this fault makes it; unchanged by any other fault.
pub(crate) fn lie(fault: &Fault, kind: IndexKind, path: &str, text: &str) -> String {
    match fault {
        Fault::IndexOffsetsShifted { by } => with_extents(kind, text, |_, extent| Extent {
            offset: extent.offset.saturating_add_signed(*by),
            ..extent
        }),
        Fault::IndexLengthsWrong { by } => with_extents(kind, text, |record, extent| match extent.length {
            Some(length) => Extent {
                length: Some(length.saturating_add_signed(*by)),
                ..extent
            },
            None => Extent {
                offset: extent.offset.saturating_add_signed(by.saturating_mul(record)),
                ..extent
            },
        }),
        Fault::IndexOlder => with_extents(kind, text, |_, extent| a_tenth_shorter(extent)),
        Fault::IndexOfOtherRun { hours_before } => {
            let Some(stamp) = Stamp::of(path) else {
                return text.to_owned();
            };
            let run = stamp.run - TimeDelta::hours(i64::from(*hours_before));
            each_line(text, |_, line| kind.with_run(line, run))
        }
        Fault::IndexPointsAt {
            line_with,
            at_line_with,
        } => {
            let extent_of = |part: &str| kind.extent(text.lines().find(|line| line.contains(part))?);
            let Some(other) = extent_of(at_line_with) else {
                return text.to_owned();
            };
            let changed = text.lines().position(|line| line.contains(line_with.as_str()));
            each_line(text, |at, line| {
                if changed == Some(at) {
                    kind.with_extent(line, other)
                } else {
                    line.to_owned()
                }
            })
        }
        _ => text.to_owned(),
    }
}

/// This index with the extents of another file's records of the same subjects; records the other lacks are left out.
pub(crate) fn with_extents_of(kind: IndexKind, text: &str, other: &str) -> String {
    let mut theirs: HashMap<String, Vec<Extent>> = HashMap::new();
    // From the last to the first, so that records of one subject are taken off the end in their order.
    for line in other.lines().rev() {
        if let Some(extent) = kind.extent(line) {
            theirs.entry(kind.subject(line)).or_default().push(extent);
        }
    }
    let mut lines = String::new();
    for line in text.lines() {
        if let Some(extent) = theirs.get_mut(&kind.subject(line)).and_then(Vec::pop) {
            lines.push_str(&kind.with_extent(line, extent));
            lines.push('\n');
        }
    }
    lines
}

/// As if every octet of the file before had been nine tenths as long: records still touch where they touched.
fn a_tenth_shorter(extent: Extent) -> Extent {
    let shorter = |octet: u64| octet - octet / 10;
    let offset = shorter(extent.offset);
    let length = extent
        .length
        .map(|length| shorter(extent.offset.saturating_add(length)) - offset);
    Extent { offset, length }
}

fn with_extents(kind: IndexKind, text: &str, change: impl Fn(i64, Extent) -> Extent) -> String {
    each_line(text, |at, line| match kind.extent(line) {
        Some(extent) => kind.with_extent(line, change(i64::try_from(at).unwrap_or(i64::MAX), extent)),
        None => line.to_owned(),
    })
}

fn each_line(text: &str, change: impl Fn(usize, &str) -> String) -> String {
    let line = |(at, line)| change(at, line) + "\n";
    text.lines().enumerate().map(line).collect()
}
