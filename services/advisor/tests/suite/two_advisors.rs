//! Two advisors on one store. No source: unique keys, not leases, make work idempotent (architecture text, "What is kept, and
//! how").

use crate::samples::{catalogue, club, may, run, text, two_sessions};
use crate::shelf::Shelf;
use advisor::issue;
use chrono::TimeDelta;
use std::collections::BTreeSet;
use std::sync::Arc;
use tokio::sync::Barrier;
use tokio::task::JoinSet;

on_both_backends!(two_advisors_at_once_issue_once_and_tell_the_same);

const ROUNDS: i64 = 12;

/// Each round brings a run and both advise on it at once, their clocks some seconds apart.
async fn two_advisors_at_once_issue_once_and_tell_the_same(shelf: Shelf) {
    let barrier = Arc::new(Barrier::new(2));
    let mut hands = JoinSet::new();
    for hand in 0..2_i64 {
        let (barrier, store) = (barrier.clone(), shelf.open().await);
        hands.spawn(async move {
            let (club, catalogue) = (club("pontoon"), catalogue());
            let sessions = two_sessions(&club);
            let mut told = Vec::new();
            for round in 0..ROUNDS {
                if hand == 0 {
                    let reference = may(12, 18, 0) + TimeDelta::minutes(30 * round);
                    run(&store, reference, if round % 2 == 0 { 8.0 } else { 20.0 }).await;
                }
                barrier.wait().await;
                let now = may(13, 8, 0) + TimeDelta::minutes(20 * round) + TimeDelta::seconds(7 * hand);
                let round = issue(&store, &catalogue, &club, &text("pontoon"), &sessions, now).await;
                let round = round.unwrap();
                assert!(round.failed.is_empty(), "{:?}", round.failed);
                let document = |one: &advisor::Issued| advisory::to_bytes(&one.advisory).unwrap();
                told.push(round.issued.iter().map(document).collect::<Vec<_>>());
                barrier.wait().await;
            }
            (hand, told)
        });
    }
    let mut told = hands.join_all().await;
    told.sort_by_key(|(hand, _)| *hand);
    for (round, (one, other)) in told[0].1.iter().zip(&told[1].1).enumerate() {
        assert!(one == other, "round {round}: both tell the same, byte for byte");
    }
    let store = shelf.open().await;
    for (index, session) in two_sessions(&club("pontoon")).iter().enumerate() {
        let history = store.advisories_for("pontoon", &session.id).await.unwrap();
        let hashes: BTreeSet<&str> = history
            .iter()
            .map(|kept| kept.advisory.input_hash.as_str())
            .collect();
        assert_eq!(hashes.len(), history.len(), "each input hash once");
        assert_eq!(history.len() as i64, ROUNDS, "one for each run");
        assert!(history.is_sorted_by(|one, next| one.revision + 1 == next.revision));
        assert!(history.is_sorted_by_key(|kept| kept.advisory.issued_at));
        for (kept, told) in history.iter().zip(&told[0].1) {
            assert_eq!(kept.advisory.document, told[index], "what is told is the record");
        }
    }
}
