//! From nodes to a place: the corners around it, the land mask, weights over the nodes of the right kind.
//!
//! On parallels and meridians the corners are the four nodes of the cell with their bilinear weights, on any other grid or
//! mesh the nearest node alone ([`nearest`]); all that follows is the same for both.
//!
//! Owns: interpolation in space. Must not know: time, sources, corrections, limits.

mod nearest;

use crate::element::{Components, Element};
use forecast::{Gap, NodeSeries, Parameter, RunSlice, Sample};
use seaway::quantity::signed_difference;
use seaway::{LatLon, NauticalMiles};

/// Nodes nearer to each other than this are the same: GRIB2 gives places in millionths of a degree, and 1e-5 degrees is a metre.
const SAME_PLACE_DEG: f64 = 1e-5;
/// From this share of land on a cell counts as land.
const LAND_FROM_SHARE: f32 = 0.5;

/// Where a place lies among the nodes of a slice.
#[derive(Clone, Debug)]
pub(crate) struct Spot {
    /// Nodes around it (indices into the slice) with their weights; those without weight are left out.
    pub(crate) corners: Result<Vec<(usize, f64)>, Gap>,
    /// Nodes near it with their distance: where a water node is looked for when no corner is one.
    pub(crate) block: Vec<(usize, NauticalMiles)>,
}

/// The land mask of a slice's nodes: land, water or unknown.
pub(crate) type LandMask = Vec<Option<bool>>;

/// What interpolation in space gave.
#[derive(Clone, Debug)]
pub(crate) struct Blend {
    pub(crate) value: Components,
    /// The nodes that carried weight.
    pub(crate) nodes: Vec<(usize, f64)>,
    /// How far off the only water node is, where the cell has none.
    pub(crate) offshore: Option<NauticalMiles>,
    /// Whether a node without a known land mask was taken for water.
    pub(crate) no_land_mask: bool,
}

/// Finds a place among the nodes of a slice.
pub(crate) fn locate(place: LatLon, slice: &RunSlice) -> Spot {
    if slice.is_of_nearest_nodes() {
        nearest::locate(place, slice)
    } else {
        on_regular_grid(place, &slice.nodes)
    }
}

/// Finds a place among nodes of a regular grid of latitudes and longitudes; the block reaches two grid steps.
fn on_regular_grid(place: LatLon, nodes: &[NodeSeries]) -> Spot {
    let offsets: Vec<(f64, f64)> = nodes
        .iter()
        .map(|series| {
            let at = series.node.at;
            (at.lat - place.lat, signed_difference(place.lon, at.lon))
        })
        .collect();
    let rows = lines(offsets.iter().map(|offset| offset.0));
    let columns = lines(offsets.iter().map(|offset| offset.1));
    let corners = match (rows.around(), columns.around()) {
        (Some(rows), Some(columns)) => cell(&offsets, &rows, &columns),
        _ => Err(Gap::OutsideGrid),
    };
    let near = |offset: f64, lines: &Lines| offset.abs() <= 2.0 * lines.spacing + SAME_PLACE_DEG;
    let block = if corners.is_err() {
        Vec::new()
    } else {
        (0..nodes.len())
            .filter(|&index| near(offsets[index].0, &rows) && near(offsets[index].1, &columns))
            .map(|index| (index, place.distance(nodes[index].node.at)))
            .collect()
    };
    Spot { corners, block }
}

/// The rows or the columns of a grid, as offsets from a place.
struct Lines {
    offsets: Vec<f64>,
    /// The least distance between two of them, degrees; 0 where there is one only.
    spacing: f64,
}

fn lines(offsets: impl Iterator<Item = f64>) -> Lines {
    let mut offsets: Vec<f64> = offsets.collect();
    offsets.sort_by(f64::total_cmp);
    offsets.dedup_by(|a, b| (*a - *b).abs() < SAME_PLACE_DEG);
    let spacing = offsets
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(f64::INFINITY, f64::min);
    Lines {
        offsets,
        spacing: if spacing.is_finite() { spacing } else { 0.0 },
    }
}

impl Lines {
    /// The one or two lines around the place with their weights; none where it lies outside or where the lines on both
    /// sides are not neighbours in the grid.
    fn around(&self) -> Option<Vec<(f64, f64)>> {
        if let Some(&line) = self.offsets.iter().find(|offset| offset.abs() < SAME_PLACE_DEG) {
            return Some(vec![(line, 1.0)]);
        }
        let above = self.offsets.iter().position(|&offset| offset > 0.0)?;
        let (low, high) = (self.offsets[above.checked_sub(1)?], self.offsets[above]);
        let width = high - low;
        (width < 1.5 * self.spacing).then(|| vec![(low, high / width), (high, -low / width)])
    }
}

fn cell(
    offsets: &[(f64, f64)],
    rows: &[(f64, f64)],
    columns: &[(f64, f64)],
) -> Result<Vec<(usize, f64)>, Gap> {
    let same = |a: f64, b: f64| (a - b).abs() < SAME_PLACE_DEG;
    let mut corners = Vec::with_capacity(4);
    for &(row, row_weight) in rows {
        for &(column, column_weight) in columns {
            let node = offsets
                .iter()
                .position(|offset| same(offset.0, row) && same(offset.1, column));
            corners.push((node.ok_or(Gap::OutsideGrid)?, row_weight * column_weight));
        }
    }
    Ok(corners)
}

