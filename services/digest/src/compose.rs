//! From a claimed mail to what is handed over: for whom, about what, from what stands now and not from what stood when it became due.
//!
//! Owns: which sessions a subscriber is told of, which links a mail carries. Must not know: SMTP, how a mail looks.

use crate::boards::Board;
use crate::changes::SessionChange;
use crate::error::DigestError;
use crate::making::document;
use crate::message::{Heads, message_id, octets};
use crate::settings::MailSettings;
use advisory::Advisory;
use advisory::Decided;
use advisory::document::{CallWord, ClubName};
use chrono::{DateTime, Datelike, TimeDelta, Utc};
use club::Choices;
use lettre::Address;
use present::PublicAddress;
use present::mail::{self, Mail, MailLinks, Pictures, Standing};
use store::{ClaimedMail, LinkPurpose, NewLink, Subscription, TokenSecret};

/// A link to confirm holds so long.
const CONFIRM_FOR: TimeDelta = TimeDelta::hours(48);
/// The links to choose anew and to end it: each mail brings new ones.
const MANAGE_FOR: TimeDelta = TimeDelta::days(90);

/// A mail that is ready to be handed over.
pub(crate) struct Composed {
    pub to: Address,
    pub octets: Vec<u8>,
    pub link: NewLink,
}

/// What all mails are made with.
pub(crate) struct Desk<'a> {
    pub settings: &'a MailSettings,
    pub public: &'a PublicAddress,
    /// The club whose pages this service shows.
    pub own_club: &'a str,
    pub pictures: &'a Pictures,
}

/// Why there is nothing to hand over.
#[derive(Debug, thiserror::Error)]
pub enum NotComposed {
    /// A template.
    #[error("its page could not be filled")]
    Page(#[from] present::PresentError),
    /// MIME.
    #[error("its parts could not be put together")]
    Parts(#[from] lettre::error::Error),
    /// The address.
    #[error("its address is none that can be sent to")]
    Address(#[from] lettre::address::AddressError),
    /// A change.
    #[error("what it is about cannot be read")]
    Body(#[from] Box<DigestError>),
}

impl Desk<'_> {
    /// The mail; none where there is nothing to tell this subscriber.
    pub(crate) fn compose(
        &self,
        claimed: &ClaimedMail,
        subscription: &Subscription,
        board: &Board,
        secret: TokenSecret,
        now: DateTime<Utc>,
    ) -> Result<Option<Composed>, NotComposed> {
        let confirming = claimed.key.mailing.starts_with("confirm/");
        let link = NewLink {
            purpose: if confirming {
                LinkPurpose::Confirm
            } else {
                LinkPurpose::Manage
            },
            expires_at: now + if confirming { CONFIRM_FOR } else { MANAGE_FOR },
            secret,
        };
        let unsubscribe = self.public.of(&format!("/unsubscribe/{}", link.secret.exposed()));
        let written = if confirming {
            Some(self.confirmation(subscription, board, &link)?)
        } else {
            let links = MailLinks {
                public: Some(self.public).filter(|_| board.club.slug == self.own_club),
                manage: self
                    .public
                    .of(&format!("/subscription/{}", link.secret.exposed())),
                unsubscribe: unsubscribe.clone(),
            };
            self.news(claimed, subscription, board, &links, now)?
        };
        let Some(written) = written else {
            return Ok(None);
        };
        let heads = Heads {
            from: &self.settings.from,
            to: subscription.address.exposed().parse()?,
            message_id: message_id(&claimed.key, &self.settings.from),
            date: now,
            unsubscribe: (!confirming).then_some(unsubscribe.as_str()),
            list: format!("<{}.{}>", board.club.slug, self.settings.from.domain()),
        };
        let to = heads.to.clone();
        let octets = self.signed(octets(&written, heads)?, now);
        Ok(Some(Composed { to, octets, link }))
    }

    fn confirmation(
        &self,
        subscription: &Subscription,
        board: &Board,
        link: &NewLink,
    ) -> Result<Mail, NotComposed> {
        let asked = subscription.asked.as_ref().unwrap_or(&subscription.choices);
        let address = self.public.of(&format!("/confirm/{}", link.secret.exposed()));
        let expires = link
            .expires_at
            .with_timezone(&board.club.time_zone)
            .fixed_offset();
        let words = mail::choices_in_words(asked, &board.club);
        let already = subscription.confirmed_at.is_some();
        Ok(mail::confirm(
            (
                &ClubName::from(&board.club),
                &advisory::make::warnings(&board.club),
            ),
            &address,
            expires,
            &words,
            already,
        )?)
    }

    fn news(
        &self,
        claimed: &ClaimedMail,
        subscription: &Subscription,
        board: &Board,
        links: &MailLinks<'_>,
        now: DateTime<Utc>,
    ) -> Result<Option<Mail>, NotComposed> {
        let choices = &subscription.choices;
        let mut chosen: Vec<Advisory> = board
            .advisories
            .iter()
            .filter(|advisory| is_chosen(choices, advisory))
            .cloned()
            .collect();
        let change = claimed.key.mailing.starts_with("change/");
        let change: Option<SessionChange> = match change {
            true => Some(document(&claimed.body, &claimed.key.mailing).map_err(Box::new)?),
            false => None,
        };
        match &change {
            Some(change) => chosen.retain(|one| choices.changes && one.session.id == change.session),
            None => chosen.retain(|one| one.session.leaves > now),
        }
        let sails = |one: &Advisory| may_sail(one, board, now);
        if chosen.is_empty() || (change.is_none() && choices.only_when_sailing && !chosen.iter().any(sails)) {
            return Ok(None);
        }
        let club = ClubName::from(&board.club);
        let standing = Standing {
            club: &club,
            advisories: &chosen,
            decisions: &board.decisions,
            now,
        };
        Ok(match change {
            None => mail::digest(standing, links, self.pictures)?,
            Some(change) => mail::change(standing, &change.was, links, self.pictures)?,
        })
    }

    #[cfg(feature = "dkim")]
    fn signed(&self, octets: Vec<u8>, now: DateTime<Utc>) -> Vec<u8> {
        match &self.settings.signer {
            Some(signer) => signer.sign(octets, now),
            None => octets,
        }
    }

    #[cfg(not(feature = "dkim"))]
    #[expect(
        clippy::unused_self,
        reason = "with the feature `dkim` it has a key to sign with"
    )]
    fn signed(&self, octets: Vec<u8>, _now: DateTime<Utc>) -> Vec<u8> {
        octets
    }
}

fn is_chosen(choices: &Choices, advisory: &Advisory) -> bool {
    let session = &advisory.session;
    choices.take(&session.level.id, &session.boat.id, session.leaves.weekday())
}

/// Go or marginal by a call that still holds, and not called off by the club.
fn may_sail(advisory: &Advisory, board: &Board, now: DateTime<Utc>) -> bool {
    let decision = board
        .decisions
        .iter()
        .rev()
        .find(|one| one.session == advisory.session.id);
    let off = decision.is_some_and(|decision| decision.decided == Decided::Off);
    let holds = advisory.valid_until >= now;
    holds && !off && matches!(advisory.call, CallWord::Go | CallWord::Marginal)
}
