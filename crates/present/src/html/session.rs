//! The words, marks and drawings of a session page.

use super::elsewhere::{Around, Preview};
use super::figures::{Figures, figures};
use super::foot::{Foot, foot};
use super::nav::{NavLink, nav};
use super::parts::{Part, cautions, parts};
use crate::chart::{self, Breadth};
use crate::marks::call_mark;
use crate::orders::{self, orders};
use crate::sail_glyph::sail_glyph;
use crate::shown::Shown;
use crate::wording::{day_long, from_to, session_line};
use advisory::Decision;
use advisory::document::{Advisory, CallWord};
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

/// One of the facts between the rules under the call, with the glyph of what is set.
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
        orders: orders(shown).into_iter().map(with_glyph).collect(),
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

fn with_glyph(order: orders::Order<'_>) -> Order {
    Order {
        name: order.name,
        glyph: order.sail.map(|sail| sail_glyph(sail, "")),
        title: order.title,
        words: order.words,
    }
}

/// The session's key in the club file, where another time may do better: openings are looked for by it.
fn instead_of<'a>(shown: Shown<'_>, advisory: &'a Advisory) -> Option<&'a str> {
    let worse = matches!(shown.mark(), CallWord::NoGo | CallWord::Marginal);
    advisory.session.id.split('@').next().filter(|_| worse)
}
