//! `/about-the-data`: served for the club, with the facts of the sources the service asks.
//!
//! No source: the project's own rules.

use crate::shelf::{ask_of, catalogue, get, is_problem, keep_club, morning, with_samples};
use axum::http::Method;

#[tokio::test]
async fn the_sources_stand_with_their_producer_and_what_is_late() {
    let store = with_samples().await;
    let answer = get(&store, "/about-the-data").await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    assert_eq!(answer.header("cache-control"), "no-cache");
    let page = answer.text();
    let catalogue = catalogue();
    let gfs = catalogue
        .feeds()
        .iter()
        .find(|feed| feed.name.as_str() == "gfs")
        .unwrap();
    for words in [
        gfs.producer.as_str(),
        &gfs.licence,
        &gfs.attribution,
        "GFS (gfs)",
        "gefs",
        "Not asked",
    ] {
        assert!(page.contains(words), "lacks {words}: {page}");
    }
    let tag = answer.header("etag").to_owned();
    let again = [("if-none-match", tag.as_str())];
    let later = morning() + chrono::TimeDelta::minutes(7);
    let unchanged = ask_of(
        (&store, "pellock-haven"),
        (Method::GET, "/about-the-data"),
        &again,
        later,
    )
    .await;
    assert_eq!(unchanged.status.as_u16(), 304, "the bytes hold no age");
    keep_club(&store, "closed-quay", false).await;
    let hidden = ask_of(
        (&store, "closed-quay"),
        (Method::GET, "/about-the-data"),
        &[],
        morning(),
    )
    .await;
    is_problem(&hidden, 404);
}
