//! `/v1/clubs/{club}/windows`: what is asked is held to its bounds, and no data is never taken for good weather.
//!
//! Sources: RFC 9457 (problem details), RFC 3339 (days). The bounds are the project's own.

use crate::described::is_described;
use crate::shelf::{OURS, get, is_problem, is_wrong_field, keep_club, with_samples};

const PATH: &str = "/v1/clubs/{club}/windows";

#[tokio::test]
async fn without_a_run_nothing_is_said_to_be_good_and_why_is_told() {
    let store = with_samples().await;
    let answer = get(&store, &format!("{OURS}/windows")).await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.text());
    assert_eq!(answer.header("cache-control"), "no-cache");
    assert_eq!(answer.json()["windows"].as_array().map(Vec::len), Some(0));
    assert!(answer.json()["no_data"].as_str().unwrap().contains("No run"));
    // A week from the day of the samples unless said otherwise.
    assert_eq!(answer.json()["at_least_min"], 180);
    is_described("get", PATH, &answer).await;
}

#[tokio::test]
async fn what_is_out_of_bounds_or_unknown_names_its_field() {
    let store = with_samples().await;
    let today = crate::shelf::morning().date_naive();
    let day = |ahead: i64| today + chrono::TimeDelta::days(ahead);
    for (query, field) in [
        ("length=0".to_owned(), "length"),
        ("length=25".to_owned(), "length"),
        ("length=%2B3".to_owned(), "length"),
        ("length=3.5".to_owned(), "length"),
        ("venue=nowhere".to_owned(), "venue"),
        ("boat=none".to_owned(), "boat"),
        ("level=none".to_owned(), "level"),
        ("session=none".to_owned(), "session"),
        ("call=no-go".to_owned(), "call"),
        ("cursor=zz".to_owned(), "cursor"),
        ("limit=0".to_owned(), "limit"),
        ("lenght=3".to_owned(), "lenght"),
        ("from=tomorrow".to_owned(), "from"),
        (format!("from={}", day(-1)), "from"),
        (format!("from={}", day(16)), "from"),
        (format!("to={}", day(16)), "to"),
        (format!("from={}&to={}", day(2), day(1)), "to"),
        ("to=%2B262142-12-31".to_owned(), "to"),
    ] {
        let answer = get(&store, &format!("{OURS}/windows?{query}")).await;
        assert_eq!(answer.status.as_u16(), 400, "{query}: {}", answer.text());
        is_wrong_field(&answer, field);
    }
    let last = format!("{OURS}/windows?from={}&to={}&length=24", day(0), day(15));
    assert_eq!(get(&store, &last).await.status.as_u16(), 200);
}

#[tokio::test]
async fn what_is_wrong_in_the_query_does_not_tell_that_a_hidden_club_is_there() {
    let store = with_samples().await;
    keep_club(&store, "closed-quay", false).await;
    for query in ["", "?venue=nowhere", "?from=2000-01-01"] {
        is_problem(
            &get(&store, &format!("/v1/clubs/closed-quay/windows{query}")).await,
            404,
        );
    }
}
