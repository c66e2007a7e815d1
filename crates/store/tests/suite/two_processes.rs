//! Two processes with one store: two handles share nothing but the database. No source: unique keys, not leases, make
//! work idempotent (architecture text, "What is kept, and how").

use crate::samples::{advisory, after, home, part, part_of_run, reference, slice, source};
use crate::shelf::Shelf;
use chrono::TimeDelta;
use forecast::{Parameter, SourceId};
use std::pin::{Pin, pin};
use std::sync::Arc;
use store::{FetchNote, NewClubVersion, PrunePolicy, Severity, Store, StoreError};
use tokio::sync::Barrier;
use tokio::task::JoinSet;

on_both_backends!(
    the_same_part_written_by_two_at_once_is_there_once,
    a_part_that_another_is_writing_is_waited_for,
    a_part_that_another_gives_up_is_written,
    two_may_write_and_read_as_they_like,
    advisories_issued_by_two_at_once_are_numbered_in_one_order,
    club_versions_of_two_at_once_are_numbered_in_one_order,
    of_two_that_replace_the_same_club_version_one_succeeds,
    notes_of_two_at_once_are_all_kept_and_equal_ones_once,
    two_may_prune_while_a_third_writes_what_they_prune,
);

const ROUNDS: u16 = 40;

/// Runs the same work through two handles, both starting each round together.
async fn both_at_once<T: Send + 'static, F>(
    shelf: &Shelf,
    work: impl Fn(Store, u16, u16) -> F + Copy + Send + Sync + 'static,
) -> Vec<Vec<T>>
where
    F: Future<Output = T> + Send + 'static,
{
    let barrier = Arc::new(Barrier::new(2));
    let mut hands = JoinSet::new();
    for hand in 0..2 {
        let (barrier, store) = (barrier.clone(), shelf.open().await);
        hands.spawn(async move {
            let mut outcomes = Vec::new();
            for round in 0..ROUNDS {
                barrier.wait().await;
                outcomes.push(work(store.clone(), hand, round).await);
            }
            (hand, outcomes)
        });
    }
    // The first that fails ends the test: the other would wait for it at the barrier for ever.
    let mut ended = Vec::new();
    while let Some(outcomes) = hands.join_next().await {
        ended.push(outcomes.unwrap());
    }
    ended.sort_by_key(|(hand, _)| *hand);
    ended.into_iter().map(|(_, outcomes)| outcomes).collect()
}

async fn the_same_part_written_by_two_at_once_is_there_once(shelf: Shelf) {
    let outcomes = both_at_once(&shelf, |store, hand, round| async move {
        // Each hand has its own nodes: a part mixed from both would show.
        let mut part = part(round, &[round], &[Parameter::WindU]);
        part.nodes.rotate_left(usize::from(hand));
        part.nodes.truncate(1);
        store.write_part(&part).await.unwrap()
    })
    .await;
    let (one, other) = (&outcomes[0], &outcomes[1]);
    for (round, (one, other)) in one.iter().zip(other).enumerate() {
        assert!(one ^ other, "round {round}: exactly one has written");
    }
    let dump = shelf.open().await.dump().await.unwrap();
    let count = |start: &str| dump.lines().filter(|line| line.starts_with(start)).count();
    assert_eq!(
        (count("part "), count("series ")),
        (usize::from(ROUNDS), usize::from(ROUNDS))
    );
    for (round, one) in one.iter().enumerate() {
        let column = if *one { 1 } else { 2 };
        let name = format!(
            "series of part {round} of run 2030-05-13T00:00:00+00:00 of gefs: grid \"grid-a\" column {column} "
        );
        assert!(dump.contains(&name), "{name}");
    }
}

const BEGUN: &str =
    "INSERT INTO parts (source, reference, part, grid, complete, last_step, visible_at, manifest)
     SELECT source, reference, 7, grid, complete, last_step, visible_at, manifest FROM parts";

async fn a_part_that_another_is_writing_is_waited_for(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut other = shelf.raw().await.begin().await.unwrap();
    sqlx::query(BEGUN).execute(&mut *other).await.unwrap();
    let mut writing = pin!(async { store.write_part(&part(7, &[21], &[Parameter::WindU])).await });
    tried(&mut writing, &store).await;
    other.commit().await.unwrap();
    assert!(!writing.await.unwrap(), "the other was first");
}

async fn a_part_that_another_gives_up_is_written(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut other = shelf.raw().await.begin().await.unwrap();
    sqlx::query(BEGUN).execute(&mut *other).await.unwrap();
    let mut writing = pin!(async { store.write_part(&part(7, &[21], &[Parameter::WindU])).await });
    tried(&mut writing, &store).await;
    other.rollback().await.unwrap();
    assert!(writing.await.unwrap());
    assert_eq!(slice(&store, 99, None).await.nodes.len(), 2);
}

/// Lets a write go as far as it can, which is not to its end while another writes the same part. Readers meanwhile see
/// what was there before, and are not kept waiting.
async fn tried<F>(writing: &mut Pin<&mut F>, store: &Store)
where
    F: Future<Output = Result<bool, StoreError>>,
{
    let mut reads = 0;
    while reads < 200 {
        tokio::select! {
            biased;
            ended = &mut *writing => panic!("the write ended while another wrote the part: {ended:?}"),
            runs = async { store.runs(&source(), after(100)).await } => {
                assert_eq!(runs.unwrap()[0].parts, [0]);
                reads += 1;
            }
        }
    }
}

