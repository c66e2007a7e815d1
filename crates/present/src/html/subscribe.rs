//! The pages of the club's mail: the form by which somebody subscribes or chooses anew, and what is asked and said after it.
//!
//! Owns: their words. Must not know: whether an address is known, what a link allows, what becomes of anything sent. An address
//! stands on a page only where its owner is typing it; elsewhere it is hinted at.

use super::foot::{Foot, foot_without_advisory};
use super::form::{Choice, Field};
use super::nav::{NavLink, nav};
use super::{filled, subscribe_said};
use crate::PresentError;
use crate::mail::day_name;
use crate::wording::ended as sentence;
use askama::Template;
use chrono::Weekday;
use club::{Choices, Club, EmailAddress};

pub use subscribe_said::{ask_to_end, asked, confirm, confirmed, ended, of_no_use};

/// Whose mail a page is about.
#[derive(Clone, Copy)]
pub struct MailOf<'a> {
    /// The club.
    pub club: &'a Club,
    /// The service sends mail.
    pub sent: bool,
    /// The service shows this club's pages.
    pub shown: bool,
    /// The sentence a demo says of itself.
    pub demo: Option<&'a str>,
}

/// What the form holds. It has no `Debug`: it holds an address.
#[derive(Default)]
pub struct SubscribeForm {
    /// Where to, as typed.
    pub address: String,
    /// What is ticked.
    pub choices: Choices,
    /// The field that is wrong and what is wrong with it; a name that is no field's: what stands against the whole.
    pub wrong: Option<(String, String)>,
}

/// The page.
#[derive(Template)]
#[template(path = "subscribe.html")]
struct SubscribePage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    title: &'static str,
    lines: Vec<String>,
    kept: Option<&'static str>,
    wrong: Option<String>,
    address: Option<Field>,
    boxes: [Field; 3],
    when: [Choice; 2],
    button: &'static str,
    ends: bool,
    foot: Foot,
}

/// The form by which somebody subscribes.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn subscribe(of: MailOf<'_>, form: &SubscribeForm) -> Result<String, PresentError> {
    let wrong = form.wrong();
    let mut lines = vec![format!(
        "What the forecast says for the sessions of {}, what the club has decided, and why.",
        of.club.name
    )];
    lines.extend(what_comes(of));
    lines.push(
        "A mail asks the address first. The address is kept for this mail alone and deleted when it is ended, by a link in each mail."
            .to_owned(),
    );
    let address = Field::written("address", "Mail address", &form.address).but(wrong);
    let page = SubscribePage {
        address: Some(address),
        nav: nav(if of.shown { "/subscribe" } else { "" }),
        title: "Mail",
        lines,
        kept: None,
        button: "Subscribe",
        ends: false,
        ..page(of, &form.choices, wrong)
    };
    filled("subscribe", &page)
}

/// The form by which a subscriber chooses anew or ends it; `kept`: what was chosen has just been kept.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn manage(
    of: MailOf<'_>,
    address: &EmailAddress,
    form: &SubscribeForm,
    kept: bool,
) -> Result<String, PresentError> {
    let mut lines = vec![format!("The mail of {} to {}.", of.club.name, hint(address))];
    lines.extend(what_comes(of));
    let page = SubscribePage {
        title: "Your mail",
        lines,
        kept: kept.then_some("Kept: from now on the mail is as chosen here."),
        button: "Keep these choices",
        ends: true,
        ..page(of, &form.choices, form.wrong())
    };
    filled("subscription", &page)
}

impl SubscribeForm {
    fn wrong(&self) -> Option<(&str, &str)> {
        let wrong = self.wrong.as_ref();
        wrong.map(|(field, words)| (field.as_str(), words.as_str()))
    }
}

fn page<'a>(of: MailOf<'a>, choices: &Choices, wrong: Option<(&str, &str)>) -> SubscribePage<'a> {
    SubscribePage {
        club: &of.club.name,
        demo: of.demo,
        nav: links(of),
        title: "",
        lines: Vec::new(),
        kept: None,
        wrong: wrong.map(in_short),
        address: None,
        boxes: boxes(of.club, choices).map(|field| field.but(wrong)),
        when: when(choices),
        button: "",
        ends: false,
        foot: foot_without_advisory(of.club, Vec::new()),
    }
}

/// The links of the running head lead to the service's own club: on another's page there are none.
pub(super) fn links(of: MailOf<'_>) -> Vec<NavLink> {
    if of.shown { nav("") } else { Vec::new() }
}

/// What stands above the form: what is wrong with the whole, or that a field below says it.
fn in_short((field, words): (&str, &str)) -> String {
    if ["address", "levels", "boats", "weekdays"].contains(&field) {
        "Nothing was kept: one field below says why.".to_owned()
    } else {
        format!("Nothing was kept. {}", sentence(words))
    }
}

/// What is sent and when. The club's hour is wall time of its zone.
pub(super) fn what_comes(of: MailOf<'_>) -> Vec<String> {
    let Some(at) = of.club.digest_at.filter(|_| of.sent) else {
        return vec!["The club sends no mail at present.".to_owned()];
    };
    vec![
        format!(
            "One mail a day at {}, by the clocks of {}, with the sessions to come; one more when a call or decision changes after \
             the club’s hour, {} on the day before a session.",
            at.format("%H:%M"),
            of.club.time_zone,
            of.club.decides_at.format("%H:%M")
        ),
        "That no mail comes says nothing of the weather: a mail can be late or lost. The board has what stands.".to_owned(),
    ]
}

fn boxes(club: &Club, choices: &Choices) -> [Field; 3] {
    const WEEK: [Weekday; 7] = [
        Weekday::Mon,
        Weekday::Tue,
        Weekday::Wed,
        Weekday::Thu,
        Weekday::Fri,
        Weekday::Sat,
        Weekday::Sun,
    ];
    let levels = club.levels.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let boats = club.boats.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let named: Vec<(String, &str)> = WEEK.map(|day| (day.to_string(), day_name(day))).into();
    let days = named.iter().map(|(key, name)| (key.as_str(), *name));
    let held: Vec<String> = choices.weekdays.iter().map(Weekday::to_string).collect();
    [
        Field::several(
            ("levels", "Levels; none ticked: all of them"),
            &choices.levels,
            levels,
        ),
        Field::several(
            ("boats", "Boats; none ticked: all of them"),
            &choices.boats,
            boats,
        ),
        Field::several(
            (
                "weekdays",
                "Days on which a session leaves; none ticked: all of them",
            ),
            &held,
            days,
        ),
    ]
}

fn when(choices: &Choices) -> [Choice; 2] {
    let choice = |key: &str, name: &str, chosen| Choice {
        key: key.to_owned(),
        name: name.to_owned(),
        chosen,
    };
    [
        choice(
            "only_when_sailing",
            "The daily mail only on days on which one of these sessions may sail",
            choices.only_when_sailing,
        ),
        choice(
            "changes",
            "Also when a call or decision changes after the club’s hour",
            choices.changes,
        ),
    ]
}

/// An address as its owner knows it again and nobody else learns it: "a…@….example".
pub(super) fn hint(address: &EmailAddress) -> String {
    let whole = address.exposed();
    let first = whole.chars().next().unwrap_or('…');
    let last = whole.rsplit('.').next().unwrap_or_default();
    format!("{first}…@….{last}")
}
