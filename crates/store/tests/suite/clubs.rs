//! Versions of club files. No source: these are the rules of the architecture text (append-only versions).

use crate::samples::after;
use crate::shelf::Shelf;
use store::NewClubVersion;

on_both_backends!(
    versions_are_appended_and_an_old_text_may_come_back,
    a_version_is_replaced_only_while_it_is_the_newest,
);

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

async fn a_version_is_replaced_only_while_it_is_the_newest(shelf: Shelf) {
    let store = shelf.open().await;
    let replace = async |hash: &str, hours, expected| {
        store
            .replace_club_version(&version(hash, hours), expected)
            .await
            .unwrap()
    };
    assert!(!replace("a", 1, Some("z")).await, "there is none to replace");
    assert!(replace("a", 1, None).await);
    assert!(!replace("b", 2, None).await, "there is one");
    assert!(replace("b", 2, Some("a")).await);
    assert!(!replace("c", 3, Some("a")).await, "it is old");
    assert!(replace("a", 3, Some("b")).await, "an old text may come back");
    let versions = store.club_versions("demo", (i64::MAX, 9)).await.unwrap();
    assert_eq!(
        versions,
        [
            (3, "a".to_owned(), after(3)),
            (2, "b".to_owned(), after(2)),
            (1, "a".to_owned(), after(1))
        ]
    );
    assert_eq!(store.club_versions("demo", (3, 1)).await.unwrap(), versions[1..2]);
    assert_eq!(store.club_versions("another", (9, 9)).await.unwrap(), []);
}