/// The land mask of a slice: from its own land share, or from that of another slice with a node at the same place.
pub(crate) fn land_mask(slice: &RunSlice, all: &[&RunSlice]) -> LandMask {
    let shares: Vec<(LatLon, bool)> = std::iter::once(slice)
        .chain(all.iter().copied())
        .flat_map(|slice| &slice.nodes)
        .filter_map(|series| Some((series.node.at, land_share(series)? >= LAND_FROM_SHARE)))
        .collect();
    let same_place = |a: LatLon, b: LatLon| {
        (a.lat - b.lat).abs() < SAME_PLACE_DEG && signed_difference(a.lon, b.lon).abs() < SAME_PLACE_DEG
    };
    slice
        .nodes
        .iter()
        .map(|series| {
            shares
                .iter()
                .find(|share| same_place(share.0, series.node.at))
                .map(|share| share.1)
        })
        .collect()
}

/// A node's share of land: the same at every step, so the first that was read is taken.
fn land_share(series: &NodeSeries) -> Option<f32> {
    let field = series
        .fields
        .iter()
        .find(|field| field.parameter == Parameter::LandShare)?;
    field
        .samples
        .iter()
        .find_map(|sample| sample.ok().filter(|share| share.is_finite()))
}

/// The sample of one node; `flat` counts members by steps.
pub(crate) fn sample(slice: &RunSlice, node: usize, parameter: Parameter, flat: usize) -> Sample {
    let field = slice.nodes[node]
        .fields
        .iter()
        .find(|field| field.parameter == parameter);
    field.map_or(Err(Gap::NotInFeed), |field| {
        field.samples.get(flat).copied().unwrap_or(Err(Gap::NotThere))
    })
}

fn components(slice: &RunSlice, node: usize, element: Element, flat: usize) -> Result<Components, Gap> {
    let mut samples = [0.0; 2];
    for (place, &parameter) in samples.iter_mut().zip(element.parameters()) {
        *place = Element::checked(sample(slice, node, parameter, flat)?)?;
    }
    Ok(element.components(samples))
}

/// One element at a place, for one member and step (`flat`).
///
/// Over water nodes only where the element asks for it: a corner that is land, or masked, gives its weight to the others.
/// Where no corner is water the worst water node of the block stands in, with its distance. A node that should have given
/// a value and did not makes the value missing, for that node's reason.
pub(crate) fn blend(
    slice: &RunSlice,
    spot: &Spot,
    land: &LandMask,
    element: Element,
    flat: usize,
) -> Result<Blend, Gap> {
    let corners = spot.corners.as_ref().map_err(|gap| *gap)?;
    if !element.needs_water() {
        return weighted(element, corners.clone(), |node| {
            components(slice, node, element, flat)
        });
    }
    let by_mask = element.by_the_land_mask();
    let is_water = |node: usize| {
        let dry = by_mask && land[node] == Some(true);
        !dry && components(slice, node, element, flat) != Err(Gap::Masked)
    };
    let wet: Vec<_> = corners
        .iter()
        .copied()
        .filter(|&(node, _)| is_water(node))
        .collect();
    let mut blend = if wet.is_empty() {
        worst_of_block(slice, spot, element, flat, is_water)?
    } else {
        weighted(element, wet, |node| components(slice, node, element, flat))?
    };
    blend.no_land_mask = by_mask && blend.nodes.iter().any(|&(node, _)| land[node].is_none());
    Ok(blend)
}

fn weighted(
    element: Element,
    mut nodes: Vec<(usize, f64)>,
    components: impl Fn(usize) -> Result<Components, Gap>,
) -> Result<Blend, Gap> {
    let total: f64 = nodes.iter().map(|node| node.1).sum();
    let mut parts = Vec::with_capacity(4);
    for (node, weight) in &mut nodes {
        *weight /= total;
        parts.push((components(*node)?, *weight));
    }
    Ok(Blend {
        value: mean(element, &parts),
        nodes,
        offshore: None,
        no_land_mask: false,
    })
}

/// The weighted mean of components. Where directions cancel out, the one with the most weight: a mean of opposite
/// directions points nowhere.
pub(crate) fn mean(element: Element, parts: &[(Components, f64)]) -> Components {
    let sum = |axis: usize| parts.iter().map(|(value, weight)| value[axis] * weight).sum();
    let value: Components = [sum(0), sum(1)];
    let cancelled = element == Element::WaveFrom && value[0].hypot(value[1]) < 1e-6;
    match parts.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        Some(heaviest) if cancelled => heaviest.0,
        _ => value,
    }
}

fn worst_of_block(
    slice: &RunSlice,
    spot: &Spot,
    element: Element,
    flat: usize,
    is_water: impl Fn(usize) -> bool,
) -> Result<Blend, Gap> {
    let mut worst: Option<(f64, usize, NauticalMiles, Components)> = None;
    for &(node, distance) in spot.block.iter().filter(|entry| is_water(entry.0)) {
        // Which node is the worst cannot be told while one of them is missing.
        let value = components(slice, node, element, flat)?;
        // A direction is not better or worse than another: the nearest node's is taken.
        let badness = if element == Element::WaveFrom {
            -distance.0
        } else {
            element.badness(value)
        };
        if worst.is_none_or(|worst| badness > worst.0) {
            worst = Some((badness, node, distance, value));
        }
    }
    let (_, node, distance, value) = worst.ok_or(Gap::NoWater)?;
    Ok(Blend {
        value,
        nodes: vec![(node, 1.0)],
        offshore: Some(distance),
        no_land_mask: false,
    })
}
