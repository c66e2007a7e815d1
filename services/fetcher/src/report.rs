//! What a pull did, source by source, in words that a person can act on.

use chrono::{DateTime, Utc};
use feeds::MissingMessage;
use forecast::SourceId;
use std::fmt;

/// Reasons that the log names of one run.
const REASONS_LOGGED: usize = 5;

/// What a pull did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PullReport {
    /// One report for each feed of the plan.
    pub sources: Vec<SourceReport>,
}

/// What a pull did for one feed.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceReport {
    /// The feed.
    pub source: SourceId,
    /// The runs found, newest first.
    pub runs: Vec<RunReport>,
    /// Why nothing could be read, in words.
    pub failure: Option<String>,
    /// Octets of all bodies received over the network, indexes and repeated tries among them.
    pub octets_received: u64,
    /// Octets of the wanted messages that were read, from wherever.
    pub octets_wanted: u64,
}

/// What a pull did for one run.
#[derive(Clone, Debug, PartialEq)]
pub struct RunReport {
    /// The run's reference time.
    pub reference: DateTime<Utc>,
    /// Parts written by this pull.
    pub parts_written: Vec<u16>,
    /// Parts that were kept before it.
    pub parts_kept_before: Vec<u16>,
    /// The part that is still appearing.
    pub waiting_for_part: Option<u16>,
    /// Why the run was not read further by this pull, in words; a later pull goes on.
    pub stopped: Option<String>,
    /// Messages read.
    pub messages_read: usize,
    /// Octets of all bodies received over the network for this run, indexes and repeated tries among them.
    pub octets_received: u64,
    /// Octets of the run's wanted messages that were read, from wherever.
    pub octets_wanted: u64,
    /// Messages missing or damaged, each with its reason.
    pub missing: Vec<MissingMessage>,
}

impl SourceReport {
    pub(crate) fn new(source: SourceId) -> Self {
        Self {
            source,
            runs: Vec::new(),
            failure: None,
            octets_received: 0,
            octets_wanted: 0,
        }
    }

    pub(crate) fn log(&self) {
        if let Some(failure) = &self.failure {
            tracing::warn!(source = %self.source, "nothing could be read: {failure}");
        }
        for run in &self.runs {
            tracing::info!(source = %self.source, run = %run.reference.to_rfc3339(), "{run}");
            for reason in run.main_reasons(REASONS_LOGGED) {
                tracing::warn!(source = %self.source, run = %run.reference.to_rfc3339(), "{reason}");
            }
        }
    }
}

impl RunReport {
    pub(crate) fn new(reference: DateTime<Utc>) -> Self {
        Self {
            reference,
            parts_written: Vec::new(),
            parts_kept_before: Vec::new(),
            waiting_for_part: None,
            stopped: None,
            messages_read: 0,
            octets_received: 0,
            octets_wanted: 0,
            missing: Vec::new(),
        }
    }

    /// True if readers find any part of the run.
    pub fn is_usable(&self) -> bool {
        !self.parts_written.is_empty() || !self.parts_kept_before.is_empty()
    }

    /// Why messages are missing, each reason once with its count, most frequent first. The first file is named, others of
    /// the same reason are counted.
    pub fn reasons(&self) -> Vec<(String, usize)> {
        let mut all: Vec<&MissingMessage> = self.missing.iter().collect();
        all.sort_by_key(|missing| (&missing.reason, &missing.file));
        let alike = all.chunk_by(|a, b| a.reason == b.reason);
        let mut counted: Vec<(String, usize)> = alike
            .map(|same| {
                let files = same.chunk_by(|a, b| a.file == b.file).count();
                let (file, reason) = (&same[0].file, &same[0].reason);
                let others = match files - 1 {
                    0 => String::new(),
                    1 => " and 1 other file".to_owned(),
                    others => format!(" and {others} other files"),
                };
                (format!("{file}{others}: {reason}"), same.len())
            })
            .collect();
        counted.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        counted
    }

    /// The most frequent reasons in words, so many of them; the messages missing for others are counted.
    pub fn main_reasons(&self, most: usize) -> Vec<String> {
        let counted = self.reasons();
        let named = counted.iter().take(most);
        let mut words: Vec<String> = named
            .map(|(reason, count)| format!("{count} missing: {reason}"))
            .collect();
        if counted.len() > most {
            let rest: usize = counted.iter().skip(most).map(|(_, count)| count).sum();
            words.push(format!("{rest} more for other reasons"));
        }
        words
    }
}

impl fmt::Display for RunReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (written, before) = (self.parts_written.len(), self.parts_kept_before.len());
        write!(
            f,
            "{written} parts written, {before} kept before, {} messages read",
            self.messages_read
        )?;
        if !self.missing.is_empty() {
            write!(f, ", {} missing", self.missing.len())?;
        }
        if let Some(part) = self.waiting_for_part {
            write!(f, ", part {part} still appearing")?;
        }
        if let Some(reason) = &self.stopped {
            write!(f, ", then stopped: {reason}")?;
        }
        Ok(())
    }
}
