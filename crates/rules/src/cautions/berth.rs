//! Berth: how the wind sets her on or off the pontoon, leaving and returning, and which side of the fairway is to windward.
//!
//! In an aisle one keeps to the windward side, for the leeward side leaves no room; the propeller is stopped before the last line
//! is slipped and until it is aboard (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};
use chrono::{DateTime, Utc};
use club::{Berth, MooredSide};
use seaway::{Bearing, Knots, Wind};

/// A wind within this of the fairway's line has no windward side, degrees (common practice, no source).
const ALONG_THE_FAIRWAY_DEG: f64 = 10.0;

/// On leaving.
pub fn leaving(view: CautionView<'_>) -> Option<CautionFound> {
    at(view, view.outing.leaves, CautionCode::BerthLeaving)
}

/// On returning.
pub fn returning(view: CautionView<'_>) -> Option<CautionFound> {
    at(view, view.outing.alongside, CautionCode::BerthReturning)
}

fn at(view: CautionView<'_>, when: DateTime<Utc>, code: CautionCode) -> Option<CautionFound> {
    let berth = view.outing.venue.berth.as_ref()?;
    let wind = view.hours.iter().find(|hour| hour.at == when)?.wind?;
    let towards_pontoon = blown_on(berth, wind);
    if towards_pontoon.0.abs() < view.outing.policy.berth_from_kn.0 {
        return None;
    }
    let detail = CautionDetail::Berth {
        towards_pontoon,
        windward_side: windward_side(berth, wind),
    };
    Some(CautionFound {
        code,
        from: when,
        to: when,
        detail,
    })
}

/// The way from the boat to the pontoon she lies against.
fn pontoon_bearing(berth: &Berth) -> Bearing {
    let turn = match berth.moored {
        MooredSide::Port => -90.0,
        MooredSide::Starboard => 90.0,
    };
    Bearing::new(berth.heading.degrees() + turn)
}

/// The side of the fairway, looking the way out, that the wind comes from.
fn windward_side(berth: &Berth, wind: Wind) -> Option<MooredSide> {
    let off = wind.from.off(berth.fairway);
    let along = off.abs() < ALONG_THE_FAIRWAY_DEG || off.abs() > 180.0 - ALONG_THE_FAIRWAY_DEG;
    (!along).then_some(if off < 0.0 {
        MooredSide::Port
    } else {
        MooredSide::Starboard
    })
}

/// Component across the boat that blows her on to the pontoon, kn; negative blows her off.
pub fn blown_on(berth: &Berth, wind: Wind) -> Knots {
    wind.component_towards(pontoon_bearing(berth))
}

#[cfg(test)]
mod tests {
    use super::*;
    use seaway::DirectionFrom;

    #[test]
    fn a_west_wind_blows_a_boat_heading_north_with_port_side_to_off_her_pontoon() {
        // Heading north, pontoon to the west (port): wind from the west pushes her east, off it, with its whole strength.
        let berth = Berth {
            heading: Bearing::new(0.0),
            moored: MooredSide::Port,
            fairway: Bearing::new(180.0),
        };
        let wind = Wind {
            speed: Knots(10.0),
            from: DirectionFrom::new(270.0),
        };
        assert!((blown_on(&berth, wind).0 + 10.0).abs() < 1e-9);
        // Going out to the south, west is on the starboard hand.
        assert_eq!(windward_side(&berth, wind), Some(MooredSide::Starboard));
        // From 45 degrees off, the component is 10 cos 45 = 7.07 kn.
        let wind = Wind {
            speed: Knots(10.0),
            from: DirectionFrom::new(45.0),
        };
        assert!((blown_on(&berth, wind).0 - 7.071).abs() < 1e-3);
    }

    #[test]
    fn wind_along_the_fairway_has_no_windward_side() {
        let berth = Berth {
            heading: Bearing::new(0.0),
            moored: MooredSide::Port,
            fairway: Bearing::new(180.0),
        };
        let wind = Wind {
            speed: Knots(10.0),
            from: DirectionFrom::new(355.0),
        };
        assert_eq!(windward_side(&berth, wind), None);
    }
}
