//! Migrations. No source: these are this project's own rules.

use crate::samples::{after, part_of_run};
use crate::shelf::Shelf;
use forecast::SourceId;
use std::sync::Arc;
use store::{Store, StoreError};
use tokio::sync::Barrier;
use tokio::task::JoinSet;

on_both_backends!(
    a_newer_schema_is_refused_in_words,
    the_first_version_is_brought_up_to_date_and_its_unprotected_parts_are_forgotten,
    processes_that_open_a_new_store_at_once_all_succeed,
);

async fn a_newer_schema_is_refused_in_words(shelf: Shelf) {
    shelf.open().await.close().await;
    let raw = shelf.raw().await;
    sqlx::query("INSERT INTO schema_version (version) VALUES (999)")
        .execute(&raw)
        .await
        .unwrap();
    let error = Store::open(&shelf.url).await.unwrap_err();
    assert!(matches!(error, StoreError::TooNew { found: 999, .. }), "{error}");
}

async fn the_first_version_is_brought_up_to_date_and_its_unprotected_parts_are_forgotten(shelf: Shelf) {
    let store = shelf.open().await;
    store.write_part(&part_of_run("gfs", 0)).await.unwrap();
    store.close().await;
    back_to_the_first_version(&shelf).await;
    let store = shelf.open().await;
    assert!(
        store
            .runs(&SourceId::new("gfs"), after(99))
            .await
            .unwrap()
            .is_empty()
    );
    assert_eq!(store.dump().await.unwrap(), "");
    assert_eq!(
        store.last_note(&SourceId::new("gfs"), after(99)).await.unwrap(),
        None
    );
}

async fn processes_that_open_a_new_store_at_once_all_succeed(shelf: Shelf) {
    open_at_once(&shelf, 2).await;
}

// SQLite's own waiting covers neither the switch of a new file to its write-ahead log nor a transaction that reads before
// it writes: one round seldom shows it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn processes_that_open_new_and_old_files_at_once_all_succeed_again_and_again() {
    for _ in 0..30 {
        let shelf = Shelf::sqlite();
        open_at_once(&shelf, 1).await;
        back_to_the_first_version(&shelf).await;
        open_at_once(&shelf, 1).await;
    }
}

async fn back_to_the_first_version(shelf: &Shelf) {
    let raw = shelf.raw().await;
    for statement in [
        "DROP TABLE fetch_notes",
        "DROP TABLE mesh_cells",
        "DROP TABLE decisions",
        "DROP TABLE tokens",
        "DROP TABLE subscriptions",
        "DROP TABLE subscription_links",
        "DROP TABLE mailings",
        "DROP TABLE outbox",
        "DROP TABLE told_of_sessions",
        "DELETE FROM schema_version WHERE version > 1",
    ] {
        sqlx::query(statement).execute(&raw).await.unwrap();
    }
    raw.close().await;
}

/// Opens a store eight times at once and writes so many parts through each.
async fn open_at_once(shelf: &Shelf, parts: i64) {
    let barrier = Arc::new(Barrier::new(8));
    let mut processes = JoinSet::new();
    for process in 0..8_i64 {
        let (barrier, url) = (barrier.clone(), shelf.url.clone());
        processes.spawn(async move {
            barrier.wait().await;
            let store = Store::open(&url).await.unwrap();
            for number in 0..parts {
                let part = part_of_run("gfs", process + number * 8);
                assert!(store.write_part(&part).await.unwrap());
            }
        });
    }
    while let Some(ended) = processes.join_next().await {
        ended.unwrap();
    }
    let runs = shelf.open().await.runs(&SourceId::new("gfs"), after(999)).await;
    assert_eq!(runs.unwrap().len() as i64, 8 * parts);
}
