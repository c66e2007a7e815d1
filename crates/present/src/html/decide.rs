//! The words of the form by which the club decides of a session. A token is asked for and never written on the page.

use super::foot::{Foot, foot};
use super::form::Field;
use super::nav::{NavLink, nav};
use crate::marks::call_mark;
use crate::shown::{Decides, Shown, decides};
use crate::wording::{day_long, ended, from_to, session_line};
use advisory::document::Advisory;
use advisory::{Decided, Decision};
use askama::Template;
use chrono::{DateTime, Utc};

/// What the form holds.
#[derive(Clone, Debug, Default)]
pub struct DecisionForm {
    /// What is decided, as sent; empty at first.
    pub decided: String,
    /// Who decides.
    pub by: String,
    /// A note for the crew.
    pub note: String,
    /// Which decision it follows, as its sender will say again.
    pub after: String,
    /// The field that is wrong and what is wrong with it; a name that is no field's: what stands against the whole.
    pub wrong: Option<(String, String)>,
}

/// The page.
#[derive(Template)]
#[template(path = "decide.html")]
pub(super) struct DecidePage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    id: &'a str,
    mark: String,
    call: &'static str,
    summary: String,
    who: String,
    day: String,
    times: String,
    decides: Decides,
    over: bool,
    wrong: Option<String>,
    decided: Field,
    by: Field,
    note: Field,
    token: Field,
    after: String,
    foot: Foot,
}

/// Fills the page.
pub(super) fn page<'a>(
    advisory: &'a Advisory,
    decisions: &[Decision],
    form: &DecisionForm,
    now: DateTime<Utc>,
    demo: Option<&'a str>,
) -> DecidePage<'a> {
    let shown = Shown::at(advisory, now).beside(decisions);
    let session = &advisory.session;
    let wrong = form
        .wrong
        .as_ref()
        .map(|(field, words)| (field.as_str(), words.as_str()));
    let choices = [Decided::On, Decided::Off, Decided::Moved]
        .map(Decided::word)
        .map(|word| (word, named(word)));
    DecidePage {
        club: &advisory.club.name,
        demo,
        nav: nav(""),
        id: &session.id,
        mark: call_mark(shown.mark()),
        call: shown.words(),
        summary: shown.explained(),
        who: session_line(session),
        day: day_long(session.leaves),
        times: from_to(session.leaves, session.alongside),
        decides: decides(shown),
        over: session.alongside < now,
        wrong: wrong.map(in_short),
        decided: Field::choice(("decided", "The session is"), &form.decided, choices.into_iter()).but(wrong),
        by: Field::written("by", "Who decides", &form.by).but(wrong),
        note: Field::written(
            "note",
            "Note for the crew; if moved, to when or where",
            &form.note,
        )
        .but(wrong),
        token: Field::written("token", "Token of the club that may decide", "").but(wrong),
        after: form.after.clone(),
        foot: foot(&advisory.club, std::slice::from_ref(advisory)),
    }
}

fn named(word: &'static str) -> &'static str {
    match word {
        "on" => "On",
        "off" => "Off",
        _ => "Moved",
    }
}

/// What stands above the form: what is wrong with the whole, or that a field below says it.
fn in_short((field, words): (&str, &str)) -> String {
    if ["decided", "by", "note", "token"].contains(&field) {
        "Nothing was kept: one field below says why.".to_owned()
    } else {
        format!("Nothing was kept. {}", ended(words))
    }
}
