//! The notice-board sheet: which day, which status, how long it may be kept.
//!
//! Sources: RFC 9110 (304), RFC 9111 (max-age), RFC 9457 (problem details).

use crate::shelf::{
    ask, ask_of, get, get_with, is_problem, is_wrong_field, keep_club, keep_decision, morning, samples,
    with_hidden_club, with_samples,
};
use axum::http::{Method, StatusCode};
use chrono::TimeDelta;
use store::Store;

#[tokio::test]
async fn a_day_of_the_board_has_its_sheet_and_the_next_one_is_at_the_short_address() {
    let store = with_samples().await;
    let sheet = get(&store, "/sheet/2026-10-17").await;
    assert_eq!(sheet.status, StatusCode::OK);
    assert_eq!(sheet.header("content-type"), "text/html; charset=utf-8");
    let page = sheet.text();
    assert!(page.contains("<h1>Saturday 17 October</h1>") && page.contains("Demo: invented weather."));
    assert!(page.contains("The page is at /sheet/2026-10-17."));
    assert_eq!(get(&store, "/sheet").await.body, sheet.body);
    let evening = samples()[0].session.alongside.to_utc();
    let next = ask(&store, Method::GET, "/sheet", evening).await.text();
    assert!(
        next.contains("<h1>Sunday 18 October</h1>"),
        "the last session of Saturday is alongside"
    );
}

#[tokio::test]
async fn without_a_session_to_come_the_page_says_so() {
    let empty = Store::open_in_memory().await.unwrap();
    keep_club(&empty, "pellock-haven", true).await;
    let page = get(&empty, "/sheet").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("No session is still to come"));
    assert!(page.text().contains("warnings"));
}

#[tokio::test]
async fn a_day_without_sessions_is_not_there_and_one_that_is_no_day_is_told() {
    let store = with_samples().await;
    is_problem(&get(&store, "/sheet/2026-10-19").await, 404);
    is_problem(&get(&store, "/sheet/2026-10-17/").await, 404);
    for wrong in ["tomorrow", "2026-13-01", "17-10-2026", "%00", "2026-10-17T09:00"] {
        is_wrong_field(&get(&store, &format!("/sheet/{wrong}")).await, "day");
    }
    is_problem(&ask(&store, Method::POST, "/sheet", morning()).await, 405);
}

#[tokio::test]
async fn it_is_kept_no_longer_than_its_calls_hold_and_is_not_sent_twice() {
    let store = with_samples().await;
    let first = get(&store, "/sheet/2026-10-17").await;
    assert_eq!(
        first
            .header("cache-control")
            .split(", ")
            .find(|said| said.starts_with("max-age")),
        Some("max-age=60")
    );
    let again = get_with(
        &store,
        "/sheet/2026-10-17",
        &[("if-none-match", first.header("etag"))],
    )
    .await;
    assert_eq!((again.status, again.body.len()), (StatusCode::NOT_MODIFIED, 0));
    let valid = samples()[0].valid_until.to_utc();
    let late = ask(
        &store,
        Method::GET,
        "/sheet/2026-10-17",
        valid - TimeDelta::seconds(20),
    )
    .await;
    assert!(late.header("cache-control").contains("max-age=20"));
    let old = ask(
        &store,
        Method::GET,
        "/sheet/2026-10-17",
        valid + TimeDelta::seconds(1),
    )
    .await;
    assert!(old.text().contains("Old: no call") && old.header("etag") != first.header("etag"));
}

#[tokio::test]
async fn a_decision_crosses_its_box() {
    let store = with_samples().await;
    assert!(!get(&store, "/sheet/2026-10-17").await.text().contains("<i>×</i>"));
    keep_decision(&store, &samples()[0].session.id, "off", 5).await;
    assert!(
        get(&store, "/sheet/2026-10-17")
            .await
            .text()
            .contains("<i>×</i>off")
    );
}

#[tokio::test]
async fn a_hidden_clubs_sheet_is_not_there() {
    let store = with_hidden_club().await;
    for path in ["/sheet", "/sheet/2026-10-17", "/sheet/tomorrow"] {
        let answer = ask_of((&store, "closed-quay"), (Method::GET, path), &[], morning()).await;
        is_problem(&answer, 404);
    }
}

#[tokio::test]
async fn the_board_leads_to_the_sheet_of_each_day() {
    let board = get(&with_samples().await, "/").await.text();
    for day in ["2026-10-17", "2026-10-18", "2026-10-20", "2026-10-22"] {
        assert!(
            board.contains(&format!("href=\"/sheet/{day}\">Sheet for the notice board</a>")),
            "{day}"
        );
    }
}
