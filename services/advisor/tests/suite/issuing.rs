//! Issuing for one club by one advisor. No source: the rules are the project's own (architecture text, "What is kept, and
//! how": identity is the hash of what was used; missing data never turns into "go").

use crate::samples::{catalogue, club, may, part, run, text, two_sessions};
use crate::shelf::Shelf;
use advisor::{Round, issue};
use advisory::document::CallWord;
use chrono::{DateTime, TimeDelta, Utc};
use std::sync::Arc;
use store::{NewAdvisory, Store};

on_both_backends!(
    a_session_that_fails_is_told_and_the_others_are_issued,
    a_run_that_leaves_the_window_and_one_still_appearing_change_nothing,
    a_laggard_never_puts_an_older_run_after_a_newer_one,
    what_was_a_go_becomes_no_call_when_its_run_is_too_old,
    the_record_of_any_fraction_of_a_second_explains_itself,
    a_club_file_that_is_put_back_is_issued_by_anew,
);

async fn advised(store: &Store, now: DateTime<Utc>) -> Round {
    let club = club("pontoon");
    let sessions = two_sessions(&club);
    issue(store, &catalogue(), &club, &text("pontoon"), &sessions, now)
        .await
        .unwrap()
}

fn new_ones(round: &Round) -> usize {
    assert!(round.failed.is_empty(), "{:?}", round.failed);
    round.issued.iter().filter(|issued| issued.new).count()
}

async fn a_session_that_fails_is_told_and_the_others_are_issued(shelf: Shelf) {
    let now = may(13, 10, 0);
    let elsewhere = Store::open_in_memory().await.unwrap();
    run(&elsewhere, may(13, 0, 0), 8.0).await;
    let first = advised(&elsewhere, now).await.issued.swap_remove(0).advisory;
    let store = shelf.open().await;
    run(&store, may(13, 0, 0), 8.0).await;
    // The name that the first session's advisory would have belongs to another club's.
    let taken = NewAdvisory {
        id: first.id.clone(),
        club: "another".into(),
        occurrence: "any".into(),
        input_hash: "any".into(),
        inputs: Vec::new(),
        document: Vec::new(),
        issued_at: now,
    };
    assert!(store.put_advisory(&taken).await.unwrap());
    let round = advised(&store, now).await;
    let failed: Vec<&str> = round.failed.iter().map(|failed| failed.what.as_str()).collect();
    assert_eq!(failed, [first.session.id.as_str()]);
    let other = &round.issued[0];
    assert!(round.issued.len() == 1 && other.new && other.advisory.call == CallWord::Go);
    let kept = store.advisories_for("pontoon", &other.advisory.session.id).await;
    assert_eq!(kept.unwrap().len(), 1);
}

async fn a_run_that_leaves_the_window_and_one_still_appearing_change_nothing(shelf: Shelf) {
    let store = shelf.open().await;
    // Runs up to 22 hours old are read, the widest age of the club's policy: that of 12 UTC the day before until 10:00.
    run(&store, may(12, 12, 0), 20.0).await;
    run(&store, may(13, 0, 0), 8.0).await;
    assert_eq!(new_ones(&advised(&store, may(13, 9, 40)).await), 2);
    let standing = advised(&store, may(13, 9, 41)).await;
    assert_eq!(new_ones(&standing), 0);
    // The first hours of the next run: it reaches neither session's end, so the complete one before it serves.
    let begun = part(may(13, 6, 0), (0, 0..=3), 30.0, may(13, 9, 45));
    assert!(store.write_part(&begun).await.unwrap());
    assert_eq!(new_ones(&advised(&store, may(13, 9, 46)).await), 0);
    let valid_until = standing.issued.iter().map(|issued| issued.advisory.valid_until);
    let until = valid_until.min().unwrap().to_utc();
    let after = may(13, 10, 1).min(until - TimeDelta::seconds(1));
    assert_eq!(new_ones(&advised(&store, after).await), 0);
}

