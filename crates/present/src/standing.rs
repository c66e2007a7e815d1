//! How a source stands: its newest run, what is kept of it, what is late, what went wrong last. Facts and their words.
//!
//! Owns: the facts as programs get them, and the one sentence that says why a source is of no use. Is given: facts
//! gathered elsewhere. Must not know: the store, the catalogue, the clock.

use crate::wording::run_time;
use chrono::{DateTime, TimeDelta, Utc};
use serde::Serialize;

/// How one enabled source stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SourceStanding {
    /// Its name in the catalogue.
    pub source: String,
    /// Its name for people.
    pub title: String,
    /// Whether it is of use.
    pub state: SourceState,
    /// Why it is of no use, or in part only; none where all is well.
    pub why: Option<String>,
    /// The newest run of which anything is kept.
    pub newest_run: Option<RunStanding>,
    /// The newest run that is usually out by this time and of which nothing is kept.
    pub late_run: Option<ExpectedRun>,
    /// The next run that is expected.
    pub next_run: Option<ExpectedRun>,
    /// Minutes after a run's reference time after which a newer one should long be out.
    pub stale_after_min: u32,
    /// That its producer has announced its end.
    pub notice: Option<String>,
    /// What went wrong last and has not been mended since.
    pub last_error: Option<LastError>,
}

/// Whether a source is of use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum SourceState {
    /// Its newest run is fresh and something of it was read.
    Usable,
    /// A newer run should long be out.
    Stale,
    /// No message of its newest run could be read.
    Unreadable,
    /// Nothing of it is kept.
    Absent,
}

/// What is kept of a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RunStanding {
    /// Its reference time.
    pub run: DateTime<Utc>,
    /// How long ago that is, minutes.
    pub age_min: i64,
    /// The last hour of which anything was read.
    pub reaches: DateTime<Utc>,
    /// Parts kept.
    pub parts_kept: u16,
    /// Parts the run has when it is whole.
    pub parts_of_run: u16,
    /// Messages read, of the parts kept.
    pub messages_read: u64,
    /// Messages wanted, of the parts kept.
    pub messages_wanted: u64,
    /// Why messages are missing.
    pub missing: Vec<MissingMessages>,
    /// True if every part is kept and no message is missing.
    pub complete: bool,
}

/// Messages missing for one reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MissingMessages {
    /// The reason in words.
    pub reason: String,
    /// How many.
    pub messages: u64,
}

/// A run that is expected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ExpectedRun {
    /// Its reference time.
    pub run: DateTime<Utc>,
    /// From when its first files are usually out.
    pub usually_out_at: DateTime<Utc>,
}

/// What went wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LastError {
    /// When.
    pub at: DateTime<Utc>,
    /// True if fetching ended with it; false if it went on with less.
    pub ended: bool,
    /// What, in words.
    pub words: String,
}

/// True if any source is of use.
pub fn any_usable(standings: &[SourceStanding]) -> bool {
    standings
        .iter()
        .any(|standing| standing.state == SourceState::Usable)
}

impl SourceStanding {
    /// The state and its reason, from the other facts. Only an unbroken, fresh run has no reason.
    #[must_use]
    pub fn judged(mut self) -> Self {
        (self.state, self.why) = match &self.newest_run {
            None => (
                SourceState::Absent,
                Some("nothing fetched yet: no run is kept".to_owned()),
            ),
            Some(run) if run.messages_read == 0 => (
                SourceState::Unreadable,
                Some(format!(
                    "no message of the newest run, {}, could be read",
                    run_time(run.run)
                )),
            ),
            Some(run) if run.age_min >= i64::from(self.stale_after_min) => (
                SourceState::Stale,
                Some(format!(
                    "the newest run, {}, is {} old; a newer one should be out {} after a run at the latest",
                    run_time(run.run),
                    age(run.age_min),
                    age(i64::from(self.stale_after_min))
                )),
            ),
            Some(run) => (SourceState::Usable, run.lacks()),
        };
        self
    }
}

