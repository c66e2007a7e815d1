//! With a clock: no header lets a call be kept past its `valid_until`.
//!
//! Sources: RFC 9111 (max-age, Expires), RFC 5861 (`stale-if-error` and `stale-while-revalidate` are counted from the end
//! of `max-age`).

use crate::shelf::{Answer, MARGINAL, OURS, ask_of, samples, with_samples};
use axum::http::Method;
use chrono::TimeDelta;

/// Seconds a directive of Cache-Control gives.
fn directive(answer: &Answer, name: &str) -> Option<i64> {
    let said = answer.header("cache-control").split(',').map(str::trim);
    let mut values = said.filter_map(|one| one.strip_prefix(name)?.strip_prefix('='));
    values.next().map(|seconds| seconds.parse().unwrap())
}

#[tokio::test]
async fn nothing_is_kept_past_valid_until() {
    let store = with_samples().await;
    let until = samples()[0].valid_until.to_utc();
    let advisory = format!("{OURS}{MARGINAL}/advisory");
    let here = format!("/v1{MARGINAL}/advisory");
    let (sessions, day) = (
        format!("{OURS}/sessions"),
        format!("{OURS}/advisories/2026-10-17"),
    );
    let history = format!("{OURS}/calls/dunlin-first%2F20261017T0930/history");
    for (path, accept) in [
        ("/", "text/html"),
        (MARGINAL, "text/html"),
        (&here, "*/*"),
        (&advisory, "application/json"),
        (&advisory, "text/html"),
        (&advisory, "text/plain"),
        (&advisory, "text/calendar"),
        (&sessions, "*/*"),
        (&day, "*/*"),
        (&history, "*/*"),
    ] {
        let at = async |before: TimeDelta| {
            let request = (Method::GET, path);
            ask_of(
                (&store, "pellock-haven"),
                request,
                &[("accept", accept)],
                until - before,
            )
            .await
        };
        for milliseconds in [
            0, 1, 999, 1000, 1001, 30_000, 59_999, 60_000, 61_000, 90_000, 3_599_000, 3_660_000, 3_661_000,
            7_200_000,
        ] {
            let left = TimeDelta::milliseconds(milliseconds);
            let answer = at(left).await;
            assert!(answer.status.is_success(), "{path}");
            let fresh = directive(&answer, "max-age").unwrap_or(0);
            let if_error = directive(&answer, "stale-if-error").unwrap_or(0);
            let kept = TimeDelta::seconds(fresh + if_error);
            assert!(
                kept <= left,
                "{path} {accept}, {left} before: {}",
                answer.header("cache-control")
            );
            assert!(
                fresh <= 60 && if_error <= 3600,
                "{path}: {}",
                answer.header("cache-control")
            );
            for absent in ["stale-while-revalidate", "s-maxage", "immutable"] {
                assert!(!answer.header("cache-control").contains(absent), "{path}");
            }
            for absent in ["expires", "age", "surrogate-control"] {
                assert!(answer.headers.get(absent).is_none(), "{path}: {absent}");
            }
            // A conditional request gets no longer than the answer it stands for.
            let tag = answer.header("etag").to_owned();
            let headers = [("accept", accept), ("if-none-match", tag.as_str())];
            let same = ask_of(
                (&store, "pellock-haven"),
                (Method::GET, path),
                &headers,
                until - left,
            )
            .await;
            assert_eq!(same.status.as_u16(), 304, "{path}");
            assert_eq!(same.header("cache-control"), answer.header("cache-control"));
        }
        if path != history {
            let early = at(TimeDelta::hours(2)).await;
            assert_eq!(
                early.header("cache-control"),
                "max-age=60, stale-if-error=3600",
                "{path}"
            );
            let late = at(TimeDelta::seconds(90)).await;
            assert_eq!(
                late.header("cache-control"),
                "max-age=60, stale-if-error=30",
                "{path}"
            );
        }
    }
}

#[tokio::test]
async fn after_valid_until_every_form_says_old() {
    let store = with_samples().await;
    let after = samples()[0].valid_until.to_utc() + TimeDelta::seconds(1);
    let advisory = format!("{OURS}{MARGINAL}/advisory");
    for (path, accept) in [
        ("/", "text/html"),
        (MARGINAL, "text/html"),
        (advisory.as_str(), "text/html"),
        (advisory.as_str(), "text/plain"),
        (advisory.as_str(), "text/calendar"),
    ] {
        let request = (Method::GET, path);
        let answer = ask_of((&store, "pellock-haven"), request, &[("accept", accept)], after).await;
        assert!(answer.text().contains("Old: no call"), "{path} {accept}");
        assert_eq!(directive(&answer, "stale-if-error"), None, "{path}");
    }
}
