//! Forgetting runs by name and by policy. No source: these are this project's own rules.

use crate::samples::{advisory, after, home, part, part_of_run, reference, source};
use crate::shelf::Shelf;
use chrono::{DateTime, TimeDelta, Utc};
use forecast::{Parameter, SourceId};
use store::{NewClubVersion, PrunePolicy, Pruned, Store};

on_both_backends!(
    pruning_a_run_keeps_advisories_and_other_runs,
    a_run_stays_if_its_rank_or_its_age_keeps_it,
    the_newest_run_of_each_source_stays_whatever_the_policy_says,
    what_is_not_yet_there_neither_counts_nor_goes,
    clubs_and_advisories_stay,
);

fn policy(keep_runs: u16, hours: i64) -> PrunePolicy {
    PrunePolicy {
        keep_runs,
        keep_for: TimeDelta::hours(hours),
    }
}

async fn with_runs(shelf: &Shelf, runs: &[(&str, i64)]) -> Store {
    let store = shelf.open().await;
    for (source, hours) in runs {
        store.write_part(&part_of_run(source, *hours)).await.unwrap();
    }
    store
}

async fn kept(store: &Store, source: &str) -> Vec<DateTime<Utc>> {
    let runs = store.runs(&SourceId::new(source), after(10_000)).await.unwrap();
    runs.iter().map(|run| run.reference).collect()
}

async fn a_run_stays_if_its_rank_or_its_age_keeps_it(shelf: Shelf) {
    let runs = [
        ("gfs", 0),
        ("gfs", 6),
        ("gfs", 12),
        ("gfs", 18),
        ("gefs", 0),
        ("gefs", 6),
    ];
    let store = with_runs(&shelf, &runs).await;
    let mut second_part = part(1, &[6, 9], &[Parameter::WindU]);
    second_part.source = SourceId::new("gfs");
    store.write_part(&second_part).await.unwrap();
    let now = after(24);
    // At 24 h the run of 6 h is 18 hours old: exactly as old as may be.
    assert_eq!(store.prune(policy(4, 1), now).await.unwrap(), Pruned::default());
    assert_eq!(
        store.prune(policy(1, 18), now).await.unwrap(),
        Pruned {
            runs: 2,
            parts: 3,
            notes: 0
        }
    );
    assert_eq!(kept(&store, "gfs").await, [after(18), after(12), after(6)]);
    assert_eq!(kept(&store, "gefs").await, [after(6)]);
    assert_eq!(
        store.prune(policy(2, 0), now).await.unwrap(),
        Pruned {
            runs: 1,
            parts: 1,
            notes: 0
        }
    );
    assert_eq!(kept(&store, "gfs").await, [after(18), after(12)]);
    assert_eq!(store.prune(policy(2, 0), now).await.unwrap(), Pruned::default());
    let series_left = store.dump().await.unwrap().matches("series of ").count();
    assert_eq!(
        series_left,
        3 * 3,
        "three nodes of each part that stayed, and none of those that went"
    );
}

async fn the_newest_run_of_each_source_stays_whatever_the_policy_says(shelf: Shelf) {
    let store = with_runs(&shelf, &[("gfs", 0), ("gfs", 6), ("gefs", 0)]).await;
    for policy in [policy(0, 0), policy(0, -1000)] {
        store.prune(policy, after(5000)).await.unwrap();
        assert_eq!(kept(&store, "gfs").await, [after(6)]);
        assert_eq!(kept(&store, "gefs").await, [after(0)]);
    }
    let for_ever = PrunePolicy {
        keep_runs: 0,
        keep_for: TimeDelta::MAX,
    };
    assert_eq!(
        store.prune(for_ever, after(5000)).await.unwrap(),
        Pruned::default()
    );
}

// A run dated far ahead by a fault at its producer must not push out the run that is really the newest; nor a run that
// readers cannot see yet.
async fn what_is_not_yet_there_neither_counts_nor_goes(shelf: Shelf) {
    let store = with_runs(&shelf, &[("gfs", 0), ("gfs", 6)]).await;
    let mut far_ahead = part_of_run("gfs", 9000);
    far_ahead.visible_at = after(1);
    store.write_part(&far_ahead).await.unwrap();
    // The run of 6 h is visible from 10 h on.
    assert_eq!(
        store.prune(policy(1, 0), after(9)).await.unwrap(),
        Pruned::default()
    );
    assert_eq!(store.prune(policy(1, 0), after(10)).await.unwrap().runs, 1);
    assert_eq!(kept(&store, "gfs").await, [after(9000), after(6)]);
}

async fn clubs_and_advisories_stay(shelf: Shelf) {
    let store = with_runs(&shelf, &[("gfs", 0), ("gfs", 6)]).await;
    store.put_advisory(&advisory("a1", "h1")).await.unwrap();
    store.put_advisory(&advisory("a2", "h2")).await.unwrap();
    for (hash, hours) in [("v1", 1), ("v2", 2)] {
        let version = NewClubVersion {
            slug: "demo".into(),
            version: hash.into(),
            text: "text".into(),
            seen_at: after(hours),
        };
        store.put_club_version(&version).await.unwrap();
    }
    assert_eq!(store.prune(policy(0, 0), after(5000)).await.unwrap().runs, 1);
    assert_eq!(store.advisories_for("demo", "day-one").await.unwrap().len(), 2);
    for hash in ["v1", "v2"] {
        assert!(
            store.club_version("demo", hash).await.unwrap().is_some(),
            "{hash}"
        );
    }
}

async fn pruning_a_run_keeps_advisories_and_other_runs(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut later = part(0, &[0], &[Parameter::WindU]);
    later.reference = after(6);
    store.write_part(&later).await.unwrap();
    let advisory = advisory("a1", "h");
    store.put_advisory(&advisory).await.unwrap();
    store.prune_run(&source(), reference()).await.unwrap();
    assert!(
        store
            .read_slice(&source(), reference(), after(9), &[home()], None)
            .await
            .unwrap()
            .is_none()
    );
    assert_eq!(store.runs(&source(), after(20)).await.unwrap().len(), 1);
    assert_eq!(store.advisory("a1").await.unwrap().unwrap().advisory, advisory);
    assert!(
        store
            .write_part(&part(0, &[0], &[Parameter::WindU]))
            .await
            .unwrap(),
        "it may be fetched again"
    );
}
