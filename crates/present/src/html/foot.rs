//! The foot that every page carries: the skipper decides, warnings, runs with their producers, issued and valid until.

use crate::credit::{attributions, runs_line};
use crate::wording::{clock_from, day_clock, ended, offset};
use advisory::document::{Advisory, ClubName};
use club::Club;

/// The words of the foot.
pub(crate) struct Foot {
    /// Its first sentence, set in bold, and the rest.
    pub caution: (String, String),
    pub warnings: String,
    pub lines: Vec<String>,
}

/// The caution where no advisory is at hand to give its own.
const CAUTION: &str = "The skipper on the water decides on what they see. \
    Official warnings, local rules and licensed practice come first.";
/// The same for warnings.
const WARNINGS: &str =
    "Warnings were not checked here: look at your national weather service before you leave.";

/// The foot for one advisory or a board of them.
pub(crate) fn foot(club: &ClubName, advisories: &[Advisory]) -> Foot {
    let first = advisories.first();
    let mut lines = runs_and_producers(advisories);
    match advisories {
        [] => {}
        [one] => lines.push(format!(
            "Issued {}, valid until {}. Advisory {}. Times are the club’s, {}.",
            day_clock(one.issued_at),
            clock_from(one.valid_until, one.issued_at),
            one.id,
            offset(one.session.leaves)
        )),
        many => lines.extend(validity(many)),
    }
    lines.extend(
        club.contact
            .as_ref()
            .map(|contact| format!("{}: {contact}", club.name)),
    );
    Foot {
        caution: first_sentence(first.map_or(CAUTION, |advisory| &advisory.caution_to_all)),
        warnings: ended(first.map_or(WARNINGS, |advisory| &advisory.warnings)),
        lines,
    }
}

/// The foot of a page that shows no advisory: the club's own words, after these lines.
pub(super) fn foot_without_advisory(club: &Club, lines: Vec<String>) -> Foot {
    let contact = club.contact.as_ref();
    let contact = contact.map(|contact| format!("{}: {contact}", club.name));
    Foot {
        caution: first_sentence(advisory::make::CAUTION_TO_ALL),
        warnings: advisory::make::warnings(club),
        lines: lines.into_iter().chain(contact).collect(),
    }
}

/// The forecast runs, and the sentence each producer's licence asks for.
pub(super) fn runs_and_producers(advisories: &[Advisory]) -> Vec<String> {
    let all: Vec<&Advisory> = advisories.iter().collect();
    runs_line(&all).into_iter().chain(attributions(&all)).collect()
}

fn first_sentence(text: &str) -> (String, String) {
    match text.split_once(". ") {
        Some((first, rest)) => (format!("{first}."), ended(rest)),
        None => (ended(text), String::new()),
    }
}

fn validity(advisories: &[Advisory]) -> Option<String> {
    let issued = advisories.iter().map(|advisory| advisory.issued_at).max()?;
    let valid = advisories.iter().map(|advisory| advisory.valid_until).min()?;
    Some(format!(
        "Last issued {}. The first of these calls is valid until {}; each session’s page has its own. Times are the club’s.",
        day_clock(issued),
        day_clock(valid)
    ))
}

/// The same of one, in one line.
pub(crate) fn origin(advisory: &Advisory) -> String {
    runs_and_producers(std::slice::from_ref(advisory)).join(" ")
}
