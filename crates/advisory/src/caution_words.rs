//! Cautions in sentences: short and concrete, for a skipper with cold hands.
//!
//! Owns: what is said of each caution, those of `change_words` set aside, and when. Must not know: when one holds.

use crate::change_words::{against_stream, building, entrance, onshore, way_home};
use crate::document::{Caution, Span};
use crate::plan_words::sail_of;
use crate::words::{hour_minute, knots, local, number};
use chrono_tz::Tz;
use club::{Boat, MooredSide};
use rules::{CautionCode, CautionDetail, CautionFound};
use seaway::Knots;

/// One caution of the document.
pub fn caution_of(found: &CautionFound, boat: &Boat, zone: Tz) -> Caution {
    let (from, to) = (local(found.from, zone), local(found.to, zone));
    let (title, words) = caution_words(&found.detail, boat, zone);
    let when = match found.code {
        CautionCode::ReefBeforeLeaving | CautionCode::BerthLeaving => "leaving".to_owned(),
        CautionCode::BerthReturning => "returning".to_owned(),
        CautionCode::EntranceLeaving => format!("out at {}", hour_minute(from)),
        CautionCode::EntranceReturning => format!("in at {}", hour_minute(from)),
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
        CautionDetail::TurnsOnshore { name, distance } => onshore(name, *distance),
        CautionDetail::AgainstStream { strongest, breaking } => against_stream(*strongest, *breaking),
        CautionDetail::Entrance {
            name,
            sea,
            against,
            breaking,
        } => entrance(name, *sea, *against, *breaking),
        CautionDetail::Building {
            leaving,
            rise,
            shift,
            back_by,
        } => building(*leaving, (*rise, *shift), back_by.map(|at| local(at, zone)), zone),
        CautionDetail::WayHome {
            distance,
            tacked,
            rise,
            takes_min,
            turn_by,
        } => way_home(
            (*distance, *tacked),
            *rise,
            *takes_min,
            turn_by.map(|at| local(at, zone)),
        ),
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
