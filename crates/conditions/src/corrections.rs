//! What is done to an interpolated wind, in this order: sector factor, gust where the source gives none, gust of a front, sea
//! breeze, opposing stream.
//!
//! Owns: the corrections. Must not know: how the wind was interpolated, when a front passes or a breeze is planned for, limits.

use crate::hour::Notes;
use crate::prepared::Value;
use crate::sea_breeze::Breeze;
use crate::trace::{Correction, Corrections};
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

/// A value after its corrections, with its notes and what was done, in order.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Corrected<T> {
    pub(crate) value: T,
    pub(crate) notes: Notes,
    pub(crate) corrections: Corrections,
}

impl<T> Corrected<T> {
    /// A value to which nothing has been done.
    pub(crate) fn not_yet(value: T, notes: Notes) -> Self {
        Self {
            value,
            notes,
            corrections: Corrections::default(),
        }
    }
}

/// The mean wind after its sector factor.
pub(crate) fn mean_wind(venue: &Venue, wind: Wind, notes: Notes) -> Corrected<Wind> {
    let mut mean = Corrected::not_yet(wind, notes);
    if let Some(factor) = sector_factor(venue, wind.from) {
        mean.value.speed = Knots(wind.speed.0 * factor);
        mean.notes.sector_factor = Some(factor);
        mean.corrections.push(Correction::SectorFactor { factor });
    }
    mean
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
    let mut gust = Corrected::not_yet(Knots(uncorrected.speed.0 * factor), notes);
    gust.corrections.push(Correction::EstimatedGust { factor });
    raised(gust, mean)
}

/// The source's gust, m/s already turned into knots, after the mean's correction.
pub(crate) fn given_gust(gust: Knots, notes: Notes, mean: Option<&Corrected<Wind>>) -> Corrected<Knots> {
    let gust = Corrected::not_yet(gust, notes);
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

/// A gust while a front passes at which the wind turned so far, degrees.
pub(crate) fn front_gust(policy: &Policy, mut gust: Corrected<Knots>, veer_deg: f64) -> Corrected<Knots> {
    let factor = policy.front_gust_factor;
    gust.value = Knots(gust.value.0 * factor);
    gust.notes.front = Some(factor);
    gust.corrections.push(Correction::Front { factor, veer_deg });
    gust
}

/// The mean to plan for while a sea breeze is: onshore, where it is more than the forecast's.
pub(crate) fn breeze_mean(policy: &Policy, breeze: Breeze, mut mean: Corrected<Wind>) -> Corrected<Wind> {
    let planned = policy.sea_breeze_mean_kn;
    if planned > mean.value.speed {
        mean.value = Wind {
            speed: planned,
            from: breeze.onshore_from,
        };
        mean.notes.sea_breeze = true;
        mean.corrections.push(planned_breeze(planned, breeze));
    }
    mean
}

/// The gust to plan for then; never below the mean.
pub(crate) fn breeze_gust(
    policy: &Policy,
    breeze: Breeze,
    mean: Wind,
    mut gust: Corrected<Knots>,
) -> Corrected<Knots> {
    let planned = policy.sea_breeze_gust_kn.max(mean.speed);
    if planned > gust.value {
        gust.value = planned;
        gust.notes.sea_breeze = true;
        gust.corrections.push(planned_breeze(planned, breeze));
    }
    gust
}

fn planned_breeze(planned: Knots, breeze: Breeze) -> Correction {
    Correction::SeaBreeze {
        planned_kn: planned.0,
        warmer_c: breeze.warmer_c,
    }
}

/// Adds the part of a stream that runs against the wind to what the sails feel.
pub(crate) fn add_opposing<T>(
    mut value: Corrected<T>,
    opposing: Knots,
    speed: impl Fn(&mut T) -> &mut Knots,
) -> Corrected<T> {
    speed(&mut value.value).0 += opposing.0;
    value.notes.opposing_stream = Some(opposing);
    value
        .corrections
        .push(Correction::OpposingStream { knots: opposing.0 });
    value
}

/// A gust in m/s as knots.
pub(crate) fn in_knots(gust: Value) -> Knots {
    Knots::from(seaway::MetresPerSecond(gust.number))
}
