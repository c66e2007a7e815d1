//! Global fields of 1440 by 721 nodes: smooth waves with a little noise, within what their parameters can be.
//!
//! Must not know: packing. The values are of no weather; they are as hard to pack and to look up as real ones.

use crate::simple_packing::section;
use std::f32::consts::TAU;

/// Nodes along a parallel, from 0 eastward, every quarter of a degree.
const COLUMNS: u32 = 1440;
/// Nodes along a meridian, from 90 N to 90 S.
const ROWS: u32 = 721;

/// The values of a field, row by row. The parameter is category and number of discipline 0.
pub(super) fn values(parameter: [u8; 2], seed: u64) -> Vec<Option<f32>> {
    let (base, swing, noise) = match parameter {
        [2, 22] => (14.0, 8.0, 1.0),
        [0, 0] => (285.0, 20.0, 0.5),
        [3, 1] => (101_300.0, 1_500.0, 10.0),
        _ => (0.0, 9.0, 0.5),
    };
    let waves = (3 + seed % 5) as f32;
    let along = |count: u32, waves: f32, shift: f32| -> Vec<f32> {
        let phase = |at: u32| TAU * (waves * at as f32 / count as f32 + shift);
        (0..count).map(|at| phase(at).sin()).collect()
    };
    let (across, down) = (
        along(COLUMNS, waves, seed as f32 / 8.0),
        along(ROWS, waves / 2.0, 0.1),
    );
    let mut state = seed.wrapping_mul(2).wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut noise = || {
        // Xorshift: the same numbers on every machine.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        noise * ((state >> 40) as f32 / (1 << 23) as f32 - 1.0)
    };
    let mut values = Vec::with_capacity((COLUMNS * ROWS) as usize);
    for down in &down {
        for across in &across {
            values.push(Some(base + swing * across * down + noise()));
        }
    }
    values
}

/// Section 3 of these fields: template 3.0 on the sphere of 6,371,229 m (shape 6), as NOAA's global grids have it.
pub(super) fn section_3() -> Vec<u8> {
    let mut octets = Vec::new();
    section(&mut octets, 3, |body| {
        body.push(0);
        body.extend_from_slice(&(COLUMNS * ROWS).to_be_bytes());
        body.extend_from_slice(&[0, 0, 0, 0, 6]); // no list; template 3.0; shape 6
        body.extend_from_slice(&[0; 15]); // radii and axes that shape 6 does not need
        let south = 0x8000_0000_u32;
        for number in [COLUMNS, ROWS, 0, u32::MAX, 90_000_000, 0] {
            body.extend_from_slice(&number.to_be_bytes());
        }
        body.push(0x30); // both increments are given
        for number in [90_000_000 | south, 359_750_000, 250_000, 250_000] {
            body.extend_from_slice(&number.to_be_bytes());
        }
        body.push(0); // eastward, southward
    });
    octets
}
