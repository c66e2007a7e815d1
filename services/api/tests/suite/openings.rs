//! `/openings`: the page answers what the resource under `/v1` answers, and says mistakes where they were made.
//!
//! No source: the project's own rules; RFC 9110 for statuses.

use crate::shelf::{ask, ask_of, get, is_problem, keep_club, morning, with_samples};
use axum::http::Method;
use store::Store;

#[tokio::test]
async fn without_a_run_the_page_says_that_nothing_can_be_said() {
    let store = with_samples().await;
    for path in ["/openings", "/openings?from=&to=&length=&boat=tern&session="] {
        let answer = get(&store, path).await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.text());
        assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
        assert_eq!(answer.header("cache-control"), "no-cache");
        assert!(answer.header("etag").starts_with("W/"));
        let page = answer.text();
        assert!(page.contains("Nothing can be said.") && !page.contains("class=\"date\""));
        assert!(
            page.contains("<option value=\"tern\" selected>") && page.contains("Demo: invented weather.")
        );
    }
    let head = ask(&store, Method::HEAD, "/openings", morning()).await;
    assert_eq!((head.status.as_u16(), head.body.len()), (200, 0));
    is_problem(&ask(&store, Method::POST, "/openings", morning()).await, 405);
}

#[tokio::test]
async fn a_session_fills_the_form() {
    let store = with_samples().await;
    let page = get(&store, "/openings?session=tuesday-morning&level=crew")
        .await
        .text();
    for words in [
        "<option value=\"roadstead\" selected>",
        "<option value=\"crew\" selected>",
        "name=\"length\" type=\"number\" min=\"1\" max=\"24\" step=\"1\" inputmode=\"numeric\" value=\"3\"",
    ] {
        assert!(page.contains(words), "lacks {words}");
    }
}

#[tokio::test]
async fn a_mistake_is_a_page_that_says_what_is_wrong_at_its_field() {
    let store = with_samples().await;
    for (query, words) in [
        (
            "length=99",
            "id=\"length-wrong\">a whole number of hours from 1 to 24.",
        ),
        (
            "boat=none",
            "id=\"boat-wrong\">the club file has none of this key; it has tern.",
        ),
        ("from=2020-01-01", "id=\"from-wrong\">a day from "),
        ("from=tomorrow", "id=\"from-wrong\">a day is written YYYY-MM-DD"),
        ("call=maybe", "id=\"call-wrong\">"),
        ("session=none", "session: the club file has none of this key"),
        ("lenght=3", "lenght: unknown field"),
    ] {
        let answer = get(&store, &format!("/openings?{query}")).await;
        assert_eq!(answer.status.as_u16(), 400, "{query}");
        assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
        assert_eq!(answer.header("cache-control"), "no-cache");
        assert!(answer.text().contains(words), "{query}: {}", answer.text());
    }
    let wild = get(&store, "/openings?length=%22%3E%3Cscript%3Ealert(1)%3C/script%3E").await;
    assert!(wild.status.as_u16() == 400 && !wild.text().contains("<script"));
}

#[tokio::test]
async fn a_hidden_club_has_no_such_page_whatever_is_asked() {
    let store = with_samples().await;
    keep_club(&store, "closed-quay", false).await;
    for path in ["/openings", "/openings?boat=none"] {
        let answer = ask_of((&store, "closed-quay"), (Method::GET, path), &[], morning()).await;
        is_problem(&answer, 404);
    }
    let empty = Store::open_in_memory().await.unwrap();
    let answer = get(&empty, "/openings").await;
    is_problem(&answer, 404);
    assert!(answer.text().contains("No file of this club has been kept yet"));
}