impl RunStanding {
    /// What the run lacks, in words; none if it is complete.
    pub fn lacks(&self) -> Option<String> {
        let mut lacks = Vec::new();
        if self.parts_kept < self.parts_of_run {
            lacks.push(format!(
                "{} of its {} parts are kept",
                self.parts_kept, self.parts_of_run
            ));
        }
        for missing in &self.missing {
            let noun = if missing.messages == 1 {
                "message is"
            } else {
                "messages are"
            };
            lacks.push(format!("{} {noun} missing: {}", missing.messages, missing.reason));
        }
        (!lacks.is_empty()).then(|| format!("of run {} {}", run_time(self.run), lacks.join("; ")))
    }
}

/// "9 h", "9 h 20 min", "3 days 4 h".
pub(crate) fn age(minutes: i64) -> String {
    let whole = TimeDelta::minutes(minutes);
    let (days, hours, minutes) = (whole.num_days(), whole.num_hours() % 24, whole.num_minutes() % 60);
    match (days, hours, minutes) {
        (0, 0, minutes) => format!("{minutes} min"),
        (0, hours, 0) => format!("{hours} h"),
        (0, hours, minutes) => format!("{hours} h {minutes} min"),
        (1, hours, _) => format!("1 day {hours} h"),
        (days, hours, _) => format!("{days} days {hours} h"),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    /// A fresh run, of which one part and one message are absent.
    pub(crate) fn standing() -> SourceStanding {
        SourceStanding {
            source: "gfs".into(),
            title: "GFS 0.25 degree".into(),
            state: SourceState::Absent,
            why: None,
            newest_run: Some(RunStanding {
                run: at("2030-05-13T06:00:00Z"),
                age_min: 540,
                reaches: at("2030-05-16T06:00:00Z"),
                parts_kept: 31,
                parts_of_run: 32,
                messages_read: 9,
                messages_wanted: 10,
                missing: vec![MissingMessages {
                    reason: "damaged message".into(),
                    messages: 1,
                }],
                complete: false,
            }),
            late_run: None,
            next_run: Some(ExpectedRun {
                run: at("2030-05-13T12:00:00Z"),
                usually_out_at: at("2030-05-13T15:30:00Z"),
            }),
            stale_after_min: 780,
            notice: None,
            last_error: None,
        }
        .judged()
    }

    #[test]
    fn a_source_is_of_use_while_its_newest_run_is_fresh_and_says_what_that_lacks() {
        let fresh = standing();
        assert_eq!(fresh.state, SourceState::Usable);
        let why = fresh.why.clone().unwrap();
        assert!(why.contains("31 of its 32 parts are kept"), "{why}");
        assert!(why.contains("1 message is missing: damaged message"), "{why}");
        let mut old = fresh.clone();
        old.newest_run.as_mut().unwrap().age_min = 780;
        let old = old.judged();
        assert_eq!(
            old.state,
            SourceState::Stale,
            "from that minute on, as the catalogue says"
        );
        assert!(old.why.unwrap().contains("13 h old"));
        let mut unread = fresh.clone();
        unread.newest_run.as_mut().unwrap().messages_read = 0;
        assert_eq!(unread.judged().state, SourceState::Unreadable);
        let absent = SourceStanding {
            newest_run: None,
            ..fresh.clone()
        }
        .judged();
        assert_eq!(absent.state, SourceState::Absent);
        assert!(any_usable(&[absent.clone(), fresh]) && !any_usable(&[absent]) && !any_usable(&[]));
    }

    #[test]
    fn ages_are_said_in_the_units_one_thinks_in() {
        for (minutes, words) in [
            (0, "0 min"),
            (59, "59 min"),
            (60, "1 h"),
            (560, "9 h 20 min"),
            (1500, "1 day 1 h"),
            (4560, "3 days 4 h"),
        ] {
            assert_eq!(age(minutes), words);
        }
    }
}
