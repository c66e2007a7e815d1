//! Cautions in sentences: short and concrete, for a skipper with cold hands.
//!
//! Owns: what is said of each caution and when. Must not know: when one holds.

use crate::document::{Caution, Span};
use crate::plan_words::sail_of;
use crate::words::{compass, duration, hour_minute, knots, local, number};
use chrono_tz::Tz;
use club::{Boat, MooredSide};
use rules::cautions::{Rise, Shift};
use rules::{CautionCode, CautionDetail, CautionFound};
use seaway::{Knots, Metres, NauticalMiles, Wind};

/// One caution of the document.
pub fn caution_of(found: &CautionFound, boat: &Boat, zone: Tz) -> Caution {
    let (from, to) = (local(found.from, zone), local(found.to, zone));
    let (title, words) = caution_words(&found.detail, boat, zone);
    let when = match found.code {
        CautionCode::ReefBeforeLeaving | CautionCode::BerthLeaving => "leaving".to_owned(),
        CautionCode::BerthReturning => "returning".to_owned(),
        CautionCode::EntranceLeaving => format!("leaving {}", hour_minute(from)),
        CautionCode::EntranceReturning => format!("returning {}", hour_minute(from)),
        _ if from == to => hour_minute(from),
        _ => format!("{} to {}", hour_minute(from), hour_minute(to)),
    };
    Caution {
        code: found.code.code().to_owned(),
        when,
        title,
        words,
        span: Span { from, to },
    }
}

