//! Making what is due: each club's daily mail, and the changes to be told. Making it again makes nothing.
//!
//! Must not know: to whom anything goes, how it is sent.

use crate::boards::{Board, newest_club, read, readable};
use crate::changes::{SessionChange, as_issued};
use crate::due::{digest_due, next_digest};
use crate::error::DigestError;
use advisory::Advisory;
use chrono::{DateTime, TimeDelta, Utc};
use club::occurrences;
use present::mail::Told;
use store::{NewMailing, Store};

/// The daily mail waits so long for advisories that are being issued anew, and no longer.
const WAITS_FOR_ISSUES: TimeDelta = TimeDelta::minutes(5);
/// As far ahead as sessions are advised on.
const LOOKS_AHEAD: TimeDelta = TimeDelta::days(7);
/// Issues of one session that are looked at: far more than any session has had.
const ISSUES_AT_MOST: u16 = 10_000;

/// What was made, by club and name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Made {
    /// Mailings that were not there before.
    pub mailings: Vec<(String, String)>,
    /// Clubs whose mail could not be seen to; the causes are in the log.
    pub failed: usize,
}

/// Makes what is due at a moment for every club that sends mail. One club's fault does not hinder the others.
///
/// # Errors
/// If the store cannot say which clubs there are.
pub async fn make_mailings(store: &Store, now: DateTime<Utc>) -> Result<Made, DigestError> {
    let mut made = Made::default();
    for slug in store.club_slugs(DateTime::<Utc>::MAX_UTC).await? {
        if let Err(error) = of_club(store, &slug, now, &mut made).await {
            let error: &dyn std::error::Error = &error;
            tracing::error!(error, club = %slug, "what is due of a club's mail could not be made; it is tried again");
            made.failed += 1;
        }
    }
    Ok(made)
}

async fn of_club(store: &Store, slug: &str, now: DateTime<Utc>, made: &mut Made) -> Result<(), DigestError> {
    let Some(club) = newest_club(store, slug).await? else {
        return Ok(());
    };
    if club.digest_at.is_none() {
        return Ok(());
    }
    let board = read(store, club, now).await?;
    for new in daily(store, &board, now).await?.into_iter() {
        if store.put_mailing(&new).await? {
            made.mailings.push((new.club, new.name));
        }
    }
    for advisory in &board.advisories {
        if let Some(name) = change_of(store, &board, advisory, now).await? {
            made.mailings.push((slug.to_owned(), name));
        }
    }
    Ok(())
}

/// The daily mail, if it is due and not made. It ends when the next one is due: a morning's mail is of no use the next morning.
async fn daily(store: &Store, board: &Board, now: DateTime<Utc>) -> Result<Option<NewMailing>, DigestError> {
    let Some((day, due)) = digest_due(&board.club, now) else {
        return Ok(None);
    };
    let name = format!("day/{day}");
    if store.has_mailing(&board.club.slug, &name).await? {
        return Ok(None);
    }
    let being_issued = board
        .advisories
        .iter()
        .any(|advisory| advisory.session.leaves > now && advisory.valid_until < now);
    // Sessions are to come, and of none anything was said: a store that has just been filled, or an advisor that is not at work.
    let unsaid = board.advisories.is_empty() && !occurrences(&board.club, now, now + LOOKS_AHEAD).is_empty();
    if unsaid || (being_issued && now - due < WAITS_FOR_ISSUES) {
        return Ok(None);
    }
    Ok(Some(NewMailing {
        club: board.club.slug.clone(),
        name,
        body: Vec::new(),
        made_at: now,
        ends_at: next_digest(&board.club, now).unwrap_or(now + TimeDelta::days(1)),
    }))
}

/// Notes what stands for a session once its club's hour has passed, and makes the mailing that tells how it differs from what stood
/// then, or was told last. The name of the mailing, if one was made.
async fn change_of(
    store: &Store,
    board: &Board,
    advisory: &Advisory,
    now: DateTime<Utc>,
) -> Result<Option<String>, DigestError> {
    let session = &advisory.session;
    if now < advisory.decides_by {
        return Ok(None);
    }
    let (slug, id) = (board.club.slug.as_str(), session.id.as_str());
    let stands = as_issued(advisory, &board.decisions);
    let kept = store.told_of_session(slug, id).await?;
    let (version, was): (_, Told) = match &kept {
        Some(kept) => (Some(kept.version), document(&kept.document, id)?),
        None => (None, at_the_hour(store, board, advisory).await?),
    };
    let change = was.differs(&stands);
    if kept.is_some() && !change {
        return Ok(None);
    }
    let new = NewMailing {
        club: slug.to_owned(),
        name: format!("change/{id}/{}", version.unwrap_or(0) + 1),
        body: bytes(
            &SessionChange {
                session: id.to_owned(),
                was,
            },
            id,
        )?,
        made_at: now,
        ends_at: session.alongside.to_utc(),
    };
    let told = bytes(&stands, id)?;
    let mailing = change.then_some(&new);
    let noted = store
        .tell_of_session((slug, id), version, &told, (mailing, now))
        .await?;
    Ok((noted && change).then_some(new.name))
}

/// What stood when the club decides; of a session that was first called later, what was said first.
async fn at_the_hour(store: &Store, board: &Board, advisory: &Advisory) -> Result<Told, DigestError> {
    let (id, hour) = (&advisory.session.id, advisory.decides_by.to_utc());
    let issues = store.issues(&board.club.slug, id, (0, ISSUES_AT_MOST)).await?;
    let later = issues
        .iter()
        .position(|issue| issue.issued_at > hour)
        .unwrap_or(issues.len());
    let stood = issues.get(later.saturating_sub(1));
    let stood = stood.and_then(|issue| readable(&issue.id, &issue.document));
    let decided: Vec<_> = board
        .decisions
        .iter()
        .filter(|decision| decision.at <= hour)
        .cloned()
        .collect();
    Ok(as_issued(stood.as_ref().unwrap_or(advisory), &decided))
}

fn bytes<T: serde::Serialize>(document: &T, id: &str) -> Result<Vec<u8>, DigestError> {
    serde_json::to_vec(document).map_err(|source| unreadable(id, source))
}

pub(crate) fn document<T: serde::de::DeserializeOwned>(bytes: &[u8], id: &str) -> Result<T, DigestError> {
    serde_json::from_slice(bytes).map_err(|source| unreadable(id, source))
}

fn unreadable(id: &str, source: serde_json::Error) -> DigestError {
    DigestError::Unreadable {
        what: format!("what is told of {id}"),
        source,
    }
}