async fn a_laggard_never_puts_an_older_run_after_a_newer_one(shelf: Shelf) {
    let store = shelf.open().await;
    run(&store, may(13, 0, 0), 8.0).await;
    assert_eq!(new_ones(&advised(&store, may(13, 9, 50)).await), 2);
    // Visible at 10:00, which has come by one clock and not yet by the other.
    run(&store, may(13, 6, 0), 30.0).await;
    let newer = advised(&store, may(13, 10, 0)).await;
    assert_eq!(new_ones(&newer), 2);
    let laggard = advised(&store, may(13, 9, 59)).await;
    assert_eq!(new_ones(&laggard), 0);
    for (newer, laggard) in newer.issued.iter().zip(&laggard.issued) {
        assert_eq!(newer.advisory, laggard.advisory);
        let history = store.advisories_for("pontoon", &newer.advisory.session.id).await;
        assert_eq!(history.unwrap().len(), 2, "{}", newer.advisory.session.id);
    }
}

async fn what_was_a_go_becomes_no_call_when_its_run_is_too_old(shelf: Shelf) {
    let store = shelf.open().await;
    run(&store, may(13, 0, 0), 8.0).await;
    let calls = |round: &Round| {
        round
            .issued
            .iter()
            .map(|one| one.advisory.call)
            .collect::<Vec<_>>()
    };
    let at_ten = advised(&store, may(13, 10, 0)).await;
    assert_eq!(calls(&at_ten), [CallWord::Go; 2]);
    // Sixteen hours is the age by the club's policy.
    let at_four = advised(&store, may(13, 16, 0) + TimeDelta::seconds(1)).await;
    assert_eq!(calls(&at_four), [CallWord::NoCall; 2]);
    assert_eq!(new_ones(&at_four), 2);
    // An advisor whose clock is a little behind does not bring the go back.
    let laggard = advised(&store, may(13, 15, 59)).await;
    assert_eq!((calls(&laggard), new_ones(&laggard)), (calls(&at_four), 0));
}

async fn the_record_of_any_fraction_of_a_second_explains_itself(shelf: Shelf) {
    let store = shelf.open().await;
    run(&store, may(13, 0, 0), 8.0).await;
    let round = advised(&store, may(13, 10, 0) + TimeDelta::milliseconds(750)).await;
    let (stored, explained) = advisor::explain(&store, &round.issued[0].advisory.id)
        .await
        .unwrap();
    assert_eq!(stored, explained.bytes);
}

async fn a_club_file_that_is_put_back_is_issued_by_anew(shelf: Shelf) {
    let store = shelf.open().await;
    run(&store, may(13, 0, 0), 8.0).await;
    let own = text("pontoon");
    let renamed = own.replace("Small Pontoon Sailing", "Another Name");
    let by = async |text: &str, minute: u32| {
        let club = Arc::new(club::parse(text).unwrap().club);
        let now = may(13, 10, minute);
        issue(&store, &catalogue(), &club, text, &two_sessions(&club), now)
            .await
            .unwrap()
    };
    let session = by(&own, 0).await.issued[0].advisory.session.id.clone();
    assert_eq!(new_ones(&by(&renamed, 1).await), 2);
    let back = by(&own, 2).await;
    assert_eq!(new_ones(&back), 2);
    assert_eq!(back.issued[0].advisory.club.name, "Small Pontoon Sailing");
    // What was issued to follow the other goes on standing, and can be made again.
    assert_eq!(new_ones(&by(&own, 3).await), 0);
    let last = store.latest_advisory("pontoon", &session).await.unwrap().unwrap();
    assert_eq!(
        (last.revision, &last.advisory.id),
        (3, &back.issued[0].advisory.id)
    );
    let (stored, explained) = advisor::explain(&store, &last.advisory.id).await.unwrap();
    assert_eq!(stored, explained.bytes);
}
