//! One part's messages through the decoders: read, decode, compare with what the index promised, put in place.
//!
//! Must not know: when runs are out, the store.

use crate::assemble::{MessageValues, NodesOfGrid, PartBuilder};
use crate::batch::{self, RawMessages, ReadMessages, Reader, Reading};
use crate::decoder::{
    Ask, DecodeFailure, DecodeOutcome, DecodeRequest, DecodedField, DecodedValues, Decoder, Limits,
    WorkerCommand,
};
use crate::error::FetchError;
use crate::watch::{PullEvent, PullWatcher};
use feeds::{Feed, Found, PartPlan, WantedMessage};
use forecast::{Gap, Sample};
use futures_util::future::join_all;
use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::PoisonError;
use tokio::sync::mpsc;

/// Two decoders, one for each core of a small machine; each starts a child with the first message that needs one.
#[derive(Debug)]
pub struct Decoders {
    pair: [Decoder; 2],
}

impl Decoders {
    /// One of them, for a message by itself.
    pub fn one(&mut self) -> &mut Decoder {
        &mut self.pair[0]
    }

    /// Two decoders of the same program and limits.
    pub fn new(command: &WorkerCommand, limits: Limits) -> Self {
        Self {
            pair: [
                Decoder::new(command.clone(), limits),
                Decoder::new(command.clone(), limits),
            ],
        }
    }
}

/// A portion of at least so many messages that all stop the decoder speaks against the decoder, not the messages.
const ENOUGH_TO_BLAME_THE_DECODER: usize = 8;

/// Portions that are read at once: as many as a host is asked for at once, so that no connection waits for another's end.
const PORTIONS_READ_AT_ONCE: usize = 4;

/// The octets and fields of one reading, or why there are none.
type ReadFields = Result<(u64, Vec<DecodedField>), (Gap, String)>;

/// What one portion gave, reading by reading.
type Outcomes = Vec<(Reading, ReadFields)>;

/// Portions that have been read and wait to be decoded.
type Received = tokio::sync::Mutex<mpsc::Receiver<Vec<ReadMessages>>>;

/// The portions that nobody reads yet.
struct Portions(Mutex<VecDeque<Vec<Reading>>>);

impl Portions {
    fn next(&self) -> Option<Vec<Reading>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).pop_front()
    }

    fn leave_the_rest(&self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }
}

/// What reading a part of a run needs beside its plan.
pub struct PartReader<'a> {
    /// The feed.
    pub feed: &'a Feed,
    /// Where messages are read.
    pub reader: Reader<'a>,
    /// What is wanted of each message.
    pub ask: &'a Ask,
    /// Who is told.
    pub watcher: &'a dyn PullWatcher,
}

