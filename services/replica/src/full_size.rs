//! A tree of full-size ensemble files that exists only in memory, for benchmarks: few fields, recycled under many names.
//!
//! Owns: which files there are, and the index that fits each. Must not know: HTTP, how a field is made.
//!
//! Every file is put together when it is asked for: small heads of its own before shared octets of packed values. What a
//! head says (run, member, step, parameter, level) is right for the file's place in the tree; the values are not, for
//! they are the pool's.

mod fields;
mod pool;
mod records;

use crate::ReplicaError;
use crate::content::Content;
use crate::stamp::Stamp;
use crate::tree::Found;
use crate::validators::etag_of_digest;
use chrono::{DateTime, Utc};
use pool::Pool;
use records::{Place, RECORDS, Record};
use sha2::{Digest, Sha256};
use std::path::PathBuf;
use std::sync::Arc;

/// What a full-size tree holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FullSize {
    /// Reference time of its one run.
    pub run: DateTime<Utc>,
    /// Members, the control among them: `gec00`, `gep01` and so on.
    pub members: u8,
    /// Hours of the steps.
    pub steps: Vec<u32>,
    /// A folder of ready-made messages, any number a file and in any packing; without it, eight fields of 1440 by 721
    /// nodes in simple packing of 12 bits are made. A record is given messages of its own parameter where there are any.
    pub pool: Option<PathBuf>,
}

/// Files laid out as GEFS has them, each with `GUST`, `TMP`, `UGRD`, `VGRD` and `PRMSL`; clones share the pool.
#[derive(Clone, Debug)]
pub struct VirtualTree {
    holds: FullSize,
    pool: Arc<Pool>,
}

impl VirtualTree {
    /// Makes the pool, or reads it.
    ///
    /// # Errors
    /// The folder of messages cannot be read, or holds no message that can be used.
    pub fn full_size(holds: FullSize) -> Result<Self, ReplicaError> {
        let pool = match &holds.pool {
            Some(folder) => Pool::read(folder)?,
            None => Pool::make(),
        };
        Ok(Self {
            holds,
            pool: Arc::new(pool),
        })
    }

    /// Decoded paths of all files, without their indexes, by member and step.
    pub fn paths(&self) -> Vec<String> {
        let members = 0..self.holds.members;
        let of_member = |member| self.holds.steps.iter().map(move |&step| Place { member, step });
        members
            .flat_map(of_member)
            .map(|place| self.path(place))
            .collect()
    }

    /// Octets of all messages, indexes apart.
    pub fn message_octets(&self) -> u64 {
        let files = self.paths().into_iter().filter_map(|path| self.find(&path));
        files.map(|file| file.content.size()).sum()
    }

    pub(crate) fn find(&self, path: &str) -> Option<Found> {
        let (file, is_index) = match path.strip_suffix(".idx") {
            Some(file) => (file, true),
            None => (path, false),
        };
        let place = self.place(file)?;
        let content = if is_index {
            self.index(place)
        } else {
            self.file(place)
        };
        let digest = Sha256::new()
            .chain_update(self.pool.digest())
            .chain_update(path)
            .finalize();
        Some(Found {
            etag: etag_of_digest(&digest, content.size()),
            content,
            modified: None,
        })
    }

    fn path(&self, place: Place) -> String {
        let (run, step) = (self.holds.run, place.step);
        let folder = run.format("/gefs.%Y%m%d/%H/atmos/pgrb2sp25");
        let member = match place.member {
            0 => "gec00".to_owned(),
            number => format!("gep{number:02}"),
        };
        format!("{folder}/{member}.t{}z.pgrb2s.0p25.f{step:03}", run.format("%H"))
    }

    /// The place of a file that this tree has.
    fn place(&self, path: &str) -> Option<Place> {
        let name = path.rsplit('/').next()?;
        let member = name.get(3..)?.split('.').next()?.parse().ok()?;
        let step = Stamp::of(path)?.step_hours;
        let place = Place { member, step };
        let has = member < self.holds.members && self.holds.steps.contains(&step);
        (has && self.path(place) == path).then_some(place)
    }

    /// Sections 0 to 4 of a record's message, and the octets after them.
    fn message(&self, place: Place, at: usize, record: &Record) -> [bytes::Bytes; 2] {
        let recycled = self
            .pool
            .choose(record, usize::from(place.member) + place.step as usize + at);
        let head = record.head(self.holds.run, place, self.holds.members, recycled);
        [head.into(), recycled.tail.clone()]
    }

    fn file(&self, place: Place) -> Content {
        let messages = RECORDS.iter().enumerate();
        Content::Pieces(
            messages
                .flat_map(|(at, record)| self.message(place, at, record))
                .collect(),
        )
    }

    fn index(&self, place: Place) -> Content {
        let (mut lines, mut offset) = (String::new(), 0);
        for (at, record) in RECORDS.iter().enumerate() {
            lines += &record.index_line(at + 1, offset, self.holds.run, place);
            let octets = self.message(place, at, record);
            offset += octets.iter().map(bytes::Bytes::len).sum::<usize>();
        }
        Content::of(lines)
    }
}
