//! What stands for each club: its file, the advisories of its coming sessions and what it has decided of them.
//!
//! Owns: reading them, once for many mails. Must not know: who is told of them.

use crate::error::DigestError;
use advisory::{Advisory, Decision};
use chrono::{DateTime, TimeDelta, Utc};
use club::Club;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::{Duration, Instant};
use store::{Store, StoreError};
use tokio::sync::Mutex;

/// A session is called at most ten days ahead; what was last issued longer ago is of no coming one.
const LOOK_BACK: TimeDelta = TimeDelta::days(16);
/// What was read is used again for so long, by the machine's own clock: a burst of mails costs one reading.
const GOOD_FOR: Duration = Duration::from_secs(5);

/// What stands for a club at a moment.
#[derive(Debug)]
pub(crate) struct Board {
    pub club: Club,
    /// Of sessions that are not over, in order of leaving.
    pub advisories: Vec<Advisory>,
    pub decisions: Vec<Decision>,
}

/// The boards read last.
#[derive(Debug, Default)]
pub(crate) struct Boards(Mutex<BTreeMap<String, (Instant, Arc<Board>)>>);

impl Boards {
    /// The board of a club, read within the last seconds; none without a readable club file.
    pub(crate) async fn of(
        &self,
        store: &Store,
        slug: &str,
        now: DateTime<Utc>,
    ) -> Result<Option<Arc<Board>>, DigestError> {
        let mut boards = self.0.lock().await;
        if let Some((read, board)) = boards.get(slug)
            && read.elapsed() < GOOD_FOR
        {
            return Ok(Some(board.clone()));
        }
        let Some(club) = newest_club(store, slug).await? else {
            boards.remove(slug);
            return Ok(None);
        };
        let board = Arc::new(read(store, club, now).await?);
        boards.insert(slug.to_owned(), (Instant::now(), board.clone()));
        Ok(Some(board))
    }
}

/// The club by the newest version of its file; none if there is none, or it cannot be read: the advisor tells of that.
pub(crate) async fn newest_club(store: &Store, slug: &str) -> Result<Option<Club>, StoreError> {
    let newest = store.latest_club_version(slug, DateTime::<Utc>::MAX_UTC).await?;
    Ok(newest
        .and_then(|newest| club::parse(&newest.file.text).ok())
        .map(|parsed| parsed.club))
}

/// What stands for a club now.
pub(crate) async fn read(store: &Store, club: Club, now: DateTime<Utc>) -> Result<Board, DigestError> {
    let issues = store.standing_issues(&club.slug, now - LOOK_BACK).await?;
    let mut advisories: Vec<Advisory> = issues
        .iter()
        .filter_map(|issue| readable(&issue.id, &issue.document))
        .filter(|advisory| advisory.session.alongside > now)
        .collect();
    advisories.sort_by_key(|advisory| (advisory.session.leaves, advisory.session.id.clone()));
    let kept = store.decisions(&club.slug, now - LOOK_BACK, now).await?;
    let decisions = kept.iter().map(|decision| {
        serde_json::from_slice(&decision.document).map_err(|source| DigestError::Unreadable {
            what: format!("a decision of {}", decision.occurrence),
            source,
        })
    });
    Ok(Board {
        decisions: decisions.collect::<Result<_, _>>()?,
        club,
        advisories,
    })
}

/// One that cannot be read must not keep the others from being mailed; it is not mailed itself.
pub(crate) fn readable(id: &str, document: &[u8]) -> Option<Advisory> {
    let read = advisory::from_bytes(document);
    if let Err(error) = &read {
        tracing::error!(%error, advisory = %id, "a stored advisory cannot be read and is left out of mails");
    }
    read.ok()
}
