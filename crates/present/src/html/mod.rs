//! HTML pages: a board and a session page, whole without JavaScript and without anything from another address.
//!
//! Each page has one struct of ready words that its template prints; the template escapes them. Drawings are ready SVG
//! in which `crate::svg` has escaped every word.

mod board;
mod card;
mod data;
mod decide;
mod elsewhere;
pub(crate) mod figures;
pub(crate) mod foot;
mod form;
mod nav;
mod openings;
mod parts;
mod policy;
mod problem;
mod session;
mod sheet;
pub mod subscribe;
mod subscribe_said;

pub use card::CardOf;
pub use data::SourceAbout;
pub use decide::DecisionForm;
pub use elsewhere::{Around, Elsewhere, board_title, session_title};
pub use openings::{OpeningsAsked, OpeningsFound};
pub use problem::problem;

use crate::PresentError;
use advisory::Decision;
use advisory::document::{Advisory, ClubName};
use askama::Template;
use chrono::{DateTime, NaiveDate, Utc};
use club::Club;

/// The style sheet the pages link to, at `/style.css`.
pub const STYLE: &str = include_str!("../../assets/style.css");

/// The picture of previews, 1200 x 630 pixels, at `/preview.png`: the entrance and a boat, without a call.
pub const PREVIEW_PICTURE: &[u8] = include_bytes!("../../assets/preview.png");

/// The style sheet of cards, at `/embed.css`.
pub const CARD_STYLE: &str = include_str!("../../assets/embed.css");

/// The script of the element `<cringle-session>`, at `/embed.js`, with the cards' style sheet in it.
pub fn embed_script() -> String {
    include_str!("../../assets/embed.js").replace("/* embed.css */", CARD_STYLE)
}

/// The board: the sessions in order of leaving, grouped by day. Of what is around it, a demo's sentence is shown under the running head.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn board<'a>(
    club: &'a ClubName,
    advisories: &[Advisory],
    decisions: &[Decision],
    now: DateTime<Utc>,
    around: impl Into<Around<'a>>,
) -> Result<String, PresentError> {
    filled(
        "board",
        &board::page(club, advisories, decisions, now, around.into()),
    )
}

/// The page of one session: its advisory.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn session<'a>(
    advisory: &'a Advisory,
    decisions: &[Decision],
    now: DateTime<Utc>,
    around: impl Into<Around<'a>>,
) -> Result<String, PresentError> {
    filled("session", &session::page(advisory, decisions, now, around.into()))
}

/// The openings that were found for what was asked; or, in their place, what is wrong with a field of it and its name.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn openings(
    asked: &OpeningsAsked<'_>,
    found: Result<&OpeningsFound<'_>, (&str, &str)>,
    demo: Option<&str>,
) -> Result<String, PresentError> {
    filled("openings", &openings::page(asked, found, demo))
}

/// The card of one session, for a frame on another site; without an advisory it says that there is no such session.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn card(
    of: &CardOf,
    advisory: Option<&Advisory>,
    decisions: &[Decision],
    now: DateTime<Utc>,
) -> Result<String, PresentError> {
    let page = match advisory {
        Some(advisory) => card::page(of, advisory, decisions, now),
        None => card::without(of),
    };
    filled("card", &page)
}

/// The sources, their runs, whose they are, and what is done to their values.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn about_the_data(
    club: &Club,
    sources: &[SourceAbout],
    demo: Option<&str>,
) -> Result<String, PresentError> {
    filled("data", &data::page(club, sources, demo))
}

/// How the club decides: its file in plain sentences.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn how_we_decide<'a>(club: &'a Club, around: impl Into<Around<'a>>) -> Result<String, PresentError> {
    filled("policy", &policy::page(club, around.into()))
}

/// The form by which the club decides of a session, as far as it is filled in.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn decide(
    advisory: &Advisory,
    decisions: &[Decision],
    form: &DecisionForm,
    now: DateTime<Utc>,
    demo: Option<&str>,
) -> Result<String, PresentError> {
    filled("decide", &decide::page(advisory, decisions, form, now, demo))
}

/// The notice-board sheet of a day: those of the sessions that leave on it, for A4 paper in one ink. Without a day, that
/// there is none. `address` is the service's own public address, where it is known.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn sheet(
    club: &ClubName,
    day: Option<NaiveDate>,
    (advisories, decisions): (&[Advisory], &[Decision]),
    (now, demo): (DateTime<Utc>, Option<&str>),
    address: Option<&str>,
) -> Result<String, PresentError> {
    let page = sheet::page(club, day, advisories, decisions, (now, demo), address);
    filled("sheet", &page)
}

fn filled(page: &'static str, template: &impl Template) -> Result<String, PresentError> {
    template
        .render()
        .map_err(|source| PresentError::Page { page, source })
}
