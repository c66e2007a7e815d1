//! Building: more wind than on leaving, or wind from elsewhere, before she is back (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView, Rise, Shift};
use crate::verdict::VerdictHour;
use chrono::{DateTime, Utc};
use club::Quantity;
use seaway::quantity::signed_difference;
use seaway::{Knots, Wind};

/// Holds from the first to the last hour, the hour of overrun included, at which the median wind has risen or turned by the policy's
/// since leaving. A rise to less than a wind to sail by is none, and winds too light to sail by have no direction to turn from.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let hours: Vec<Blowing<'_>> = view.from_leaving().filter_map(Blowing::of).collect();
    let (first, later) = hours.split_first()?;
    if later.is_empty() || view.leaving()?.at != first.hour.at {
        return None;
    }
    let policy = view.outing.policy;
    let sails = |wind: Wind| wind.speed >= view.outing.level.light_below;
    let rise = |one: &Blowing<'_>| one.wind.speed.0 - first.wind.speed.0;
    let has_risen = |one: &Blowing<'_>| sails(one.wind) && rise(one) >= policy.rise_kn.0;
    let turn = |one: &Blowing<'_>| signed_difference(first.wind.from.degrees(), one.wind.from.degrees());
    let has_turned =
        |one: &Blowing<'_>| sails(first.wind) && sails(one.wind) && turn(one).abs() >= policy.shift_deg;
    let holding = || later.iter().filter(|one| has_risen(one) || has_turned(one));
    let (from, to) = (holding().next()?.hour.at, holding().next_back()?.hour.at);
    let strongest = most(later.iter().filter(|one| has_risen(one)), rise);
    let furthest = most(later.iter().filter(|one| has_turned(one)), |one| turn(one).abs());
    let complete = strongest.or(furthest).map(|one| one.hour.at);
    let caution = hours
        .iter()
        .find(|one| reaches_caution(view, one))
        .map(|one| one.hour.at);
    Some(CautionFound {
        code: CautionCode::Building,
        from,
        to,
        detail: CautionDetail::Building {
            leaving: first.wind,
            rise: strongest.map(|one| Rise {
                to: one.wind.speed,
                at: one.hour.at,
            }),
            shift: furthest.map(|one| Shift {
                degrees: turn(one),
                to: one.wind.from,
                at: one.hour.at,
            }),
            back_by: caution.or(complete).and_then(|at| last_before(view, at)),
        },
    })
}

/// An hour whose wind is known.
struct Blowing<'a> {
    hour: &'a VerdictHour,
    wind: Wind,
}

impl<'a> Blowing<'a> {
    fn of(hour: &'a VerdictHour) -> Option<Self> {
        Some(Self {
            hour,
            wind: hour.wind?,
        })
    }
}

/// The first of those that have most of something.
fn most<'b, 'a: 'b>(
    of: impl Iterator<Item = &'b Blowing<'a>>,
    amount: impl Fn(&Blowing<'a>) -> f64,
) -> Option<&'b Blowing<'a>> {
    of.reduce(|best, next| if amount(next) > amount(best) { next } else { best })
}

/// The wind itself is past the level's caution, sectors that tighten it set aside.
fn reaches_caution(view: CautionView<'_>, one: &Blowing<'_>) -> bool {
    let limits = &view.outing.level.limits;
    let past = |quantity, speed: Option<Knots>| {
        limits
            .get(&quantity)
            .zip(speed)
            .is_some_and(|(limit, speed)| speed.0 >= limit.caution_at)
    };
    past(Quantity::Mean, Some(one.wind.speed)) || past(Quantity::Gust, one.hour.gust)
}

/// The last hour out before an instant; none where that is leaving itself.
fn last_before(view: CautionView<'_>, at: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let before = view.out().map(|hour| hour.at).filter(|&hour| hour < at).last();
    before.filter(|&hour| hour > view.outing.leaves)
}
