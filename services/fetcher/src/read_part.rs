//! One part's messages through the decoders: read, decode, compare with what the index promised, put in place.
//!
//! Must not know: when runs are out, the store.

use crate::assemble::{MessageValues, PartBuilder};
use crate::batch::{self, ReadMessage, Reading};
use crate::decoder::{
    Ask, DecodeFailure, DecodeOutcome, DecodeRequest, DecodedField, DecodedValues, Decoder, Limits,
    WorkerCommand,
};
use crate::error::FetchError;
use crate::source::Source;
use feeds::{Found, PartPlan, WantedMessage};
use forecast::Gap;
use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::PoisonError;
use tokio::sync::mpsc;

/// Two decoding children, started with their first message: one for each core of a small machine.
#[derive(Debug)]
pub struct Decoders {
    pair: [Decoder; 2],
}

impl Decoders {
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

/// What one portion gave: for each reading the length of its message and its fields, or why there are none.
type Outcomes = Vec<(Reading, Result<(u64, Vec<DecodedField>), (Gap, String)>)>;

/// Reads and decodes what a plan wants; beside it, the octets of the messages that were read.
///
/// # Errors
/// [`FetchError::Decoder`] if no child can be started, [`FetchError::Unreachable`] if the source fails: then nothing is
/// said of any message.
pub async fn read_part(
    source: &Source,
    plan: PartPlan,
    ask: &Ask,
    decoders: &mut Decoders,
) -> Result<(PartBuilder, u64), FetchError> {
    let wanted = plan.wanted.clone();
    let mut builder = PartBuilder::new(plan);
    let portions = Mutex::new(batch::portions(&wanted));
    let [first, second] = &mut decoders.pair;
    let work = |decoder| decode_portions(source, &portions, ask, decoder);
    let (one, other) = tokio::try_join!(work(first), work(second))?;
    let mut outcomes: Outcomes = one.into_iter().chain(other).collect();
    // Whichever child was faster: a part is the same each time.
    outcomes.sort_by_key(|(reading, _)| reading.serves.first().copied());
    let octets = outcomes.iter().filter_map(|(_, outcome)| outcome.as_ref().ok());
    let octets = octets.map(|(length, _)| length).sum();
    for (reading, outcome) in outcomes {
        for place in reading.serves {
            place_message(&mut builder, &wanted[place], &outcome);
        }
    }
    Ok((builder, octets))
}

async fn decode_portions(
    source: &Source,
    portions: &Mutex<VecDeque<Vec<Reading>>>,
    ask: &Ask,
    decoder: &mut Decoder,
) -> Result<Outcomes, FetchError> {
    let mut outcomes = Outcomes::new();
    let next = || {
        portions
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .pop_front()
    };
    // One portion waits while the one before it is decoded: the network and the processor work at once.
    let (sender, mut receiver) = mpsc::channel(1);
    let reading = async move {
        while let Some(portion) = next() {
            if sender.send(batch::read(source, portion).await?).await.is_err() {
                break;
            }
        }
        Ok(())
    };
    let decoding = async {
        while let Some(read) = receiver.recv().await {
            decode_portion(read, ask, decoder, &mut outcomes).await?;
        }
        Ok::<(), FetchError>(())
    };
    tokio::try_join!(reading, decoding)?;
    Ok(outcomes)
}

async fn decode_portion(
    read: Vec<ReadMessage>,
    ask: &Ask,
    decoder: &mut Decoder,
    outcomes: &mut Outcomes,
) -> Result<(), FetchError> {
    let (mut readings, mut requests) = (Vec::new(), Vec::new());
    for (reading, message) in read {
        match message {
            Ok(message) => {
                requests.push(DecodeRequest {
                    message,
                    number: 1,
                    ask: ask.clone(),
                });
                readings.push(reading);
            }
            Err(fault) => outcomes.push((reading, Err(fault))),
        }
    }
    let decoded = decoder.decode_batch(&requests).await;
    if let Some(last) = the_decoder_is_to_blame(&decoded) {
        return Err(FetchError::DecoderStops(last));
    }
    for ((reading, request), outcome) in readings.into_iter().zip(&requests).zip(decoded) {
        let length = request.message.len() as u64;
        outcomes.push((
            reading,
            match outcome {
                Ok(fields) => Ok((length, fields)),
                Err(failure @ DecodeFailure::NotStarted { .. }) => return Err(FetchError::Decoder(failure)),
                Err(failure) => Err((Gap::Damaged, failure.to_string())),
            },
        ));
    }
    Ok(())
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

/// Puts a message in place if it is what its index line promised; else its reason.
fn place_message(
    builder: &mut PartBuilder,
    wanted: &WantedMessage,
    outcome: &Result<(u64, Vec<DecodedField>), (Gap, String)>,
) {
    let (length, fields) = match outcome {
        Ok(read) => read,
        Err((gap, reason)) => return builder.lose(wanted, *gap, reason.clone()),
    };
    let described: Vec<(Found, &DecodedField)> = fields.iter().map(|field| (found(field), field)).collect();
    let right = described
        .iter()
        .find(|(found, _)| wanted.expected.is_wanted_field(found));
    let Some((found, field)) = right.or(described.first()) else {
        return builder.lose(wanted, Gap::Damaged, "the message holds no field".to_owned());
    };
    if let Some(difference) = wanted.expected.difference(found) {
        return builder.lose(wanted, Gap::Damaged, difference);
    }
    match (&field.outcome, &field.grid) {
        (Ok(DecodedValues::Around { nodes, samples }), Some(grid)) => builder.add(
            wanted,
            MessageValues {
                grid: grid.clone(),
                nodes: nodes.clone(),
                samples: samples.clone(),
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

fn found(field: &DecodedField) -> Found {
    let header = &field.header;
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
