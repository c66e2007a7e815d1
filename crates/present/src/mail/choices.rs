//! What a subscriber has chosen in words, and the mail that asks whether an address wants that.

use super::foot;
use super::letter::{Block, Letter};
use crate::wording::{day_clock, offset};
use advisory::document::{ClubName, LocalTime};
use chrono::Weekday;
use club::{Choices, Club};

/// The choices, a sentence each: "Boats: Dunlin, Merlin."
pub fn choices_in_words(choices: &Choices, club: &Club) -> Vec<String> {
    let levels = club
        .levels
        .iter()
        .map(|level| (level.id.as_str(), level.name.as_str()));
    let boats = club
        .boats
        .iter()
        .map(|boat| (boat.id.as_str(), boat.name.as_str()));
    let days: Vec<&str> = choices.weekdays.iter().map(|day| day_name(*day)).collect();
    let days = match days.as_slice() {
        [] => "Every day of the week.".to_owned(),
        days => format!("Sessions that leave on {}.", days.join(", ")),
    };
    let daily = if choices.only_when_sailing {
        "Daily mail only if a session may sail: go or marginal, and not called off."
    } else {
        "Daily mail whenever a session is to come."
    };
    let changes = if choices.changes {
        "A mail when a call or decision changes after the club’s hour."
    } else {
        "No mail of changes."
    };
    vec![
        named("Levels", "All levels.", &choices.levels, levels.collect()),
        named("Boats", "All boats.", &choices.boats, boats.collect()),
        days,
        daily.to_owned(),
        changes.to_owned(),
    ]
}

/// The names of the keys chosen, in the club's order; a key that the club no longer has stays a key.
fn named(what: &str, all: &str, chosen: &[String], known: Vec<(&str, &str)>) -> String {
    if chosen.is_empty() {
        return all.to_owned();
    }
    let name = |key: &String| {
        let found = known.iter().find(|(id, _)| id == key);
        found.map_or(key.clone(), |(_, name)| (*name).to_owned())
    };
    let names: Vec<String> = chosen.iter().map(name).collect();
    format!("{what}: {}.", names.join(", "))
}

/// A day of the week in full.
pub(crate) fn day_name(day: Weekday) -> &'static str {
    match day {
        Weekday::Mon => "Monday",
        Weekday::Tue => "Tuesday",
        Weekday::Wed => "Wednesday",
        Weekday::Thu => "Thursday",
        Weekday::Fri => "Friday",
        Weekday::Sat => "Saturday",
        Weekday::Sun => "Sunday",
    }
}

/// The mail that asks.
pub(super) fn confirm(
    (club, warnings): (&ClubName, &str),
    link: &str,
    expires_at: LocalTime,
    choices: &[String],
    already: bool,
) -> Letter {
    let name = &club.name;
    let asked = if already {
        format!(
            "Somebody, you we hope, asked {name} to change what this address is sent. The link below puts these choices in \
             place of the old ones:"
        )
    } else {
        format!("Somebody, you we hope, asked {name} to send its mail to this address:")
    };
    let words = if already { "Yes, change it" } else { "Yes, send it" };
    let otherwise = if already {
        "If it was not you, do nothing: all stays as it is."
    } else {
        "If it was not you, do nothing: nothing more is sent."
    };
    let mut blocks = vec![Block::Title("Please confirm".to_owned()), Block::Lead(asked)];
    blocks.extend(choices.iter().map(|choice| Block::Item {
        when: String::new(),
        title: String::new(),
        rest: choice.clone(),
        note: String::new(),
    }));
    blocks.push(Block::Link {
        words: words.to_owned(),
        address: link.to_owned(),
    });
    blocks.push(Block::Words(format!(
        "The link works until {} ({}). {otherwise}",
        day_clock(expires_at),
        offset(expires_at)
    )));
    blocks.extend(foot::without_advisory(club, warnings));
    Letter {
        subject: format!("Please confirm: mail from {name}"),
        club: name.clone(),
        blocks,
        pictures: Vec::new(),
    }
}
