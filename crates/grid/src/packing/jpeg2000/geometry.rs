//! A tile's resolutions, bands, precincts and code blocks, and where they lie.
//!
//! Equations: ISO/IEC 15444-1 annex B. A resolution halves the next one; each but the lowest adds three bands; precincts part a resolution,
//! code blocks a band, both on grids through the reference grid's origin. Must not know: octets, samples.

use super::coding::Coding;
use super::contexts::Kind;

/// A rectangle of a grid, without its right and lower edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rect {
    pub x0: u64,
    pub y0: u64,
    pub x1: u64,
    pub y1: u64,
}

impl Rect {
    pub fn width(&self) -> usize {
        self.x1.saturating_sub(self.x0) as usize
    }

    pub fn height(&self) -> usize {
        self.y1.saturating_sub(self.y0) as usize
    }

    pub fn is_empty(&self) -> bool {
        self.x0 >= self.x1 || self.y0 >= self.y1
    }

    /// What both have.
    pub fn within(&self, other: &Rect) -> Rect {
        Rect {
            x0: self.x0.max(other.x0),
            y0: self.y0.max(other.y0),
            x1: self.x1.min(other.x1),
            y1: self.y1.min(other.y1),
        }
    }

    /// Each coordinate by a function of its own axis.
    fn map(&self, across: impl Fn(u64) -> u64, down: impl Fn(u64) -> u64) -> Rect {
        Rect {
            x0: across(self.x0),
            y0: down(self.y0),
            x1: across(self.x1),
            y1: down(self.y1),
        }
    }
}

/// Cells of one size that cover a rectangle: the first one's column and row, and how many there are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cells {
    log: (u32, u32),
    first: (u64, u64),
    pub columns: usize,
    pub rows: usize,
}

impl Cells {
    fn cover(rect: &Rect, log: (u32, u32)) -> Self {
        let first = (rect.x0 >> log.0, rect.y0 >> log.1);
        let end = (rect.x1.div_ceil(1 << log.0), rect.y1.div_ceil(1 << log.1));
        let (columns, rows) = match rect.is_empty() {
            true => (0, 0),
            false => ((end.0 - first.0) as usize, (end.1 - first.1) as usize),
        };
        Self {
            log,
            first,
            columns,
            rows,
        }
    }

    pub fn count(&self) -> usize {
        self.columns * self.rows
    }

    /// A cell as a rectangle, which may go beyond what is covered.
    pub fn rect(&self, column: usize, row: usize) -> Rect {
        let (x, y) = (self.first.0 + column as u64, self.first.1 + row as u64);
        Rect {
            x0: x << self.log.0,
            y0: y << self.log.1,
            x1: (x + 1) << self.log.0,
            y1: (y + 1) << self.log.1,
        }
    }

    /// Columns and rows of the cells that hold a part of what is covered, itself not empty.
    pub fn that_hold(&self, part: &Rect) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
        let column = |x: u64| ((x >> self.log.0) - self.first.0) as usize;
        let row = |y: u64| ((y >> self.log.1) - self.first.1) as usize;
        (
            column(part.x0)..column(part.x1 - 1) + 1,
            row(part.y0)..row(part.y1 - 1) + 1,
        )
    }
}

/// One band of a resolution.
#[derive(Debug)]
pub(super) struct Band {
    pub rect: Rect,
    pub kind: Kind,
    pub planes: u32,
    pub cells: Cells,
    /// The number of its first code block among the tile's.
    pub first_block: usize,
    /// A precinct of the resolution, in this band's coordinates, is as large as this.
    precinct: (u32, u32),
}

impl Band {
    /// What of the band is in a precinct, whose column and row are those among all there are.
    pub fn precinct(&self, column: u64, row: u64) -> Rect {
        Rect {
            x0: column << self.precinct.0,
            y0: row << self.precinct.1,
            x1: (column + 1) << self.precinct.0,
            y1: (row + 1) << self.precinct.1,
        }
        .within(&self.rect)
    }
}

/// One resolution.
#[derive(Debug)]
pub(super) struct Resolution {
    pub rect: Rect,
    pub precincts: Cells,
    pub bands: Vec<Band>,
    /// How often it is halved.
    pub halvings: u32,
}

impl Resolution {
    /// Column and row of a precinct among all there are.
    pub fn precinct(&self, number: usize) -> (u64, u64) {
        let (columns, (first_column, first_row)) = (self.precincts.columns, self.precincts.first);
        (
            first_column + (number % columns) as u64,
            first_row + (number / columns) as u64,
        )
    }

    /// Where the place of a precinct is in the order of positions: its corner on the reference grid, down and across.
    pub fn position(&self, number: usize, tile: &Rect) -> (u64, u64) {
        let ((column, row), log) = (self.precinct(number), self.precincts.log);
        let down = row.saturating_mul(1 << (log.1 + self.halvings));
        let across = column.saturating_mul(1 << (log.0 + self.halvings));
        (down.max(tile.y0), across.max(tile.x0))
    }
}

/// One tile.
#[derive(Debug)]
pub(super) struct Tile {
    pub rect: Rect,
    pub resolutions: Vec<Resolution>,
    pub blocks: usize,
}

impl Tile {
    pub fn new(rect: Rect, coding: &Coding) -> Self {
        let mut blocks = 0;
        let resolutions = (0..=coding.cuts.levels).map(|number| {
            let resolution = resolution(&rect, coding, number, blocks);
            blocks += resolution
                .bands
                .iter()
                .map(|band| band.cells.count())
                .sum::<usize>();
            resolution
        });
        let resolutions = resolutions.collect();
        Self {
            rect,
            resolutions,
            blocks,
        }
    }
}

fn resolution(tile: &Rect, coding: &Coding, number: u32, mut first_block: usize) -> Resolution {
    let halvings = coding.cuts.levels - number;
    let halved = |coordinate: u64| coordinate.div_ceil(1 << halvings);
    let rect = tile.map(halved, halved);
    let precinct = coding.cuts.precincts[number as usize];
    let kinds: &[Kind] = match number {
        0 => &[Kind::LowLow],
        _ => &[Kind::HighLow, Kind::LowHigh, Kind::HighHigh],
    };
    let first_band = (3 * number as usize).saturating_sub(2);
    let bands = kinds
        .iter()
        .zip(&coding.planes[first_band..])
        .map(|(&kind, &planes)| {
            let of_band = match number {
                0 => precinct,
                _ => (precinct.0 - 1, precinct.1 - 1),
            };
            let rect = band_rect(tile, kind, if number == 0 { halvings } else { halvings + 1 });
            let cells = Cells::cover(
                &rect,
                (
                    coding.cuts.block.0.min(of_band.0),
                    coding.cuts.block.1.min(of_band.1),
                ),
            );
            let band = Band {
                rect,
                kind,
                planes,
                cells,
                first_block,
                precinct: of_band,
            };
            first_block += cells.count();
            band
        });
    Resolution {
        rect,
        precincts: Cells::cover(&rect, precinct),
        bands: bands.collect(),
        halvings,
    }
}

/// Equation B-15.
fn band_rect(tile: &Rect, kind: Kind, level: u32) -> Rect {
    let side = |is_high: bool| {
        let before = if is_high { (1_u64 << level) / 2 } else { 0 };
        move |coordinate: u64| coordinate.saturating_sub(before).div_ceil(1 << level)
    };
    tile.map(side(kind.is_high_across()), side(kind.is_high_down()))
}
