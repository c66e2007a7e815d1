//! `/how-we-decide`: served for the club from the newest version of its file, and for nobody else's.
//!
//! No source: the project's own rules.

use crate::shelf::{ask_of, get, is_problem, keep_club, morning, with_samples};
use axum::http::Method;
use store::Store;

#[tokio::test]
async fn the_page_is_of_the_newest_file_and_hidden_with_its_club() {
    let store = with_samples().await;
    let answer = get(&store, "/how-we-decide").await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    let kept = store
        .latest_club_version("pellock-haven", morning())
        .await
        .unwrap()
        .unwrap();
    assert!(answer.text().contains(&kept.file.version[..12]) && answer.text().contains("Tern"));
    let tag = answer.header("etag").to_owned();
    let again = [("if-none-match", tag.as_str())];
    let later = morning() + chrono::TimeDelta::hours(7);
    let unchanged = ask_of(
        (&store, "pellock-haven"),
        (Method::GET, "/how-we-decide"),
        &again,
        later,
    )
    .await;
    assert_eq!(unchanged.status.as_u16(), 304);
    keep_club(&store, "closed-quay", false).await;
    let hidden = ask_of(
        (&store, "closed-quay"),
        (Method::GET, "/how-we-decide"),
        &[],
        morning(),
    )
    .await;
    is_problem(&hidden, 404);
    let empty = get(&Store::open_in_memory().await.unwrap(), "/how-we-decide").await;
    is_problem(&empty, 404);
    assert!(empty.text().contains("No file of this club has been kept yet"));
}
