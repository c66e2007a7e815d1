//! Wanted messages in portions that fit into memory, each octet range read and decoded once.
//!
//! Must not know: runs, parts, the store.

use crate::cache::Shelf;
use crate::error::FetchError;
use crate::folder::ReadFault;
use crate::framing::whole_message;
use crate::source::Source;
use crate::unpack::unpacked;
use bytes::Bytes;
use feeds::{ByteRange, Compression, WantedMessage};
use forecast::Gap;
use std::collections::VecDeque;

/// Most messages of a portion: enough to hide the turns of the pipe to the decoder.
const MOST_MESSAGES: usize = 256;
/// Octets after which a portion is full: a few full-size global fields.
const FULL_OCTETS: u64 = 4_000_000;
/// Taken for a message whose length the index does not tell.
const UNKNOWN_LENGTH: u64 = 1_000_000;

/// One octet range and the wanted messages that are served by it: fields of one message share theirs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Path of the file.
    pub file: String,
    /// Where the message lies.
    pub range: ByteRange,
    /// Places of the wanted messages in the plan.
    pub serves: Vec<usize>,
}

/// What was read for a reading: whole messages, or why there is none.
pub type ReadMessages = (Reading, Result<RawMessages, (Gap, String)>);

/// The octets of a reading, checked to be whole messages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawMessages {
    /// As the source has them.
    pub octets: Bytes,
    /// The messages in them: one, or all of an open range.
    pub messages: Vec<Bytes>,
    /// True if they were at hand and not asked for.
    pub from_cache: bool,
}

/// Where readings are read.
pub struct Reader<'a> {
    /// The source.
    pub source: &'a Source,
    /// Messages that are at hand.
    pub shelf: Option<&'a Shelf>,
    /// How files are compressed.
    pub compression: Compression,
    /// The most octets of a message, and of a file that holds one.
    pub most: u64,
}

/// The portions of a plan, in its order.
pub fn portions(wanted: &[WantedMessage]) -> VecDeque<Vec<Reading>> {
    let mut portions: VecDeque<Vec<Reading>> = VecDeque::new();
    let mut octets = FULL_OCTETS;
    for (place, message) in wanted.iter().enumerate() {
        let last = portions.back_mut().and_then(|portion| portion.last_mut());
        if let Some(last) = last.filter(|last| last.range == message.range && last.file == message.file) {
            last.serves.push(place);
            continue;
        }
        let reading = Reading {
            file: message.file.clone(),
            range: message.range,
            serves: vec![place],
        };
        let length = message.range.length().unwrap_or(UNKNOWN_LENGTH);
        match portions.back_mut() {
            Some(portion) if octets < FULL_OCTETS && portion.len() < MOST_MESSAGES => portion.push(reading),
            _ => {
                portions.push_back(vec![reading]);
                octets = 0;
            }
        }
        octets = octets.saturating_add(length);
    }
    portions
}

impl Reading {
    /// Its name among raw messages at hand.
    pub fn name(&self) -> String {
        let last = self.range.last.map(|last| last.to_string()).unwrap_or_default();
        format!("{} {}-{last}", self.file, self.range.first)
    }
}

