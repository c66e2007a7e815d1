//! How packets and code blocks are coded: by the main header for every tile, or by a tile's own; for all components, or for the only one there is.
//!
//! Markers COD, COC, QCD and QCC: ISO/IEC 15444-1, sections A.6.1 to A.6.5. Must not know: where tiles are.

use super::Failure;
use super::codestream::Octets;

const CODING: u16 = 0xff52;
const OWN_CODING: u16 = 0xff53;
const QUANTIZATION: u16 = 0xff5c;
const OWN_QUANTIZATION: u16 = 0xff5d;
/// Most decompositions (table A.15).
const MOST_LEVELS: u8 = 32;
/// Bit-planes that a coefficient may have here: with its sign and the half below its last bit it fits 32 bits.
const MOST_PLANES: u32 = 30;

/// How packets follow one another (table A.16). With one component two of the five orders are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    LayerResolution,
    ResolutionLayer,
    ResolutionPosition,
    PositionResolution,
}

/// Variants of coding a block (table A.19).
#[derive(Clone, Copy, Debug)]
pub(super) struct Style {
    pub bypass: bool,
    pub resets: bool,
    pub terminates: bool,
    pub causal: bool,
    pub marks_segments: bool,
}

/// How packets are coded.
#[derive(Clone, Copy, Debug)]
pub(super) struct Packets {
    pub order: Order,
    pub layers: u32,
    pub may_have_starts: bool,
    pub has_header_ends: bool,
}

/// How a component is cut.
#[derive(Clone, Debug)]
pub(super) struct Cuts {
    pub levels: u32,
    /// Exponents of a code block's width and height.
    pub block: (u32, u32),
    pub style: Style,
    /// Exponents of a precinct's width and height at each resolution.
    pub precincts: Vec<(u32, u32)>,
}

/// Guard bits, and the exponents of bands.
#[derive(Clone, Debug)]
struct Exponents {
    guard: u32,
    of_bands: Vec<u32>,
}

/// What is known of one tile.
#[derive(Debug)]
pub(super) struct Coding {
    pub packets: Packets,
    pub cuts: Cuts,
    /// Bit-planes of each band, the lowest first, then three of every resolution.
    pub planes: Vec<u32>,
}

/// What one header says.
#[derive(Debug, Default)]
pub(super) struct Said {
    packets: Option<Packets>,
    cuts: Option<Cuts>,
    own_cuts: Option<Cuts>,
    exponents: Option<Exponents>,
    own_exponents: Option<Exponents>,
}

impl Said {
    /// Reads a marker's segment if it is one of these.
    pub fn read(&mut self, marker: u16, octets: &mut Octets<'_>) -> Result<bool, Failure> {
        match marker {
            CODING => {
                let mut segment = octets.segment()?;
                let flags = segment.u8()?;
                self.packets = Some(read_packets(flags, &mut segment)?);
                self.cuts = Some(read_cuts(flags, &mut segment)?);
            }
            OWN_CODING => {
                let mut segment = octets.segment()?;
                only_component(&mut segment)?;
                self.own_cuts = Some(read_cuts(segment.u8()?, &mut segment)?);
            }
            QUANTIZATION => self.exponents = Some(read_exponents(&mut octets.segment()?)?),
            OWN_QUANTIZATION => {
                let mut segment = octets.segment()?;
                only_component(&mut segment)?;
                self.own_exponents = Some(read_exponents(&mut segment)?);
            }
            _ => return Ok(false),
        }
        Ok(true)
    }

    /// A tile's coding, where the tile itself says this and the main header all else.
    pub fn over(&self, main: &Self) -> Result<Coding, Failure> {
        let missing = Failure::Broken("does not say how it is coded");
        let packets = self.packets.or(main.packets).ok_or(missing)?;
        let cuts = [&self.own_cuts, &self.cuts, &main.own_cuts, &main.cuts];
        let cuts = cuts.into_iter().flatten().next().ok_or(missing)?.clone();
        let exponents = [
            &self.own_exponents,
            &self.exponents,
            &main.own_exponents,
            &main.exponents,
        ];
        let exponents = exponents.into_iter().flatten().next().ok_or(missing)?;
        let planes = exponents.planes(cuts.levels)?;
        Ok(Coding {
            packets,
            cuts,
            planes,
        })
    }
}

