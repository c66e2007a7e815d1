//! What is asked and said of a subscription after its form: a mail is on its way, please confirm, it is confirmed, end it, it has
//! ended, the link is of no use.
//!
//! Must not know: which of these is to be shown. Where it may not be told whether an address or a link is known, one page
//! serves all cases and says what is true of each.

use super::filled;
use super::foot::{Foot, foot, foot_without_advisory};
use super::nav::{NavLink, nav};
use super::subscribe::{MailOf, hint, links, what_comes};
use crate::PresentError;
use crate::mail::choices_in_words;
use advisory::document::ClubName;
use askama::Template;
use club::{Choices, EmailAddress};

/// The page.
#[derive(Template)]
#[template(path = "subscribe_said.html")]
pub(super) struct SaidPage<'a> {
    club: &'a str,
    demo: Option<&'a str>,
    nav: Vec<NavLink>,
    pub(super) title: &'static str,
    pub(super) lines: Vec<String>,
    choices: Vec<String>,
    button: Option<Button>,
    after: Vec<String>,
    pub(super) link: Option<(&'static str, &'static str)>,
    foot: Foot,
}

/// The one thing a page asks, with the pair that it sends.
struct Button {
    name: &'static str,
    value: &'static str,
    words: &'static str,
}

const SUBSCRIBE: (&str, &str) = ("/subscribe", "Subscribe");
pub(super) const BOARD: (&str, &str) = ("/", "The board");

/// After the form was sent, whatever is known of the address.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn asked(of: MailOf<'_>) -> Result<String, PresentError> {
    let page = SaidPage {
        title: "Look into your mail",
        lines: vec![
            "If this is an address that takes mail, a mail is on its way to it. Open its link and confirm: until then nothing else is \
             sent."
                .to_owned(),
            "If none comes within the hour, look among unwanted mail, and whether the address was typed as it should be. One \
             address is asked a few times a day at most."
                .to_owned(),
        ],
        link: Some(BOARD),
        ..page(of)
    };
    filled("subscribe", &page)
}

/// Asks whether an address wants what was asked for; none: it was confirmed already.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn confirm(
    of: MailOf<'_>,
    address: &EmailAddress,
    choices: &Choices,
    already: bool,
) -> Result<String, PresentError> {
    if already {
        return confirmed(of, choices);
    }
    let page = SaidPage {
        title: "Please confirm",
        lines: vec![format!(
            "Is {} to send its mail to {}, like this?",
            of.club.name,
            hint(address)
        )],
        choices: choices_in_words(choices, of.club),
        button: Some(Button {
            name: "confirm",
            value: "yes",
            words: "Yes, send it",
        }),
        after: vec![
            "If you did not ask for it, close this page: nothing is sent, or all stays as it is.".to_owned(),
        ],
        ..page(of)
    };
    filled("confirm", &page)
}

/// It is confirmed: what will come.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn confirmed(of: MailOf<'_>, choices: &Choices) -> Result<String, PresentError> {
    let page = SaidPage {
        title: "Confirmed",
        lines: what_comes(of),
        choices: choices_in_words(choices, of.club),
        after: vec!["Each mail has a link that changes this and one that ends it.".to_owned()],
        link: of.shown.then_some(BOARD),
        ..page(of)
    };
    filled("confirm", &page)
}

/// Asks whether to end it.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn ask_to_end(of: MailOf<'_>, address: &EmailAddress) -> Result<String, PresentError> {
    let page = SaidPage {
        title: "End the mail?",
        lines: vec![
            format!("{} sends its mail to {}.", of.club.name, hint(address)),
            "Once it is ended, the address and all that was chosen are deleted, and nothing more is sent."
                .to_owned(),
        ],
        // The pair of RFC 8058, section 3.1, as a mail program sends it.
        button: Some(Button {
            name: "List-Unsubscribe",
            value: "One-Click",
            words: "End it",
        }),
        after: vec!["To be sent less in place of nothing, open the link for choices in the mail.".to_owned()],
        ..page(of)
    };
    filled("unsubscribe", &page)
}

/// It has ended, just now.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn ended(demo: Option<&str>) -> Result<String, PresentError> {
    let page = SaidPage {
        title: "Ended",
        lines: vec![
            "The address and all that was chosen are deleted, and no more mail is sent to it by this subscription.".to_owned(),
            "A mail that was being handed over at this very moment may still come.".to_owned(),
        ],
        ..of_nobody(demo)
    };
    filled("unsubscribe", &page)
}

/// A link that allows nothing: nobody is told whether it ever did. `subscribe`: one can subscribe here.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn of_no_use(subscribe: bool, demo: Option<&str>) -> Result<String, PresentError> {
    let page = SaidPage {
        title: "Ended already, or too old",
        lines: vec![
            "This link does nothing any more. Either its subscription has ended, and nothing more is sent by it; or the link is too old \
             or was not copied whole."
                .to_owned(),
            "If mail still comes, the newest one has links that work. If you wanted to confirm, subscribe again.".to_owned(),
        ],
        link: subscribe.then_some(SUBSCRIBE),
        ..of_nobody(demo)
    };
    filled("unsubscribe", &page)
}

fn page(of: MailOf<'_>) -> SaidPage<'_> {
    SaidPage {
        club: &of.club.name,
        nav: links(of),
        foot: foot_without_advisory(of.club, Vec::new()),
        ..of_nobody(of.demo)
    }
}

/// A page that names no club.
pub(super) fn of_nobody(demo: Option<&str>) -> SaidPage<'_> {
    let nobody = ClubName {
        slug: String::new(),
        name: String::new(),
        time_zone: String::new(),
        contact: None,
    };
    SaidPage {
        club: "",
        demo,
        nav: nav(""),
        title: "",
        lines: Vec::new(),
        choices: Vec::new(),
        button: None,
        after: Vec::new(),
        link: None,
        foot: foot(&nobody, &[]),
    }
}
