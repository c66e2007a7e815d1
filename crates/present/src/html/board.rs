//! The words and marks of the board.

use super::elsewhere::{Around, Preview};
use super::foot::{Foot, foot};
use super::nav::{NavLink, nav};
use crate::marks::{call_mark, sureness_strokes};
use crate::sail_glyph::sail_glyph;
use crate::shown::{Decides, Shown, decides, in_order_of_leaving};
use crate::wording::{clock, from_to};
use advisory::Decision;
use advisory::document::{Advisory, CallWord, ClubName};
use askama::Template;
use chrono::{DateTime, NaiveDate, Utc};

/// The page.
#[derive(Template)]
#[template(path = "board.html")]
pub(super) struct BoardPage<'a> {
    club: &'a str,
    slug: &'a str,
    demo: Option<&'a str>,
    preview: Option<Preview<'a>>,
    nav: Vec<NavLink>,
    heading: String,
    lede: String,
    key: [(String, &'static str); 4],
    days: Vec<Day>,
    mail: bool,
    foot: Foot,
}

/// A day of the almanac.
struct Day {
    date: NaiveDate,
    number: String,
    weekday: String,
    month: String,
    notices: Vec<Notice>,
}

/// One session.
struct Notice {
    mark: String,
    call: &'static str,
    light: bool,
    times: String,
    id: String,
    who: String,
    wind: String,
    plan: Vec<Carried>,
    way_out: Option<String>,
    decided: bool,
    decides: Decides,
    sure: Option<(String, &'static str)>,
}

/// A sail plan with the time it begins.
pub(super) struct Carried {
    pub glyph: String,
    pub words: String,
    pub when: String,
}

/// Fills the page.
pub(super) fn page<'a>(
    club: &'a ClubName,
    advisories: &[Advisory],
    decisions: &[Decision],
    now: DateTime<Utc>,
    around: Around<'a>,
) -> BoardPage<'a> {
    let ordered = in_order_of_leaving(advisories, decisions, now);
    let heading = ordered.first().map_or_else(
        || "Sessions".to_owned(),
        |first| {
            first
                .advisory
                .session
                .leaves
                .format("Sessions from %-d %B")
                .to_string()
        },
    );
    BoardPage {
        club: &club.name,
        slug: &club.slug,
        demo: around.demo,
        preview: Preview::of_board(&club.name, around),
        nav: nav("/"),
        heading,
        lede: lede(&ordered),
        key: key(),
        days: days(&ordered),
        mail: around.mail,
        foot: foot(club, advisories),
    }
}

fn lede(ordered: &[Shown<'_>]) -> String {
    let mut venues: Vec<&str> = ordered
        .iter()
        .map(|shown| shown.advisory.session.venue.name.as_str())
        .collect();
    venues.sort_unstable();
    venues.dedup();
    let venues = if venues.is_empty() {
        String::new()
    } else {
        format!(" {}.", venues.join(", "))
    };
    format!("What the forecast says for our boats and our crews.{venues} Times are local.")
}

fn key() -> [(String, &'static str); 4] {
    [
        (call_mark(CallWord::Go), "Go: way open"),
        (call_mark(CallWord::Marginal), "Marginal: a dog-leg, with care"),
        (call_mark(CallWord::NoGo), "No-go: closed"),
        (call_mark(CallWord::NoCall), "No call: cannot be seen"),
    ]
}

fn days(ordered: &[Shown<'_>]) -> Vec<Day> {
    ordered
        .chunk_by(|one, next| one.date() == next.date())
        .map(|sessions| {
            let leaves = sessions[0].advisory.session.leaves;
            Day {
                date: sessions[0].date(),
                number: leaves.format("%-d").to_string(),
                weekday: leaves.format("%A").to_string(),
                month: leaves.format("%B").to_string(),
                notices: sessions.iter().map(|shown| notice(*shown)).collect(),
            }
        })
        .collect()
}

fn notice(shown: Shown<'_>) -> Notice {
    let advisory = shown.advisory;
    let session = &advisory.session;
    Notice {
        mark: call_mark(shown.mark()),
        call: shown.words(),
        light: shown.light(),
        times: from_to(session.leaves, session.alongside),
        id: session.id.clone(),
        who: format!(
            "{}, {}, {}",
            session.boat.name, session.level.name, session.venue.name
        ),
        wind: shown.board_sentence(),
        plan: plan(shown),
        way_out: shown.way_out_words(),
        decided: shown.decision.is_some(),
        decides: decides(shown),
        sure: (!shown.old).then(|| (sureness_strokes(advisory.firmness), advisory.firmness.words())),
    }
}

/// The sail plan in steps; none where no plan may be shown.
pub(super) fn plan(shown: Shown<'_>) -> Vec<Carried> {
    let Some(plan) = shown.plan() else {
        return Vec::new();
    };
    let leaves = shown.advisory.session.leaves;
    let first = if plan.changes.is_empty() && plan.past_table_from.is_none() {
        "all the way".to_owned()
    } else {
        format!("on leaving, {}", clock(leaves))
    };
    let changes = plan
        .changes
        .iter()
        .map(|change| (&change.sail, format!("from {}", clock(change.at))));
    std::iter::once((&plan.leave_with, first))
        .chain(changes)
        .map(|(sail, when)| Carried {
            glyph: sail_glyph(sail, ""),
            words: sail.words.clone(),
            when,
        })
        .collect()
}
