//! A store with the samples, and an asker.

use advisory::Advisory;
use api::{ApiState, Serving, router};
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::Value;
use std::sync::Arc;
use std::time::Duration;
use store::{NewAdvisory, NewClubVersion, NewDecision, NewToken, Scope, Store, TokenSecret};
use tower::ServiceExt;

const SAMPLES: &str = include_str!("../../../../crates/present/tests/advisories.json");
const CLUB: &str = include_str!("../../../../fixtures/club/small.toml");
/// The page of the first sample.
pub const MARGINAL: &str = "/sessions/dunlin-first%2F20261017T0930";
/// The club's resources.
pub const OURS: &str = "/v1/clubs/pellock-haven";

pub fn samples() -> Vec<Advisory> {
    serde_json::from_str(SAMPLES).unwrap()
}

/// Twenty minutes after the samples were issued.
pub fn morning() -> DateTime<Utc> {
    samples()[0].issued_at.to_utc() + TimeDelta::minutes(20)
}

pub fn catalogue() -> Arc<feeds::Catalogue> {
    Arc::new(feeds::Catalogue::embedded().unwrap())
}

/// Keeps a club's file: the small club under another name.
pub async fn keep_club(store: &Store, slug: &str, public: bool) {
    let text = CLUB
        .replace("small-pontoon", slug)
        .replace("Atlantic/Madeira", "Europe/London")
        .replace(", public = true", if public { ", public = true" } else { "" });
    assert_eq!(text.contains("public"), public);
    let version = club::parse(&text).unwrap().club.version;
    let new = NewClubVersion {
        slug: slug.into(),
        version,
        text,
        seen_at: samples()[0].issued_at.to_utc(),
    };
    assert!(store.put_club_version(&new).await.unwrap());
}

pub async fn keep_advisory(store: &Store, club: &str, (id, occurrence): (&str, &str), document: Vec<u8>) {
    let new = NewAdvisory {
        id: id.into(),
        club: club.into(),
        occurrence: occurrence.into(),
        input_hash: id.into(),
        inputs: vec![],
        document,
        issued_at: samples()[0].issued_at.to_utc(),
    };
    assert!(store.put_advisory(&new).await.unwrap());
}

/// Keeps a decision of the public club.
pub async fn keep_decision(store: &Store, session: &str, decided: &str, minutes: i64) {
    let at = morning() - TimeDelta::minutes(minutes);
    let document = serde_json::json!({
        "session": session, "decided": decided, "by": "A. B.", "at": at, "note": "to the quay"
    });
    let new = NewDecision {
        club: "pellock-haven".into(),
        occurrence: session.into(),
        document: serde_json::to_vec(&document).unwrap(),
        at,
    };
    store.put_decision(&new).await.unwrap();
}

pub async fn stored(documents: &[(String, Vec<u8>)]) -> Store {
    let store = Store::open_in_memory().await.unwrap();
    keep_club(&store, "pellock-haven", true).await;
    for (number, (occurrence, document)) in documents.iter().enumerate() {
        let id = format!("advisory-{number}");
        keep_advisory(&store, "pellock-haven", (&id, occurrence), document.clone()).await;
    }
    store
}

pub async fn with_samples() -> Store {
    let documents: Vec<_> = samples()
        .iter()
        .map(|one| (one.session.id.clone(), serde_json::to_vec(one).unwrap()))
        .collect();
    stored(&documents).await
}

/// An answer, read whole.
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> &str {
        let value = self.headers.get(name);
        value.unwrap_or_else(|| panic!("no {name}")).to_str().unwrap()
    }

    /// The headers without the answer's own name, which differs from answer to answer.
    pub fn headers_but_its_name(&self) -> HeaderMap {
        let mut headers = self.headers.clone();
        headers.remove("x-request-id").unwrap();
        headers
    }

    pub fn text(&self) -> String {
        String::from_utf8(self.body.clone()).unwrap()
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }
}

/// Asks the service of a club.
pub async fn ask_of(
    service: (&Store, &str),
    asked: (Method, &str),
    headers: &[(&str, &str)],
    now: DateTime<Utc>,
) -> Answer {
    send_to(service, asked, (headers, ""), now).await
}

