//! Issuing, once, and explaining what was issued.

use crate::error::AdvisorError;
use crate::gather::{gather, slices_for};
use crate::steadiness::held_by;
use advisory::{Advisory, Explanation, Inputs, Opening, OpeningQuery};
use chrono::{DateTime, Utc};
use club::{Club, Occurrence};
use feeds::Catalogue;
use std::sync::Arc;
use store::{NewAdvisory, NewClubVersion, Store};

/// An advisory that stands for an occurrence.
#[derive(Clone, Debug)]
pub struct Issued {
    /// The document.
    pub advisory: Advisory,
    /// It was issued just now; otherwise it had been issued before and nothing has changed.
    pub new: bool,
}

/// Issues an advisory for each occurrence whose inputs have changed, and returns the one that stands for each.
pub async fn issue(
    store: &Store,
    catalogue: &Catalogue,
    club: &Arc<Club>,
    club_text: &str,
    occurrences: &[Occurrence],
    now: DateTime<Utc>,
) -> Result<Vec<Issued>, AdvisorError> {
    let version = NewClubVersion {
        slug: club.slug.clone(),
        version: club.version.clone(),
        text: club_text.to_owned(),
        seen_at: now,
    };
    store.put_club_version(&version).await?;
    let mut making = Vec::with_capacity(occurrences.len());
    for occurrence in occurrences {
        let inputs = gather(store, catalogue, club, occurrence, now).await?;
        let standing = store.latest_advisory(&club.slug, &occurrence.id).await?;
        let standing = standing.and_then(|known| advisory::from_bytes(&known.advisory.document).ok());
        let (club, id) = (club.clone(), occurrence.id.clone());
        // The rules are pure computation: off the async threads, one occurrence beside another.
        let made = tokio::task::spawn_blocking(move || {
            make(inputs, &club, now, standing.as_ref()).map_err(|source| AdvisorError::Advisory {
                occurrence: id,
                source,
            })
        });
        making.push(made);
    }
    let mut issued = Vec::with_capacity(making.len());
    for made in making {
        let (new, advisory) = made.await??;
        let known = store.latest_advisory(&club.slug, &new.occurrence).await?;
        let standing = known.filter(|known| known.advisory.input_hash == new.input_hash);
        let standing = standing.and_then(|known| advisory::from_bytes(&known.advisory.document).ok());
        match standing {
            Some(advisory) => issued.push(Issued { advisory, new: false }),
            None => {
                let is_new = store.put_advisory(&new).await?;
                tracing::info!(advisory.id = %new.id, occurrence = %new.occurrence, call = advisory.call.words(), "advisory issued");
                issued.push(Issued {
                    advisory,
                    new: is_new,
                });
            }
        }
    }
    Ok(issued)
}

/// Makes the advisory and what is stored of it; a kinder call than the standing one is held until it is believed.
fn make(
    mut inputs: Inputs,
    club: &Club,
    now: DateTime<Utc>,
    standing: Option<&Advisory>,
) -> Result<(NewAdvisory, Advisory), advisory::AdvisoryError> {
    let mut advisory = advisory::make(&inputs, club, now)?;
    if let Some(held) = standing.and_then(|standing| held_by(standing, &advisory)) {
        inputs.held = Some(held);
        advisory = advisory::make(&inputs, club, now)?;
    }
    let new = NewAdvisory {
        id: advisory.id.clone(),
        club: club.slug.clone(),
        occurrence: inputs.occurrence.clone(),
        input_hash: advisory::identity(&inputs, club, now)?,
        inputs: inputs.to_bytes()?,
        document: advisory::to_bytes(&advisory)?,
        issued_at: now,
    };
    Ok((new, advisory))
}

/// Makes an issued advisory again from what is stored with it. The first is the stored bytes.
pub async fn explain(store: &Store, id: &str) -> Result<(Vec<u8>, Explanation), AdvisorError> {
    let matching = store.advisory_ids(id, 3).await?;
    let full = match matching.as_slice() {
        [] => return Err(AdvisorError::NoSuchAdvisory { id: id.to_owned() }),
        [one] => one,
        several => {
            return Err(AdvisorError::Ambiguous {
                id: id.to_owned(),
                matching: several.join(", "),
            });
        }
    };
    let Some(stored) = store.advisory(full).await? else {
        return Err(AdvisorError::NoSuchAdvisory { id: id.to_owned() });
    };
    let in_advisory = |source| AdvisorError::Advisory {
        occurrence: stored.advisory.occurrence.clone(),
        source,
    };
    let inputs = Inputs::from_bytes(&stored.advisory.inputs).map_err(in_advisory)?;
    let missing = || AdvisorError::NoClubVersion {
        version: inputs.club_version.clone(),
    };
    let version = store
        .club_version(&stored.advisory.club, &inputs.club_version)
        .await?
        .ok_or_else(missing)?;
    let club = club::parse(&version.file.text).map_err(|_| missing())?.club;
    let explained = advisory::explain(&inputs, &club, stored.advisory.issued_at).map_err(in_advisory)?;
    Ok((stored.advisory.document, explained))
}

/// Openings by the newest runs, without issuing anything.
pub async fn openings(
    store: &Store,
    catalogue: &Catalogue,
    club: &Club,
    query: OpeningQuery<'_>,
    now: DateTime<Utc>,
) -> Result<Vec<Opening>, AdvisorError> {
    let slices = slices_for(store, catalogue, club, query.venue, now).await?;
    Ok(advisory::openings(query, club, &slices, now))
}
