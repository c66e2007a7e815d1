//! A file into messages, by section 0 alone, so that one damaged message costs no other.
//!
//! Must not know: what is inside a message, but for finding where a truncated one breaks off.

use crate::sections::{END_MARKER, INDICATOR_OCTETS};
use crate::{Damage, Fault};

/// One whole message: from `GRIB` to `7777`, as long as its section 0 says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Message<'a> {
    /// Its number in the file, from 1; damaged messages count.
    pub number: u32,
    /// Octets from the start of the file to its first octet.
    pub offset: u64,
    /// Its octets.
    pub bytes: &'a [u8],
}

/// What a stretch of a file is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Frame<'a> {
    /// A message whose ends are where section 0 says.
    Message(Message<'a>),
    /// Octets that are no such message.
    Damage(Damage),
}

/// Splits a file into messages and damage, in the order of the file.
///
/// After damage it goes on at the next octets that form a whole message of edition 2.
pub fn split(bytes: &[u8]) -> Vec<Frame<'_>> {
    if bytes.is_empty() {
        return vec![Frame::Damage(at_offset(None, None, 0, Fault::Empty))];
    }
    let (mut frames, mut number, mut at) = (Vec::new(), 0, 0);
    while at < bytes.len() {
        let rest = &bytes[at..];
        if let Some(length) = whole_message(rest) {
            number += 1;
            frames.push(Frame::Message(Message {
                number,
                offset: at as u64,
                bytes: &rest[..length],
            }));
            at += length;
            continue;
        }
        let next = at + next_message(rest);
        let skipped = &bytes[at..next];
        let damage = if skipped.starts_with(b"GRIB") || skipped.ends_with(END_MARKER) {
            number += 1;
            diagnose(number, at, skipped)
        } else {
            at_offset(
                None,
                None,
                at,
                Fault::StrayOctets {
                    octets: skipped.len() as u64,
                },
            )
        };
        frames.push(Frame::Damage(damage));
        at = next;
    }
    if number == 0 {
        let what = Fault::NotGrib {
            html: looks_like_html(bytes),
        };
        return vec![Frame::Damage(at_offset(None, None, 0, what))];
    }
    frames
}

fn at_offset(message: Option<u32>, section: Option<u8>, offset: usize, what: Fault) -> Damage {
    Damage {
        message,
        section,
        field: None,
        offset: offset as u64,
        what,
    }
}

/// `GRIB` and an edition that has existed: an HTML page that merely mentions GRIB2 is none.
fn begins_like_a_message(bytes: &[u8]) -> bool {
    bytes.starts_with(b"GRIB") && matches!(bytes.get(7), Some(1..=3))
}

/// The declared length of a message of edition 2.
fn declared_length(bytes: &[u8]) -> Option<u64> {
    let octets = bytes.get(8..INDICATOR_OCTETS)?;
    Some(u64::from_be_bytes(octets.try_into().ok()?))
}

/// Length of the message at the start of these bytes, if all of it is there and it ends as it should.
fn whole_message(bytes: &[u8]) -> Option<usize> {
    if !bytes.starts_with(b"GRIB") || bytes.get(7) != Some(&2) {
        return None;
    }
    let length = usize::try_from(declared_length(bytes)?).ok()?;
    let body = bytes.get(..length)?;
    (length >= INDICATOR_OCTETS + END_MARKER.len() && body.ends_with(END_MARKER)).then_some(length)
}

/// Octets to skip to the next message. A message of edition 1 is skipped by its own length where it ends as it should.
fn next_message(rest: &[u8]) -> usize {
    let begins_here = rest.starts_with(b"GRIB");
    if begins_here && rest.get(7) == Some(&1) {
        let length = usize::from(rest[4]) << 16 | usize::from(rest[5]) << 8 | usize::from(rest[6]);
        if rest
            .get(..length)
            .is_some_and(|body| length >= 12 && body.ends_with(END_MARKER))
        {
            return length;
        }
    }
    let found = (1..rest.len()).find(|&skip| {
        let tail = &rest[skip..];
        whole_message(tail).is_some() || (!begins_here && begins_like_a_message(tail))
    });
    found.unwrap_or(rest.len())
}

fn looks_like_html(bytes: &[u8]) -> bool {
    let start = String::from_utf8_lossy(&bytes[..bytes.len().min(512)]).to_ascii_lowercase();
    start.contains("<!doctype html") || start.contains("<html")
}

/// Says what is wrong with octets that begin or end like a message but are none.
fn diagnose(number: u32, offset: usize, bytes: &[u8]) -> Damage {
    let message = Some(number);
    if !bytes.starts_with(b"GRIB") {
        let what = Fault::contradiction("the message does not begin with GRIB");
        return at_offset(message, Some(0), offset, what);
    }
    if let Some(&edition) = bytes.get(7).filter(|&&edition| edition != 2) {
        return at_offset(message, Some(0), offset, Fault::Edition(edition));
    }
    let at_hand = bytes.len() as u64;
    let Some(declared) = declared_length(bytes) else {
        let lacking = (INDICATOR_OCTETS as u64).saturating_sub(at_hand);
        return at_offset(message, Some(0), offset, Fault::Truncated { lacking });
    };
    if declared <= at_hand {
        return at_offset(message, Some(8), offset, Fault::NoEndMarker);
    }
    let too_long = Fault::LengthBeyondFile { declared, at_hand };
    match section_that_breaks_off(bytes, declared) {
        Some((section, at)) => {
            let what = Fault::Truncated {
                lacking: declared - at_hand,
            };
            at_offset(message, section, offset + at, what)
        }
        None => at_offset(message, Some(0), offset, too_long),
    }
}

/// Follows the sections to the one in which the octets end, if the declared length of the message has room for it.
fn section_that_breaks_off(bytes: &[u8], declared: u64) -> Option<(Option<u8>, usize)> {
    let mut at = INDICATOR_OCTETS;
    loop {
        let rest = bytes.get(at..)?;
        if rest.starts_with(END_MARKER) {
            return None;
        }
        let &[a, b, c, d, number, ..] = rest else {
            return Some((None, at));
        };
        let length = u64::from(u32::from_be_bytes([a, b, c, d]));
        if length < 5 || at as u64 + length > declared {
            return None;
        }
        if length > rest.len() as u64 {
            return Some((Some(number), at));
        }
        at += length as usize;
    }
}
