//! The shelf beside the line: point series by node, club versions, issued advisories, tokens, subscriptions with
//! their outbox and notes of fetching, in SQL, on SQLite and on PostgreSQL.
//!
//! Owns: every SQL statement, the schema and its migrations, and the form in which series and manifests are kept.
//! Is given: parts already decoded, club texts and documents as bytes, instants. Must not know: feeds, GRIB, rules,
//! presentation, the clock.

mod address;
mod advisory;
mod backend;
mod blob;
mod board;
mod cells;
mod club;
mod connection;
mod decision;
mod dump;
mod error;
mod mail_standing;
mod mailing;
mod note;
mod outbox;
mod part;
mod prune;
mod run;
mod schema;
mod secret;
mod slice;
mod subscription;
mod subscription_link;
mod tally;
mod token;

pub use advisory::{NewAdvisory, Put, StoredAdvisory};
pub use board::Issue;
pub use club::{ClubVersion, NewClubVersion};
pub use connection::Store;
pub use decision::NewDecision;
pub use error::StoreError;
pub use mail_standing::{MailCount, MailStanding, MailTrouble};
pub use mailing::{NewMailing, ToldOfSession};
pub use note::{FetchNote, NOTE_CHARACTERS, Severity};
pub use outbox::{ClaimedMail, MailKey, MailOutcome, REFUSALS_AT_MOST};
pub use part::NewPart;
pub use prune::{PrunePolicy, Pruned};
pub use run::{NewestVisible, RunSummary};
pub use secret::{SECRET_PREFIX, TokenSecret};
pub use slice::NEAR_DEGREES;
pub use subscription::{CONFIRMATIONS_AT_MOST, NewSubscription, Subscription};
pub use subscription_link::{LinkPurpose, NewLink};
pub use tally::MessageTally;
pub use token::{NewToken, Scope, Token};
