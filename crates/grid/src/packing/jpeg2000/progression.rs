//! The order in which a tile's packets follow one another (section B.12.1 of ISO/IEC 15444-1).
//!
//! Must not know: what packets hold.

use super::Failure;
use super::coding::{Coding, Order};
use super::geometry::Tile;
use std::ops::Range;

/// A packet by its resolution, precinct and layer.
#[derive(Clone, Copy)]
pub(super) struct Packet {
    pub resolution: usize,
    pub precinct: usize,
    pub layer: u32,
}

/// Looks at each packet in turn.
pub(super) fn each_packet(
    tile: &Tile,
    coding: &Coding,
    mut look: impl FnMut(Packet) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let resolutions = 0..tile.resolutions.len();
    let precincts = |resolution: usize| 0..tile.resolutions[resolution].precincts.count();
    let mut packets = |resolution, precincts: Range<usize>, layers: Range<u32>| {
        for precinct in precincts {
            for layer in layers.clone() {
                look(Packet {
                    resolution,
                    precinct,
                    layer,
                })?;
            }
        }
        Ok(())
    };
    let all = 0..coding.packets.layers;
    match coding.packets.order {
        Order::LayerResolution => all.into_iter().try_for_each(|layer| {
            resolutions
                .clone()
                .try_for_each(|resolution| packets(resolution, precincts(resolution), layer..layer + 1))
        }),
        Order::ResolutionLayer => resolutions.into_iter().try_for_each(|resolution| {
            all.clone()
                .try_for_each(|layer| packets(resolution, precincts(resolution), layer..layer + 1))
        }),
        Order::ResolutionPosition => resolutions
            .into_iter()
            .try_for_each(|resolution| packets(resolution, precincts(resolution), all.clone())),
        Order::PositionResolution => {
            let of_resolution = |resolution: usize| {
                precincts(resolution).map(move |precinct| {
                    let position = tile.resolutions[resolution].position(precinct, &tile.rect);
                    (position, resolution, precinct)
                })
            };
            let mut places: Vec<_> = resolutions.into_iter().flat_map(of_resolution).collect();
            places.sort_unstable();
            places.into_iter().try_for_each(|(_, resolution, precinct)| {
                packets(resolution, precinct..precinct + 1, all.clone())
            })
        }
    }
}
