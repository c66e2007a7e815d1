//! Issued advisories. No source: these are the rules of the architecture text (append-only, issued once for the same
//! inputs), and of the board: what stands, and only of its own club.

use crate::samples::{advisory, after};
use crate::shelf::Shelf;
use store::{Issue, NewAdvisory, Put, StoreError};

on_both_backends!(
    the_same_inputs_are_issued_once_and_history_is_kept_in_order,
    a_name_taken_by_other_inputs_is_an_error_and_writes_nothing,
    a_short_name_finds_its_advisories_and_wildcards_are_plain_signs,
    names_sort_by_their_bytes_in_any_database,
    the_last_issue_of_each_occurrence_stands,
    one_that_follows_another_is_issued_only_while_that_is_the_last,
);

async fn the_same_inputs_are_issued_once_and_history_is_kept_in_order(shelf: Shelf) {
    let store = shelf.open().await;
    assert!(store.put_advisory(&advisory("b1", "h1")).await.unwrap());
    assert!(!store.put_advisory(&advisory("b9", "h1")).await.unwrap());
    assert!(store.put_advisory(&advisory("a2", "h2")).await.unwrap());
    let history = store.advisories_for("demo", "day-one").await.unwrap();
    let ids: Vec<_> = history
        .iter()
        .map(|kept| (kept.revision, kept.advisory.id.as_str()))
        .collect();
    assert_eq!(ids, [(1, "b1"), (2, "a2")]);
    let latest = store.latest_advisory("demo", "day-one").await.unwrap().unwrap();
    assert_eq!(latest.advisory, advisory("a2", "h2"));
    assert_eq!(
        store.advisory("b1").await.unwrap().unwrap().advisory,
        advisory("b1", "h1")
    );
    assert_eq!(store.advisory("b9").await.unwrap(), None);
}

async fn a_name_taken_by_other_inputs_is_an_error_and_writes_nothing(shelf: Shelf) {
    let store = shelf.open().await;
    store.put_advisory(&advisory("b1", "h1")).await.unwrap();
    let error = store.put_advisory(&advisory("b1", "h2")).await.unwrap_err();
    assert!(matches!(error, StoreError::IdTaken { .. }), "{error}");
    assert_eq!(store.advisories_for("demo", "day-one").await.unwrap().len(), 1);
}

async fn a_short_name_finds_its_advisories_and_wildcards_are_plain_signs(shelf: Shelf) {
    let store = shelf.open().await;
    for id in ["ab1", "ab2", "a_c"] {
        store.put_advisory(&advisory(id, id)).await.unwrap();
    }
    assert_eq!(store.advisory_ids("ab", 10).await.unwrap(), ["ab1", "ab2"]);
    assert_eq!(store.advisory_ids("ab", 1).await.unwrap(), ["ab1"]);
    assert_eq!(store.advisory_ids("a_", 10).await.unwrap(), ["a_c"]);
    assert_eq!(store.advisory_ids("%", 10).await.unwrap(), [""; 0]);
}

// In an English collation "a" comes before "B" and "é" beside "e"; the order of bytes is the same everywhere.
async fn names_sort_by_their_bytes_in_any_database(shelf: Shelf) {
    let store = shelf.open().await;
    for id in ["a", "B", "é", "f", "a-b", "ab"] {
        store.put_advisory(&advisory(id, id)).await.unwrap();
    }
    assert_eq!(
        store.advisory_ids("", 10).await.unwrap(),
        ["B", "a", "a-b", "ab", "f", "é"]
    );
}

async fn the_last_issue_of_each_occurrence_stands(shelf: Shelf) {
    let store = shelf.open().await;
    let issued = |id: &str, club: &str, occurrence: &str, hours| NewAdvisory {
        club: club.into(),
        occurrence: occurrence.into(),
        document: id.as_bytes().to_vec(),
        issued_at: after(hours),
        ..advisory(id, id)
    };
    for new in [
        issued("tue-1", "ours", "tuesday", 10),
        issued("tue-2", "ours", "tuesday", 20),
        issued("mon-1", "ours", "monday", 15),
        issued("long-ago", "ours", "last-year", 9),
        issued("tue-9", "theirs", "tuesday", 30),
    ] {
        assert!(store.put_advisory(&new).await.unwrap());
    }
    let standing = store.standing_issues("ours", after(10)).await.unwrap();
    let told = |issues: Vec<Issue>| {
        issues
            .into_iter()
            .map(|one| (one.id, one.revision))
            .collect::<Vec<_>>()
    };
    assert_eq!(told(standing), [("mon-1".to_owned(), 1), ("tue-2".to_owned(), 2)]);
    let newest_first = async |since, limit| {
        let issues = store
            .issues_between("ours", (after(since), after(20)), limit)
            .await
            .unwrap();
        issues.into_iter().map(|issue| issue.id).collect::<Vec<_>>()
    };
    assert_eq!(newest_first(10, 9).await.first().unwrap(), "tue-2");
    assert_eq!(
        newest_first(0, 9).await.len(),
        4,
        "each issue, not only what stands"
    );
    assert_eq!(newest_first(0, 1).await, ["tue-2"]);

    let between = store
        .standing_documents_between("ours", (after(9), after(15)))
        .await
        .unwrap();
    assert_eq!(
        between,
        [b"long-ago".to_vec(), b"mon-1".to_vec()],
        "tuesday was issued anew later"
    );
    let stands = store.standing_issue("ours", "tuesday").await.unwrap().unwrap();
    assert_eq!(
        (stands.revision, stands.id.as_str(), stands.issued_at),
        (2, "tue-2", after(20))
    );
    assert_eq!(store.standing_issue("ours", "friday").await.unwrap(), None);
    let ids = async |after, limit| {
        let issues = store.issues("ours", "tuesday", (after, limit)).await.unwrap();
        issues.into_iter().map(|issue| issue.id).collect::<Vec<_>>()
    };
    assert_eq!(ids(0, 9).await, ["tue-1", "tue-2"]);
    assert_eq!(ids(0, 1).await, ["tue-1"]);
    assert_eq!(ids(1, 9).await, ["tue-2"]);
    assert!(ids(2, 9).await.is_empty());
}

async fn one_that_follows_another_is_issued_only_while_that_is_the_last(shelf: Shelf) {
    let store = shelf.open().await;
    let put = async |id: &str, hash: &str, after| store.put_advisory_after(&advisory(id, hash), after).await;
    assert_eq!(put("a1", "h1", 0).await.unwrap(), Put::Issued);
    assert_eq!(put("a2", "h2", 0).await.unwrap(), Put::Overtaken);
    assert_eq!(put("a2", "h2", 2).await.unwrap(), Put::Overtaken);
    assert_eq!(put("a2", "h2", 1).await.unwrap(), Put::Issued);
    // The same inputs under any name and after any: what was issued is given back.
    for after in [0, 1, 2] {
        let Put::Known(known) = put("a9", "h1", after).await.unwrap() else {
            panic!("it is known");
        };
        assert_eq!((known.revision, known.advisory), (1, advisory("a1", "h1")));
    }
    let taken = put("a1", "h3", 2).await.unwrap_err();
    assert!(matches!(taken, StoreError::IdTaken { .. }), "{taken}");
    assert_eq!(store.advisories_for("demo", "day-one").await.unwrap().len(), 2);
}
