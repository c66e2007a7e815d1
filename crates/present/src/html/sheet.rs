//! The words, marks and drawings of the notice-board sheet: one day on A4, in one black ink.
//!
//! Owns: how many sessions share a page, and how closely they are set. Two sessions have a drawing each; three share a
//! page without drawings; more go on further pages. Must not know: how a page is printed (the style sheet does).

use super::board::{Carried, plan};
use super::foot::{Foot, foot, runs_and_producers};
use super::nav::{NavLink, nav};
use crate::chart::{self, Breadth};
use crate::marks::call_mark;
use crate::shown::{Shown, decides, in_order_of_leaving};
use crate::wording::{clock, day_clock, day_long, day_short, ended, from_to, rest_of_sentence};
use advisory::document::{Advisory, CallWord, Caution, ClubName};
use advisory::{Decided, Decision};
use askama::Template;
use chrono::{DateTime, NaiveDate, Utc};

/// Letters of reasons and cautions on a page of drawings, above which it is set closer.
const ROOMY: usize = 600;
/// And above which it has no drawings.
const TOO_FULL: usize = 1250;
/// Reasons, the worst first, and things not known that a sheet has room for; the session's page has all.
const REASONS: usize = 3;
const NOT_KNOWN: usize = 3;

/// The page.
#[derive(Template)]
#[template(path = "sheet.html")]
pub(super) struct SheetPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    /// None: no session is still to come.
    day: Option<String>,
    others: Vec<(NaiveDate, String)>,
    leaves: Vec<Leaf>,
    foot: Foot,
}

/// A page of paper.
struct Leaf {
    set: &'static str,
    number: Option<String>,
    head: [String; 2],
    sessions: Vec<Entry>,
    until: String,
}

/// One session.
struct Entry {
    mark: String,
    call: &'static str,
    light: bool,
    times: String,
    who: String,
    why: String,
    way_out: Option<String>,
    sure: Option<&'static str>,
    plan: Vec<Carried>,
    pen: Pen,
    until: String,
    ladder: Option<String>,
    cautions: Vec<(String, String)>,
}

