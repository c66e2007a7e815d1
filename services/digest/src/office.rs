//! One round of the mail: what is due is claimed, made, handed over and noted, by a few senders side by side, until nothing is due.
//!
//! Owns: the order of these steps, by which a crash loses nothing and sends twice only what was being handed over. Must not know: when to go
//! round, what a mail says, what a server answers.

use crate::boards::Boards;
use crate::compose::{Composed, Desk};
use crate::error::DigestError;
use crate::fault::{Consequence, Fault};
use crate::rest::before_again;
use crate::server::{Conversation, MailServer};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use present::PublicAddress;
use present::mail::Pictures;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use store::{ClaimedMail, MailKey, MailOutcome, Store, Subscription, TokenSecret};

/// Mails claimed at once by one sender.
const BATCH: u16 = 8;

/// A step that was taken, at which a process may end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PostEvent<'a> {
    /// So many mails were claimed.
    Claimed(usize),
    /// A mail was made.
    Composed(&'a MailKey),
    /// Its attempt was noted; what follows is the server's.
    Begun(&'a MailKey),
    /// The server has taken it.
    HandedOver(&'a MailKey),
    /// What became of it was noted.
    Recorded(&'a MailKey),
}

/// Told of each step.
pub trait PostWatcher: Send + Sync {
    /// A step was taken.
    fn tell(&self, event: PostEvent<'_>);
}

/// Nobody watches.
#[derive(Clone, Copy, Debug)]
pub struct Unwatched;

impl PostWatcher for Unwatched {
    fn tell(&self, _: PostEvent<'_>) {}
}

/// What a round did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Posted {
    /// Mails that the server took.
    pub sent: usize,
    /// Mails with nothing to tell, or too late.
    pub left_out: usize,
    /// Mails to be tried again.
    pub waiting: usize,
    /// Mails refused for good.
    pub refused: usize,
    /// The round ended because the server is in trouble: why, without an address.
    pub trouble: Option<String>,
}

/// What the mail of a store is seen to with.
#[derive(Debug)]
pub struct Office {
    store: Store,
    server: MailServer,
    public: PublicAddress,
    own_club: String,
    pictures: Pictures,
    boards: Boards,
}

/// One round's counts, and the first trouble of the server.
#[derive(Debug, Default)]
struct Round {
    sent: AtomicUsize,
    left_out: AtomicUsize,
    waiting: AtomicUsize,
    refused: AtomicUsize,
    trouble: Mutex<Option<String>>,
}

impl Office {
    /// `public` is where links in mails lead; `own_club` the club whose pages are there.
    pub fn new(store: Store, server: MailServer, public: PublicAddress, own_club: impl Into<String>) -> Self {
        Self {
            store,
            server,
            public,
            own_club: own_club.into(),
            pictures: Pictures::default(),
            boards: Boards::default(),
        }
    }

    /// Sends what is due, until nothing is due or the server is in trouble.
    ///
    /// # Errors
    /// If the store cannot be read or written: what was claimed is free again when its claim has run out.
    pub async fn post(
        self: &Arc<Self>,
        clock: &Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>,
        watcher: &Arc<dyn PostWatcher>,
    ) -> Result<Posted, DigestError> {
        let round = Arc::new(Round::default());
        let mut senders = tokio::task::JoinSet::new();
        for _ in 0..self.server.settings().connections {
            let sender = Sending {
                office: self.clone(),
                round: round.clone(),
                clock: clock.clone(),
                watcher: watcher.clone(),
                claim: random_name()?,
            };
            senders.spawn(sender.send_on());
        }
        let mut ended = Ok(());
        while let Some(one) = senders.join_next().await {
            ended = ended.and(one.map_err(DigestError::from).and_then(|ended| ended));
        }
        ended.map(|()| round.posted())
    }
}

/// A mail that was made and not sent.
#[derive(Clone, PartialEq, Eq)]
pub struct Unsent {
    /// Whose it would be: the name of a subscription, or [`SAMPLE`].
    pub subscription: String,
    /// The mail (RFC 5322).
    pub octets: Vec<u8>,
}

/// In place of a subscription's name: somebody who takes everything.
pub const SAMPLE: &str = "everything";

impl Office {
    /// The daily mail of the own club as it would go out now, to somebody who takes everything and to each confirmed subscriber. Nothing is
    /// kept or sent, and the links lead nowhere.
    ///
    /// # Errors
    /// If the store cannot be read, or a mail not be made.
    pub async fn unsent(&self, now: DateTime<Utc>) -> Result<Vec<Unsent>, DigestError> {
        let Some(board) = self.boards.of(&self.store, &self.own_club, now).await? else {
            return Ok(Vec::new());
        };
        let mut subscriptions = self.store.confirmed_subscriptions(&self.own_club).await?;
        subscriptions.insert(0, sample(&self.own_club)?);
        let mut unsent = Vec::new();
        for subscription in subscriptions {
            let claimed = ClaimedMail {
                key: MailKey {
                    club: self.own_club.clone(),
                    mailing: format!("day/{}", now.date_naive()),
                    subscription: subscription.id.clone(),
                },
                body: Vec::new(),
                made_at: now,
                ends_at: now,
                attempts: 0,
            };
            let secret = TokenSecret::from_random(random_octets()?);
            let composed = self.desk().compose(&claimed, &subscription, &board, secret, now);
            if let Some(composed) = composed.map_err(DigestError::Unmade)? {
                unsent.push(Unsent {
                    subscription: subscription.id,
                    octets: composed.octets,
                });
            }
        }
        Ok(unsent)
    }

    fn desk(&self) -> Desk<'_> {
        Desk {
            settings: self.server.settings(),
            public: &self.public,
            own_club: &self.own_club,
            pictures: &self.pictures,
        }
    }
}

fn sample(club: &str) -> Result<Subscription, DigestError> {
    Ok(Subscription {
        id: SAMPLE.to_owned(),
        club: club.to_owned(),
        address: EmailAddress::parse("somebody@crew.example").map_err(DigestError::NoAddress)?,
        choices: Choices::default(),
        asked: None,
        confirmed_at: None,
        refusals: 0,
    })
}

impl Round {
    fn posted(&self) -> Posted {
        let of = |count: &AtomicUsize| count.load(Ordering::Relaxed);
        Posted {
            sent: of(&self.sent),
            left_out: of(&self.left_out),
            waiting: of(&self.waiting),
            refused: of(&self.refused),
            trouble: self.trouble(),
        }
    }

    fn trouble(&self) -> Option<String> {
        let trouble = self.trouble.lock();
        trouble.unwrap_or_else(std::sync::PoisonError::into_inner).clone()
    }

    fn is_in_trouble(&self, words: &str) {
        let trouble = self.trouble.lock();
        let mut trouble = trouble.unwrap_or_else(std::sync::PoisonError::into_inner);
        if trouble.is_none() {
            *trouble = Some(words.to_owned());
        }
    }

    fn count(&self, outcome: &MailOutcome) {
        let counter = match outcome {
            MailOutcome::Sent => &self.sent,
            MailOutcome::NothingToTell | MailOutcome::TooLate => &self.left_out,
            MailOutcome::Later { .. } => &self.waiting,
            MailOutcome::Refused { .. } => &self.refused,
        };
        counter.fetch_add(1, Ordering::Relaxed);
    }
}

/// One sender with its connection.
struct Sending {
    office: Arc<Office>,
    round: Arc<Round>,
    clock: Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>,
    watcher: Arc<dyn PostWatcher>,
    claim: String,
}

impl Sending {
    async fn send_on(self) -> Result<(), DigestError> {
        let mut conversation = None;
        let ended = self.all_that_is_due(&mut conversation).await;
        if let Some(conversation) = conversation {
            conversation.end().await;
        }
        ended?;
        // What was claimed and not begun need not wait for the claim to run out. After a fault of the store one may have been handed over
        // and not noted: that one waits, and its copy has the same Message-ID.
        Ok(self.office.store.release_mails(&self.claim).await?)
    }

    async fn all_that_is_due(&self, conversation: &mut Option<Conversation>) -> Result<(), DigestError> {
        while self.round.trouble().is_none() {
            let now = (self.clock)();
            let until = now + self.lease();
            let mails = self
                .office
                .store
                .claim_mails(&self.claim, (now, until), BATCH)
                .await?;
            if mails.is_empty() {
                break;
            }
            self.watcher.tell(PostEvent::Claimed(mails.len()));
            for mail in mails {
                if self.round.trouble().is_some() {
                    break;
                }
                self.one(mail, conversation).await?;
            }
        }
        Ok(())
    }

    /// From a claimed mail to what became of it.
    async fn one(
        &self,
        mail: ClaimedMail,
        conversation: &mut Option<Conversation>,
    ) -> Result<(), DigestError> {
        let outcome = match self.composed(&mail).await? {
            Ok(composed) => match self.handed_over(&mail, composed, conversation).await? {
                Some(outcome) => outcome,
                None => return Ok(()),
            },
            Err(outcome) => outcome,
        };
        self.office
            .store
            .end_mail(&mail.key, &self.claim, &outcome, (self.clock)())
            .await?;
        self.round.count(&outcome);
        self.watcher.tell(PostEvent::Recorded(&mail.key));
        Ok(())
    }

    /// The mail ready to go, or what became of it without.
    async fn composed(&self, mail: &ClaimedMail) -> Result<Result<Composed, MailOutcome>, DigestError> {
        let (office, now) = (self.office.clone(), (self.clock)());
        if mail.ends_at <= now {
            return Ok(Err(MailOutcome::TooLate));
        }
        let subscription = office.store.subscription(&mail.key.subscription).await?;
        let board = office.boards.of(&office.store, &mail.key.club, now).await?;
        let (Some(subscription), Some(board)) = (subscription, board) else {
            return Ok(Err(MailOutcome::NothingToTell));
        };
        let secret = TokenSecret::from_random(random_octets()?);
        let claimed = mail.clone();
        // Drawing and writing are computation: off the async threads.
        let written = tokio::task::spawn_blocking(move || {
            office
                .desk()
                .compose(&claimed, &subscription, &board, secret, now)
        });
        Ok(match written.await? {
            Ok(Some(composed)) => {
                self.watcher.tell(PostEvent::Composed(&mail.key));
                Ok(composed)
            }
            Ok(None) => Err(MailOutcome::NothingToTell),
            Err(error) => {
                let error: &dyn std::error::Error = &error;
                tracing::error!(error, mailing = %mail.key.mailing, "a mail could not be made; it is tried again");
                Err(self.after(mail, Fault::unmade()))
            }
        })
    }

    /// None where it must not be sent any more: it is another's, or its owner has ended it.
    async fn handed_over(
        &self,
        mail: &ClaimedMail,
        composed: Composed,
        conversation: &mut Option<Conversation>,
    ) -> Result<Option<MailOutcome>, DigestError> {
        let server = &self.office.server;
        let mut talking = match self.talking(conversation.take()).await {
            Ok(talking) => talking,
            Err(fault) => return Ok(Some(self.after(mail, fault))),
        };
        let until = (self.clock)() + self.lease();
        let begun = self
            .office
            .store
            .begin_mail(&mail.key, &self.claim, until, &composed.link);
        if !begun.await? {
            *conversation = Some(talking);
            return Ok(None);
        }
        self.watcher.tell(PostEvent::Begun(&mail.key));
        match server
            .hand_over(&mut talking, &composed.to, &composed.octets)
            .await
        {
            Ok(()) => {
                self.watcher.tell(PostEvent::HandedOver(&mail.key));
                *conversation = Some(talking);
                Ok(Some(MailOutcome::Sent))
            }
            Err(fault) => {
                talking.end().await;
                Ok(Some(self.after(mail, fault)))
            }
        }
    }

    /// The conversation at hand, or a new one.
    async fn talking(&self, at_hand: Option<Conversation>) -> Result<Conversation, Fault> {
        match at_hand {
            Some(talking) if !talking.is_worn() => Ok(talking),
            Some(worn) => {
                worn.end().await;
                self.office.server.connect().await
            }
            None => self.office.server.connect().await,
        }
    }

    /// What becomes of a mail after a fault.
    fn after(&self, mail: &ClaimedMail, fault: Fault) -> MailOutcome {
        let later = |wait: TimeDelta| MailOutcome::Later {
            fault: fault.word,
            words: fault.words.clone(),
            due_at: (self.clock)() + wait,
        };
        match fault.consequence {
            Consequence::AllWait => {
                self.round.is_in_trouble(&fault.words);
                // It is due at once: how long all wait is the loop's.
                later(TimeDelta::zero())
            }
            Consequence::Wait => later(before_again(mail.attempts + 1)),
            Consequence::Stop { address } => MailOutcome::Refused {
                fault: fault.word,
                words: fault.words.clone(),
                address,
            },
        }
    }

    fn lease(&self) -> TimeDelta {
        TimeDelta::from_std(self.office.server.longest()).unwrap_or(TimeDelta::hours(1))
    }
}

fn random_octets<const N: usize>() -> Result<[u8; N], DigestError> {
    let mut octets = [0; N];
    getrandom::fill(&mut octets).map_err(DigestError::Randomness)?;
    Ok(octets)
}

/// A name for a claim that no other process has.
fn random_name() -> Result<String, DigestError> {
    let octets: [u8; 8] = random_octets()?;
    Ok(octets.iter().map(|octet| format!("{octet:02x}")).collect())
}
