//! The club in plain lines, for whoever checks a club file: what was understood, and where limits fall in the tables.
//!
//! Owns: the order of the lines that `check` prints, the club's and the sessions' own. Must not know: files, terminals,
//! forecasts; the rooms beside this one put the other parts into words.

use crate::model::{Club, SessionRule};
use crate::readable_boats::boat_lines;
use crate::readable_levels::level_lines;
use crate::readable_policy::policy_lines;
use crate::readable_venues::venue_lines;

/// The whole club, a line to each thing that was understood.
pub fn readable_checks(club: &Club) -> Vec<String> {
    let mut lines = club_lines(club);
    let section = |lines: &mut Vec<String>, head: &str| lines.extend([String::new(), head.to_owned()]);
    section(&mut lines, "Policy");
    lines.extend(policy_lines(&club.policy));
    section(&mut lines, "Venues");
    let venues = club.venues.iter();
    lines.extend(venues.flat_map(|venue| venue_lines(venue, club.time_zone)));
    section(&mut lines, "Boats");
    lines.extend(club.boats.iter().flat_map(|boat| boat_lines(boat, &club.levels)));
    section(&mut lines, "Levels");
    lines.extend(club.levels.iter().flat_map(level_lines));
    section(&mut lines, "Sessions");
    lines.extend(club.sessions.iter().map(|session| session_line(session, club)));
    lines
}

fn club_lines(club: &Club) -> Vec<String> {
    let decides = format!(
        "{} ({}): times in {}, decides at {} the day before",
        club.name,
        club.slug,
        club.time_zone,
        club.decides_at.format("%H:%M")
    );
    let openings = match club.sails {
        Some((from, to)) => format!(
            "openings are looked for from {} to {}, by daylight",
            from.format("%H:%M"),
            to.format("%H:%M")
        ),
        None => "openings are looked for at any hour of daylight".to_owned(),
    };
    let mail = match club.digest_at {
        Some(at) => format!("subscribers are sent their daily mail at {}", at.format("%H:%M")),
        None => "no mail is sent: there is no digest_at".to_owned(),
    };
    vec![decides, openings, mail]
}

fn session_line(session: &SessionRule, club: &Club) -> String {
    let name_of = |name: Option<&String>| name.map_or("?", String::as_str).to_owned();
    let repeat = session
        .recurrence
        .as_ref()
        .map_or(String::new(), |rule| format!(", then {rule}"));
    format!(
        "  {}: {}, {}, {}; first {} for {} min{repeat}",
        session.id,
        name_of(club.venues.get(session.venue).map(|venue| &venue.name)),
        name_of(club.boats.get(session.boat).map(|boat| &boat.name)),
        name_of(club.levels.get(session.level).map(|level| &level.name)),
        session.leaves.format("%a %Y-%m-%d %H:%M"),
        session.lasts.num_minutes()
    )
}

/// A count with its noun.
pub(crate) fn count(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}
