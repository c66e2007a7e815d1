//! What is answered from the store without issuing anything: how an advisory came about, and openings.

use crate::error::AdvisorError;
use crate::gather::slices_for;
use advisory::{Explanation, Inputs, Opening, OpeningQuery};
use chrono::{DateTime, Utc};
use club::Club;
use feeds::Catalogue;
use store::Store;

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
