//! Versions of club files. No source: these are the rules of the architecture text (append-only versions).

use crate::samples::after;
use crate::shelf::Shelf;
use store::NewClubVersion;

on_both_backends!(versions_are_appended_and_an_old_text_may_come_back);

fn version(hash: &str, hours: i64) -> NewClubVersion {
    NewClubVersion {
        slug: "demo".into(),
        version: hash.into(),
        text: format!("text of {hash}"),
        seen_at: after(hours),
    }
}

async fn versions_are_appended_and_an_old_text_may_come_back(shelf: Shelf) {
    let store = shelf.open().await;
    assert!(store.put_club_version(&version("a", 10)).await.unwrap());
    assert!(!store.put_club_version(&version("a", 11)).await.unwrap());
    assert!(store.put_club_version(&version("b", 12)).await.unwrap());
    assert!(store.put_club_version(&version("a", 13)).await.unwrap());
    let then = store
        .latest_club_version("demo", after(12))
        .await
        .unwrap()
        .unwrap();
    assert_eq!(then.file, version("b", 12));
    let latest = store
        .latest_club_version("demo", after(99))
        .await
        .unwrap()
        .unwrap();
    assert_eq!((latest.number, latest.file), (3, version("a", 13)));
    let by_hash = store.club_version("demo", "b").await.unwrap().unwrap();
    assert_eq!(by_hash.file.text, "text of b");
    assert_eq!(store.club_version("demo", "c").await.unwrap(), None);
    assert_eq!(store.latest_club_version("demo", after(9)).await.unwrap(), None);
    let other = NewClubVersion {
        slug: "another".into(),
        ..version("a", 15)
    };
    assert!(store.put_club_version(&other).await.unwrap());
    assert_eq!(store.club_slugs(after(14)).await.unwrap(), ["demo"]);
    assert_eq!(store.club_slugs(after(15)).await.unwrap(), ["another", "demo"]);
}
