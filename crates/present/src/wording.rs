//! Times, directions and numbers in words, the same on every surface. Times keep the offset the document gives.

use advisory::document::{LocalTime, Sail, Session, Span};
use chrono::{DateTime, Utc};

/// The headings of the two lists of lessons, and whether the list is of those for light air.
pub(crate) const LESSONS: [(&str, bool); 2] =
    [("Lessons these hours suit", false), ("For the light air", true)];

/// "09:30".
pub(crate) fn clock(at: LocalTime) -> String {
    at.format("%H:%M").to_string()
}

/// "Sat 17 Oct".
pub(crate) fn day_short(at: LocalTime) -> String {
    at.format("%a %-d %b").to_string()
}

/// "Saturday 17 October".
pub(crate) fn day_long(at: LocalTime) -> String {
    at.format("%A %-d %B").to_string()
}

/// "Sat 17 Oct 09:30".
pub(crate) fn day_clock(at: LocalTime) -> String {
    format!("{} {}", day_short(at), clock(at))
}

/// "Sat 09:30": for a time within the week.
pub(crate) fn weekday_clock(at: LocalTime) -> String {
    at.format("%a %H:%M").to_string()
}

/// "Fri 16 Oct 18:00 UTC": runs are named in UTC everywhere.
pub(crate) fn run_time(run: DateTime<Utc>) -> String {
    run.format("%a %-d %b %H:%M UTC").to_string()
}

/// "UTC+01:00".
pub(crate) fn offset(at: LocalTime) -> String {
    format!("UTC{}", at.offset())
}

/// A time named with its day where that is another day than the one spoken of.
pub(crate) fn clock_from(at: LocalTime, day: LocalTime) -> String {
    if at.date_naive() == day.date_naive() {
        clock(at)
    } else {
        weekday_clock(at)
    }
}

/// "09:30 to 17:00", with the day where it ends on another one.
pub(crate) fn from_to(from: LocalTime, to: LocalTime) -> String {
    format!("{} to {}", clock(from), clock_from(to, from))
}

/// "09:30 to 17:00"; one time when the stretch has no length.
pub(crate) fn span(stretch: Span) -> String {
    if stretch.from == stretch.to {
        clock(stretch.from)
    } else {
        from_to(stretch.from, stretch.to)
    }
}

/// "Dunlin, First days, Pellock Sound".
pub(crate) fn session_line(session: &Session) -> String {
    format!(
        "{}, {}, {}",
        session.boat.name, session.level.name, session.venue.name
    )
}

/// A whole number for a chart: 16.6 is "17".
pub(crate) fn whole(value: f64) -> String {
    // Adding zero turns the minus zero that rounding can leave into a plain one.
    format!("{:.0}", value.round() + 0.0)
}

/// One decimal, left out where it is nought: "16.6", "17".
pub(crate) fn tenth(value: f64) -> String {
    let text = format!("{:.1}", (value * 10.0).round() / 10.0 + 0.0);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A height with its decimal always: "0.9", "1.0".
pub(crate) fn metres(value: f64) -> String {
    format!("{:.1}", (value * 10.0).round() / 10.0 + 0.0)
}

/// The nearest of the sixteen points of the compass: "SW", "NNE".
pub(crate) fn compass_point(degrees: f64) -> &'static str {
    const POINTS: [&str; 16] = [
        "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
    ];
    POINTS[(seaway::quantity::normalise_degrees(degrees) / 22.5).round() as usize % 16]
}

/// "SW 225": the point with the degrees true it stands for.
pub(crate) fn direction(degrees: f64) -> String {
    let whole_degrees = (seaway::quantity::normalise_degrees(degrees).round() as u32) % 360;
    format!("{} {whole_degrees:03}", compass_point(degrees))
}

/// The fraction of a headsail: "¾", "full", "60 %".
pub(crate) fn fraction(of_one: f64) -> String {
    const NAMED: [(f64, &str); 7] = [
        (0.0, "no"),
        (0.25, "¼"),
        (1.0 / 3.0, "⅓"),
        (0.5, "½"),
        (2.0 / 3.0, "⅔"),
        (0.75, "¾"),
        (1.0, "full"),
    ];
    let named = NAMED.iter().find(|(value, _)| (value - of_one).abs() < 0.005);
    named.map_or_else(
        || format!("{} %", whole(of_one * 100.0)),
        |(_, name)| (*name).to_owned(),
    )
}

