//! What is done to an interpolated wind: sector factors, and a gust where the source gives none.
//!
//! Owns: the corrections. Must not know: how the wind was interpolated, limits.

use crate::hour::Notes;
use crate::prepared::Value;
use crate::trace::Correction;
use club::{Policy, Venue};
use seaway::quantity::{normalise_degrees, signed_difference};
use seaway::{DirectionFrom, Knots, Wind};

/// The factor on the mean of a direction; none outside the venue's sectors. Where two overlap the larger counts.
pub(crate) fn sector_factor(venue: &Venue, from: DirectionFrom) -> Option<f64> {
    let inside = |sector: &&club::model::WindSector| {
        let width = normalise_degrees(sector.to.degrees() - sector.from.degrees());
        normalise_degrees(from.degrees() - sector.from.degrees()) <= width
    };
    venue
        .wind_sectors
        .iter()
        .filter(inside)
        .map(|sector| sector.factor)
        .reduce(f64::max)
}

/// The factor from mean to gust where the source gives no gust: larger when the wind comes off a shore of the venue.
pub(crate) fn gust_factor(venue: &Venue, policy: &Policy, from: DirectionFrom) -> f64 {
    let off_the_land = venue.shores.iter().any(|shore| {
        signed_difference(shore.bearing.degrees(), from.degrees()).abs() <= shore.width_deg / 2.0
    });
    if off_the_land {
        policy.gust_factor_land
    } else {
        policy.gust_factor_sea
    }
}

/// A corrected wind or gust with its notes and what was done, in order.
#[derive(Clone, Debug)]
pub(crate) struct Corrected<T> {
    pub(crate) value: T,
    pub(crate) notes: Notes,
    pub(crate) corrections: Vec<Correction>,
}

/// The mean wind after its sector factor.
pub(crate) fn mean_wind(venue: &Venue, wind: Wind, notes: Notes) -> Corrected<Wind> {
    match sector_factor(venue, wind.from) {
        Some(factor) => Corrected {
            value: Wind {
                speed: Knots(wind.speed.0 * factor),
                from: wind.from,
            },
            notes: Notes {
                sector_factor: Some(factor),
                ..notes
            },
            corrections: vec![Correction::SectorFactor { factor }],
        },
        None => Corrected {
            value: wind,
            notes,
            corrections: Vec::new(),
        },
    }
}

/// A gust estimated from the mean before any sector factor: shelter lowers the mean, never the gust.
pub(crate) fn estimated_gust(
    venue: &Venue,
    policy: &Policy,
    uncorrected: Wind,
    mean: &Corrected<Wind>,
) -> Corrected<Knots> {
    let factor = gust_factor(venue, policy, uncorrected.from);
    let notes = Notes {
        estimated_gust: Some(factor),
        sector_factor: None,
        ..mean.notes
    };
    let gust = Corrected {
        value: Knots(uncorrected.speed.0 * factor),
        notes,
        corrections: vec![Correction::EstimatedGust { factor }],
    };
    raised(gust, mean)
}

/// The source's gust, m/s already turned into knots, after the mean's correction.
pub(crate) fn given_gust(gust: Knots, notes: Notes, mean: Option<&Corrected<Wind>>) -> Corrected<Knots> {
    let gust = Corrected {
        value: gust,
        notes,
        corrections: Vec::new(),
    };
    match mean {
        Some(mean) => raised(gust, mean),
        None => gust,
    }
}

/// A sector factor above 1 raises the gust too; one below never lowers it; and a gust is never below the mean.
fn raised(mut gust: Corrected<Knots>, mean: &Corrected<Wind>) -> Corrected<Knots> {
    if let Some(factor) = mean.notes.sector_factor.filter(|&factor| factor > 1.0) {
        gust.value = Knots(gust.value.0 * factor);
        gust.notes.sector_factor = Some(factor);
        gust.corrections.push(Correction::SectorFactor { factor });
    }
    if gust.value < mean.value.speed {
        gust.value = mean.value.speed;
        gust.notes.gust_raised_to_mean = true;
        gust.corrections.push(Correction::GustRaisedToMean);
    }
    gust
}

/// A gust in m/s as knots.
pub(crate) fn in_knots(gust: Value) -> Knots {
    Knots::from(seaway::MetresPerSecond(gust.number))
}
