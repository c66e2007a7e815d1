//! Issuing, once, however many advisors share the store.
//!
//! Must not know: when it is time to advise, which clubs there are.

use crate::error::AdvisorError;
use crate::gather::{gather, slices_for};
use crate::steadiness::{held_by, moved_since};
use advisory::{Advisory, Assembled, Inputs};
use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use club::{Club, Occurrence};
use feeds::Catalogue;
use forecast::RunSlice;
use std::collections::BTreeMap;
use std::sync::Arc;
use store::{NewAdvisory, NewClubVersion, Put, Store, StoredAdvisory};

/// An advisory that stands for an occurrence.
#[derive(Clone, Debug)]
pub struct Issued {
    /// The document.
    pub advisory: Advisory,
    /// It was issued just now; otherwise it had been issued before and nothing has changed.
    pub new: bool,
}

/// What could not be advised on; the others were.
#[derive(Debug)]
pub struct Failed {
    /// The session occurrence, or the club where not even its sessions are known.
    pub what: String,
    /// Why.
    pub error: AdvisorError,
}

/// What came of advising once.
#[derive(Debug, Default)]
pub struct Round {
    /// The advisory that stands for each session.
    pub issued: Vec<Issued>,
    /// The sessions for which none could be made or kept.
    pub failed: Vec<Failed>,
}

impl Round {
    pub(crate) fn fail(&mut self, what: &str, error: AdvisorError) {
        let cause: &dyn std::error::Error = &error;
        tracing::error!(occurrence = %what, error = cause, "no advisory could be issued; it is tried again");
        self.failed.push(Failed {
            what: what.to_owned(),
            error,
        });
    }
}

/// How far clocks of advisors that share a store may lie apart. A record from further ahead is from a clock that is wrong.
const CLOCKS_DIFFER_AT_MOST: TimeDelta = TimeDelta::minutes(5);

/// How often a session is made anew because another advisor was faster. Each time that other has issued something, so this is
/// only reached by many advisors at once, or a fault.
const ATTEMPTS: usize = 16;

/// Keeps a club file as the club's newest version.
pub async fn keep_club(
    store: &Store,
    club: &Club,
    club_text: &str,
    now: DateTime<Utc>,
) -> Result<(), AdvisorError> {
    let version = NewClubVersion {
        slug: club.slug.clone(),
        version: club.version.clone(),
        text: club_text.to_owned(),
        seen_at: now,
    };
    store.put_club_version(&version).await?;
    Ok(())
}

/// Keeps the club's file, issues an advisory for each occurrence whose inputs have changed, and returns the one that stands for each.
///
/// # Errors
/// If the club's file cannot be kept. A session that fails is told in the round and keeps no other from being issued.
pub async fn issue(
    store: &Store,
    catalogue: &Arc<Catalogue>,
    club: &Arc<Club>,
    club_text: &str,
    occurrences: &[Occurrence],
    now: DateTime<Utc>,
) -> Result<Round, AdvisorError> {
    keep_club(store, club, club_text, now).await?;
    let desk = Desk {
        store,
        catalogue,
        club,
    };
    Ok(desk.advise(occurrences, now).await)
}

/// What one club is advised with.
///
/// Several advisors may share a store and their clocks differ a little. Each reads in this order: what stands, the club's newest
/// version, then the runs, as of no earlier than the moment at which what stands was issued; and it issues only while what
/// stands has not changed since. So whatever is issued was made from at least what the one before it was made from: a laggard
/// never puts older runs after newer ones.
pub(crate) struct Desk<'a> {
    pub(crate) store: &'a Store,
    pub(crate) catalogue: &'a Arc<Catalogue>,
    pub(crate) club: &'a Arc<Club>,
}

