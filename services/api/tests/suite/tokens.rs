//! Who may read what with which token, and that no secret is told.
//!
//! Sources: RFC 6750 (Bearer tokens, sections 2.1, 3 and 3.1), RFC 9110 (schemes without case, section 11.1; Vary, 12.5.5),
//! RFC 9111 (private, section 5.2.2.7), RFC 5861 (`stale-if-error`); CWE-532 (secrets in logs).

use crate::hidden::UNDER;
use crate::shelf::{
    Answer, ask_of, catalogue, get, get_with, is_challenge, is_problem, keep_token, morning, samples,
    with_hidden_club,
};
use axum::body::Body;
use axum::http::{Method, Request};
use chrono::TimeDelta;
use std::io::Write;
use std::sync::{Arc, Mutex};
use store::{NewToken, Scope, Store, TokenSecret};
use tower::ServiceExt;
use tracing_subscriber::fmt::MakeWriter;

const INVALID: &str = "Bearer error=\"invalid_token\"";
const HIDDEN: &str = "/v1/clubs/closed-quay";

async fn with_token(store: &Store, path: &str, token: &str) -> Answer {
    get_with(store, path, &[("authorization", token)]).await
}

#[tokio::test]
async fn what_is_no_valid_token_is_refused_everywhere() {
    let store = with_hidden_club().await;
    let token = keep_token(&store, "closed-quay", &[Scope::Read], 1).await;
    let revoked = keep_token(&store, "closed-quay", &[Scope::Read], 2).await;
    let id = store.tokens().await.unwrap().into_iter().map(|kept| kept.id);
    let hash = TokenSecret::from_random([2; 32]).hash();
    for id in id.filter(|id| hash.starts_with(id)) {
        assert!(store.revoke_token(&id, morning()).await.unwrap());
    }
    let expired = TokenSecret::from_random([3; 32]);
    let new = NewToken {
        club: "closed-quay".into(),
        scopes: vec![Scope::Read],
        label: String::new(),
        made_at: morning() - TimeDelta::days(1),
        expires_at: Some(morning()),
    };
    store.put_token(&expired, &new).await.unwrap();
    let secret = token.strip_prefix("Bearer ").unwrap();
    for shown in [
        revoked,
        format!("Bearer {}", expired.exposed()),
        format!("Bearer {}", TokenSecret::from_random([9; 32]).exposed()),
        format!("Basic {secret}"),
        format!("Bearer {secret}0"),
        format!("Bearer {secret} {secret}"),
        format!("Bearer, {secret}"),
        secret.to_owned(),
        "Bearer".to_owned(),
        "Bearer ".to_owned(),
        "Bearer \u{e9}".to_owned(),
        String::new(),
    ] {
        for path in [
            HIDDEN,
            "/v1/clubs",
            "/v1/clubs/pellock-haven",
            "/v1/clubs/absent",
            "/",
        ] {
            is_challenge(&with_token(&store, path, &shown).await, 401, INVALID);
        }
    }
    let twice = [
        ("authorization", token.as_str()),
        ("authorization", token.as_str()),
    ];
    is_challenge(&get_with(&store, HIDDEN, &twice).await, 401, INVALID);
    for shown in [
        token.clone(),
        format!("bearer {secret}"),
        format!("BEARER  {secret}"),
    ] {
        assert_eq!(
            with_token(&store, HIDDEN, &shown).await.status.as_u16(),
            200,
            "{shown}"
        );
    }
    // One second before it expires it was good.
    let request = (Method::GET, HIDDEN);
    let shown = format!("Bearer {}", expired.exposed());
    let headers = [("authorization", shown.as_str())];
    let before = morning() - TimeDelta::seconds(1);
    let answer = ask_of((&store, "pellock-haven"), request, &headers, before).await;
    assert_eq!(answer.status.as_u16(), 200);
}

