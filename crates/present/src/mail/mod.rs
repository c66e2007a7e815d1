//! Mails: the digest of a day, what has changed, and the question whether an address wants them. Words, HTML and pictures.
//!
//! Owns: what each mail says and in which order. Is given: the advisories chosen for one subscriber as they stand now. Must
//! not know: addresses, when a mail is due, how it is sent. What may be shown of an advisory is decided in `shown` alone.

mod change;
mod choices;
mod digest;
mod foot;
mod letter;
mod pictures;
mod session;
mod subject;
mod text;

pub use change::Told;
pub use choices::choices_in_words;
pub(crate) use choices::day_name;
pub use pictures::Pictures;

use crate::{PresentError, PublicAddress};
use advisory::Decision;
use advisory::document::{Advisory, ClubName, LocalTime};
use chrono::{DateTime, Utc};
use std::sync::Arc;

/// A mail without its addresses: both parts say the same sentences in the same order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mail {
    /// One line, without control characters.
    pub subject: String,
    /// The plain part; lines end in a line feed and are at most 72 columns wide, but for a link or a word that is wider.
    pub text: String,
    /// The HTML part; it refers to its pictures as `cid:ID` and to nothing else that is fetched.
    pub html: String,
    /// The pictures that the HTML refers to, each once.
    pub pictures: Vec<MailPicture>,
}

/// A picture inside a mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailPicture {
    /// Its Content-ID, without angle brackets (RFC 2392).
    pub id: String,
    /// A name for who saves it.
    pub file_name: String,
    /// The PNG, shared by all mails that show it.
    pub png: Arc<[u8]>,
}

/// Where a mail leads.
#[derive(Clone, Debug)]
pub struct MailLinks<'a> {
    /// Where the club's pages are, if the service shows them; without it a mail has no link to a page.
    pub public: Option<&'a PublicAddress>,
    /// The subscriber's own page of choices.
    pub manage: String,
    /// The page that asks whether to stop all mail.
    pub unsubscribe: String,
}

/// What a mail is about, as it stands now.
#[derive(Clone, Copy)]
pub struct Standing<'a> {
    /// The club.
    pub club: &'a ClubName,
    /// The sessions chosen for this subscriber.
    pub advisories: &'a [Advisory],
    /// The club's decisions, each session's last one last.
    pub decisions: &'a [Decision],
    /// The time it is.
    pub now: DateTime<Utc>,
}

/// The mail of the day: the sessions of the first day that has one in full, those of later days in short. None without a
/// session.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn digest(
    standing: Standing<'_>,
    links: &MailLinks<'_>,
    pictures: &Pictures,
) -> Result<Option<Mail>, PresentError> {
    digest::letter(standing, links, pictures)
        .map(letter::Letter::into_mail)
        .transpose()
}

/// The mail of a change after the club's hour: of the session of `standing`, which has one. None where what stands now is
/// what was told, so that there is nothing to say.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn change(
    standing: Standing<'_>,
    was: &Told,
    links: &MailLinks<'_>,
    pictures: &Pictures,
) -> Result<Option<Mail>, PresentError> {
    change::letter(standing, was, links, pictures)
        .map(letter::Letter::into_mail)
        .transpose()
}

/// The mail that asks whether an address wants the club's mail, with its choices in words ([`choices_in_words`]) and where
/// official warnings are found ([`advisory::make::warnings`]). `already`: it gets mail, and the link would put these choices in place of the old ones.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn confirm(
    (club, warnings): (&ClubName, &str),
    link: &str,
    expires_at: LocalTime,
    choices: &[String],
    already: bool,
) -> Result<Mail, PresentError> {
    choices::confirm((club, warnings), link, expires_at, choices, already).into_mail()
}
