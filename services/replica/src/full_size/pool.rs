//! The recycled messages: made here, or read from a folder.
//!
//! Must not know: under which names they are served.

use super::fields;
use super::records::Record;
use crate::ReplicaError;
use crate::message::{END_MARKER, messages, sections};
use crate::simple_packing::pack;
use bytes::Bytes;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// Bits of a value of the fields made here: more than 1.5 MB a message.
const BITS: u8 = 12;

/// What of a message is served again and again.
#[derive(Debug)]
pub(super) struct Recycled {
    /// Category and number (code tables 4.1 and 4.2).
    parameter: [u8; 2],
    /// Section 3.
    pub grid: Vec<u8>,
    /// Everything after section 4: sections 5 to 8.
    pub tail: Bytes,
}

/// The recycled messages, at least one.
#[derive(Debug)]
pub(super) struct Pool {
    recycled: Vec<Recycled>,
    digest: [u8; 32],
}

impl Pool {
    /// Eight fields in simple packing.
    pub fn make() -> Self {
        let made = |(seed, parameter): (usize, [u8; 2])| {
            let mut tail = pack(&fields::values(parameter, seed as u64), BITS);
            tail.extend_from_slice(END_MARKER);
            Recycled {
                parameter,
                grid: fields::section_3(),
                tail: tail.into(),
            }
        };
        let parameters = [[2, 22], [0, 0], [2, 2], [2, 2], [2, 3], [2, 3], [3, 1], [3, 1]];
        Self::of(parameters.into_iter().enumerate().map(made).collect())
    }

    /// All messages of one field in the files of a folder, by the files' names.
    pub fn read(folder: &Path) -> Result<Self, ReplicaError> {
        let unreadable = |source| ReplicaError::Folder {
            path: folder.to_owned(),
            source,
        };
        let entries = std::fs::read_dir(folder).map_err(unreadable)?;
        let paths: Result<Vec<PathBuf>, _> = entries.map(|entry| entry.map(|entry| entry.path())).collect();
        let mut paths = paths.map_err(unreadable)?;
        paths.retain(|path| path.is_file());
        paths.sort();
        let mut recycled = Vec::new();
        for path in paths {
            let file = Bytes::from(std::fs::read(&path).map_err(unreadable)?);
            recycled.extend(
                messages(&file)
                    .into_iter()
                    .filter_map(|place| recycle(&file.slice(place))),
            );
        }
        if recycled.is_empty() {
            let path = folder.to_owned();
            return Err(ReplicaError::EmptyPool { path });
        }
        Ok(Self::of(recycled))
    }

    fn of(recycled: Vec<Recycled>) -> Self {
        let mut hash = Sha256::new();
        for one in &recycled {
            hash.update(&one.grid);
            hash.update(&one.tail);
        }
        let digest = hash.finalize().into();
        Self { recycled, digest }
    }

    /// What tells this pool from another.
    pub fn digest(&self) -> [u8; 32] {
        self.digest
    }

    /// A message for a record: of its own parameter where there is one; which of several, `turn` says.
    pub fn choose(&self, record: &Record, turn: usize) -> &Recycled {
        let of_record = || {
            self.recycled
                .iter()
                .filter(|one| one.parameter == record.parameter)
        };
        let found = of_record().count();
        let chosen = of_record().nth(turn.checked_rem(found).unwrap_or(0));
        chosen.unwrap_or(&self.recycled[turn % self.recycled.len()])
    }
}

/// A message of one field of discipline 0.
fn recycle(message: &Bytes) -> Option<Recycled> {
    let sections = sections(message);
    let only = |number: u8| {
        let mut found = sections.iter().filter(|(known, _)| *known == number);
        let (_, place) = found.next()?;
        found.next().is_none().then(|| place.clone())
    };
    let (grid, product, _) = (only(3)?, only(4)?, only(7)?);
    let parameter = message.get(product.start + 9..product.start + 11)?;
    (message[6] == 0).then_some(Recycled {
        parameter: parameter.try_into().ok()?,
        grid: message[grid].to_vec(),
        tail: message.slice(product.end..),
    })
}
