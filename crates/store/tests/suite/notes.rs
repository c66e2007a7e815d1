//! Notes of fetching. No source: these are this project's own rules.

use crate::samples::after;
use crate::shelf::Shelf;
use chrono::TimeDelta;
use forecast::SourceId;
use store::{FetchNote, NOTE_CHARACTERS, PrunePolicy, Severity};

on_both_backends!(
    the_last_note_is_of_its_source_and_its_time,
    the_same_note_is_kept_once_with_a_run_and_without,
    of_two_notes_in_one_second_the_later_put_is_last,
    words_of_a_hostile_server_are_cut_and_made_plain,
    old_notes_are_pruned_but_the_last_of_each_source_stays,
);

fn note(source: &str, hours: i64, words: &str) -> FetchNote {
    FetchNote {
        source: SourceId::new(source),
        run: Some(after(0)),
        at: after(hours),
        words: words.into(),
        severity: Severity::Error,
    }
}

async fn the_last_note_is_of_its_source_and_its_time(shelf: Shelf) {
    let store = shelf.open().await;
    let general = FetchNote {
        run: None,
        severity: Severity::Warning,
        ..note("gfs", 5, "answers slowly")
    };
    let good = FetchNote {
        severity: Severity::Info,
        ..note("gfs", 9, "step 24 is there")
    };
    for note in [&good, &general, &note("gefs", 7, "no answer")] {
        assert!(store.put_note(note).await.unwrap());
    }
    let gfs = SourceId::new("gfs");
    assert_eq!(store.last_note(&gfs, after(4)).await.unwrap(), None);
    assert_eq!(store.last_note(&gfs, after(5)).await.unwrap(), Some(general));
    assert_eq!(store.last_note(&gfs, after(99)).await.unwrap(), Some(good));
    assert_eq!(
        store
            .last_note(&SourceId::new("icon-eu"), after(99))
            .await
            .unwrap(),
        None
    );
}

async fn the_same_note_is_kept_once_with_a_run_and_without(shelf: Shelf) {
    let store = shelf.open().await;
    for run in [None, Some(after(0)), Some(after(6))] {
        let note = FetchNote {
            run,
            ..note("gfs", 5, "no answer")
        };
        assert!(store.put_note(&note).await.unwrap(), "{run:?}");
        assert!(!store.put_note(&note).await.unwrap(), "{run:?}");
    }
}

async fn of_two_notes_in_one_second_the_later_put_is_last(shelf: Shelf) {
    let store = shelf.open().await;
    for words in ["zz no answer", "aa answers again"] {
        store.put_note(&note("gfs", 5, words)).await.unwrap();
    }
    let last = store
        .last_note(&SourceId::new("gfs"), after(5))
        .await
        .unwrap()
        .unwrap();
    assert_eq!(last.words, "aa answers again");
}

async fn words_of_a_hostile_server_are_cut_and_made_plain(shelf: Shelf) {
    let store = shelf.open().await;
    let book = format!("<html>\r\n\0é{}", "x".repeat(100_000));
    let hostile = note("gfs", 5, &book);
    assert!(store.put_note(&hostile).await.unwrap());
    assert!(
        !store.put_note(&hostile).await.unwrap(),
        "it is known again, cut as it is"
    );
    let kept = store
        .last_note(&SourceId::new("gfs"), after(5))
        .await
        .unwrap()
        .unwrap();
    assert!(kept.words.starts_with("<html>   éxxx"), "{}", kept.words);
    assert_eq!(kept.words.chars().count(), NOTE_CHARACTERS);
}

async fn old_notes_are_pruned_but_the_last_of_each_source_stays(shelf: Shelf) {
    let store = shelf.open().await;
    for note in [
        note("gfs", 1, "one"),
        note("gfs", 2, "two"),
        note("gfs", 50, "fifty"),
        note("gefs", 1, "one"),
        note("gefs", 2, "two"),
    ] {
        store.put_note(&note).await.unwrap();
    }
    let policy = PrunePolicy {
        keep_runs: 1,
        keep_for: TimeDelta::hours(48),
    };
    assert_eq!(store.prune(policy, after(60)).await.unwrap().notes, 3);
    assert_eq!(store.prune(policy, after(60)).await.unwrap().notes, 0);
    let last = async |source| {
        store
            .last_note(&SourceId::new(source), after(60))
            .await
            .unwrap()
            .unwrap()
            .words
    };
    assert_eq!(last("gfs").await, "fifty");
    assert_eq!(last("gefs").await, "two");
}