/// The main in few words: "full main", "1 reef", "2 reefs".
pub(crate) fn main_words(sail: &Sail) -> String {
    match sail.reefs {
        0 => "full main".to_owned(),
        1 => "1 reef".to_owned(),
        many => format!("{many} reefs"),
    }
}

/// The headsail in few words: "½ headsail".
pub(crate) fn headsail_words(sail: &Sail) -> String {
    format!("{} headsail", fraction(sail.headsail))
}

/// "first", "second", ...; further ones as "5th".
pub(crate) fn ordinal(number: u8) -> String {
    match number {
        1 => "first".to_owned(),
        2 => "second".to_owned(),
        3 => "third".to_owned(),
        4 => "fourth".to_owned(),
        more => format!("{more}th"),
    }
}

/// The text with a full stop, unless it is empty or has its end.
pub(crate) fn ended(text: &str) -> String {
    let trimmed = text.trim();
    if trimmed.is_empty() || trimmed.ends_with(['.', '!', '?', ':']) {
        trimmed.to_owned()
    } else {
        format!("{trimmed}.")
    }
}

/// What follows a bold title: a colon and the words, unless they bring their own comma.
pub(crate) fn rest_of_sentence(words: &str) -> String {
    let words = ended(words);
    match words.chars().next() {
        None => ".".to_owned(),
        Some(',' | ';' | ':' | '.') => words,
        Some(_) => format!(": {words}"),
    }
}

/// Foreign text without signs that steer a terminal or break a line: control signs, line ends, and signs that turn the direction of
/// writing become a replacement sign.
pub(crate) fn harmless(text: &str) -> String {
    let steers = |sign: char| {
        sign.is_control()
            || matches!(sign, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    text.chars()
        .map(|sign| if steers(sign) { '\u{fffd}' } else { sign })
        .collect()
}

/// The text cut to so many signs, with an ellipsis where something was cut.
pub(crate) fn cut(text: &str, signs: usize) -> String {
    if text.chars().count() <= signs {
        return text.to_owned();
    }
    let kept: String = text.chars().take(signs.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: the compass card; 16 points of 22.5 degrees (common practice).
    #[test]
    fn directions_name_the_nearest_point() {
        let table = [
            (0.0, "N 000"),
            (11.24, "N 011"),
            (11.26, "NNE 011"),
            (225.0, "SW 225"),
            (348.9, "N 349"),
            (359.7, "N 000"),
            (-45.0, "NW 315"),
        ];
        for (degrees, words) in table {
            assert_eq!(direction(degrees), words, "{degrees} degrees");
        }
    }

    #[test]
    fn numbers_are_rounded_once_and_never_minus_nought() {
        for (value, words) in [
            (16.64, "16.6"),
            (16.96, "17"),
            (-0.04, "0"),
            (0.0, "0"),
            (19.5, "19.5"),
        ] {
            assert_eq!(tenth(value), words, "{value}");
        }
        assert_eq!(whole(-0.2), "0");
        assert_eq!(whole(16.5), "17");
    }

    #[test]
    fn fractions_of_a_headsail_have_their_signs() {
        for (value, words) in [
            (1.0, "full"),
            (0.75, "¾"),
            (0.333, "⅓"),
            (0.6, "60 %"),
            (0.0, "no"),
        ] {
            assert_eq!(fraction(value), words, "{value}");
        }
    }

    #[test]
    fn a_sentence_gets_one_end() {
        assert_eq!(ended(" Back by two "), "Back by two.");
        assert_eq!(ended("Back by two."), "Back by two.");
        assert_eq!(rest_of_sentence(", 8 kn across"), ", 8 kn across.");
        assert_eq!(
            rest_of_sentence("to leave the cockpit."),
            ": to leave the cockpit."
        );
        assert_eq!(cut("Skippers in training", 10), "Skippers…");
    }
}