fn caution_words(detail: &CautionDetail, boat: &Boat, zone: Tz) -> (String, String) {
    match detail {
        CautionDetail::Reef { row } => {
            let sail = sail_of(boat, *row).map(|sail| sail.words).unwrap_or_default();
            (
                "Reef before leaving".to_owned(),
                format!("{sail}, set up alongside. Shake out after looking at the real wind outside."),
            )
        }
        CautionDetail::Berth {
            towards_pontoon,
            windward_side,
        } => berth_words(*towards_pontoon, *windward_side),
        CautionDetail::Lively { gust, wave } => {
            let mut why: Vec<String> = gust
                .iter()
                .map(|gust| format!("gusts to {} kn", knots(*gust)))
                .collect();
            why.extend(wave.map(|wave| format!("waves to {} m", number(wave.0, 1))));
            (
                "Clip on".to_owned(),
                format!("whenever you leave the cockpit: {}.", why.join(", ")),
            )
        }
        CautionDetail::Thunder { cape_j_per_kg } => (
            "Thunder".to_owned(),
            format!(
                "showers in unstable air (CAPE to {cape_j_per_kg:.0} J/kg). Squalls come faster than a reef goes in: watch the sky, \
                 reef early, be near shelter."
            ),
        ),
        CautionDetail::Fog { visibility } => (
            "Poor visibility".to_owned(),
            match visibility {
                Some(visibility) => format!(
                    "down to {} nm. Know where you are before it comes; foghorn and lights ready.",
                    number(visibility.0 / 1852.0, 1)
                ),
                None => {
                    "the air is nearly as humid as it can be, and fog may form. Foghorn and lights ready."
                        .to_owned()
                }
            },
        ),
        CautionDetail::Cold { feels_like, water } => {
            let mut why: Vec<String> = Vec::new();
            why.extend(feels_like.map(|felt| format!("the wind makes it feel like {:.0} \u{b0}C", felt.0)));
            why.extend(water.map(|water| format!("the water has {:.0} \u{b0}C", water.0)));
            let why = why.join(", ");
            (
                "Cold".to_owned(),
                format!(
                    "{why}. Warm layers and gloves for all; stay aboard: nobody swims long in cold water."
                ),
            )
        }
        CautionDetail::Shore { name, distance } => (
            "Lee shore".to_owned(),
            format!("{name}, {} nm. Keep an offing.", number(distance.0, 1)),
        ),
        CautionDetail::TurnsOnshore { name, distance } => (
            "Onshore shift".to_owned(),
            format!(
                "the wind turns on to {name}, {} nm. Safe on leaving, a lee shore then: be well off in time.",
                number(distance.0, 1)
            ),
        ),
        CautionDetail::AgainstStream { strongest, breaking } => {
            let seas = if *breaking {
                "seas that break: keep out of the strongest of it."
            } else {
                "short, steep seas."
            };
            (
                "Wind against stream".to_owned(),
                format!("up to {} kn of stream against it, {seas}", number(strongest.0, 1)),
            )
        }
        CautionDetail::Entrance {
            name,
            sea,
            against,
            breaking,
        } => entrance_words(name, *sea, *against, *breaking),
        CautionDetail::Building {
            leaving,
            rise,
            shift,
            back_by,
        } => {
            let (title, what) = building_words(*leaving, *rise, *shift, zone);
            let then = match back_by {
                Some(at) => format!("Be back by {}.", hour_minute(local(*at, zone))),
                None if rise.is_some() => "Reef before it comes.".to_owned(),
                None => "Think of the way home before leaving.".to_owned(),
            };
            (title.to_owned(), format!("{what}. {then}"))
        }
        CautionDetail::WayHome {
            distance,
            tacked,
            rise,
            takes_min,
            turn_by,
        } => {
            let way = way_home_words(*distance, *tacked, *rise, *takes_min);
            let then = match turn_by {
                Some(at) => format!("Turn for home by {}.", hour_minute(local(*at, zone))),
                None => "That is longer than the session: do not go so far.".to_owned(),
            };
            ("Home to windward".to_owned(), format!("{way}. {then}"))
        }
        CautionDetail::Deep {
            true_wind_angle,
            keep_off_dead_run,
        } => {
            let where_to = match true_wind_angle {
                Some(angle) => format!("on the leg with the wind {angle:.0}° off the bow"),
                None => "on any course with the wind well abaft the beam".to_owned(),
            };
            let dead_run = if *keep_off_dead_run {
                " Keep this crew off a dead run."
            } else {
                ""
            };
            (
                "Preventer".to_owned(),
                format!("on the boom {where_to}.{dead_run}"),
            )
        }
        CautionDetail::Dusk { sunset, minutes_left } => {
            let sunset = hour_minute(local(*sunset, zone));
            let words = if *minutes_left >= 0.0 {
                format!("alongside {minutes_left:.0} min before sunset at {sunset}. Lights ready.")
            } else {
                format!(
                    "alongside {:.0} min after sunset at {sunset}. Lights on before then.",
                    -minutes_left
                )
            };
            ("Dusk".to_owned(), words)
        }
    }
}

fn berth_words(towards_pontoon: Knots, windward_side: Option<MooredSide>) -> (String, String) {
    let title = if towards_pontoon.0 >= 0.0 {
        "Blown on to the berth"
    } else {
        "Blown off the berth"
    };
    let side = match windward_side {
        Some(MooredSide::Port) => " The windward side of the fairway, going out, is to port.",
        Some(MooredSide::Starboard) => " The windward side of the fairway, going out, is to starboard.",
        None => " The wind blows along the fairway.",
    };
    let words = format!(
        "{} kn across.{side} Propeller stopped before the last line is slipped and until it is aboard.",
        knots(Knots(towards_pontoon.0.abs()))
    );
    (title.to_owned(), words)
}

fn entrance_words(
    name: &str,
    sea: Option<Metres>,
    against: Option<Knots>,
    breaking: bool,
) -> (String, String) {
    let title = match sea {
        Some(_) => "Sea in the entrance",
        None => "Wind against stream in the entrance",
    };
    let mut what: Vec<String> = Vec::new();
    what.extend(sea.map(|sea| format!("{} m of sea", number(sea.0, 1))));
    what.extend(against.map(|rate| format!("{} kn of stream against the wind", number(rate.0, 1))));
    what.extend(breaking.then(|| "the sea breaks".to_owned()));
    let then = if breaking {
        "Do not pass while it does: wait for the stream to slacken."
    } else {
        "Hatches shut, all clipped on, engine ready."
    };
    (title.to_owned(), format!("{name}, {}. {then}", what.join(", ")))
}

