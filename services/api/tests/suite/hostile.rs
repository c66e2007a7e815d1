//! Hostile names in every place of an address: nothing but 404 or 400, no header of theirs, and the store as it was.
//!
//! Sources: RFC 3986 (dot segments), CWE-22, CWE-89, CWE-113, CWE-158 (path, SQL, header and NUL injection).

use crate::shelf::{ask, get, is_problem, morning, with_samples};
use axum::http::{Method, StatusCode};

const PLACES: [&str; 11] = [
    "/sessions/{}",
    "/v1/sessions/{}/advisory",
    "/v1/clubs/{}",
    "/v1/clubs/{}/sessions",
    "/v1/clubs/{}/decisions",
    "/v1/clubs/{}/runs",
    "/v1/clubs/{}/file",
    "/v1/clubs/{}/file/versions",
    "/v1/clubs/pellock-haven/sessions/{}/advisory",
    "/v1/clubs/pellock-haven/calls/{}/history",
    "/v1/clubs/{}/advisories/2026-10-17",
];

#[tokio::test]
async fn hostile_names_are_nobodys() {
    let store = with_samples().await;
    let long = "a".repeat(5000);
    let names = [
        "..",
        ".",
        "%2e%2e",
        "..%2f..%2f..%2fetc%2fpasswd",
        "%00",
        "pellock-haven%00",
        "a%0d%0aSet-Cookie:%20helm=1",
        "%0aX-Helm:1",
        "'%20OR%20'1'='1",
        "';DROP%20TABLE%20advisories;--",
        "%25",
        "_%25",
        "%3Cscript%3E",
        "%F0%9F%92%A9",
        "%E2%80%AE",
        long.as_str(),
    ];
    for place in PLACES {
        for name in names {
            let path = place.replace("{}", name);
            let answer = get(&store, &path).await;
            is_problem(&answer, 404);
            assert!(
                answer.body.len() < 2000,
                "what is too long is not repeated: {path}"
            );
            for header in ["set-cookie", "x-helm"] {
                assert!(answer.headers.get(header).is_none(), "{path}");
            }
        }
        let path = place.replace("{}", "%ff%fe");
        is_problem(&get(&store, &path).await, 400);
    }
    assert_eq!(
        get(&store, "/v1/clubs/pellock-haven/sessions").await.json()["sessions"]
            .as_array()
            .unwrap()
            .len(),
        5
    );
}

#[tokio::test]
async fn hostile_filters_find_nothing() {
    let store = with_samples().await;
    for value in ["'%20OR%201=1--", "%00", "%ff", "..", "%25", "%0d%0aX-Helm:1"] {
        for key in ["level", "boat"] {
            let path = format!("/v1/clubs/pellock-haven/sessions?{key}={value}&limit=1");
            let answer = get(&store, &path).await;
            assert_eq!(answer.json()["sessions"], serde_json::json!([]), "{path}");
            assert!(answer.headers.get("x-helm").is_none());
        }
    }
}

// Source: RFC 9110, section 15.5.6: 405 carries Allow.
#[tokio::test]
async fn other_methods_are_refused_with_those_that_are_taken() {
    let store = with_samples().await;
    for place in PLACES
        .into_iter()
        .chain(["/", "/v1/clubs", "/openapi.json", "/docs", "/style.css"])
    {
        let path = place.replace("{}", "a");
        for method in [
            Method::POST,
            Method::PUT,
            Method::DELETE,
            Method::PATCH,
            Method::OPTIONS,
        ] {
            let taken = [(Method::POST, "/decisions"), (Method::PUT, "/file")];
            if taken
                .iter()
                .any(|(own, end)| *own == method && place.ends_with(end))
            {
                continue; // see `writes`
            }
            let answer = ask(&store, method, &path, morning()).await;
            is_problem(&answer, 405);
            assert!(answer.header("allow").contains("GET"), "{path}");
        }
        let head = ask(&store, Method::HEAD, &path, morning()).await;
        let read = get(&store, &path).await;
        assert_eq!((head.status, head.body.len()), (read.status, 0), "{path}");
        assert!(read.status == StatusCode::OK || read.status == StatusCode::NOT_FOUND);
    }
}
