//! One step of the reversible inverse wavelet transform, over a window of a resolution (section F.3 of ISO/IEC 15444-1).
//!
//! A sample at an even place is its low coefficient less a quarter of the two high ones beside it; a sample at an odd place is its high coefficient
//! and half of the two samples beside it. So a window that is wider than what is wanted by `BESIDE` samples at each side is enough. Beyond the
//! resolution's edges samples are mirrored; so are they here at the window's own edges, where what comes out is not wanted.
//!
//! Must not know: which samples are wanted. Sums wrap: coefficients of damaged streams may be anything.

/// How far beside a wanted sample the others are that it depends on.
pub(super) const BESIDE: u64 = 2;

/// One row out of its low and high coefficients, of which those at even places come first if `from` is even.
pub(super) fn row(from: u64, low: &mut [i32], high: &[i32], samples: &mut [i32]) {
    let is_odd = from % 2 == 1;
    if low.len() + high.len() == 1 {
        samples[0] = low.first().copied().unwrap_or_else(|| high[0] / 2);
        return;
    }
    // In front of the first sample at an even place there is a high coefficient only if the row begins at an odd place.
    let before = usize::from(!is_odd);
    let last = high.len() - 1;
    let beside = |at: usize| {
        (
            high[at.saturating_sub(before).min(last)],
            high[(at + 1 - before).min(last)],
        )
    };
    for (at, low) in low.iter_mut().enumerate() {
        let (left, right) = beside(at);
        *low = low.wrapping_sub(quarter(left, right));
    }
    let last = low.len() - 1;
    for (at, high) in high.iter().enumerate() {
        let (left, right) = match is_odd {
            true => (low[at.saturating_sub(1)], low[at.min(last)]),
            false => (low[at], low[(at + 1).min(last)]),
        };
        samples[2 * at + 1 - usize::from(is_odd)] = high.wrapping_add(half(left, right));
    }
    for (at, low) in low.iter().enumerate() {
        samples[2 * at + usize::from(is_odd)] = *low;
    }
}

/// All columns of a window whose rows lie one after another: those at even rows are low coefficients.
pub(super) fn columns(from: u64, window: &mut [i32], width: usize) {
    let rows = window.len() / width.max(1);
    if rows == 1 {
        if from % 2 == 1 {
            window.iter_mut().for_each(|sample| *sample /= 2);
        }
        return;
    }
    let is_odd = (from % 2) as usize;
    for at in (is_odd..rows).step_by(2) {
        lift(window, width, at, |sample, above, below| {
            sample.wrapping_sub(quarter(above, below))
        });
    }
    for at in (1 - is_odd..rows).step_by(2) {
        lift(window, width, at, |sample, above, below| {
            sample.wrapping_add(half(above, below))
        });
    }
}

/// A row by those above and below it; where there is none, the other counts twice.
#[inline(always)]
fn lift(window: &mut [i32], width: usize, at: usize, step: impl Fn(i32, i32, i32) -> i32) {
    let (before, rest) = window.split_at_mut(at * width);
    let (row, after) = rest.split_at_mut(width);
    let above = before.rchunks_exact(width).next();
    let below = after.chunks_exact(width).next();
    let (Some(above), Some(below)) = (above.or(below), below.or(above)) else {
        return;
    };
    for ((sample, above), below) in row.iter_mut().zip(above).zip(below) {
        *sample = step(*sample, *above, *below);
    }
}

#[inline(always)]
fn quarter(one: i32, other: i32) -> i32 {
    one.wrapping_add(other).wrapping_add(2) >> 2
}

#[inline(always)]
fn half(one: i32, other: i32) -> i32 {
    one.wrapping_add(other) >> 1
}