async fn two_may_write_and_read_as_they_like(shelf: Shelf) {
    both_at_once(&shelf, |store, hand, round| async move {
        let name = format!("source-{hand}");
        let written = part_of_run(&name, i64::from(round) * 6);
        assert!(store.write_part(&written).await.unwrap());
        let runs = store.runs(&SourceId::new(name), after(1000)).await.unwrap();
        assert_eq!(runs.len(), usize::from(round) + 1, "each reads what it wrote");
    })
    .await;
}

async fn advisories_issued_by_two_at_once_are_numbered_in_one_order(shelf: Shelf) {
    let outcomes = both_at_once(&shelf, |store, hand, round| async move {
        let name = format!("{round}-{hand}");
        assert!(store.put_advisory(&advisory(&name, &name)).await.unwrap());
        // The same inputs from both hands, each with a name of its own: issued once, and no error for the other.
        let shared = advisory(&format!("{name}-shared"), &format!("{round}"));
        store.put_advisory(&shared).await.unwrap()
    })
    .await;
    for (one, other) in outcomes[0].iter().zip(&outcomes[1]) {
        assert!(one ^ other, "exactly one has issued");
    }
    let issued = shelf
        .open()
        .await
        .advisories_for("demo", "day-one")
        .await
        .unwrap();
    let revisions: Vec<i64> = issued.iter().map(|kept| kept.revision).collect();
    assert_eq!(revisions, (1..=3 * i64::from(ROUNDS)).collect::<Vec<_>>());
}

async fn club_versions_of_two_at_once_are_numbered_in_one_order(shelf: Shelf) {
    both_at_once(&shelf, |store, hand, round| async move {
        let version = NewClubVersion {
            slug: "demo".into(),
            version: format!("{round}-{hand}"),
            text: "text".into(),
            seen_at: after(0),
        };
        assert!(store.put_club_version(&version).await.unwrap());
    })
    .await;
    let newest = shelf.open().await.latest_club_version("demo", after(0)).await;
    assert_eq!(newest.unwrap().unwrap().number, 2 * i64::from(ROUNDS));
}

async fn of_two_that_replace_the_same_club_version_one_succeeds(shelf: Shelf) {
    let outcomes = both_at_once(&shelf, |store, hand, round| async move {
        let new = |slug: &str| NewClubVersion {
            slug: slug.to_owned(),
            version: format!("{round}"),
            text: format!("text of {hand}"),
            seen_at: after(0),
        };
        let before = round.checked_sub(1).map(|before| before.to_string());
        let next = store.replace_club_version(&new("demo"), before.as_deref()).await;
        let first = store
            .replace_club_version(&new(&format!("club-{round}")), None)
            .await;
        (next.unwrap(), first.unwrap())
    })
    .await;
    let store = shelf.open().await;
    for (round, (one, other)) in outcomes[0].iter().zip(&outcomes[1]).enumerate() {
        assert!(one.0 ^ other.0, "round {round}: exactly one has replaced it");
        assert!(one.1 ^ other.1, "round {round}: exactly one has made it");
        let kept = store
            .club_version("demo", &round.to_string())
            .await
            .unwrap()
            .unwrap();
        let winner = if one.0 { 0 } else { 1 };
        assert_eq!(
            (kept.number, kept.file.text),
            (round as i64 + 1, format!("text of {winner}"))
        );
    }
}

async fn notes_of_two_at_once_are_all_kept_and_equal_ones_once(shelf: Shelf) {
    let note = |words: String| FetchNote {
        source: SourceId::new("gfs"),
        run: None,
        at: after(0),
        words,
        severity: Severity::Error,
    };
    let outcomes = both_at_once(&shelf, move |store, hand, round| async move {
        assert!(store.put_note(&note(format!("{round}-{hand}"))).await.unwrap());
        store.put_note(&note(format!("{round}"))).await.unwrap()
    })
    .await;
    for (one, other) in outcomes[0].iter().zip(&outcomes[1]) {
        assert!(one ^ other, "exactly one has kept it");
    }
}

// However pruning and writing fall, a part is whole or gone.
async fn two_may_prune_while_a_third_writes_what_they_prune(shelf: Shelf) {
    let third = shelf.open().await;
    third.write_part(&part_of_run("gefs", 6)).await.unwrap();
    let whole = part(0, &[0, 3], &[Parameter::WindU]);
    let policy = PrunePolicy {
        keep_runs: 1,
        keep_for: TimeDelta::hours(1),
    };
    let pruning = {
        let shelf = shelf.clone();
        tokio::spawn(async move {
            both_at_once(&shelf, move |store, _, _| async move {
                store.prune(policy, after(100)).await.unwrap().parts
            })
            .await
        })
    };
    let mut written = 0;
    while !pruning.is_finished() {
        written += u64::from(third.write_part(&whole).await.unwrap());
        if let Some(slice) = third
            .read_slice(&source(), reference(), after(100), &[home()], None)
            .await
            .unwrap()
        {
            assert_eq!(slice.nodes.len(), 2, "all of a part, or nothing");
        }
    }
    let pruned: u64 = pruning.await.unwrap().iter().flatten().sum();
    let left = third.prune(policy, after(100)).await.unwrap().parts;
    assert_eq!(
        pruned + left,
        written,
        "each part that was written is forgotten once"
    );
    let dump = third.dump().await.unwrap();
    assert!(
        !dump.contains("2030-05-13T00:00:00"),
        "no series without a part: {dump}"
    );
}
