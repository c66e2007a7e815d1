//! Issuing, once, and explaining what was issued.

use crate::error::AdvisorError;
use crate::gather::{gather, slices_for};
use crate::steadiness::{held_by, moved_since};
use advisory::{Advisory, Assembled, Explanation, Inputs, Opening, OpeningQuery};
use chrono::{DateTime, Utc};
use club::{Club, Occurrence};
use feeds::Catalogue;
use forecast::RunSlice;
use std::collections::BTreeMap;
use std::sync::Arc;
use store::{NewAdvisory, NewClubVersion, Store, StoredAdvisory};

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
    catalogue: &Arc<Catalogue>,
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
    // Sessions at the same venue are called from the same runs, read once.
    let mut read: BTreeMap<usize, Arc<Vec<RunSlice>>> = BTreeMap::new();
    let mut making = Vec::with_capacity(occurrences.len());
    for occurrence in occurrences {
        let venue = club.sessions[occurrence.session].venue;
        let slices = match read.get(&venue) {
            Some(slices) => slices.clone(),
            None => {
                let slices = Arc::new(slices_for(store, catalogue, club, &club.venues[venue], now).await?);
                read.entry(venue).or_insert(slices).clone()
            }
        };
        let standing = store
            .latest_advisory(&club.slug, &occurrence.id)
            .await?
            .and_then(Standing::read);
        let (catalogue, club, occurrence) = (catalogue.clone(), club.clone(), occurrence.clone());
        // The rules are pure computation: off the async threads, one occurrence beside another.
        making.push(tokio::task::spawn_blocking(move || {
            let inputs = gather(&catalogue, &club, &occurrence, &slices);
            make(inputs, &club, now, standing).map_err(|source| AdvisorError::Advisory {
                occurrence: occurrence.id,
                source,
            })
        }));
    }
    let mut issued = Vec::with_capacity(making.len());
    for made in making {
        issued.push(match made.await?? {
            Made::Standing(advisory) => Issued { advisory, new: false },
            Made::New(advisory, new) => {
                let is_new = store.put_advisory(&new).await?;
                let call = advisory.call.words();
                tracing::info!(advisory.id = %new.id, occurrence = %new.occurrence, call, "advisory issued");
                Issued {
                    advisory,
                    new: is_new,
                }
            }
        });
    }
    Ok(issued)
}

/// The advisory that stands for an occurrence.
struct Standing {
    advisory: Advisory,
    input_hash: String,
}

impl Standing {
    /// None where its document cannot be read: then there is nothing to hold on to.
    fn read(stored: StoredAdvisory) -> Option<Self> {
        let advisory = advisory::from_bytes(&stored.advisory.document).ok()?;
        Some(Self {
            advisory,
            input_hash: stored.advisory.input_hash,
        })
    }
}

/// What came of making an advisory.
enum Made {
    /// Nothing has changed: the one that stands goes on standing.
    Standing(Advisory),
    /// A new one, and what is stored of it.
    New(Advisory, NewAdvisory),
}

/// Makes an advisory unless the standing one was made from the same; a kinder call than the standing one is held until it is believed.
fn make(
    mut inputs: Inputs,
    club: &Club,
    now: DateTime<Utc>,
    standing: Option<Standing>,
) -> Result<Made, advisory::AdvisoryError> {
    let assembled = Assembled::of(&inputs, club, now)?;
    if let Some(standing) = standing {
        inputs.moved = moved_since(&standing.advisory, assembled.run());
        for held in [None, Some(standing.advisory.call)] {
            inputs.held = held;
            if assembled.identity(&inputs)? == standing.input_hash {
                return Ok(Made::Standing(standing.advisory));
            }
        }
        inputs.held = None;
        let bare = assembled.make(&inputs)?;
        inputs.held = held_by(&club.policy, &standing.advisory, &bare);
        if inputs.held.is_none() {
            return stored(&inputs, &assembled, club, now, bare);
        }
    }
    let advisory = assembled.make(&inputs)?;
    stored(&inputs, &assembled, club, now, advisory)
}

fn stored(
    inputs: &Inputs,
    assembled: &Assembled<'_>,
    club: &Club,
    now: DateTime<Utc>,
    advisory: Advisory,
) -> Result<Made, advisory::AdvisoryError> {
    let new = NewAdvisory {
        id: advisory.id.clone(),
        club: club.slug.clone(),
        occurrence: inputs.occurrence.clone(),
        input_hash: assembled.identity(inputs)?,
        inputs: inputs.to_bytes()?,
        document: advisory::to_bytes(&advisory)?,
        issued_at: now,
    };
    Ok(Made::New(advisory, new))
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
