//! Where a page is read from elsewhere, and the lines of its head for those who show only a link to it.
//!
//! Owns: what previews say: never a call, a plan or a wind, as others keep previews for weeks (Open Graph protocol, ogp.me).
//! Must not know: how the whole address is found.

use advisory::document::Advisory;

/// What a preview says in place of a call.
const DESCRIPTION: &str = "The advisory changes with each forecast: open the page for the one that stands.";

/// The whole addresses of a page and of the service it belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Elsewhere {
    /// The page's.
    pub page: String,
    /// The service's, without a slash at its end.
    pub service: String,
}

/// What a page is told of its surroundings.
#[derive(Clone, Copy, Debug, Default)]
pub struct Around<'a> {
    /// The sentence a demo says of itself.
    pub demo: Option<&'a str>,
    /// Where others find the page; without it there is nothing to preview.
    pub elsewhere: Option<&'a Elsewhere>,
    /// One can subscribe to the club's mail.
    pub mail: bool,
}

impl<'a> From<Option<&'a str>> for Around<'a> {
    /// With what a demo says only.
    fn from(demo: Option<&'a str>) -> Self {
        Self {
            demo,
            ..Self::default()
        }
    }
}

/// The lines of a head.
pub(super) struct Preview<'a> {
    pub title: String,
    pub kind: &'static str,
    pub description: &'static str,
    pub club: &'a str,
    pub at: &'a Elsewhere,
}

impl<'a> Preview<'a> {
    pub fn of_board(club: &'a str, around: Around<'a>) -> Option<Self> {
        Self::of(board_title(club), "website", club, around)
    }

    pub fn of_session(advisory: &'a Advisory, around: Around<'a>) -> Option<Self> {
        Self::of(session_title(advisory), "article", &advisory.club.name, around)
    }

    fn of(title: String, kind: &'static str, club: &'a str, around: Around<'a>) -> Option<Self> {
        around.elsewhere.map(|at| Self {
            title,
            kind,
            description: DESCRIPTION,
            club,
            at,
        })
    }
}

/// A board without a call: "Sessions of Pellock Haven".
pub fn board_title(club: &str) -> String {
    format!("Sessions of {club}")
}

/// A session without its call: "Dunlin, First days, Sat 17 October 09:30".
pub fn session_title(advisory: &Advisory) -> String {
    let session = &advisory.session;
    let at = session.leaves.format("%a %-d %B %H:%M");
    format!("{}, {}, {at}", session.boat.name, session.level.name)
}
