//! What stands around every route: content codings, other sites, request ids, and answers kept for a moment.

use crate::shelf::{
    MARGINAL, OURS, ask, catalogue, get_with, is_problem, keep_decision, morning, samples, serving,
    with_samples,
};
use api::{ApiState, Serving, router, served};
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request};
use chrono::{DateTime, TimeDelta, Utc};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tower::ServiceExt;

// Source: RFC 9110, sections 8.4.1 and 12.5.5 (codings, Vary), 8.8.3.3 (a strong tag differs between codings: this one is weak).
#[tokio::test]
async fn a_page_is_compressed_for_who_asks_and_its_tag_serves_in_each_coding() {
    let store = with_samples().await;
    let plain = get_with(&store, MARGINAL, &[]).await;
    assert!(plain.headers.get("content-encoding").is_none());
    let tag = plain.header("etag").to_owned();
    assert!(tag.starts_with("W/\""), "{tag}");
    for coding in ["gzip", "br"] {
        let packed = get_with(&store, MARGINAL, &[("accept-encoding", coding)]).await;
        assert_eq!(packed.header("content-encoding"), coding);
        assert_eq!(packed.header("etag"), tag);
        assert!(packed.header("vary").to_lowercase().contains("accept-encoding"));
        assert!(
            packed.body.len() * 2 < plain.body.len(),
            "{} of {}",
            packed.body.len(),
            plain.body.len()
        );
        let again = get_with(
            &store,
            MARGINAL,
            &[("accept-encoding", coding), ("if-none-match", &tag)],
        )
        .await;
        assert_eq!((again.status.as_u16(), again.body.len()), (304, 0));
    }
}

// Source: the Fetch standard, "CORS protocol": any origin may read, no credentials, and a preflight for a writing method
// names none.
#[tokio::test]
async fn other_sites_may_read_and_may_not_write() {
    let store = with_samples().await;
    let read = get_with(&store, OURS, &[("origin", "https://club.example")]).await;
    assert_eq!(read.header("access-control-allow-origin"), "*");
    assert!(read.headers.get("access-control-allow-credentials").is_none());
    assert!(read.header("access-control-expose-headers").contains("etag"));
    let path = format!("{OURS}/decisions");
    let preflight = crate::shelf::ask_of(
        (&store, "pellock-haven"),
        (Method::OPTIONS, &path),
        &[
            ("origin", "https://club.example"),
            ("access-control-request-method", "POST"),
        ],
        morning(),
    );
    let allowed = preflight.await.header("access-control-allow-methods").to_owned();
    assert_eq!(allowed, "GET, HEAD");
}

#[tokio::test]
async fn every_answer_has_a_name_of_its_own_or_the_one_it_was_given() {
    let store = with_samples().await;
    let ids: Vec<String> = [
        get_with(&store, "/", &[]).await,
        get_with(&store, "/nowhere", &[]).await,
        ask(&store, Method::PATCH, "/", morning()).await,
    ]
    .iter()
    .map(|answer| answer.header("x-request-id").to_owned())
    .collect();
    assert!(
        ids.iter().all(|id| !id.is_empty()) && ids[0] != ids[1] && ids[1] != ids[2],
        "{ids:?}"
    );
    let given = get_with(&store, "/", &[("x-request-id", "skipper-7.a_b")]).await;
    assert_eq!(given.header("x-request-id"), "skipper-7.a_b");
    for wild in ["two words", "a\"b", &"x".repeat(65), "a;b=c"] {
        let answer = get_with(&store, "/", &[("x-request-id", wild)]).await;
        assert_ne!(answer.header("x-request-id"), wild);
    }
}

/// A service that keeps answers for long, at a clock that the test moves.
struct Keeping {
    routes: axum::Router,
    state: ApiState,
    clock: Arc<Mutex<DateTime<Utc>>>,
}

async fn keeping(store: &store::Store) -> Keeping {
    let clock = Arc::new(Mutex::new(morning()));
    let told = clock.clone();
    let kept = Serving {
        answers_kept_for: Duration::from_secs(3600),
        ..serving()
    };
    let state = ApiState::new(
        store.clone(),
        "pellock-haven",
        move || *told.lock().unwrap(),
        None,
        catalogue(),
        kept,
    );
    Keeping {
        routes: router(state.clone()),
        state,
        clock,
    }
}

impl Keeping {
    async fn text(&self, path: &str) -> String {
        let request = Request::get(path)
            .header("accept", "text/plain")
            .body(Body::empty())
            .unwrap();
        let response = served(&self.state, self.routes.clone(), request).await;
        assert_eq!(response.status(), 200);
        String::from_utf8(to_bytes(response.into_body(), 1 << 20).await.unwrap().to_vec()).unwrap()
    }
}

#[tokio::test]
async fn a_kept_answer_is_dropped_with_a_write_and_never_crosses_its_valid_until() {
    let store = with_samples().await;
    let one = samples().remove(0);
    let path = format!("{OURS}/sessions/{}/advisory", one.session.id.replace('/', "%2F"));
    let keeping = keeping(&store).await;
    let first = keeping.text(&path).await;
    assert!(first.contains("Marginal"), "{first}");
    keep_decision(&store, &one.session.id, "off", 1).await;
    assert_eq!(keeping.text(&path).await, first, "kept");
    keeping.state.written();
    let decided = keeping.text(&path).await;
    assert!(decided.contains("off"), "{decided}");
    // The second after valid_until, though it may be kept for an hour.
    *keeping.clock.lock().unwrap() = one.valid_until.to_utc();
    assert!(keeping.text(&path).await.contains("Marginal"));
    *keeping.clock.lock().unwrap() = one.valid_until.to_utc() + TimeDelta::seconds(1);
    let old = keeping.text(&path).await;
    assert!(
        old.contains("Old: no call") && !old.contains("Leave with"),
        "{old}"
    );
}

