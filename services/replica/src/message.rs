//! A GRIB2 message as the octets of its sections (WMO FM 92 GRIB edition 2), for what is patched or put together.
//!
//! Must not know: what a value is. The messages are the tree's own; damage only means that nothing is found.

use std::ops::Range;

/// Octets of section 0.
pub(crate) const INDICATOR_OCTETS: usize = 16;
/// Section 8.
pub(crate) const END_MARKER: &[u8; 4] = b"7777";

/// Number and place of each section from 1 to 7, in order, as far as they make sense.
pub(crate) fn sections(message: &[u8]) -> Vec<(u8, Range<usize>)> {
    let body_end = message.len().saturating_sub(END_MARKER.len());
    let (mut found, mut at) = (Vec::new(), INDICATOR_OCTETS);
    while at + 5 <= body_end {
        let length =
            u32::from_be_bytes([message[at], message[at + 1], message[at + 2], message[at + 3]]) as usize;
        if length < 5 || length > body_end - at {
            break;
        }
        found.push((message[at + 4], at..at + length));
        at += length;
    }
    found
}

/// Where each whole message of a file lies.
pub(crate) fn messages(file: &[u8]) -> Vec<Range<usize>> {
    let whole = |frame| match frame {
        grid::Frame::Message(message) => {
            let start = message.offset as usize;
            Some(start..start + message.bytes.len())
        }
        grid::Frame::Damage(_) => None,
    };
    grid::split(file).into_iter().filter_map(whole).collect()
}
