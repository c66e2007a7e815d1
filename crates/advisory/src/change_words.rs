//! Cautions of what changes on the way, in sentences: shores, stream, entrance, rising and turning wind, the way home.
//!
//! Owns: what is said of them. Must not know: when one holds.

use crate::document::LocalTime;
use crate::words::{compass, duration, hour_minute, knots, local, number};
use chrono_tz::Tz;
use rules::cautions::{Rise, Shift};
use seaway::{Knots, Metres, NauticalMiles, Wind};

/// Title and words, as of every caution here.
type Said = (String, String);

/// A shore that comes to leeward.
pub fn onshore(name: &str, distance: NauticalMiles) -> Said {
    let words = format!(
        "the wind turns on to {name}, {} nm. Safe on leaving, a lee shore then: be well off in time.",
        number(distance.0, 1)
    );
    ("Onshore shift".to_owned(), words)
}

/// Wind against stream.
pub fn against_stream(strongest: Knots, breaking: bool) -> Said {
    let seas = if breaking {
        "seas that break: keep out of the strongest of it."
    } else {
        "short, steep seas."
    };
    let words = format!("up to {} kn of stream against it, {seas}", number(strongest.0, 1));
    ("Wind against stream".to_owned(), words)
}

/// The entrance at its passage.
pub fn entrance(name: &str, sea: Option<Metres>, against: Option<Knots>, breaking: bool) -> Said {
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

/// A wind that rises or turns, and when to be back.
pub fn building(
    leaving: Wind,
    (rise, shift): (Option<Rise>, Option<Shift>),
    back_by: Option<LocalTime>,
    zone: Tz,
) -> Said {
    let veers = shift.map(|shift| shift.degrees > 0.0);
    let title = match (rise.is_some(), veers) {
        (true, Some(true)) => "Building and veering",
        (true, Some(false)) => "Building and backing",
        (false, Some(true)) => "Veering",
        (false, Some(false)) => "Backing",
        (_, None) => "Building",
    };
    let by = |at| hour_minute(local(at, zone));
    let mut what: Vec<String> = Vec::new();
    what.extend(rise.map(|rise| {
        let (now, then) = (knots(leaving.speed), knots(rise.to));
        format!("{now} kn on leaving, {then} by {}", by(rise.at))
    }));
    what.extend(shift.map(|shift| {
        let (now, then) = (compass(leaving.from), compass(shift.to));
        format!("from {now} to {then} by {}", by(shift.at))
    }));
    let then = match back_by {
        Some(at) => format!("Be back by {}.", hour_minute(at)),
        None if rise.is_some() => "Reef before it comes.".to_owned(),
        None => "Think of the way home before leaving.".to_owned(),
    };
    (title.to_owned(), format!("{}. {then}", what.join("; ")))
}

/// The way home to windward, straight and in tacks, and when to turn.
pub fn way_home(
    (distance, tacked): (NauticalMiles, NauticalMiles),
    rise: Knots,
    takes_min: f64,
    turn_by: Option<LocalTime>,
) -> Said {
    let way = format!(
        "{} nm, {} in tacks, in {} kn more wind than on leaving: allow {}",
        number(distance.0, 1),
        number(tacked.0, 1),
        knots(rise),
        duration(takes_min)
    );
    let then = match turn_by {
        Some(at) => format!("Turn for home by {}.", hour_minute(at)),
        None => "That is longer than the session: do not go so far.".to_owned(),
    };
    ("Home to windward".to_owned(), format!("{way}. {then}"))
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
        let said = |rise, shift, back_by: Option<&str>| {
            let back_by = back_by.map(|hour| local(at(hour), Tz::UTC));
            let (title, words) = building(leaving(), (rise, shift), back_by, Tz::UTC);
            format!("{title}: {words}")
        };
        for (rise, shift, back_by, words) in [
            (
                Some(rise),
                None,
                Some("15:00"),
                "Building: 12 kn on leaving, 17 by 16:00. Be back by 15:00.",
            ),
            (
                Some(rise),
                None,
                None,
                "Building: 12 kn on leaving, 17 by 16:00. Reef before it comes.",
            ),
            (
                None,
                Some(shift(90.0)),
                Some("14:00"),
                "Veering: from north to east by 15:00. Be back by 14:00.",
            ),
            (
                None,
                Some(shift(-90.0)),
                None,
                "Backing: from north to west by 15:00. Think of the way home before leaving.",
            ),
            (
                Some(rise),
                Some(shift(-90.0)),
                Some("15:00"),
                "Building and backing: 12 kn on leaving, 17 by 16:00; from north to west by 15:00. Be back by 15:00.",
            ),
        ] {
            assert_eq!(said(rise, shift, back_by), words);
        }
    }

    #[test]
    fn the_entrance_and_the_way_home_are_said_with_their_numbers() {
        let (title, words) = entrance("the South Gap", Some(Metres(1.24)), Some(Knots(1.5)), false);
        assert_eq!(title, "Sea in the entrance");
        assert_eq!(
            words,
            "the South Gap, 1.2 m of sea, 1.5 kn of stream against the wind. Hatches shut, all clipped on, engine ready."
        );
        let (title, words) = entrance("the South Gap", None, None, true);
        assert_eq!(title, "Wind against stream in the entrance");
        assert!(words.contains("the sea breaks"), "{words}");
        let home = |turn_by| {
            let miles = (NauticalMiles(4.5), NauticalMiles(6.36));
            way_home(miles, Knots(5.1), 120.0, turn_by).1
        };
        let way = "4.5 nm, 6.4 in tacks, in 5 kn more wind than on leaving: allow 2 h.";
        assert_eq!(
            home(Some(local(at("14:00"), Tz::UTC))),
            format!("{way} Turn for home by 14:00.")
        );
        assert!(home(None).starts_with(way) && home(None).contains("longer than the session"));
    }
}
