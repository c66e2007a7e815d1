//! Waves that run into or along a stream.
//!
//! Owns: how a steady stream changes height, length and steepness in deep water, and where it stops waves.
//! Must not know: tides, limits, how the waves arose.
//! Sources: Longuet-Higgins and Stewart 1961 (from memory; confirmed by solving dispersion and conservation of wave action
//! numerically in the check values); blocking at a quarter of the phase speed: USACE ERDC/CHL TR-02-22.

use crate::quantity::{Bearing, DirectionFrom, Knots, Metres, MetresPerSecond, Seconds, signed_difference};
use crate::waves::{BREAKING_STEEPNESS, deep_water_length, deep_water_phase_speed};

/// What a stream makes of waves, as ratios to the same waves on still water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StreamRatios {
    /// Height over the height on still water.
    pub height: f64,
    /// Length over the length on still water.
    pub length: f64,
}

impl StreamRatios {
    /// Steepness over the steepness on still water.
    pub fn steepness(self) -> f64 {
        self.height / self.length
    }
}

/// Waves after a stream has changed them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SeaOnStream {
    /// They run on.
    Runs {
        /// Significant height, metres.
        height: Metres,
        /// Length from crest to crest, metres.
        length: Metres,
    },
    /// They would be as steep as 1/7 or more: they break, and the theory tells no height.
    Breaks,
    /// The stream is as fast as their energy travels: they cannot pass, pile up and break.
    Blocked,
}

impl SeaOnStream {
    /// Height over length, a ratio; None where the waves break or are blocked.
    pub fn steepness(self) -> Option<f64> {
        match self {
            Self::Runs { height, length } => Some(height.0 / length.0),
            Self::Breaks | Self::Blocked => None,
        }
    }
}

/// The part of a stream that runs with the waves, m/s; negative against them. The stream is given in knots and by the
/// bearing it sets *towards*, the waves by where they come *from*.
pub fn stream_along_waves(stream: Knots, set: Bearing, waves_from: DirectionFrom) -> MetresPerSecond {
    let angle = signed_difference(waves_from.towards().degrees(), set.degrees());
    MetresPerSecond(MetresPerSecond::from(stream).0 * angle.to_radians().cos())
}

/// The stream at which waves of a period (seconds, on still water) are blocked: U = -c0/4, m/s, negative because it runs
/// against them. Source: USACE ERDC/CHL TR-02-22, deep water.
pub fn blocking_stream(period: Seconds) -> MetresPerSecond {
    MetresPerSecond(-deep_water_phase_speed(period).0 / 4.0)
}

/// What a stream along the waves (m/s, negative against them) makes of waves of a period on still water (seconds):
/// c/c0 = (1 + sqrt(1 + 4U/c0))/2, H/H0 = c0/sqrt(c (c + 2U)), L/L0 = (c/c0)^2.
/// None where the stream blocks them, or where a value is not finite or the period not above 0.
pub fn stream_ratios(period: Seconds, stream_along: MetresPerSecond) -> Option<StreamRatios> {
    if !valid(period, stream_along) || stream_along <= blocking_stream(period) {
        return None;
    }
    let stream = stream_along.0 / deep_water_phase_speed(period).0;
    let speed = (1.0 + (1.0 + 4.0 * stream).sqrt()) / 2.0;
    let height = 1.0 / (speed * (speed + 2.0 * stream)).sqrt();
    // A hair above blocking the energy's speed rounds to nothing.
    height.is_finite().then_some(StreamRatios {
        height,
        length: speed * speed,
    })
}

/// Waves of a height (metres) and a period (seconds) on still water, after they have run into a stream (m/s along them,
/// negative against). None where a value is not finite, the height below 0 or the period not above 0.
pub fn sea_on_stream(height: Metres, period: Seconds, stream_along: MetresPerSecond) -> Option<SeaOnStream> {
    if !(valid(period, stream_along) && height.0.is_finite() && height.0 >= 0.0) {
        return None;
    }
    let Some(ratios) = stream_ratios(period, stream_along) else {
        return Some(SeaOnStream::Blocked);
    };
    let height = Metres(height.0 * ratios.height);
    let length = Metres(deep_water_length(period).0 * ratios.length);
    let breaks = height.0 / length.0 >= BREAKING_STEEPNESS;
    Some(if breaks {
        SeaOnStream::Breaks
    } else {
        SeaOnStream::Runs { height, length }
    })
}

/// The height at which waves of a height (metres) and a period (seconds) on still water break as ever more stream runs against
/// them: the greatest that a stream gives them. Waves that break on still water keep their height. None as in [`sea_on_stream`].
pub fn height_when_breaking(height: Metres, period: Seconds) -> Option<Metres> {
    let on = |along| sea_on_stream(height, period, MetresPerSecond(along));
    // The steepness rises from still water to blocking, where it has no bound: halving finds where it passes 1/7.
    let (mut breaks, mut runs) = (blocking_stream(period).0, 0.0);
    let mut highest = height;
    on(runs)?;
    for _ in 0..HALVINGS {
        let between = (breaks + runs) / 2.0;
        match on(between)? {
            SeaOnStream::Runs { height, .. } => (runs, highest) = (between, height),
            SeaOnStream::Breaks | SeaOnStream::Blocked => breaks = between,
        }
    }
    Some(highest)
}

/// Halvings that leave less than a ten-millionth of the blocking stream.
const HALVINGS: u32 = 24;

fn valid(period: Seconds, stream_along: MetresPerSecond) -> bool {
    period.0.is_finite() && period.0 > 0.0 && stream_along.0.is_finite()
}
