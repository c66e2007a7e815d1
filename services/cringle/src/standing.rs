//! Gathers how each enabled source stands, from the store and the catalogue, for `cringle runs` and for `/readyz`.
//!
//! Must not know: how it is shown.

use chrono::{DateTime, TimeDelta, Timelike, Utc};
use feeds::Feed;
use present::standing::{ExpectedRun, LastError, MissingMessages, RunStanding, SourceStanding, SourceState};
use store::{RunSummary, Severity, Store, StoreError};

/// How far back a run is looked for that should be out.
const LOOK_BACK: TimeDelta = TimeDelta::hours(72);
/// How far ahead the next run is looked for: every feed has a run a day.
const LOOK_AHEAD_HOURS: i64 = 48;

/// How each of these sources stands at a moment.
///
/// # Errors
/// If the store cannot be read.
pub async fn standings(
    store: &Store,
    feeds: &[Feed],
    now: DateTime<Utc>,
) -> Result<Vec<SourceStanding>, StoreError> {
    let mut standings = Vec::with_capacity(feeds.len());
    for feed in feeds {
        standings.push(standing(store, feed, now).await?);
    }
    Ok(standings)
}

async fn standing(store: &Store, feed: &Feed, now: DateTime<Utc>) -> Result<SourceStanding, StoreError> {
    let newest = store.newest_run(&feed.name, now).await?;
    let kept = newest.as_ref().map(|run| run.reference);
    let newest_run = match newest {
        Some(run) => Some(run_standing(store, feed, run, now).await?),
        None => None,
    };
    let note = store.last_note(&feed.name, now).await?;
    let standing = SourceStanding {
        source: feed.name.to_string(),
        title: feed.title.clone(),
        state: SourceState::Absent,
        why: None,
        newest_run,
        late_run: late_run(feed, kept, now),
        next_run: next_run(feed, now),
        stale_after_min: feed.stale_after_min,
        notice: feed.notice(now.date_naive()),
        last_error: note
            .filter(|note| note.severity > Severity::Info)
            .map(|note| LastError {
                at: note.at,
                ended: note.severity == Severity::Error,
                words: note.words,
            }),
    };
    Ok(standing.judged())
}

async fn run_standing(
    store: &Store,
    feed: &Feed,
    run: RunSummary,
    now: DateTime<Utc>,
) -> Result<RunStanding, StoreError> {
    let tally = store.message_tally(&feed.name, run.reference, now).await?;
    let parts_kept = u16::try_from(run.parts.len()).unwrap_or(u16::MAX);
    let parts_of_run = feed.part_count_of_run(run.reference);
    let missing = tally.missing.iter().map(|(gap, messages)| MissingMessages {
        reason: gap.words().to_owned(),
        messages: *messages,
    });
    Ok(RunStanding {
        run: run.reference,
        age_min: (now - run.reference).num_minutes(),
        reaches: run.reference + TimeDelta::hours(i64::from(run.last_step.0)),
        parts_kept,
        parts_of_run,
        messages_read: tally.read,
        messages_wanted: tally.wanted(),
        missing: missing.collect(),
        complete: run.complete && tally.missing.is_empty() && parts_kept >= parts_of_run,
    })
}

/// The newest run that is usually out by now, if it is newer than what is kept.
fn late_run(feed: &Feed, kept: Option<DateTime<Utc>>, now: DateTime<Utc>) -> Option<ExpectedRun> {
    let newest = feed.runs_out_at(now, LOOK_BACK).into_iter().next()?;
    kept.is_none_or(|kept| newest > kept)
        .then(|| expected(feed, newest))
}

/// The first run that is usually not yet out.
pub fn next_run(feed: &Feed, now: DateTime<Utc>) -> Option<ExpectedRun> {
    let hour = TimeDelta::hours(1);
    let this_hour = DateTime::from_timestamp(now.timestamp() - now.timestamp().rem_euclid(3600), 0)?;
    let oldest = this_hour - LOOK_BACK;
    let hours = LOOK_BACK.num_hours() + LOOK_AHEAD_HOURS;
    (0..=hours)
        .map(|hours| oldest + hour * i32::try_from(hours).unwrap_or(0))
        .filter(|run| feed.cycles.iter().any(|cycle| u32::from(*cycle) == run.hour()))
        .map(|run| expected(feed, run))
        .find(|run| run.usually_out_at > now)
}

fn expected(feed: &Feed, run: DateTime<Utc>) -> ExpectedRun {
    ExpectedRun {
        run,
        usually_out_at: run + TimeDelta::minutes(i64::from(feed.usual_delay_of_run(run))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use feeds::catalogue::Catalogue;
    use forecast::{SourceId, Step};
    use store::{FetchNote, NewPart};

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    fn gfs() -> Feed {
        let catalogue = Catalogue::embedded().unwrap();
        catalogue.feed(&SourceId::new("gfs")).unwrap().clone()
    }

    // The catalogue's own words: runs at 0, 6, 12 and 18 UTC, usually out after 210 minutes.
    #[test]
    fn the_next_run_is_the_first_that_is_usually_not_yet_out() {
        let run = |now: &str| next_run(&gfs(), at(now)).unwrap();
        assert_eq!(run("2030-05-13T15:29:59Z").run, at("2030-05-13T12:00:00Z"));
        assert_eq!(run("2030-05-13T15:30:00Z").run, at("2030-05-13T18:00:00Z"));
        assert_eq!(
            run("2030-05-13T15:30:00Z").usually_out_at,
            at("2030-05-13T21:30:00Z")
        );
        assert_eq!(run("2030-05-13T23:00:00Z").run, at("2030-05-14T00:00:00Z"));
    }

    #[tokio::test]
    async fn a_run_with_one_part_is_not_complete_and_nothing_is_seen_before_its_time() {
        let store = Store::open_in_memory().await.unwrap();
        let part = NewPart {
            source: SourceId::new("gfs"),
            reference: at("2030-05-13T06:00:00Z"),
            part: 0,
            grid: String::new(),
            members: vec![forecast::Member(0)],
            steps: vec![Step(0)],
            nodes: Vec::new(),
            messages: Vec::new(),
            complete: true,
            visible_at: at("2030-05-13T10:00:00Z"),
        };
        store.write_part(&part).await.unwrap();
        let note = FetchNote {
            source: SourceId::new("gfs"),
            run: None,
            at: at("2030-05-13T11:00:00Z"),
            words: "the server is away".into(),
            severity: Severity::Error,
        };
        store.put_note(&note).await.unwrap();
        let before = standings(&store, &[gfs()], at("2030-05-13T09:59:59Z"))
            .await
            .unwrap();
        assert_eq!(
            (before[0].state, &before[0].newest_run),
            (SourceState::Absent, &None)
        );
        assert_eq!(before[0].late_run.unwrap().run, at("2030-05-13T06:00:00Z"));
        let after = standings(&store, &[gfs()], at("2030-05-13T15:00:00Z"))
            .await
            .unwrap();
        let run = after[0].newest_run.clone().unwrap();
        assert!(
            !run.complete && run.parts_kept == 1 && run.parts_of_run == 32,
            "{run:?}"
        );
        assert_eq!(after[0].late_run, None);
        assert_eq!(after[0].last_error.clone().unwrap().words, "the server is away");
    }
}