#[tokio::test]
async fn an_answer_that_takes_too_long_is_given_up_with_a_word() {
    let store = with_samples().await;
    let serving = Serving {
        answer_within: Duration::ZERO,
        ..serving()
    };
    let state = ApiState::new(store, "pellock-haven", morning, None, catalogue(), serving);
    let request = Request::get("/").body(Body::empty()).unwrap();
    let response = router(state).oneshot(request).await.unwrap();
    let (parts, body) = response.into_parts();
    let answer = crate::shelf::Answer {
        status: parts.status,
        headers: parts.headers,
        body: to_bytes(body, 1 << 20).await.unwrap().to_vec(),
    };
    is_problem(&answer, 503);
    assert_eq!(answer.header("retry-after"), "5");
}

#[tokio::test]
async fn a_panic_is_a_problem_without_its_words() {
    let state = ApiState::new(
        with_samples().await,
        "pellock-haven",
        morning,
        None,
        catalogue(),
        serving(),
    );
    let state = state.with_sources(Arc::new(|_| Box::pin(async { panic!("the words of a panic") })));
    let request = Request::get("/readyz").body(Body::empty()).unwrap();
    let response = router(state).oneshot(request).await.unwrap();
    let (parts, body) = response.into_parts();
    let answer = crate::shelf::Answer {
        status: parts.status,
        headers: parts.headers,
        body: to_bytes(body, 1 << 20).await.unwrap().to_vec(),
    };
    is_problem(&answer, 500);
    assert!(!answer.text().contains("words"), "{}", answer.text());
    assert!(
        !answer.header("x-request-id").is_empty() && !answer.header("content-security-policy").is_empty()
    );
}

#[tokio::test]
async fn what_is_kept_for_everyone_is_never_what_was_for_one() {
    let store = with_samples().await;
    let one = samples().remove(0);
    let path = format!("{OURS}/sessions/{}/advisory", one.session.id.replace('/', "%2F"));
    let keeping = keeping(&store).await;
    let status = async |headers: &[(&str, &str)]| {
        let mut request = Request::get(&path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::empty()).unwrap();
        let response = served(&keeping.state, keeping.routes.clone(), request).await;
        (response.status().as_u16(), response.headers().clone())
    };
    // Twice: the second is the one kept, and looks like the first but for its name.
    let (first, second) = (status(&[]).await, status(&[]).await);
    let but_its_name = |(status, mut headers): (u16, axum::http::HeaderMap)| {
        headers.remove("x-request-id").unwrap();
        // Written on the wire from the body's own length where it is not among the headers yet.
        headers.remove("content-length");
        let mut told: Vec<String> = headers
            .iter()
            .map(|(name, value)| format!("{name}: {value:?}"))
            .collect();
        told.sort();
        (status, told)
    };
    let tag = second.1["etag"].to_str().unwrap().to_owned();
    assert_eq!(but_its_name(first), but_its_name(second));
    assert_eq!(status(&[("if-none-match", &tag)]).await.0, 304);
    // The club is hidden from now on: the holder of its token reads, and leaves nothing for strangers.
    crate::shelf::keep_club(&store, "pellock-haven", false).await;
    let bearer = crate::shelf::keep_token(&store, "pellock-haven", &[store::Scope::Read], 1).await;
    keeping.state.written();
    assert_eq!(status(&[("authorization", &bearer)]).await.0, 200);
    assert_eq!(status(&[]).await.0, 404);
}

// No source: the project's own rule. No label and no word holds an address.
#[tokio::test]
async fn how_the_mail_stands_is_told_without_an_address() {
    let store = with_samples().await;
    let at = morning();
    let new = store::NewSubscription {
        id: "one".into(),
        club: "pellock-haven".into(),
        address: club::EmailAddress::parse("anna@crew.example").unwrap(),
        choices: club::Choices::default(),
        at,
    };
    assert!(store.ask_for_subscription(&new).await.unwrap());
    let until = at + TimeDelta::minutes(5);
    let claimed = store.claim_mails("c", (at, until), 1).await.unwrap().remove(0);
    let later = store::MailOutcome::Later {
        fault: "unreachable",
        words: "the mail server could not be reached".into(),
        due_at: until,
    };
    store.end_mail(&claimed.key, "c", &later, at).await.unwrap();
    let serving = Serving {
        metrics: api::MetricsFor::Everyone,
        ..serving()
    };
    let state = ApiState::new(store, "pellock-haven", morning, None, catalogue(), serving);
    let ask = async |path: &str| {
        let request = Request::get(path).body(Body::empty()).unwrap();
        let response = router(state.clone()).oneshot(request).await.unwrap();
        let body = to_bytes(response.into_body(), 1 << 20).await.unwrap();
        String::from_utf8(body.to_vec()).unwrap()
    };
    let ready: serde_json::Value = serde_json::from_str(&ask("/readyz").await).unwrap();
    assert_eq!(
        (&ready["mail"]["waiting"], &ready["mail"]["sent"]),
        (&1.into(), &0.into())
    );
    assert_eq!(ready["mail"]["last_trouble"]["fault"], "unreachable");
    assert_eq!(ready["mail"]["last_trouble"]["tried_again"], true);
    let metrics = ask("/metrics").await;
    assert!(
        metrics.contains("cringle_mails{state=\"waiting\",fault=\"unreachable\"} 1\n"),
        "{metrics}"
    );
    assert!(
        metrics.contains("cringle_longest_waiting_mail_seconds 0\n"),
        "{metrics}"
    );
    assert!(!metrics.contains("crew.example") && !ready.to_string().contains("crew.example"));
}