/// "12 kn on leaving, 17 by 16:00; from south to west by 15:00".
fn building_words(
    leaving: Wind,
    rise: Option<Rise>,
    shift: Option<Shift>,
    zone: Tz,
) -> (&'static str, String) {
    let by = |at| hour_minute(local(at, zone));
    let veers = shift.map(|shift| shift.degrees > 0.0);
    let title = match (rise.is_some(), veers) {
        (true, Some(true)) => "Building and veering",
        (true, Some(false)) => "Building and backing",
        (false, Some(true)) => "Veering",
        (false, Some(false)) => "Backing",
        (_, None) => "Building",
    };
    let mut what: Vec<String> = Vec::new();
    what.extend(rise.map(|rise| {
        format!(
            "{} kn on leaving, {} by {}",
            knots(leaving.speed),
            knots(rise.to),
            by(rise.at)
        )
    }));
    what.extend(shift.map(|shift| {
        format!(
            "from {} to {} by {}",
            compass(leaving.from),
            compass(shift.to),
            by(shift.at)
        )
    }));
    (title, what.join("; "))
}

/// "4.5 nm, 6.4 in tacks, in 5 kn more wind than on leaving: allow 2 h".
fn way_home_words(distance: NauticalMiles, tacked: NauticalMiles, rise: Knots, takes_min: f64) -> String {
    format!(
        "{} nm, {} in tacks, in {} kn more wind than on leaving: allow {}",
        number(distance.0, 1),
        number(tacked.0, 1),
        knots(rise),
        duration(takes_min)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::{DateTime, Utc};
    use seaway::DirectionFrom;

    fn at(hour: &str) -> DateTime<Utc> {
        format!("2030-05-14T{hour}:00Z").parse().unwrap_or_default()
    }

    fn leaving() -> Wind {
        Wind {
            speed: Knots(12.0),
            from: DirectionFrom::new(0.0),
        }
    }

    #[test]
    fn a_rise_and_a_turn_are_said_with_their_hours() {
        let rise = Rise {
            to: Knots(17.2),
            at: at("16:00"),
        };
        let shift = |degrees: f64| Shift {
            degrees,
            to: DirectionFrom::new(degrees),
            at: at("15:00"),
        };
        let said = |rise, shift| building_words(leaving(), rise, shift, Tz::UTC);
        assert_eq!(
            said(Some(rise), None),
            ("Building", "12 kn on leaving, 17 by 16:00".to_owned())
        );
        assert_eq!(
            said(None, Some(shift(90.0))),
            ("Veering", "from north to east by 15:00".to_owned())
        );
        assert_eq!(said(None, Some(shift(-90.0))).0, "Backing");
        assert_eq!(
            said(Some(rise), Some(shift(-90.0))),
            (
                "Building and backing",
                "12 kn on leaving, 17 by 16:00; from north to west by 15:00".to_owned()
            )
        );
    }

    #[test]
    fn the_entrance_and_the_way_home_are_said_with_their_numbers() {
        let (title, words) = entrance_words("the South Gap", Some(Metres(1.24)), Some(Knots(1.5)), false);
        assert_eq!(title, "Sea in the entrance");
        assert_eq!(
            words,
            "the South Gap, 1.2 m of sea, 1.5 kn of stream against the wind. Hatches shut, all clipped on, engine ready."
        );
        let (title, words) = entrance_words("the South Gap", None, None, true);
        assert_eq!(title, "Wind against stream in the entrance");
        assert!(words.contains("the sea breaks"), "{words}");
        assert_eq!(
            way_home_words(NauticalMiles(4.5), NauticalMiles(6.36), Knots(5.1), 120.0),
            "4.5 nm, 6.4 in tacks, in 5 kn more wind than on leaving: allow 2 h"
        );
    }
}