/// Sends a body to the service of a club.
pub async fn send_to(
    (store, club): (&Store, &str),
    (method, path): (Method, &str),
    (headers, body): (&[(&str, &str)], &str),
    now: DateTime<Utc>,
) -> Answer {
    let demo = Some("Demo: invented weather.".into());
    let state = ApiState::new(store.clone(), club, move || now, demo, catalogue(), serving());
    let state = state.with_sources(Arc::new(|_| Box::pin(async { Ok(vec![source()]) })));
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let request = request.body(Body::from(body.to_owned())).unwrap();
    let response = router(state).oneshot(request).await.unwrap();
    let (parts, body) = response.into_parts();
    Answer {
        status: parts.status,
        headers: parts.headers,
        body: to_bytes(body, 10_000_000).await.unwrap().to_vec(),
    }
}

/// The usual bounds; nothing is kept, as the tests change what stands in the store.
pub fn serving() -> Serving {
    Serving {
        answers_kept_for: Duration::ZERO,
        ..Serving::default()
    }
}

pub async fn ask(store: &Store, method: Method, path: &str, now: DateTime<Utc>) -> Answer {
    ask_of((store, "pellock-haven"), (method, path), &[], now).await
}

pub async fn get(store: &Store, path: &str) -> Answer {
    ask(store, Method::GET, path, morning()).await
}

pub async fn get_with(store: &Store, path: &str, headers: &[(&str, &str)]) -> Answer {
    ask_of((store, "pellock-haven"), (Method::GET, path), headers, morning()).await
}

/// A source as `cringle runs` has it.
fn source() -> present::standing::SourceStanding {
    present::standing::SourceStanding {
        source: "gfs".into(),
        title: "GFS".into(),
        state: present::standing::SourceState::Stale,
        why: Some("the newest run is old".into()),
        newest_run: None,
        late_run: None,
        next_run: None,
        stale_after_min: 780,
        notice: None,
        last_error: None,
    }
}

pub fn is_problem(answer: &Answer, status: u16) {
    assert_eq!(answer.status.as_u16(), status, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let problem = answer.json();
    assert_eq!(problem["status"], status);
    for member in ["type", "title", "detail"] {
        assert!(
            problem[member].as_str().is_some_and(|words| !words.is_empty()),
            "no {member}: {problem}"
        );
    }
    assert_eq!(answer.header("cache-control"), "no-cache");
}

/// A problem with 400 that names this field and says something of it.
pub fn is_wrong_field(answer: &Answer, field: &str) {
    is_problem(answer, 400);
    let problem = answer.json();
    assert_eq!(problem["errors"][0]["field"], field, "{problem}");
    assert!(
        problem["errors"][0]["detail"]
            .as_str()
            .is_some_and(|words| !words.is_empty())
    );
}

/// Keeps a token of a club and gives the value of Authorization that shows it; each octet makes another token.
pub async fn keep_token(store: &Store, club: &str, scopes: &[Scope], octet: u8) -> String {
    let secret = TokenSecret::from_random([octet; 32]);
    let new = NewToken {
        club: club.into(),
        scopes: scopes.to_vec(),
        label: "a test".into(),
        made_at: morning() - TimeDelta::days(1),
        expires_at: None,
    };
    store.put_token(&secret, &new).await.unwrap();
    format!("Bearer {}", secret.exposed())
}

/// A problem that says by WWW-Authenticate what is wrong with the token.
pub fn is_challenge(answer: &Answer, status: u16, challenge: &str) {
    is_problem(answer, status);
    assert_eq!(answer.header("www-authenticate"), challenge);
}

/// A store with the samples kept again for a club that is not public.
pub async fn with_hidden_club() -> Store {
    let store = with_samples().await;
    keep_club(&store, "closed-quay", false).await;
    for (number, sample) in samples().iter().enumerate() {
        let document = serde_json::to_vec(sample).unwrap();
        let names = (format!("hidden-{number}"), sample.session.id.clone());
        keep_advisory(&store, "closed-quay", (&names.0, &names.1), document).await;
    }
    store
}
