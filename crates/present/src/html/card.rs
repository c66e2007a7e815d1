//! The card's page, for a frame on another site.
//!
//! Its words stand within the element that `embed.js` makes live: without the script they stay, with the hour until which
//! they hold; with it they are what is seen until the first answer comes.

use crate::card::{CardWords, words};
use crate::marks::call_mark;
use crate::shown::Shown;
use advisory::Decision;
use advisory::document::{Advisory, CallWord};
use askama::Template;
use chrono::{DateTime, TimeDelta, Utc};

/// Seconds after which a reader without scripts is given a new card, at the latest.
const ANEW_AFTER_S: i64 = 300;

/// Which session a card is of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CardOf {
    /// The club's short name; empty where the caller may not know of it: such a card is not made live.
    pub club: String,
    /// The session; without it, the next one that matches the others.
    pub session: Option<String>,
    /// Key of a boat.
    pub boat: Option<String>,
    /// Key of a level.
    pub level: Option<String>,
    /// Key of a venue.
    pub venue: Option<String>,
}

/// The page.
#[derive(Template)]
#[template(path = "card.html")]
pub(super) struct CardPage<'a> {
    title: &'a str,
    of: &'a CardOf,
    anew_after_s: i64,
    mark: String,
    call: &'static str,
    light: bool,
    club: &'a str,
    decided: bool,
    /// Whose page the link leads to; without it to the board.
    id: Option<&'a str>,
    words: CardWords,
}

/// Fills the page for what stands for the session.
pub(super) fn page<'a>(
    of: &'a CardOf,
    advisory: &'a Advisory,
    decisions: &[Decision],
    now: DateTime<Utc>,
) -> CardPage<'a> {
    let shown = Shown::at(advisory, now).beside(decisions);
    let holds = (advisory.valid_until.to_utc() - now + TimeDelta::seconds(1)).num_seconds();
    CardPage {
        title: "A session’s call",
        of,
        anew_after_s: if holds > 0 {
            holds.min(ANEW_AFTER_S)
        } else {
            ANEW_AFTER_S
        },
        mark: call_mark(shown.mark()),
        call: shown.words(),
        light: shown.light(),
        club: &advisory.club.name,
        decided: shown.decision.is_some(),
        id: Some(&advisory.session.id),
        words: words(shown),
    }
}

/// Fills it where there is no such session.
pub(super) fn without(of: &CardOf) -> CardPage<'_> {
    CardPage {
        title: "No session",
        of,
        anew_after_s: ANEW_AFTER_S,
        mark: call_mark(CallWord::NoCall),
        call: CallWord::NoCall.words(),
        light: false,
        club: "",
        decided: false,
        id: None,
        words: CardWords {
            who: String::new(),
            when: String::new(),
            line: "The service lists no such session.".to_owned(),
            way_out: None,
            decides: String::new(),
            valid: String::new(),
            origin: String::new(),
        },
    }
}
