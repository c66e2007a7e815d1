//! A club that is not public answers as if it did not exist.

use crate::shelf::{ask_of, get, is_problem, keep_advisory, keep_club, morning, samples, with_samples};
use axum::http::Method;

/// Every address under a club.
pub const UNDER: [&str; 9] = [
    "",
    "/sessions",
    "/sessions/dunlin-first%2F20261017T0930/advisory",
    "/advisories/2026-10-17",
    "/runs",
    "/calls/dunlin-first%2F20261017T0930/history",
    "/decisions",
    "/windows",
    "/conditions",
];

#[tokio::test]
async fn no_address_of_a_hidden_club_can_be_told_from_one_that_is_not_there() {
    let store = with_samples().await;
    keep_club(&store, "closed-quay", false).await;
    let document = serde_json::to_vec(&samples()[0]).unwrap();
    let occurrence = "dunlin-first/20261017T0930";
    keep_advisory(&store, "closed-quay", ("hidden", occurrence), document).await;
    for under in UNDER {
        let hidden = get(&store, &format!("/v1/clubs/closed-quay{under}")).await;
        let absent = get(&store, &format!("/v1/clubs/absent-quay{under}")).await;
        is_problem(&hidden, 404);
        assert_eq!(
            hidden.text().replace("closed", "absent"),
            absent.text(),
            "{under}"
        );
        assert_eq!(
            hidden.headers_but_its_name(),
            absent.headers_but_its_name(),
            "{under}"
        );
        let open = get(&store, &format!("/v1/clubs/pellock-haven{under}")).await;
        assert!(
            open.status.is_success(),
            "the same of an open club is there: {under}"
        );
    }
    // What is wrong in the query must not tell that the club is there.
    is_problem(
        &get(
            &store,
            "/v1/clubs/closed-quay/sessions?from=2026-10-18&to=2026-10-17",
        )
        .await,
        404,
    );
    is_problem(&get(&store, "/v1/clubs/closed-quay/advisories/today").await, 404);
    let listed = get(&store, "/v1/clubs").await.text();
    assert!(listed.contains("pellock-haven") && !listed.contains("closed-quay"));
}

#[tokio::test]
async fn the_pages_of_a_hidden_club_are_not_there() {
    let store = with_samples().await;
    keep_club(&store, "closed-quay", false).await;
    let document = serde_json::to_vec(&samples()[0]).unwrap();
    keep_advisory(&store, "closed-quay", ("hidden", "s"), document).await;
    for path in ["/", "/sessions/s", "/v1/sessions/s/advisory"] {
        let answer = ask_of((&store, "closed-quay"), (Method::GET, path), &[], morning()).await;
        is_problem(&answer, 404);
        assert!(!answer.text().contains("closed-quay"), "{path}");
    }
    let absent = ask_of(
        (&store, "closed-quay"),
        (Method::GET, "/sessions/t"),
        &[],
        morning(),
    )
    .await;
    let hidden = ask_of(
        (&store, "closed-quay"),
        (Method::GET, "/sessions/s"),
        &[],
        morning(),
    )
    .await;
    assert_eq!(hidden.text().replace("named s,", "named t,"), absent.text());
}
