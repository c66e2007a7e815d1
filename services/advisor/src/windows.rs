//! Windows as somebody asks for them: by the keys of the club file, or as a session has them.
//!
//! Owns: what is taken where nothing is said, and that the finding does not stop other work. Must not know: how a window
//! is found, which the `advisory` crate does; who asks. Nothing is issued.

use crate::error::AdvisorError;
use crate::gather::slices_for;
use advisory::openings::DayLookedAt;
use advisory::{Opening, OpeningQuery};
use chrono::{DateTime, TimeDelta, Utc};
use club::Club;
use feeds::Catalogue;
use std::sync::Arc;
use store::Store;
use thiserror::Error;

/// Shortest stretch where nobody says (no source: common practice).
const USUAL_LENGTH: TimeDelta = TimeDelta::hours(3);

/// Which windows are wanted, by the keys of the club file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct WindowChoice {
    /// The session whose venue, boat, level and length are taken where they are not given.
    pub session: Option<String>,
    /// Venue; the session's or the club's first without it.
    pub venue: Option<String>,
    /// Boat; the session's or the club's first without it.
    pub boat: Option<String>,
    /// Level; the session's or the club's first without it.
    pub level: Option<String>,
    /// Shortest stretch; the session's length or three hours without it.
    pub at_least: Option<TimeDelta>,
    /// Marginal hours are good enough too.
    pub marginal_too: bool,
    /// Days looked at, from today.
    pub days: u16,
}

/// The club has nothing of that key.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("the club has no {what} {wanted}; it has {}", known.join(", "))]
pub struct NoSuchKey {
    /// Session, venue, boat or level.
    pub what: &'static str,
    /// The key that was given.
    pub wanted: String,
    /// The keys there are.
    pub known: Vec<String>,
}

/// The windows there are.
#[derive(Clone, Debug)]
pub struct Windows {
    /// In order of time.
    pub openings: Vec<Opening>,
    /// The days that were looked at, each with the run it was looked at by.
    pub days: Vec<DayLookedAt>,
    /// Whether any run was at hand that is not too old; without one nothing can be said of any hour.
    pub any_run: bool,
}

impl WindowChoice {
    /// The choice as the club has it.
    ///
    /// # Errors
    /// [`NoSuchKey`] for a key that the club file does not have.
    pub fn of<'a>(&self, club: &'a Club) -> Result<OpeningQuery<'a>, NoSuchKey> {
        let session = match self.session.as_deref() {
            None => None,
            wanted => Some(pick("session", &club.sessions, |session| &session.id, wanted)?),
        };
        let keyed =
            |given: &Option<String>, of_session: Option<&String>| given.as_ref().or(of_session).cloned();
        let venue = keyed(&self.venue, session.map(|session| &club.venues[session.venue].id));
        let boat = keyed(&self.boat, session.map(|session| &club.boats[session.boat].id));
        let level = keyed(&self.level, session.map(|session| &club.levels[session.level].id));
        Ok(OpeningQuery {
            venue: pick("venue", &club.venues, |venue| &venue.id, venue.as_deref())?,
            boat: pick("boat", &club.boats, |boat| &boat.id, boat.as_deref())?,
            level: pick("level", &club.levels, |level| &level.id, level.as_deref())?,
            marginal_too: self.marginal_too,
            at_least: self
                .at_least
                .or(session.map(|session| session.lasts))
                .unwrap_or(USUAL_LENGTH),
            days: self.days,
        })
    }
}

/// One of the club's, by its key; the first without one.
///
/// # Errors
/// [`NoSuchKey`] where none has the key.
pub fn pick<'a, T>(
    what: &'static str,
    of: &'a [T],
    id: impl Fn(&T) -> &String,
    wanted: Option<&str>,
) -> Result<&'a T, NoSuchKey> {
    let found = match wanted {
        None => of.first(),
        Some(wanted) => of.iter().find(|one| id(one) == wanted),
    };
    found.ok_or_else(|| NoSuchKey {
        what,
        wanted: wanted.unwrap_or("(the first)").to_owned(),
        known: of.iter().map(|one| id(one).clone()).collect(),
    })
}

/// The windows of the coming days by the newest runs, found on the threads for computation.
///
/// # Errors
/// If the club has no such key, the store cannot be read or the computation stopped.
pub async fn windows(
    store: &Store,
    catalogue: &Catalogue,
    club: &Arc<Club>,
    choice: WindowChoice,
    now: DateTime<Utc>,
) -> Result<Windows, AdvisorError> {
    let venue = choice.of(club)?.venue;
    let slices = slices_for(store, catalogue, club, venue, now).await?;
    let club = club.clone();
    let found = tokio::task::spawn_blocking(move || {
        let found = advisory::look_for_openings(choice.of(&club)?, &club, &slices, now);
        Ok::<_, NoSuchKey>(Windows {
            openings: found.openings,
            days: found.days,
            any_run: !slices.is_empty(),
        })
    });
    Ok(found.await??)
}