impl Reader<'_> {
    /// Reads a portion, file by file; what is at hand is not asked for. Beside it, why it ended early:
    /// [`FetchError::Unreachable`] if of any message nothing can be said now: a gap would be kept although it may pass.
    pub async fn read(&self, portion: Vec<Reading>) -> (Vec<ReadMessages>, Result<(), FetchError>) {
        let mut read = Vec::with_capacity(portion.len());
        let ended = self.read_into(portion, &mut read).await;
        (read, ended)
    }

    async fn read_into(&self, portion: Vec<Reading>, read: &mut Vec<ReadMessages>) -> Result<(), FetchError> {
        for of_one_file in portion.chunk_by(|a, b| a.file == b.file) {
            let mut asked = Vec::new();
            for reading in of_one_file {
                match self.at_hand(reading).await {
                    Some(messages) => read.push((reading.clone(), Ok(messages))),
                    None => asked.push(reading.clone()),
                }
            }
            if asked.is_empty() {
                continue;
            }
            let ranges: Vec<ByteRange> = asked.iter().map(|reading| reading.range).collect();
            let outcomes = self.source.ranges(&asked[0].file, ranges).await?;
            let mut ended = Ok(());
            for (reading, outcome) in asked.into_iter().zip(outcomes) {
                let checked = match outcome {
                    Ok(octets) => self.checked(octets, &reading, false),
                    Err(fault) => reason(fault).map(Err),
                };
                match checked {
                    Ok(checked) => read.push((reading, checked)),
                    // The file's other messages were received all the same.
                    Err(error) => ended = ended.and(Err(error)),
                }
            }
            ended?;
        }
        Ok(())
    }

    async fn at_hand(&self, reading: &Reading) -> Option<RawMessages> {
        let octets = self.shelf?.get(&reading.name(), self.most).await?;
        self.checked(octets, reading, true).ok()?.ok()
    }

    fn checked(
        &self,
        octets: Bytes,
        reading: &Reading,
        from_cache: bool,
    ) -> Result<Result<RawMessages, (Gap, String)>, FetchError> {
        let open_end = reading.range.last.is_none();
        if open_end && octets.trim_ascii_start().starts_with(b"<") {
            let words = "a web page, not a forecast";
            return Err(FetchError::Unreachable(format!("{} is {words}", reading.file)));
        }
        let unpacked = match self.compression {
            Compression::None => Ok(octets.clone()),
            packed => unpacked(octets.to_vec(), packed, self.most).map(Bytes::from),
        };
        let messages = unpacked.and_then(|unpacked| whole_messages(&unpacked, open_end));
        Ok(messages
            .map(|messages| RawMessages {
                octets,
                messages,
                from_cache,
            })
            .map_err(|reason| (Gap::Damaged, reason)))
    }
}

/// Why there is a gap, unless nothing can be said now.
fn reason(fault: ReadFault) -> Result<(Gap, String), FetchError> {
    match fault {
        ReadFault::Absent => Ok((
            Gap::NotThere,
            "the file or the octets that the index names are not there".to_owned(),
        )),
        ReadFault::Unusable(reason) => Ok((Gap::Damaged, reason)),
        fault @ ReadFault::Unreachable(_) => Err(fault.into()),
    }
}

/// The one message of a closed range; of an open one the first and those that follow it without a gap.
fn whole_messages(octets: &Bytes, open_end: bool) -> Result<Vec<Bytes>, String> {
    let mut rest = octets.clone();
    let mut messages = Vec::new();
    while messages.is_empty() || (open_end && rest.starts_with(b"GRIB")) {
        match whole_message(&rest, open_end).map(<[u8]>::len) {
            Ok(length) => messages.push(rest.split_to(length)),
            Err(reason) if messages.is_empty() => return Err(reason),
            Err(_) => break,
        }
    }
    Ok(messages)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::DateTime;
    use feeds::Expected;
    use forecast::{Member, Parameter, Step};

    fn wanted(file: &str, first: u64, length: u64) -> WantedMessage {
        WantedMessage {
            parameter: Parameter::WindU,
            member: Member(0),
            step: Step(0),
            file: file.into(),
            range: ByteRange {
                first,
                last: Some(first + length - 1),
            },
            expected: Expected {
                codes: Vec::new(),
                surfaces: Vec::new(),
                level: None,
                reference: DateTime::UNIX_EPOCH,
                valid: DateTime::UNIX_EPOCH,
                interval: None,
                member: None,
            },
        }
    }

    // No source: arithmetic of the bounds above.
    #[test]
    fn portions_are_bounded_and_shared_ranges_are_read_once() {
        let plan = [wanted("a", 0, 9), wanted("a", 0, 9), wanted("b", 0, 9)];
        let portions_of = portions(&plan);
        assert_eq!(portions_of.len(), 1);
        let serves: Vec<_> = portions_of[0]
            .iter()
            .map(|reading| reading.serves.clone())
            .collect();
        assert_eq!(serves, [vec![0, 1], vec![2]]);
        let large: Vec<_> = (0..10).map(|at| wanted("a", at * 3_000_000, 3_000_000)).collect();
        assert!(portions(&large).iter().all(|portion| portion.len() == 2));
        let many: Vec<_> = (0..600).map(|at| wanted("a", at * 10, 10)).collect();
        assert_eq!(
            portions(&many).iter().map(Vec::len).collect::<Vec<_>>(),
            [256, 256, 88]
        );
    }
}
