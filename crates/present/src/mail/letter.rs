//! A mail before it is set: what it says, in the order it is read. HTML and text are both made from this, so that neither
//! says what the other does not.
//!
//! Must not know: what an advisory is.

use super::text;
use super::{Mail, MailPicture};
use crate::PresentError;
use crate::picture::light;
use crate::wording::harmless;
use askama::Template;

/// The mail.
pub(super) struct Letter {
    pub subject: String,
    /// The club's name, as on a running head.
    pub club: String,
    pub blocks: Vec<Block>,
    pub pictures: Vec<MailPicture>,
}

/// A piece of it.
pub(super) enum Block {
    /// What the mail is about: its first heading.
    Title(String),
    /// A later day.
    Day(String),
    /// A call in full, with the Content-ID of its mark.
    Call {
        mark: Option<String>,
        call: String,
        who: String,
        when: String,
    },
    /// A session of a later day.
    Row {
        mark: Option<String>,
        call: String,
        who: String,
        when: String,
        lines: Vec<String>,
    },
    /// A heading inside a session.
    Section(&'static str),
    /// A sentence that counts.
    Lead(String),
    /// A sentence.
    Words(String),
    /// Words of the foot, the first of them in bold.
    Small(String, String),
    /// A name, what counts of it, and the rest with its own comma or colon.
    Fact {
        look: Look,
        name: String,
        title: String,
        rest: String,
    },
    /// A line of a list: when, a bold title with the rest, and a note.
    Item {
        when: String,
        title: String,
        rest: String,
        note: String,
    },
    /// A chart, by its Content-ID, with the words for who does not see it: the sentences around say them too.
    Chart { id: String, words: String },
    /// A link on a line of its own.
    Link { words: String, address: String },
    /// The end of what the mail is about.
    Foot,
}

/// How a fact stands out; its words say the same.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    Plain,
    /// The way out.
    Binds,
    /// What the club decided.
    Stamp,
    /// That it has not yet.
    Undecided,
}

impl Look {
    fn is_stamp(self) -> bool {
        self == Self::Stamp
    }

    fn binds(self) -> bool {
        self == Self::Binds
    }
}

/// The colours of the light page.
struct Inks {
    paper: String,
    ink: String,
    ink2: String,
    magenta: String,
    hair: String,
}

/// The HTML part.
#[derive(Template)]
#[template(path = "mail/mail.html")]
struct Html<'a> {
    inks: Inks,
    subject: &'a str,
    club: &'a str,
    blocks: &'a [Block],
}

impl Letter {
    /// Both parts, with nothing in them that breaks a line or turns the direction of writing.
    pub fn into_mail(self) -> Result<Mail, PresentError> {
        let subject = harmless(&self.subject);
        let html = Html {
            inks: inks(),
            subject: &subject,
            club: &self.club,
            blocks: &self.blocks,
        };
        let html = html.render();
        let html = html.map_err(|source| PresentError::Page { page: "mail", source })?;
        Ok(Mail {
            text: text::part(&self.club, &self.blocks),
            html: html.lines().map(|line| harmless(line) + "\n").collect(),
            pictures: self.pictures,
            subject,
        })
    }
}

fn inks() -> Inks {
    Inks {
        paper: light("--paper"),
        ink: light("--ink"),
        ink2: light("--ink2"),
        magenta: light("--mag"),
        hair: light("--hair"),
    }
}
