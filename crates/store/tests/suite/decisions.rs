//! Decisions of clubs. No source: these are this project's own rules.

use crate::samples::after;
use crate::shelf::Shelf;
use store::NewDecision;

on_both_backends!(decisions_are_kept_in_order_and_read_as_of_a_time,);

fn decision(occurrence: &str, hours: i64, words: &str) -> NewDecision {
    NewDecision {
        club: "demo".into(),
        occurrence: occurrence.into(),
        document: words.as_bytes().to_vec(),
        at: after(hours),
    }
}

async fn decisions_are_kept_in_order_and_read_as_of_a_time(shelf: Shelf) {
    let store = shelf.open().await;
    let all = [
        decision("one", 1, "on"),
        decision("two", 2, "off"),
        decision("one", 2, "off"),
        decision("one", 2, "on"),
    ];
    for new in &all {
        store.put_decision(new).await.unwrap();
    }
    let read = async |from, to| store.decisions("demo", after(from), after(to)).await.unwrap();
    assert_eq!(read(0, 1).await, &all[..1]);
    let of_one: Vec<_> = read(0, 9)
        .await
        .into_iter()
        .filter(|one| one.occurrence == "one")
        .collect();
    assert_eq!(of_one, [all[0].clone(), all[2].clone(), all[3].clone()]);
    assert_eq!(read(2, 9).await.len(), 3);
    assert!(
        store
            .decisions("other", after(0), after(9))
            .await
            .unwrap()
            .is_empty()
    );
}