#[tokio::test]
async fn a_hidden_club_is_shown_to_the_holder_of_its_token_alone() {
    let store = with_hidden_club().await;
    let own = keep_token(&store, "closed-quay", &[Scope::Read], 1).await;
    let other = keep_token(&store, "pellock-haven", &Scope::ALL, 2).await;
    let without_read = keep_token(&store, "closed-quay", &[Scope::Decide, Scope::Club], 3).await;
    for under in UNDER {
        let path = format!("{HIDDEN}{under}");
        let shown = with_token(&store, &path, &own).await;
        assert!(shown.status.is_success(), "{path}: {}", shown.text());
        assert!(shown.header("cache-control").starts_with("private"), "{path}");
        assert!(varies_by_caller(&shown), "{path}");
        let stranger = with_token(&store, &path, &other).await;
        let absent = with_token(&store, &format!("/v1/clubs/absent-quay{under}"), &other).await;
        is_problem(&stranger, 404);
        assert_eq!(
            stranger.text().replace("closed", "absent"),
            absent.text(),
            "{path}"
        );
        assert_eq!(
            stranger.headers_but_its_name(),
            absent.headers_but_its_name(),
            "{path}"
        );
        let needs_read = "Bearer error=\"insufficient_scope\", scope=\"read\"";
        is_challenge(&with_token(&store, &path, &without_read).await, 403, needs_read);
        // What anyone may read is read with any token, and kept as before.
        let open = format!("/v1/clubs/pellock-haven{under}");
        assert_eq!(
            with_token(&store, &open, &own).await.header("cache-control"),
            get(&store, &open).await.header("cache-control")
        );
    }
    let listed = with_token(&store, "/v1/clubs", &own).await;
    assert!(listed.text().contains("closed-quay") && listed.text().contains("pellock-haven"));
    assert!(listed.header("cache-control").starts_with("private") && varies_by_caller(&listed));
    for stranger in [
        get(&store, "/v1/clubs").await,
        with_token(&store, "/v1/clubs", &other).await,
    ] {
        assert!(!stranger.text().contains("closed-quay") && varies_by_caller(&stranger));
    }
}

#[tokio::test]
async fn the_pages_of_a_hidden_club_are_shown_to_the_holder_of_its_token_alone() {
    let store = with_hidden_club().await;
    let own = keep_token(&store, "closed-quay", &[Scope::Read], 1).await;
    let other = keep_token(&store, "pellock-haven", &Scope::ALL, 2).await;
    let session = samples()[0].session.id.replace('/', "%2F");
    for path in [
        "/".to_owned(),
        format!("/sessions/{session}"),
        format!("/v1/sessions/{session}/advisory"),
    ] {
        let asked = async |token: &str| {
            let headers = [("authorization", token)];
            ask_of((&store, "closed-quay"), (Method::GET, &path), &headers, morning()).await
        };
        let shown = asked(&own).await;
        assert!(shown.status.is_success(), "{path}: {}", shown.text());
        assert!(
            shown.header("cache-control").starts_with("private") && varies_by_caller(&shown),
            "{path}"
        );
        let stranger = ask_of((&store, "closed-quay"), (Method::GET, &path), &[], morning()).await;
        is_problem(&stranger, 404);
        let other = asked(&other).await;
        assert_eq!(
            (other.status, other.text()),
            (stranger.status, stranger.text()),
            "{path}"
        );
    }
}

fn varies_by_caller(answer: &Answer) -> bool {
    let mut vary = answer.headers.get_all("vary").iter();
    vary.any(|value| value.to_str().unwrap().eq_ignore_ascii_case("authorization"))
}

// With a clock, as `caching` has it for everyone's clubs.
#[tokio::test]
async fn nothing_of_a_hidden_club_is_kept_by_others_or_past_valid_until() {
    let store = with_hidden_club().await;
    let own = keep_token(&store, "closed-quay", &[Scope::Read], 1).await;
    let until = samples()[0].valid_until.to_utc();
    for under in UNDER {
        for seconds in [0, 1, 30, 59, 60, 61, 90, 3660, 3661, 7200] {
            let left = TimeDelta::seconds(seconds);
            let path = format!("{HIDDEN}{under}");
            let asked = async |headers: &[(&str, &str)]| {
                ask_of(
                    (&store, "pellock-haven"),
                    (Method::GET, &path),
                    headers,
                    until - left,
                )
                .await
            };
            let shown = [("authorization", own.as_str())];
            let answer = asked(&shown).await;
            let said = answer.header("cache-control");
            let mut kept = 0;
            for directive in said.split(',').map(str::trim) {
                match directive.split_once('=') {
                    Some(("max-age" | "stale-if-error", seconds)) => kept += seconds.parse::<i64>().unwrap(),
                    None if matches!(directive, "private" | "no-cache") => {}
                    _ => panic!("{path}: {said}"),
                }
            }
            assert!(said.starts_with("private"), "{path}: {said}");
            // Club and runs hold no call: a minute is theirs.
            assert!(
                TimeDelta::seconds(kept) <= left || (under.is_empty() && kept == 60),
                "{path}: {said}"
            );
            let tag = answer.header("etag").to_owned();
            let same = asked(&[shown[0], ("if-none-match", &tag)]).await;
            assert_eq!(same.status.as_u16(), 304, "{path}");
            assert_eq!(same.header("cache-control"), said);
            assert!(varies_by_caller(&same), "{path}");
        }
    }
}

