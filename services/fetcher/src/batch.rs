//! Wanted messages in portions that fit into memory, each octet range read and decoded once.
//!
//! Must not know: runs, parts, the store.

use crate::error::FetchError;
use crate::folder::ReadFault;
use crate::framing::whole_message;
use crate::source::Source;
use feeds::{ByteRange, WantedMessage};
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

/// What was read for a reading: one whole message, or why there is none.
pub type ReadMessage = (Reading, Result<Vec<u8>, (Gap, String)>);

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

/// Reads a portion, file by file.
///
/// # Errors
/// [`FetchError::Unreachable`] if of any message nothing can be said now: a gap would be kept although it may pass.
pub async fn read(source: &Source, portion: Vec<Reading>) -> Result<Vec<ReadMessage>, FetchError> {
    let mut read = Vec::with_capacity(portion.len());
    for of_one_file in portion.chunk_by(|a, b| a.file == b.file) {
        let ranges: Vec<ByteRange> = of_one_file.iter().map(|reading| reading.range).collect();
        let outcomes = source.ranges(&of_one_file[0].file, ranges.clone()).await?;
        if let Some(fault) = outcomes.iter().find_map(unreachable) {
            return Err(fault.into());
        }
        read.extend(
            of_one_file
                .iter()
                .cloned()
                .zip(outcomes.into_iter().zip(ranges).map(checked)),
        );
    }
    Ok(read)
}

fn unreachable(outcome: &Result<Vec<u8>, ReadFault>) -> Option<ReadFault> {
    let fault = outcome.as_ref().err()?;
    matches!(fault, ReadFault::Unreachable(_)).then(|| fault.clone())
}

fn checked((outcome, range): (Result<Vec<u8>, ReadFault>, ByteRange)) -> Result<Vec<u8>, (Gap, String)> {
    let bytes = outcome.map_err(|fault| match fault {
        ReadFault::Absent => (
            Gap::NotThere,
            "the file or the octets that the index names are not there".to_owned(),
        ),
        ReadFault::Unusable(reason) | ReadFault::Unreachable(reason) => (Gap::Damaged, reason),
    })?;
    let whole = whole_message(&bytes, range.last.is_none()).map(<[u8]>::len);
    let length = whole.map_err(|reason| (Gap::Damaged, reason))?;
    let mut bytes = bytes;
    bytes.truncate(length);
    Ok(bytes)
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
