//! The child: binds itself by the limits it is sent, then answers message after message until its input ends.
//!
//! Must not know: anything beyond its pipes; it is given no environment and opens no file.

use super::cells;
use super::protocol::frame;
use super::protocol::{
    Answer, Ask, DecodeRequest, DecodedField, DecodedValues, Limits, NodeValue, PlaceValue,
};
use forecast::{Gap, Node};
use grid::{Damage, Fault, FieldHeader, Frame, GridDefinition, Message};
use rustix::process::{Resource, Rlimit, setrlimit};
use seaway::LatLon;
use serde::de::DeserializeOwned;
use std::io::{self, Read, Write};
use std::process::ExitCode;

/// Processor time of a child's whole life. It ends one whose parent was killed and that runs in circles.
const PROCESSOR_SECONDS: u64 = 3600;
/// Rows and columns beyond a place's cell in which a value is looked for when the nearest node has none.
const RING_OF_NEAREST_VALID: u32 = 2;

/// The child's whole life; what its parent starts must end in this.
pub fn run_worker() -> ExitCode {
    // A decoder's panic is caught and told in the answer; on standard error it would only fill the pipe.
    std::panic::set_hook(Box::new(|_| {}));
    match serve(&mut io::stdin().lock(), &mut io::stdout().lock()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::FAILURE,
    }
}

fn serve(requests: &mut impl Read, answers: &mut impl Write) -> io::Result<()> {
    let Some(limits) = read_document::<Limits>(requests)? else {
        return Ok(());
    };
    bind(&limits)?;
    while let Some(request) = read_document::<DecodeRequest>(requests)? {
        answers.write_all(&frame(&answer(&request))?)?;
        answers.flush()?;
    }
    Ok(())
}

fn bind(limits: &Limits) -> io::Result<()> {
    let most = |octets| Rlimit {
        current: Some(octets),
        maximum: Some(octets),
    };
    setrlimit(Resource::As, most(limits.memory_octets))?;
    setrlimit(Resource::Cpu, most(PROCESSOR_SECONDS))?;
    setrlimit(Resource::Core, most(0))?;
    setrlimit(Resource::Fsize, most(0))?;
    Ok(())
}

/// The next document; none at the end of the input.
fn read_document<T: DeserializeOwned>(requests: &mut impl Read) -> io::Result<Option<T>> {
    let mut length = [0; 4];
    if requests.read(&mut length[..1])? == 0 {
        return Ok(None);
    }
    requests.read_exact(&mut length[1..])?;
    let mut document = vec![0; u32::from_be_bytes(length) as usize];
    requests.read_exact(&mut document)?;
    postcard::from_bytes(&document)
        .map(Some)
        .map_err(io::Error::other)
}

fn answer(request: &DecodeRequest) -> Answer {
    let message = the_only_message(&request.message, request.number)?;
    let fields = grid::read_fields(&message)?;
    Ok(decode_fields(&message, fields, &request.ask))
}

/// What was asked for, of each field.
pub(super) fn decode_fields(message: &Message<'_>, fields: Vec<FieldHeader>, ask: &Ask) -> Vec<DecodedField> {
    let decode = |header| decode_field(message, header, ask);
    fields.into_iter().map(decode).collect()
}

/// The message that these octets are, no more and no less.
pub(super) fn the_only_message(octets: &[u8], number: u32) -> Result<Message<'_>, Damage> {
    let frames = grid::split(octets);
    let named = |damage: Damage| Damage {
        message: Some(number),
        ..damage
    };
    match frames.into_iter().next() {
        Some(Frame::Message(message)) if message.bytes.len() == octets.len() => {
            Ok(Message { number, ..message })
        }
        Some(Frame::Damage(damage)) => Err(named(damage)),
        _ => {
            let what = Fault::Contradiction("more octets than the message has".to_owned());
            Err(named(Damage {
                message: None,
                section: None,
                field: None,
                offset: 0,
                what,
            }))
        }
    }
}

