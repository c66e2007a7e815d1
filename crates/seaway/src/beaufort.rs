//! Beaufort force and the state of the sea, as the World Meteorological Organization defines them.
//!
//! Owns: the two tables and how a speed or a height finds its row. Must not know: limits, forecasts.

use crate::quantity::{Knots, Metres, MetresPerSecond};

/// One force of the Beaufort scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeaufortClass {
    /// Its number, 0 to 12.
    pub force: u8,
    /// Its name.
    pub name: &'static str,
    /// First and last whole knot; no last for force 12. Force 0 is below 1 kn.
    pub knots: (u16, Option<u16>),
    /// First and last tenth of a metre a second; no last for force 12.
    pub metres_per_second: (f64, Option<f64>),
    /// Mean speed; none for force 12.
    pub mean: Option<Knots>,
    /// Probable height of well-developed wind waves of the open sea; none for a calm.
    pub probable_wave: Option<Metres>,
    /// Their probable maximum height; none for a calm and for force 12.
    pub highest_wave: Option<Metres>,
}

/// Forces 0 to 12. Speeds: WMO-No. 8 (CIMO Guide), Part I, chapter 5, Table 5.1. Mean speeds and waves: UK Met Office marine
/// Beaufort table.
pub const BEAUFORT: [BeaufortClass; 13] = [
    class(0, "calm", (0, 0), (0.0, 0.2), 0.0, None),
    class(1, "light air", (1, 3), (0.3, 1.5), 2.0, Some((0.1, 0.1))),
    class(2, "light breeze", (4, 6), (1.6, 3.3), 5.0, Some((0.2, 0.3))),
    class(3, "gentle breeze", (7, 10), (3.4, 5.4), 9.0, Some((0.6, 1.0))),
    class(4, "moderate breeze", (11, 16), (5.5, 7.9), 13.0, Some((1.0, 1.5))),
    class(5, "fresh breeze", (17, 21), (8.0, 10.7), 19.0, Some((2.0, 2.5))),
    class(6, "strong breeze", (22, 27), (10.8, 13.8), 24.0, Some((3.0, 4.0))),
    class(7, "near gale", (28, 33), (13.9, 17.1), 30.0, Some((4.0, 5.5))),
    class(8, "gale", (34, 40), (17.2, 20.7), 37.0, Some((5.5, 7.5))),
    class(9, "strong gale", (41, 47), (20.8, 24.4), 44.0, Some((7.0, 10.0))),
    class(10, "storm", (48, 55), (24.5, 28.4), 52.0, Some((9.0, 12.5))),
    class(
        11,
        "violent storm",
        (56, 63),
        (28.5, 32.6),
        60.0,
        Some((11.5, 16.0)),
    ),
    BeaufortClass {
        force: 12,
        name: "hurricane",
        knots: (64, None),
        metres_per_second: (32.7, None),
        mean: None,
        probable_wave: Some(Metres(14.0)),
        highest_wave: None,
    },
];

const fn class(
    force: u8,
    name: &'static str,
    knots: (u16, u16),
    metres_per_second: (f64, f64),
    mean_kn: f64,
    waves_m: Option<(f64, f64)>,
) -> BeaufortClass {
    let (probable_wave, highest_wave) = match waves_m {
        Some((probable, highest)) => (Some(Metres(probable)), Some(Metres(highest))),
        None => (None, None),
    };
    BeaufortClass {
        force,
        name,
        knots: (knots.0, Some(knots.1)),
        metres_per_second: (metres_per_second.0, Some(metres_per_second.1)),
        mean: Some(Knots(mean_kn)),
        probable_wave,
        highest_wave,
    }
}

/// The force of a mean wind at 10 m, 0 to 12, by the lower bounds in metres a second. Whatever is no number is force 0.
///
/// The knot column of the same table puts 16, 21 and 27 kn one force lower than their speed in metres a second does: see
/// [`force_of_whole_knots`].
pub fn force(speed: MetresPerSecond) -> u8 {
    let reached = BEAUFORT
        .iter()
        .rev()
        .find(|class| speed.0 >= class.metres_per_second.0);
    reached.map_or(0, |class| class.force)
}

/// The force of a speed as sailors read it in whole knots, by the knot column of the table: 21 kn is force 5.
pub fn force_of_whole_knots(knots: u16) -> u8 {
    let reached = BEAUFORT.iter().rev().find(|class| knots >= class.knots.0);
    reached.map_or(0, |class| class.force)
}

/// The name of a force; that of force 12 above it.
pub fn name(force: u8) -> &'static str {
    BEAUFORT[usize::from(force).min(BEAUFORT.len() - 1)].name
}

/// The speed at a force, or between two: v = 0.836 B^1.5 m/s. Source: the equivalence adopted by the WMO, from memory; the
/// test shows that it separates all classes of the table.
pub fn equivalent_speed(force: f64) -> MetresPerSecond {
    MetresPerSecond(0.836 * force.powf(1.5))
}

/// One code of the state of the sea.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeaState {
    /// The code figure, 0 to 9.
    pub code: u8,
    /// Its name.
    pub name: &'static str,
    /// Heights from above this one.
    pub above: Metres,
    /// Up to and including this one; none for code 9.
    pub up_to: Option<Metres>,
}

/// Codes 0 to 9. Source: WMO-No. 306, Manual on Codes, Volume I.1, code table 3700 (the Douglas scale of the sea).
pub const SEA_STATES: [SeaState; 10] = [
    SeaState {
        code: 0,
        name: "calm (glassy)",
        above: Metres(0.0),
        up_to: Some(Metres(0.0)),
    },
    SeaState {
        code: 1,
        name: "calm (rippled)",
        above: Metres(0.0),
        up_to: Some(Metres(0.1)),
    },
    SeaState {
        code: 2,
        name: "smooth (wavelets)",
        above: Metres(0.1),
        up_to: Some(Metres(0.5)),
    },
    SeaState {
        code: 3,
        name: "slight",
        above: Metres(0.5),
        up_to: Some(Metres(1.25)),
    },
    SeaState {
        code: 4,
        name: "moderate",
        above: Metres(1.25),
        up_to: Some(Metres(2.5)),
    },
    SeaState {
        code: 5,
        name: "rough",
        above: Metres(2.5),
        up_to: Some(Metres(4.0)),
    },
    SeaState {
        code: 6,
        name: "very rough",
        above: Metres(4.0),
        up_to: Some(Metres(6.0)),
    },
    SeaState {
        code: 7,
        name: "high",
        above: Metres(6.0),
        up_to: Some(Metres(9.0)),
    },
    SeaState {
        code: 8,
        name: "very high",
        above: Metres(9.0),
        up_to: Some(Metres(14.0)),
    },
    SeaState {
        code: 9,
        name: "phenomenal",
        above: Metres(14.0),
        up_to: None,
    },
];

/// The state of the sea for a significant wave height; a height on a bound has the lower code, as the table's note says.
/// None where the height is negative or no number.
pub fn sea_state(height: Metres) -> Option<SeaState> {
    let reached = |state: &SeaState| state.up_to.is_none_or(|up_to| height <= up_to);
    (height.0 >= 0.0)
        .then(|| SEA_STATES.into_iter().find(reached))
        .flatten()
}
