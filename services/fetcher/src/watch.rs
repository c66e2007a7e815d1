//! What a pull tells while it goes on: for a progress bar, for a log, for a test that ends it at a named point.
//!
//! Must not know: who listens.

use crate::report::SourceReport;
use chrono::{DateTime, Utc};
use forecast::SourceId;

/// Something that happened. Sources are pulled side by side: events of several are mixed, each names its own.
#[derive(Clone, Copy, Debug)]
pub enum PullEvent<'a> {
    /// A source is begun with.
    SourceBegins {
        /// The feed.
        source: &'a SourceId,
    },
    /// A run is there and is read as far as it is not kept.
    RunBegins {
        /// The feed.
        source: &'a SourceId,
        /// The run's reference time.
        run: DateTime<Utc>,
        /// Messages wanted of the parts that are there and not kept.
        messages: usize,
    },
    /// It is known what is to be read for a part.
    PartPlanned {
        /// The feed.
        source: &'a SourceId,
        /// The run's reference time.
        run: DateTime<Utc>,
        /// The part.
        part: u16,
        /// Messages to read.
        messages: usize,
        /// Their octets, where the index tells them of all but the last of a file.
        octets: Option<u64>,
    },
    /// Octets have arrived.
    OctetsReceived {
        /// The feed.
        source: &'a SourceId,
        /// How many.
        octets: u64,
    },
    /// Messages were read, decoded and compared with their plan.
    MessagesDone {
        /// The feed.
        source: &'a SourceId,
        /// How many.
        count: usize,
    },
    /// A message now lies in the cache of raw messages.
    MessageCached {
        /// The feed.
        source: &'a SourceId,
    },
    /// A part is whole in memory and not yet in the store.
    PartRead {
        /// The feed.
        source: &'a SourceId,
        /// The run's reference time.
        run: DateTime<Utc>,
        /// The part.
        part: u16,
    },
    /// A part is in the store.
    PartWritten {
        /// The feed.
        source: &'a SourceId,
        /// The run's reference time.
        run: DateTime<Utc>,
        /// The part.
        part: u16,
    },
    /// A source is done with.
    SourceEnds {
        /// What was done.
        report: &'a SourceReport,
    },
}

/// Who is told.
pub trait PullWatcher: Send + Sync {
    /// Takes note of something that happened. It must not take long: the pull waits.
    fn tell(&self, event: PullEvent<'_>);
}

/// Nobody listens.
#[derive(Clone, Copy, Debug, Default)]
pub struct Unwatched;

impl PullWatcher for Unwatched {
    fn tell(&self, _: PullEvent<'_>) {}
}