fn decode_field(message: &Message<'_>, header: FieldHeader, ask: &Ask) -> DecodedField {
    DecodedField {
        grid: header.grid_hash(),
        outcome: values(message, &header, ask),
        header,
    }
}

fn values(message: &Message<'_>, header: &FieldHeader, ask: &Ask) -> Result<DecodedValues, Damage> {
    if let Some(refusal) = &header.refusal {
        return Err(refusal.clone());
    }
    match ask {
        Ask::Around { places, ring } => around(message, header, cells::grid(message, header)?, places, *ring),
        Ask::At { places } => at(message, header, cells::grid(message, header)?, places),
        Ask::NearestCells {
            longitude,
            places,
            around,
        } => cells::nearest(message, header, longitude, places, *around),
        Ask::Nodes { grid, nodes } => {
            cells::check_grid(message, header, grid)?;
            let samples = grid::values_at(message, header, &names(nodes))?;
            let nodes = nodes.clone();
            Ok(DecodedValues::Around { nodes, samples })
        }
    }
}

fn around(
    message: &Message<'_>,
    header: &FieldHeader,
    grid: &GridDefinition,
    places: &[LatLon],
    ring: u32,
) -> Result<DecodedValues, Damage> {
    let mut nodes: Vec<Node> = places
        .iter()
        .flat_map(|&place| grid.nodes_around(place, ring))
        .collect();
    nodes.sort_by_key(|node| (node.row, node.column));
    nodes.dedup();
    let samples = grid::values_at(message, header, &names(&nodes))?;
    Ok(DecodedValues::Around { nodes, samples })
}

fn names(nodes: &[Node]) -> Vec<(u32, u32)> {
    nodes.iter().map(|node| (node.column, node.row)).collect()
}

/// All nodes of all places in one go, so that the field is unpacked once.
fn at(
    message: &Message<'_>,
    header: &FieldHeader,
    grid: &GridDefinition,
    places: &[LatLon],
) -> Result<DecodedValues, Damage> {
    let blocks: Vec<Vec<Node>> = places
        .iter()
        .map(|&place| grid.nodes_around(place, RING_OF_NEAREST_VALID))
        .collect();
    let samples = grid::values_at(message, header, &names(&blocks.concat()))?;
    let mut rest = samples.as_slice();
    let values = places.iter().zip(&blocks).map(|(&place, block)| {
        let (own, others) = rest.split_at(block.len());
        rest = others;
        let nodes = block
            .iter()
            .zip(own)
            .map(|(&node, &sample)| NodeValue { node, sample });
        place_value(grid, place, &nodes.collect::<Vec<_>>())
    });
    Ok(DecodedValues::At(values.collect()))
}

fn place_value(grid: &GridDefinition, place: LatLon, block: &[NodeValue]) -> PlaceValue {
    let outside = PlaceValue {
        at: place,
        nearest: None,
        nearest_valid: None,
        bilinear: Err(Gap::OutsideGrid),
    };
    let Some(nearest) = grid.nearest(place) else {
        return outside;
    };
    let sample_of = |node: Node| {
        let found = block
            .iter()
            .find(|of| (of.node.column, of.node.row) == (node.column, node.row));
        found.map_or(Err(Gap::OutsideGrid), |of| of.sample)
    };
    let nearest = NodeValue {
        node: nearest,
        sample: sample_of(nearest),
    };
    let valid = block
        .iter()
        .filter(|of| nearest.sample.is_err() && of.sample.is_ok());
    let distance = |of: &NodeValue| place.distance(of.node.at).0;
    PlaceValue {
        at: place,
        nearest: Some(nearest),
        nearest_valid: valid.min_by(|a, b| distance(a).total_cmp(&distance(b))).copied(),
        bilinear: grid.cell(place).map_or(Err(Gap::OutsideGrid), |cell| {
            grid::bilinear(&cell, &cell.corners.map(sample_of))
        }),
    }
}
