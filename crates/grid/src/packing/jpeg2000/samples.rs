//! A tile's samples within windows: code blocks into coefficients, coefficients through the inverse transform.
//!
//! Must not know: packets, positions among packed values.

use super::coding::Coding;
use super::geometry::{Band, Rect, Tile};
use super::packets::{Block, Parts};
use super::passes::{self, Part, Passes};
use super::wavelet;
use super::windows::Needed;

/// Coefficients of a block that has none.
const NOTHING: u32 = u32::MAX;

/// The coefficients of the wanted code blocks.
pub(super) struct Coefficients<'a> {
    tile: &'a Tile,
    /// Where each block's begin, row by row.
    starts: Vec<u32>,
    found: Vec<i32>,
}

/// Samples or coefficients of a rectangle, row by row.
pub(super) struct Plane {
    rect: Rect,
    samples: Vec<i32>,
}

impl Plane {
    /// Those of a row from a column on.
    pub fn row(&self, row: u64, from: u64) -> &[i32] {
        let starts = (row - self.rect.y0) as usize * self.rect.width();
        &self.samples[starts + (from - self.rect.x0) as usize..starts + self.rect.width()]
    }
}

impl<'a> Coefficients<'a> {
    /// Decodes all wanted blocks of a tile.
    pub fn decode(tile: &'a Tile, coding: &Coding, octets: &[u8], blocks: &[Block], parts: &Parts) -> Self {
        let (mut starts, mut found) = (vec![NOTHING; tile.blocks], Vec::new());
        let mut passes = Passes::default();
        for band in tile.resolutions.iter().flat_map(|resolution| &resolution.bands) {
            for number in 0..band.cells.count() {
                let index = band.first_block + number;
                let block = &blocks[index];
                if !block.is_wanted || block.passes == 0 {
                    continue;
                }
                let rect = block_rect(band, number);
                starts[index] = found.len() as u32;
                let coded = passes::Block {
                    width: rect.width(),
                    height: rect.height(),
                    kind: band.kind,
                    planes: band.planes - u32::from(block.empty_planes),
                    style: coding.cuts.style,
                };
                let parts = parts.of(block).map(|(passes, range)| Part {
                    passes,
                    octets: &octets[range],
                });
                passes.decode(&coded, parts, &mut found);
            }
        }
        Self { tile, starts, found }
    }

    /// The tile's samples within a window, before they are shifted to begin at 0.
    pub fn samples(&self, window: &Rect) -> Plane {
        self.plane(self.tile.resolutions.len() - 1, window)
    }

    /// A resolution's samples within a window at least.
    fn plane(&self, number: usize, window: &Rect) -> Plane {
        let resolution = &self.tile.resolutions[number];
        let [high_low, low_high, high_high] = resolution.bands.as_slice() else {
            return self.lowest(&resolution.bands[0], window);
        };
        let needed = Needed::by(window, &resolution.rect);
        let lower = self.plane(number - 1, &needed.low_low());
        let (rect, width) = (needed.window, needed.window.width());
        let mut samples = vec![0; width * rect.height()];
        let mut low = vec![0; needed.low_low().width()];
        let mut high = vec![0; needed.high_high().width()];
        for (row, samples) in (rect.y0..).zip(samples.chunks_exact_mut(width.max(1))) {
            if row % 2 == 0 {
                if let Some(lower) = lower.row(row / 2, needed.low_low().x0).get(..low.len()) {
                    low.copy_from_slice(lower);
                }
                self.copy_row(high_low, row / 2, needed.high_low().x0, &mut high);
            } else {
                self.copy_row(low_high, row / 2, needed.low_high().x0, &mut low);
                self.copy_row(high_high, row / 2, needed.high_high().x0, &mut high);
            }
            wavelet::row(rect.x0, &mut low, &high, samples);
        }
        wavelet::columns(rect.y0, &mut samples, width);
        Plane { rect, samples }
    }

    fn lowest(&self, band: &Band, window: &Rect) -> Plane {
        let mut samples = vec![0; window.width() * window.height()];
        for (row, samples) in (window.y0..).zip(samples.chunks_exact_mut(window.width().max(1))) {
            self.copy_row(band, row, window.x0, samples);
        }
        Plane {
            rect: *window,
            samples,
        }
    }

    /// A band's coefficients of a row from a column on, as many as there is room for.
    fn copy_row(&self, band: &Band, row: u64, from: u64, to: &mut [i32]) {
        if to.is_empty() {
            return;
        }
        let part = Rect {
            x0: from,
            y0: row,
            x1: from + to.len() as u64,
            y1: row + 1,
        };
        let (columns, rows) = band.cells.that_hold(&part);
        let mut to = to;
        for column in columns {
            let number = rows.start * band.cells.columns + column;
            let rect = block_rect(band, number);
            let here = rect.within(&part);
            let (into, rest) = to.split_at_mut(here.width());
            match self.starts[band.first_block + number] {
                NOTHING => into.fill(0),
                starts => {
                    let first = (row - rect.y0) as usize * rect.width() + (here.x0 - rect.x0) as usize;
                    into.copy_from_slice(&self.found[starts as usize + first..][..into.len()]);
                }
            }
            to = rest;
        }
    }
}

fn block_rect(band: &Band, number: usize) -> Rect {
    band.cells
        .rect(number % band.cells.columns, number / band.cells.columns)
        .within(&band.rect)
}
