//! Files whose messages are not what they were: patched octets.
//!
//! Must not know: HTTP.

use crate::fault::Fault;
use crate::message::{messages, sections};
use std::ops::Range;

/// Grid definition template 3.101, general unstructured grid.
const UNSTRUCTURED: [u8; 2] = [0, 101];
/// Octets 20 to 35 of a section 3 of template 3.101: the UUID of the horizontal grid, from 0.
const UUID: Range<usize> = 19..35;

/// Patches a file as this fault says; no other fault does anything.
pub(crate) fn patch(fault: &Fault, file: &mut [u8]) {
    match fault {
        Fault::MeshUuidChanged => {
            for message in messages(file) {
                change_uuids(&mut file[message]);
            }
        }
        Fault::FlippedOctets { octet, count } => {
            let found = messages(file);
            let whole = 0..file.len();
            let parts = if found.is_empty() { vec![whole] } else { found };
            for part in parts {
                flip(&mut file[part], *octet, *count);
            }
        }
        _ => {}
    }
}

fn change_uuids(message: &mut [u8]) {
    for (number, place) in sections(message) {
        let section = &mut message[place];
        if number == 3 && section.get(12..14) == Some(&UNSTRUCTURED) {
            let uuid = section.get_mut(UUID).unwrap_or_default();
            uuid.iter_mut().for_each(|octet| *octet = !*octet);
        }
    }
}

fn flip(octets: &mut [u8], first: u64, count: u64) {
    let first = usize::try_from(first).unwrap_or(usize::MAX);
    let count = usize::try_from(count).unwrap_or(usize::MAX);
    octets
        .iter_mut()
        .skip(first)
        .take(count)
        .for_each(|octet| *octet = !*octet);
}
