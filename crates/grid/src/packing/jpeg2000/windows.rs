//! Where the wanted samples lie: few windows that hold them all, and the code blocks that a window needs.
//!
//! Must not know: how anything is coded.

use super::geometry::{Rect, Tile};
use super::packets::Block;
use super::wavelet::BESIDE;

/// Rows and columns that are looked at together; columns of a window at most.
const ROWS: u64 = 64;
const COLUMNS: u64 = 16;
const MOST_COLUMNS: u64 = 4096;

/// The wanted samples of an image, by ascending position.
pub(super) struct Wanted<'a> {
    pub image: Rect,
    pub positions: &'a [usize],
}

impl Wanted<'_> {
    fn position(&self, row: u64, column: u64) -> usize {
        (row - self.image.y0) as usize * self.image.width() + (column - self.image.x0) as usize
    }

    fn first_from(&self, position: usize) -> usize {
        self.positions.partition_point(|wanted| *wanted < position)
    }

    /// Which of the positions are in a row of a rectangle, each with the columns between it and the rectangle's left edge.
    pub fn in_row(&self, row: u64, rect: &Rect) -> impl Iterator<Item = (usize, usize)> {
        let (left, right) = (self.position(row, rect.x0), self.position(row, rect.x1));
        let which = self.first_from(left)..self.first_from(right);
        which.map(move |which| (which, self.positions[which] - left))
    }

    /// Windows of a tile that hold all that is wanted of it, none of them twice.
    pub fn windows(&self, tile: &Rect) -> Vec<Rect> {
        let (mut windows, mut row) = (Vec::new(), tile.y0);
        let mut cells = vec![false; tile.width().div_ceil(COLUMNS as usize)];
        while row < tile.y1 {
            let next = self.first_from(self.position(row, self.image.x0));
            let Some(position) = self.positions.get(next) else {
                break;
            };
            let y0 = self.image.y0 + (position / self.image.width()) as u64;
            let strip = Rect {
                y0,
                y1: (y0 + ROWS).min(tile.y1),
                ..*tile
            };
            if y0 < tile.y1 {
                cells.fill(false);
                if let Some(last) = self.mark(&strip, &mut cells) {
                    let rows = Rect {
                        y1: last + 1,
                        ..strip
                    };
                    windows.extend(runs(&cells).map(|(first, end)| rows_between(&rows, first, end)));
                }
            }
            row = strip.y1.max(y0);
        }
        windows
    }

    /// Marks the columns of a strip that hold something wanted; gives the last row that does.
    fn mark(&self, strip: &Rect, cells: &mut [bool]) -> Option<u64> {
        let mut last = None;
        for row in strip.y0..strip.y1 {
            for (_, column) in self.in_row(row, strip) {
                last = Some(row);
                cells[column / COLUMNS as usize] = true;
            }
        }
        last
    }
}

/// Marked cells one after another, as far as a window goes.
fn runs(cells: &[bool]) -> impl Iterator<Item = (u64, u64)> {
    let mut at = 0;
    std::iter::from_fn(move || {
        let first = at + cells[at..].iter().position(|marked| *marked)?;
        let length = cells[first..]
            .iter()
            .take((MOST_COLUMNS / COLUMNS) as usize)
            .take_while(|marked| **marked);
        at = first + length.count();
        Some((first as u64, at as u64))
    })
}

fn rows_between(rows: &Rect, first: u64, end: u64) -> Rect {
    Rect {
        x0: rows.x0 + first * COLUMNS,
        x1: (rows.x0 + end * COLUMNS).min(rows.x1),
        ..*rows
    }
}

/// A window of a resolution with what the transform needs beside it, and the parts of the bands that this is made of: low and high
/// coefficients across and down.
pub(super) struct Needed {
    pub window: Rect,
    low: Rect,
    high: Rect,
}

impl Needed {
    pub fn by(window: &Rect, resolution: &Rect) -> Self {
        let window = Rect {
            x0: window.x0.saturating_sub(BESIDE),
            y0: window.y0.saturating_sub(BESIDE),
            x1: window.x1 + BESIDE,
            y1: window.y1 + BESIDE,
        }
        .within(resolution);
        let low = Rect {
            x0: window.x0.div_ceil(2),
            y0: window.y0.div_ceil(2),
            x1: window.x1.div_ceil(2),
            y1: window.y1.div_ceil(2),
        };
        let high = Rect {
            x0: window.x0 / 2,
            y0: window.y0 / 2,
            x1: window.x1 / 2,
            y1: window.y1 / 2,
        };
        Self { window, low, high }
    }

    /// The next lower resolution.
    pub fn low_low(&self) -> Rect {
        self.low
    }

    pub fn high_low(&self) -> Rect {
        Rect {
            y0: self.low.y0,
            y1: self.low.y1,
            ..self.high
        }
    }

    pub fn low_high(&self) -> Rect {
        Rect {
            y0: self.high.y0,
            y1: self.high.y1,
            ..self.low
        }
    }

    pub fn high_high(&self) -> Rect {
        self.high
    }
}

/// Marks the code blocks that a window of the tile needs.
pub(super) fn mark_blocks(tile: &Tile, window: &Rect, blocks: &mut [Block]) {
    let mut window = *window;
    for resolution in tile.resolutions.iter().rev() {
        let needed = Needed::by(&window, &resolution.rect);
        let parts = match resolution.bands.len() {
            1 => vec![window],
            _ => vec![needed.high_low(), needed.low_high(), needed.high_high()],
        };
        for (band, part) in resolution.bands.iter().zip(&parts) {
            if part.is_empty() {
                continue;
            }
            let (columns, rows) = band.cells.that_hold(part);
            for row in rows {
                let first = band.first_block + row * band.cells.columns;
                blocks[first + columns.start..first + columns.end]
                    .iter_mut()
                    .for_each(|block| block.is_wanted = true);
            }
        }
        window = needed.low_low();
    }
}
