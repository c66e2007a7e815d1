//! Migrations. No source: these are this project's own rules.

use crate::samples::{after, part_of_run};
use crate::shelf::Shelf;
use forecast::SourceId;
use std::sync::Arc;
use store::{Store, StoreError};
use tokio::sync::Barrier;

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
    let raw = shelf.raw().await;
    for statement in [
        "DROP TABLE fetch_notes",
        "DELETE FROM schema_version WHERE version > 1",
    ] {
        sqlx::query(statement).execute(&raw).await.unwrap();
    }
    raw.close().await;
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
    let barrier = Arc::new(Barrier::new(8));
    let opened: Vec<_> = (0..8_i64)
        .map(|number| {
            let (barrier, url) = (barrier.clone(), shelf.url.clone());
            tokio::spawn(async move {
                barrier.wait().await;
                let store = Store::open(&url).await?;
                store.write_part(&part_of_run("gfs", number * 6)).await
            })
        })
        .collect();
    for store in opened {
        assert!(store.await.unwrap().unwrap());
    }
    let runs = shelf
        .open()
        .await
        .runs(&SourceId::new("gfs"), after(99))
        .await
        .unwrap();
    assert_eq!(runs.len(), 8);
}