impl Exponents {
    /// Equation E-2: the bit-planes of each band.
    fn planes(&self, levels: u32) -> Result<Vec<u32>, Failure> {
        let bands = 3 * levels as usize + 1;
        let of_bands = self.of_bands.get(..bands);
        let of_bands = of_bands.ok_or(Failure::Broken("does not say how wide coefficients are"))?;
        let planes = |exponent: &u32| (self.guard + exponent).saturating_sub(1);
        let planes: Vec<u32> = of_bands.iter().map(planes).collect();
        match planes.iter().any(|planes| *planes > MOST_PLANES) {
            true => Err(Failure::Elsewhere),
            false => Ok(planes),
        }
    }
}

fn only_component(octets: &mut Octets<'_>) -> Result<(), Failure> {
    match octets.u8()? {
        0 => Ok(()),
        _ => Err(Failure::Broken("speaks of a component that it does not have")),
    }
}

fn read_packets(flags: u8, octets: &mut Octets<'_>) -> Result<Packets, Failure> {
    let order = match octets.u8()? {
        0 => Order::LayerResolution,
        1 => Order::ResolutionLayer,
        2 => Order::ResolutionPosition,
        3 | 4 => Order::PositionResolution,
        _ => return Err(Failure::Broken("has packets in an unknown order")),
    };
    let (layers, mixes_components) = (u32::from(octets.u16()?), octets.u8()?);
    if layers == 0 || mixes_components != 0 {
        return Err(Failure::Broken("has no layer, or mixes components"));
    }
    Ok(Packets {
        order,
        layers,
        may_have_starts: flags & 2 != 0,
        has_header_ends: flags & 4 != 0,
    })
}

fn read_cuts(flags: u8, octets: &mut Octets<'_>) -> Result<Cuts, Failure> {
    let levels = octets.u8()?;
    let (width, height) = (u32::from(octets.u8()?) + 2, u32::from(octets.u8()?) + 2);
    let (style, transform) = (octets.u8()?, octets.u8()?);
    if levels > MOST_LEVELS || width > 10 || height > 10 || width + height > 12 {
        return Err(Failure::Broken("has levels or code blocks that do not exist"));
    }
    // Block coders of later parts; the irreversible transform.
    if style & 0xc0 != 0 || transform != 1 {
        return Err(Failure::Elsewhere);
    }
    let mut precincts = vec![(15, 15); usize::from(levels) + 1];
    if flags & 1 != 0 {
        for (resolution, precinct) in precincts.iter_mut().enumerate() {
            let exponents = octets.u8()?;
            *precinct = (u32::from(exponents & 15), u32::from(exponents >> 4));
            if resolution > 0 && (precinct.0 == 0 || precinct.1 == 0) {
                return Err(Failure::Broken("has precincts that do not exist"));
            }
        }
    }
    Ok(Cuts {
        levels: levels.into(),
        block: (width, height),
        style: Style {
            bypass: style & 0x01 != 0,
            resets: style & 0x02 != 0,
            terminates: style & 0x04 != 0,
            causal: style & 0x08 != 0,
            marks_segments: style & 0x20 != 0,
        },
        precincts,
    })
}

/// Guard bits, and the exponents of bands that are not quantized.
fn read_exponents(octets: &mut Octets<'_>) -> Result<Exponents, Failure> {
    let style = octets.u8()?;
    if style & 0x1f != 0 {
        return Err(Failure::Elsewhere);
    }
    Ok(Exponents {
        guard: u32::from(style >> 5),
        of_bands: octets.rest().iter().map(|octet| u32::from(octet >> 3)).collect(),
    })
}