impl Desk<'_> {
    /// Advises on each occurrence; one that fails does not hinder the others.
    pub(crate) async fn advise(&self, occurrences: &[Occurrence], now: DateTime<Utc>) -> Round {
        let mut round = Round::default();
        let mut before = Vec::with_capacity(occurrences.len());
        for occurrence in occurrences {
            match self.last_of(occurrence).await {
                Ok(last) => before.push((occurrence, last)),
                Err(error) => round.fail(&occurrence.id, error),
            }
        }
        let at = moment(now, before.iter().map(|(_, last)| last));
        if let Err(error) = self.is_newest().await {
            round.fail(&self.club.slug, error);
            return round;
        }
        // Sessions at the same venue are called from the same runs, read once.
        let mut read: BTreeMap<usize, Arc<Vec<RunSlice>>> = BTreeMap::new();
        let mut making = Vec::with_capacity(before.len());
        for (occurrence, last) in before {
            match self.slices(occurrence, at, &mut read).await {
                // The rules are pure computation: off the async threads, one occurrence beside another.
                Ok(slices) => making.push((
                    occurrence,
                    last.revision,
                    self.begin(occurrence, last, slices, (at, None)),
                )),
                Err(error) => round.fail(&occurrence.id, error),
            }
        }
        for (occurrence, revision, making) in making {
            let issued = match finished(making, occurrence).await {
                Ok(made) => self.settle(occurrence, made, revision, at).await,
                Err(error) => Err(error),
            };
            match issued {
                Ok(issued) => round.issued.push(issued),
                Err(error) => round.fail(&occurrence.id, error),
            }
        }
        round
    }

    async fn last_of(&self, occurrence: &Occurrence) -> Result<Last, AdvisorError> {
        let stored = self
            .store
            .latest_advisory(&self.club.slug, &occurrence.id)
            .await?;
        Ok(stored.map_or_else(Last::default, |stored| Last {
            revision: stored.revision,
            issued_at: Some(stored.advisory.issued_at),
            standing: Standing::read(stored),
        }))
    }

    /// Whether the club is still called by this file: what another has made from a newer one must not be followed by this.
    async fn is_newest(&self) -> Result<(), AdvisorError> {
        let newest = self
            .store
            .latest_club_version(&self.club.slug, DateTime::<Utc>::MAX_UTC)
            .await?;
        match newest {
            Some(newest) if newest.file.version != self.club.version => Err(AdvisorError::ClubChanged {
                slug: self.club.slug.clone(),
            }),
            _ => Ok(()),
        }
    }

    async fn slices(
        &self,
        occurrence: &Occurrence,
        at: DateTime<Utc>,
        read: &mut BTreeMap<usize, Arc<Vec<RunSlice>>>,
    ) -> Result<Arc<Vec<RunSlice>>, AdvisorError> {
        let venue = self.club.sessions[occurrence.session].venue;
        if let Some(slices) = read.get(&venue) {
            return Ok(slices.clone());
        }
        let found = slices_for(
            self.store,
            self.catalogue,
            self.club,
            &self.club.venues[venue],
            at,
        )
        .await?;
        Ok(read.entry(venue).or_insert(Arc::new(found)).clone())
    }

    fn begin(
        &self,
        occurrence: &Occurrence,
        last: Last,
        slices: Arc<Vec<RunSlice>>,
        (at, follows): (DateTime<Utc>, Option<i64>),
    ) -> Making {
        let (catalogue, club, occurrence) = (self.catalogue.clone(), self.club.clone(), occurrence.clone());
        tokio::task::spawn_blocking(move || {
            let inputs = gather(&catalogue, &club, &occurrence, &slices, at);
            make(Inputs { follows, ..inputs }, &club, at, last.standing)
        })
    }

    /// Issues what was made after a revision; if another was faster, makes it again from what is known by then.
    async fn settle(
        &self,
        occurrence: &Occurrence,
        mut made: Made,
        mut revision: i64,
        at: DateTime<Utc>,
    ) -> Result<Issued, AdvisorError> {
        for _ in 0..ATTEMPTS {
            let (advisory, new) = match made {
                Made::Standing(advisory) => return Ok(Issued { advisory, new: false }),
                Made::New(advisory, new) => (advisory, new),
            };
            match self.store.put_advisory_after(&new, revision).await? {
                Put::Issued => {
                    let call = advisory.call.words();
                    tracing::info!(advisory.id = %new.id, occurrence = %new.occurrence, call, "advisory issued");
                    return Ok(Issued { advisory, new: true });
                }
                // What stands now was issued after the same had been: it is issued anew, or the later one would go on standing.
                Put::Known(stored) if stored.revision < revision => {
                    (made, revision) = self.again(occurrence, at, Some(revision)).await?;
                }
                Put::Known(stored) => {
                    // Its own document may differ from the record in its moment of issue: the record is what was said.
                    let read = advisory::from_bytes(&stored.advisory.document);
                    let advisory = read.map_err(in_advisory(occurrence))?;
                    return Ok(Issued { advisory, new: false });
                }
                Put::Overtaken => (made, revision) = self.again(occurrence, at, None).await?,
            }
        }
        Err(AdvisorError::Overtaken {
            occurrence: occurrence.id.clone(),
        })
    }

    /// Made again from what is known by now; to follow an issue, where that one is still the last.
    async fn again(
        &self,
        occurrence: &Occurrence,
        at: DateTime<Utc>,
        follows: Option<i64>,
    ) -> Result<(Made, i64), AdvisorError> {
        let last = self.last_of(occurrence).await?;
        let (at, revision) = (moment(at, [&last]), last.revision);
        let follows = follows.filter(|follows| *follows == revision);
        self.is_newest().await?;
        let slices = self.slices(occurrence, at, &mut BTreeMap::new()).await?;
        let made = finished(self.begin(occurrence, last, slices, (at, follows)), occurrence).await?;
        Ok((made, revision))
    }
}