impl PartReader<'_> {
    /// Reads and decodes what a plan wants; beside it, the octets of the messages that were read.
    ///
    /// # Errors
    /// [`FetchError::Decoder`] if no child can be started, [`FetchError::Unreachable`] if the source fails: then nothing
    /// is said of any message.
    pub async fn read(
        &self,
        plan: PartPlan,
        decoders: &mut Decoders,
    ) -> Result<(PartBuilder, u64), FetchError> {
        let wanted = plan.wanted.clone();
        let mut builder = PartBuilder::new(plan);
        let portions = Portions(Mutex::new(batch::portions(&wanted)));
        // Beside those that are read and those that are decoded one waits, so that the network and the processor work at once.
        let (sender, receiver) = mpsc::channel(1);
        let receiver = tokio::sync::Mutex::new(receiver);
        let [first, second] = &mut decoders.pair;
        let decode = |decoder| self.decode_portions(&wanted, &portions, &receiver, decoder);
        // All end by themselves, so that what one has read is kept although another failed.
        let reading = self.read_portions(&portions, sender);
        let (read, one, other) = tokio::join!(reading, decode(first), decode(second));
        read?;
        let mut outcomes: Outcomes = one?.into_iter().chain(other?).collect();
        // Whichever child was faster: a part is the same each time.
        outcomes.sort_by_key(|(reading, _)| reading.serves.first().copied());
        let octets = outcomes.iter().filter_map(|(_, outcome)| outcome.as_ref().ok());
        let octets = octets.map(|(length, _)| length).sum();
        for (reading, outcome) in outcomes {
            for place in reading.serves {
                place_message(&mut builder, self.feed, &wanted[place], &outcome);
            }
        }
        Ok((builder.turned_to_true_north(), octets))
    }

    /// Reads portions, several at once, until none is left or one cannot be read; what is read is sent on.
    async fn read_portions(
        &self,
        portions: &Portions,
        sender: mpsc::Sender<Vec<ReadMessages>>,
    ) -> Result<(), FetchError> {
        let lane = |sender: mpsc::Sender<Vec<ReadMessages>>| async move {
            while let Some(portion) = portions.next() {
                let (read, ended) = self.reader.read(portion).await;
                self.tell_of_octets();
                if ended.is_err() {
                    portions.leave_the_rest();
                }
                if sender.send(read).await.is_err() {
                    break;
                }
                ended?;
            }
            Ok::<(), FetchError>(())
        };
        let lanes = (0..PORTIONS_READ_AT_ONCE).map(|_| lane(sender.clone()));
        let ended = join_all(lanes).await;
        ended.into_iter().collect()
    }

    async fn decode_portions(
        &self,
        wanted: &[WantedMessage],
        portions: &Portions,
        receiver: &Received,
        decoder: &mut Decoder,
    ) -> Result<Outcomes, FetchError> {
        let mut outcomes = Outcomes::new();
        loop {
            let next = receiver.lock().await.recv().await;
            let Some(read) = next else { break };
            let decoded = self.decode_portion(read, wanted, decoder, &mut outcomes).await;
            if decoded.is_err() {
                portions.leave_the_rest();
                // Those who read send to nobody any more; the other decoder takes what is left and ends.
                receiver.lock().await.close();
            }
            decoded?;
        }
        Ok(outcomes)
    }

    fn tell_of_octets(&self) {
        let octets = self.reader.source.newly_received();
        if octets > 0 {
            let source = &self.feed.name;
            self.watcher.tell(PullEvent::OctetsReceived { source, octets });
        }
    }

    async fn decode_portion(
        &self,
        read: Vec<ReadMessages>,
        wanted: &[WantedMessage],
        decoder: &mut Decoder,
        outcomes: &mut Outcomes,
    ) -> Result<(), FetchError> {
        let count = read.iter().map(|(reading, _)| reading.serves.len()).sum();
        let (mut readings, mut requests) = (Vec::new(), Vec::new());
        for (reading, messages) in read {
            match messages {
                Ok(raw) => {
                    let of_reading = (1..).zip(&raw.messages).map(|(number, message)| DecodeRequest {
                        message: message.clone(),
                        number,
                        ask: self.ask.clone(),
                    });
                    requests.extend(of_reading);
                    readings.push((reading, raw));
                }
                Err(fault) => outcomes.push((reading, Err(fault))),
            }
        }
        let decoded = decoder.decode_batch(requests).await;
        if let Some(last) = the_decoder_is_to_blame(&decoded) {
            return Err(FetchError::DecoderStops(last));
        }
        let mut decoded = decoded.into_iter();
        for (reading, raw) in readings {
            let of_reading = decoded.by_ref().take(raw.messages.len()).collect();
            let outcome = fields_of(&raw, of_reading)?;
            if let Ok((_, fields)) = &outcome {
                self.keep(&reading, &raw, fields, wanted).await;
            }
            outcomes.push((reading, outcome));
        }
        let source = &self.feed.name;
        self.watcher.tell(PullEvent::MessagesDone { source, count });
        Ok(())
    }

    /// Keeps raw messages that turned out to be what was wanted.
    async fn keep(
        &self,
        reading: &Reading,
        raw: &RawMessages,
        fields: &[DecodedField],
        wanted: &[WantedMessage],
    ) {
        let Some(shelf) = self.reader.shelf.filter(|_| !raw.from_cache) else {
            return;
        };
        let is_there = |place: &usize| {
            let right = right_field(&wanted[*place], fields);
            right.is_ok_and(|(_, field)| field.outcome.is_ok())
        };
        if reading.serves.iter().all(is_there) && shelf.put(&reading.name(), raw.octets.clone()).await {
            let source = &self.feed.name;
            self.watcher.tell(PullEvent::MessageCached { source });
        }
    }
}