#[tokio::test]
async fn the_document_says_how_a_token_is_shown_and_where_it_is_needed() {
    let document = get(&with_hidden_club().await, "/openapi.json").await.json();
    for name in ["token", "link"] {
        let scheme = &document["components"]["securitySchemes"][name];
        assert_eq!(
            (&scheme["type"], &scheme["scheme"]),
            (&"http".into(), &"bearer".into())
        );
    }
    // Reading: with a token or without.
    assert_eq!(
        document["security"],
        serde_json::json!([{}, { "token": ["read"] }])
    );
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            for status in ["401", "403"] {
                let header = &operation["responses"][status]["headers"]["www-authenticate"];
                assert!(header.is_object(), "{method} {path}: {status}");
            }
            let needs = &operation["security"][0];
            // Whoever may read a club may ask for its mail.
            let as_reading = method == "get" || path.ends_with("/subscriptions");
            assert!(
                as_reading || needs["token"][0].is_string() || needs["link"].is_array(),
                "{method} {path} names its scope"
            );
        }
    }
}

/// A log in memory.
#[derive(Clone, Default)]
pub struct Log(Arc<Mutex<Vec<u8>>>);

impl Log {
    /// Logs to it, on this thread, until what is given back is dropped.
    pub fn at_every_level(&self) -> tracing::subscriber::DefaultGuard {
        let subscriber = tracing_subscriber::fmt()
            .with_max_level(tracing::Level::TRACE)
            .with_writer(self.clone())
            .finish();
        tracing::subscriber::set_default(subscriber)
    }

    pub fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

impl Write for Log {
    fn write(&mut self, words: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(words);
        Ok(words.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl MakeWriter<'_> for Log {
    type Writer = Self;

    fn make_writer(&self) -> Self {
        self.clone()
    }
}

#[tokio::test]
async fn no_secret_is_in_a_log_an_answer_or_debug() {
    let store = with_hidden_club().await;
    let own = keep_token(&store, "closed-quay", &Scope::ALL, 0xAB).await;
    let log = Log::default();
    let _while_asking = log.at_every_level();
    tracing::trace!("the log is read");
    let unknown = own.replace("abab", "cdcd");
    let broken = format!("{own}abab");
    let mut told = String::new();
    for token in [&own, &unknown, &broken] {
        for path in [
            "/",
            "/v1/clubs",
            HIDDEN,
            "/v1/clubs/closed-quay/sessions/none/advisory",
        ] {
            let answer = with_token(&store, path, token).await;
            told += &format!("{:?} {}", answer.headers, answer.text());
        }
    }
    // A request that fails in the store is logged with its causes.
    store.close().await;
    let state = api::ApiState::new(
        store.clone(),
        "closed-quay",
        morning,
        None,
        catalogue(),
        crate::shelf::serving(),
    );
    let request = Request::get(HIDDEN).header("authorization", &own);
    let failed = api::router(state)
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    assert_eq!(failed.status().as_u16(), 503);
    let logged = log.text();
    assert!(
        logged.contains("the log is read") && logged.contains("looking for a token"),
        "{logged}"
    );
    for secret in ["abab", "cdcd"] {
        assert!(!logged.contains(secret), "{logged}");
        assert!(!told.contains(secret), "{told}");
    }
}
