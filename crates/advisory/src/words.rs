//! Numbers, times and winds in words.

use chrono::{DateTime, FixedOffset, Utc};
use chrono_tz::Tz;
use club::Limit;
use seaway::{DirectionFrom, Knots};

/// A moment with the club's offset at that moment.
pub fn local(at: DateTime<Utc>, zone: Tz) -> DateTime<FixedOffset> {
    at.with_timezone(&zone).fixed_offset()
}

/// "14:05".
pub fn hour_minute(at: DateTime<FixedOffset>) -> String {
    at.format("%H:%M").to_string()
}

/// "13 May 00:00 UTC": a run is named by its time in UTC.
pub fn run_words(reference: DateTime<Utc>) -> String {
    reference.format("%-d %b %H:%M UTC").to_string()
}

/// The compass in words, by eighths of a turn: "south-west".
pub fn compass(from: DirectionFrom) -> &'static str {
    const POINTS: [&str; 8] = [
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    ];
    POINTS[((from.degrees() + 22.5) / 45.0) as usize % 8]
}

/// A number with up to so many decimals, trailing zeros left out.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A value beside its limits: as few decimals as the unit is used to, and more where rounding would move it over a limit.
pub fn beside_limits(value: f64, unit: &str, limit: Limit) -> String {
    let usual = match unit {
        "m" if limit.stop_at < 100.0 => 1,
        "°C" => 1,
        "" => 3,
        _ => 0,
    };
    let side = |v: f64| {
        (
            v >= limit.caution_at,
            v >= limit.stop_at,
            v <= limit.caution_at,
            v <= limit.stop_at,
        )
    };
    let honest = |decimals: &usize| {
        format!("{value:.decimals$}", decimals = *decimals)
            .parse::<f64>()
            .is_ok_and(|shown| side(shown) == side(value))
    };
    let decimals = (usual..usual + 3).find(honest).unwrap_or(usual + 3);
    number(value, decimals)
}

/// "22 kn", "1.5 m", "0.04" for a ratio.
pub fn with_unit(text: &str, unit: &str) -> String {
    if unit.is_empty() {
        text.to_owned()
    } else {
        format!("{text} {unit}")
    }
}

/// A fraction of the headsail: "½", or per cent where it is none of the usual ones.
pub fn fraction(of: f64) -> String {
    const USUAL: [(f64, &str); 7] = [
        (0.25, "¼"),
        (1.0 / 3.0, "⅓"),
        (0.5, "½"),
        (2.0 / 3.0, "⅔"),
        (0.75, "¾"),
        (0.2, "⅕"),
        (0.8, "⅘"),
    ];
    let near = USUAL.iter().find(|(value, _)| (value - of).abs() < 0.011);
    near.map_or_else(|| format!("{:.0} %", of * 100.0), |(_, sign)| (*sign).to_owned())
}

/// What is set: "2 reefs, ½ headsail", "full main and headsail".
pub fn sail(reefs: u8, headsail: f64) -> String {
    let main = match reefs {
        0 => "full main".to_owned(),
        1 => "1 reef".to_owned(),
        more => format!("{more} reefs"),
    };
    if headsail <= 0.0 {
        format!("{main}, no headsail")
    } else if headsail >= 0.995 && reefs == 0 {
        "full main and headsail".to_owned()
    } else if headsail >= 0.995 {
        format!("{main}, full headsail")
    } else {
        format!("{main}, {} headsail", fraction(headsail))
    }
}

/// Knots without decimals, as wind is spoken of.
pub fn knots(speed: Knots) -> String {
    format!("{:.0}", speed.0)
}

/// "2 h", "1 h 50 min", "40 min".
pub fn duration(minutes: f64) -> String {
    let whole = minutes.round();
    let (hours, rest) = ((whole / 60.0).floor(), whole.rem_euclid(60.0));
    match (hours > 0.0, rest > 0.0) {
        (true, true) => format!("{hours:.0} h {rest:.0} min"),
        (true, false) => format!("{hours:.0} h"),
        (false, _) => format!("{rest:.0} min"),
    }
}

/// A share in words: "8 of 30 members".
pub fn of_members(count: u16, members: u16) -> String {
    let noun = if members == 1 { "member" } else { "members" };
    format!("{count} of {members} {noun}")
}

/// A probability in whole per cent.
pub fn per_cent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_never_rounded_over_its_limit() {
        let limit = Limit {
            caution_at: 17.0,
            stop_at: 22.5,
        };
        assert_eq!(beside_limits(22.46, "kn", limit), "22");
        assert_eq!(beside_limits(16.7, "kn", limit), "16.7");
        assert_eq!(beside_limits(22.5, "kn", limit), "22.5");
        assert_eq!(beside_limits(26.973, "kn", limit), "27");
    }

    #[test]
    fn sails_are_said_as_a_skipper_says_them() {
        assert_eq!(sail(0, 1.0), "full main and headsail");
        assert_eq!(sail(2, 0.5), "2 reefs, ½ headsail");
        assert_eq!(sail(1, 0.6), "1 reef, 60 % headsail");
        assert_eq!(sail(3, 0.0), "3 reefs, no headsail");
    }

    #[test]
    fn durations_are_said_in_hours_and_minutes() {
        let table = [
            (120.0, "2 h"),
            (110.4, "1 h 50 min"),
            (40.0, "40 min"),
            (59.6, "1 h"),
        ];
        for (minutes, words) in table {
            assert_eq!(duration(minutes), words);
        }
    }

    #[test]
    fn directions_are_named_by_where_they_come_from() {
        assert_eq!(compass(DirectionFrom::new(350.0)), "north");
        assert_eq!(compass(DirectionFrom::new(225.0)), "south-west");
        assert_eq!(compass(DirectionFrom::new(337.6)), "north");
    }
}