/// The making of one advisory on a thread of its own.
type Making = tokio::task::JoinHandle<Result<Made, advisory::AdvisoryError>>;

async fn finished(making: Making, occurrence: &Occurrence) -> Result<Made, AdvisorError> {
    making.await?.map_err(in_advisory(occurrence))
}

fn in_advisory(occurrence: &Occurrence) -> impl Fn(advisory::AdvisoryError) -> AdvisorError {
    |source| AdvisorError::Advisory {
        occurrence: occurrence.id.clone(),
        source,
    }
}

/// The moment to advise at, in the whole seconds that are kept: now, or that of the last issue if another advisor's clock is a
/// little ahead. Time does not go back from one issue to the next, or a run that was too old for one would serve the next.
fn moment<'a>(now: DateTime<Utc>, before: impl IntoIterator<Item = &'a Last>) -> DateTime<Utc> {
    let issued = before.into_iter().filter_map(|last| last.issued_at);
    let (near, far): (Vec<_>, Vec<_>) = issued.partition(|at| *at <= now + CLOCKS_DIFFER_AT_MOST);
    if let Some(ahead) = far.iter().max() {
        tracing::warn!(
            "an advisory was issued at {ahead}, which is still to come: set the clocks of the machines that advise"
        );
    }
    near.into_iter().fold(now, DateTime::max).trunc_subsecs(0)
}

/// What was issued last for an occurrence.
#[derive(Default)]
struct Last {
    /// Its number; 0 if nothing was issued.
    revision: i64,
    issued_at: Option<DateTime<Utc>>,
    standing: Option<Standing>,
}

/// The advisory that stands for an occurrence.
struct Standing {
    revision: i64,
    advisory: Advisory,
    input_hash: String,
}

impl Standing {
    /// None where its document cannot be read: then there is nothing to hold on to.
    fn read(stored: StoredAdvisory) -> Option<Self> {
        let advisory = advisory::from_bytes(&stored.advisory.document).ok()?;
        Some(Self {
            revision: stored.revision,
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
        let follows = inputs.follows;
        for held in [None, Some(standing.advisory.call)] {
            for follows in [None, Some(standing.revision - 1)] {
                (inputs.held, inputs.follows) = (held, follows);
                if assembled.identity(&inputs)? == standing.input_hash {
                    return Ok(Made::Standing(standing.advisory));
                }
            }
        }
        (inputs.held, inputs.follows) = (None, follows);
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
