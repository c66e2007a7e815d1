//! The words, marks and drawings of a session page.

use super::elsewhere::{Around, Preview};
use super::figures::{Figures, figures};
use super::foot::{Foot, foot};
use super::nav::{NavLink, nav};
use super::parts::{Part, cautions, parts};
use crate::chart::{self, Breadth};
use crate::marks::call_mark;
use crate::sail_glyph::sail_glyph;
use crate::shown::{Shown, decides};
use crate::wording::{clock, day_long, ended, from_to, session_line};
use advisory::Decision;
use advisory::document::{Advisory, CallWord, Sail};
use askama::Template;
use chrono::{DateTime, Utc};

/// The page.
#[derive(Template)]
#[template(path = "session.html")]
pub(super) struct SessionPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    preview: Option<Preview<'a>>,
    nav: Vec<NavLink>,
    id: &'a str,
    slug: &'a str,
    mark: String,
    call: &'static str,
    light: bool,
    who: String,
    day: String,
    times: String,
    summary: String,
    orders: Vec<Order>,
    instead_of: Option<&'a str>,
    boat: &'a str,
    wind_words: Option<&'a str>,
    ladders: Vec<String>,
    caption: String,
    seas: Vec<String>,
    figures: Figures,
    cautions: Part,
    parts: Vec<Part>,
    foot: Foot,
}

/// One of the facts between the rules under the call.
struct Order {
    name: String,
    glyph: Option<String>,
    title: String,
    words: String,
}

/// Fills the page.
pub(super) fn page<'a>(
    advisory: &'a Advisory,
    decisions: &[Decision],
    now: DateTime<Utc>,
    around: Around<'a>,
) -> SessionPage<'a> {
    let shown = Shown::at(advisory, now).beside(decisions);
    let session = &advisory.session;
    let drawn =
        |draw: &dyn Fn(Breadth) -> Option<String>| Breadth::ALL.into_iter().filter_map(draw).collect();
    SessionPage {
        club: &advisory.club.name,
        demo: around.demo,
        preview: Preview::of_session(advisory, around),
        nav: nav(""),
        id: &session.id,
        slug: &advisory.club.slug,
        mark: call_mark(shown.mark()),
        call: shown.words(),
        light: shown.light(),
        who: session_line(session),
        day: day_long(session.leaves),
        times: from_to(session.leaves, session.alongside),
        summary: shown.explained(),
        orders: orders(shown),
        instead_of: instead_of(shown, advisory),
        boat: &session.boat.name,
        wind_words: Some(advisory.wind_words.as_str()).filter(|words| !words.is_empty()),
        ladders: drawn(&|breadth| chart::ladder(advisory, now, breadth)),
        caption: chart::caption(advisory),
        seas: drawn(&|breadth| chart::sea(advisory, breadth)),
        figures: figures(advisory),
        cautions: cautions(advisory),
        parts: parts(shown),
        foot: foot(&advisory.club, std::slice::from_ref(advisory)),
    }
}

fn orders(shown: Shown<'_>) -> Vec<Order> {
    let mut orders = plan_orders(shown);
    if orders.is_empty() && shown.mark() == CallWord::NoGo {
        let stops = shown.advisory.reasons.first().map(|reason| ended(&reason.short));
        orders.extend(stops.map(|words| fact("What stops it", words, String::new())));
    }
    if let Some(way_out) = shown.way_out() {
        let title = way_out.title.trim_end_matches(',').to_owned();
        orders.push(fact("Way out", title, way_out.words.clone()));
    }
    let decides = decides(shown);
    orders.push(fact(
        decides.before,
        decides.word,
        decides.more.unwrap_or_default(),
    ));
    orders
}

/// The session's key in the club file, where another time may do better: openings are looked for by it.
fn instead_of<'a>(shown: Shown<'_>, advisory: &'a Advisory) -> Option<&'a str> {
    let worse = matches!(shown.mark(), CallWord::NoGo | CallWord::Marginal);
    advisory.session.id.split('@').next().filter(|_| worse)
}

fn plan_orders(shown: Shown<'_>) -> Vec<Order> {
    let Some(plan) = shown.plan() else {
        return Vec::new();
    };
    let mut orders = vec![carry("Leave with".to_owned(), &plan.leave_with)];
    for change in &plan.changes {
        let what = if change.shaking_out { ", shake out to" } else { "" };
        orders.push(carry(format!("From {}{what}", clock(change.at)), &change.sail));
    }
    if let Some(from) = plan.past_table_from {
        let words = "the wind is past her reef table".to_owned();
        orders.push(fact(
            &format!("From {}", clock(from)),
            "Not sailed".to_owned(),
            words,
        ));
    }
    orders
}

fn carry(name: String, sail: &Sail) -> Order {
    Order {
        name,
        glyph: Some(sail_glyph(sail, "")),
        title: sail.words.clone(),
        words: sail.note.clone().unwrap_or_default(),
    }
}

fn fact(name: &str, title: String, words: String) -> Order {
    Order {
        name: name.to_owned(),
        glyph: None,
        title,
        words,
    }
}