/// The fields of a reading's messages: a message that cannot be read costs no other of its range.
fn fields_of(raw: &RawMessages, decoded: Vec<DecodeOutcome>) -> Result<ReadFields, FetchError> {
    let mut fields = Vec::new();
    let mut failure = None;
    for outcome in decoded {
        match outcome {
            Ok(of_message) => fields.extend(of_message),
            Err(failure @ DecodeFailure::NotStarted { .. }) => return Err(FetchError::Decoder(failure)),
            Err(other) => failure = Some(other.to_string()),
        }
    }
    let octets = raw.messages.iter().map(|message| message.len() as u64).sum();
    Ok(match failure {
        Some(reason) if fields.is_empty() => Err((Gap::Damaged, reason)),
        _ => Ok((octets, fields)),
    })
}

fn the_decoder_is_to_blame(decoded: &[DecodeOutcome]) -> Option<String> {
    let stopped = |outcome: &DecodeOutcome| matches!(outcome, Err(DecodeFailure::Stopped { .. }));
    let all = decoded.len() >= ENOUGH_TO_BLAME_THE_DECODER && decoded.iter().all(stopped);
    decoded
        .last()
        .filter(|_| all)?
        .as_ref()
        .err()
        .map(ToString::to_string)
}

/// The field that a wanted message was to be, or how what is there differs from it.
fn right_field<'a>(
    wanted: &WantedMessage,
    fields: &'a [DecodedField],
) -> Result<(Found, &'a DecodedField), (Gap, String)> {
    let described = || fields.iter().map(|field| (field.found(), field));
    let right = described().find(|(found, _)| wanted.expected.difference(found).is_none());
    // Else the one that is nearest to it says best what is wrong.
    let near = || described().find(|(found, _)| wanted.expected.is_wanted_field(found));
    let Some((found, field)) = right.or_else(near).or_else(|| described().next()) else {
        return Err((Gap::Damaged, "the message holds no field".to_owned()));
    };
    match wanted.expected.difference(&found) {
        // Of several messages each is another quantity: this one is absent.
        Some(_) if fields.len() > 1 && !wanted.expected.is_wanted_field(&found) => {
            Err((Gap::NotThere, "the answer holds no such message".to_owned()))
        }
        Some(difference) => Err((Gap::Damaged, difference)),
        None => Ok((found, field)),
    }
}

/// Puts a message in place if it is what was promised of it; else its reason.
fn place_message(builder: &mut PartBuilder, feed: &Feed, wanted: &WantedMessage, outcome: &ReadFields) {
    let (length, fields) = match outcome {
        Ok(read) => read,
        Err((gap, reason)) => return builder.lose(wanted, *gap, reason.clone()),
    };
    let (found, field) = match right_field(wanted, fields) {
        Ok(right) => right,
        Err((gap, difference)) => return builder.lose(wanted, gap, difference),
    };
    match (&field.outcome, &field.grid) {
        (Ok(DecodedValues::Around { nodes, samples }), Some(grid)) => builder.add(
            wanted,
            MessageValues {
                grid: NodesOfGrid {
                    hash: grid.clone(),
                    nodes: nodes.clone(),
                    turns_vectors: (field.header.grid.as_ref())
                        .filter(|grid| grid.turns_vectors())
                        .cloned(),
                },
                samples: in_unit(samples, feed.factor(wanted.parameter, found.codes)),
                interval: field.header.interval,
                length: *length,
            },
        ),
        (Err(damage), _) => builder.lose(wanted, Gap::Damaged, damage.to_string()),
        _ => builder.lose(
            wanted,
            Gap::Damaged,
            "the decoder's answer is not the one asked for".to_owned(),
        ),
    }
}

/// Samples in the parameter's unit: a few codes stand for another one.
fn in_unit(samples: &[Sample], factor: f64) -> Vec<Sample> {
    let scaled = |sample: &Sample| sample.map(|value| (f64::from(value) * factor) as f32);
    samples.iter().map(scaled).collect()
}

impl DecodedField {
    /// What the field says of itself.
    pub(crate) fn found(&self) -> Found {
        let header = &self.header;
        Found {
            codes: [header.discipline, header.category, header.number],
            surface: header.surface,
            level: header.level,
            product_template: header.product_template,
            reference: header.reference,
            valid: header.valid,
            interval: header.interval,
            member: header.member.map(|member| member.0),
        }
    }
}