/// What is ticked by hand, or by the club's decision.
struct Pen {
    before: &'static str,
    /// The hour it decides by; once decided, the box is crossed in its place.
    by: Option<String>,
    boxes: [(&'static str, bool); 3],
    more: Option<String>,
}

/// Fills the page for a day; its sessions are picked from those given.
pub(super) fn page<'a>(
    club: &'a ClubName,
    day: Option<NaiveDate>,
    advisories: &[Advisory],
    decisions: &[Decision],
    (now, demo): (DateTime<Utc>, Option<&'a str>),
    address: Option<&str>,
) -> SheetPage<'a> {
    let ordered = in_order_of_leaving(advisories, decisions, now);
    let of_day: Vec<Shown<'_>> = ordered
        .iter()
        .filter(|shown| Some(shown.date()) == day)
        .copied()
        .collect();
    let shown: Vec<Advisory> = of_day.iter().map(|shown| shown.advisory.clone()).collect();
    let address = day.map(|day| {
        format!(
            "{}/sheet/{day}",
            address.unwrap_or_default().trim_end_matches('/')
        )
    });
    SheetPage {
        club: &club.name,
        demo,
        nav: nav("/sheet"),
        day: of_day
            .first()
            .map(|first| day_long(first.advisory.session.leaves)),
        others: others(&ordered, day),
        leaves: leaves(&of_day, &address.unwrap_or_default()),
        foot: Foot {
            lines: runs_and_producers(&shown),
            ..foot(club, &shown)
        },
    }
}

/// The other days that have a sheet.
fn others(ordered: &[Shown<'_>], day: Option<NaiveDate>) -> Vec<(NaiveDate, String)> {
    let mut days: Vec<_> = ordered
        .iter()
        .map(|shown| (shown.date(), day_short(shown.advisory.session.leaves)))
        .collect();
    days.dedup();
    days.retain(|(date, _)| Some(*date) != day);
    days
}

fn leaves(of_day: &[Shown<'_>], address: &str) -> Vec<Leaf> {
    let a_page = if of_day.len() == 3 { 3 } else { 2 };
    let pages = of_day.len().div_ceil(a_page);
    let leaf = |(index, sessions): (usize, &[Shown<'_>])| {
        let mut entries: Vec<Entry> = sessions
            .iter()
            .zip(index * a_page..)
            .map(|(shown, number)| entry(*shown, number))
            .collect();
        let set = set(&entries);
        if set == "three" {
            entries.iter_mut().for_each(|entry| entry.ladder = None);
        }
        Leaf {
            set,
            number: (pages > 1).then(|| format!("Page {} of {pages}", index + 1)),
            head: head(sessions),
            until: until(sessions, address),
            sessions: entries,
        }
    };
    of_day.chunks(a_page).enumerate().map(leaf).collect()
}

/// How closely a page is set: by what must stand on it.
fn set(entries: &[Entry]) -> &'static str {
    let letters = |entry: &Entry| {
        let cautions = entry
            .cautions
            .iter()
            .map(|(title, words)| title.len() + words.len());
        entry.why.len() + cautions.sum::<usize>()
    };
    match (entries.len(), entries.iter().map(letters).sum::<usize>()) {
        (0..=2, ..=ROOMY) => "roomy",
        (0..=2, ..=TOO_FULL) => "close",
        _ => "three",
    }
}

/// Where, and when the sun sets; when the sheet was issued.
fn head(sessions: &[Shown<'_>]) -> [String; 2] {
    let mut venues: Vec<&str> = sessions
        .iter()
        .map(|shown| shown.advisory.session.venue.name.as_str())
        .collect();
    venues.sort_unstable();
    venues.dedup();
    let sunset = sessions.iter().find_map(|shown| shown.advisory.sunset);
    let sunset = sunset
        .map(|sunset| format!(", sunset {}", clock(sunset)))
        .unwrap_or_default();
    let issued = sessions.iter().map(|shown| shown.advisory.issued_at).max();
    [
        format!("{}{sunset}", venues.join(", ")),
        issued
            .map(|issued| format!("Issued {}", day_clock(issued)))
            .unwrap_or_default(),
    ]
}

/// A sheet on a board goes on hanging there: it says itself when it is old, and where the page is.
fn until(sessions: &[Shown<'_>], address: &str) -> String {
    let first = sessions
        .iter()
        .filter(|shown| !shown.old)
        .map(|shown| shown.advisory.valid_until)
        .min();
    match first {
        Some(first) => format!(
            "A printed sheet does not change: after {} it is old. The page is at {address}.",
            day_clock(first)
        ),
        None => format!("This sheet is old. The page is at {address}."),
    }
}

fn entry(shown: Shown<'_>, number: usize) -> Entry {
    let advisory = shown.advisory;
    let session = &advisory.session;
    let current = !shown.old;
    Entry {
        mark: call_mark(shown.mark()),
        call: shown.words(),
        light: shown.light(),
        times: from_to(session.leaves, session.alongside),
        who: format!("{}, {}", session.boat.name, session.level.name),
        why: why(shown),
        way_out: shown.way_out_words(),
        sure: current.then(|| advisory.firmness.words()),
        plan: plan(shown),
        pen: pen(shown),
        until: format!("valid until {}", day_clock(advisory.valid_until)),
        ladder: current
            .then(|| chart::ladder(advisory, shown.now, Breadth::Sheet(number)))
            .flatten(),
        // Who does not leave needs none of them; an old advisory has nothing to say.
        cautions: match shown.mark() {
            CallWord::Go | CallWord::Marginal => cautions(advisory),
            CallWord::NoGo | CallWord::NoCall if current => not_known(advisory),
            CallWord::NoGo | CallWord::NoCall => Vec::new(),
        },
    }
}

/// The wind, and the reasons in short; for an old advisory, that it is old.
fn why(shown: Shown<'_>) -> String {
    let advisory = shown.advisory;
    let reasons: Vec<&str> = advisory
        .reasons
        .iter()
        .take(REASONS)
        .map(|reason| reason.short.trim_end_matches('.'))
        .collect();
    if shown.old || reasons.is_empty() {
        return shown.board_sentence();
    }
    format!("{} {}", ended(&advisory.wind_words), ended(&reasons.join("; ")))
}

fn pen(shown: Shown<'_>) -> Pen {
    let said = decides(shown);
    let decided = shown.decision.map(|decision| decision.decided);
    Pen {
        before: said.before,
        by: decided.is_none().then_some(said.word),
        boxes: [Decided::On, Decided::Off, Decided::Moved].map(|one| (one.word(), decided == Some(one))),
        more: said.more,
    }
}

/// Title and rest of each. Those of one title are one, and what they say alike is said once: "Sea in the entrance", " out
/// at 09:12: 1.3 m of sea; in at 11:48: 1.5 m of sea. Hatches shut."
fn cautions(advisory: &Advisory) -> Vec<(String, String)> {
    let mut titles: Vec<&str> = Vec::new();
    for caution in &advisory.cautions {
        if !titles.contains(&caution.title.as_str()) {
            titles.push(&caution.title);
        }
    }
    let told = titles.into_iter().map(|title| {
        let alike = advisory.cautions.iter().filter(|caution| caution.title == title);
        (title.to_owned(), together(&alike.collect::<Vec<_>>()))
    });
    told.chain(not_known(advisory)).collect()
}

/// What is not known, as far as a sheet has room for it.
fn not_known(advisory: &Advisory) -> Vec<(String, String)> {
    let missing = advisory.missing.iter().take(NOT_KNOWN);
    missing
        .map(|missing| ("Not known".to_owned(), rest_of_sentence(&missing.words)))
        .collect()
}

/// When and what of each, and then the sentences in which all of them end.
fn together(cautions: &[&Caution]) -> String {
    let words: Vec<String> = cautions.iter().map(|caution| ended(&caution.words)).collect();
    let sentences: Vec<Vec<&str>> = words
        .iter()
        .map(|words| words.split_inclusive(". ").collect())
        .collect();
    let Some(shortest) = sentences.iter().map(Vec::len).min() else {
        return String::new();
    };
    let from_the_end = |one: &[&str], back: usize| one.get(one.len() - back).map(|words| words.to_string());
    let alike = |back: &usize| {
        let mut ends = sentences.iter().map(|one| from_the_end(one, *back));
        let first = ends.next();
        ends.all(|end| Some(end) == first)
    };
    let one_for_all = (1..=shortest).take_while(alike).count();
    let each_own: Vec<String> = cautions
        .iter()
        .zip(&sentences)
        .map(|(caution, one)| {
            match one[..one.len() - one_for_all]
                .concat()
                .trim_end()
                .trim_end_matches('.')
            {
                "" => caution.when.clone(),
                own => format!("{}: {own}", caution.when),
            }
        })
        .collect();
    let common = sentences[0][sentences[0].len() - one_for_all..].concat();
    match (one_for_all, shortest) {
        (0, _) => format!(" {}.", each_own.join("; ")),
        (all, least) if all == least && each_own.iter().all(|own| !own.contains(": ")) => {
            format!(" {}: {common}", each_own.join(", "))
        }
        _ => format!(" {}. {common}", each_own.join("; ")),
    }
}
