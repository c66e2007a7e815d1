//! `POST /v1/clubs/{club}/decisions`.

use crate::described::is_described;
use crate::shelf::{
    Answer, get, get_with, is_challenge, is_problem, is_wrong_field, keep_token, morning, samples, send_to,
    with_hidden_club,
};
use axum::http::Method;
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use store::{Scope, Store};

const OURS: &str = "/v1/clubs/pellock-haven/decisions";
const SESSION: &str = "dunlin-first/20261017T0930";

async fn post_at(
    store: &Store,
    path: &str,
    headers: &[(&str, &str)],
    body: &str,
    now: DateTime<Utc>,
) -> Answer {
    send_to(
        (store, "pellock-haven"),
        (Method::POST, path),
        (headers, body),
        now,
    )
    .await
}

async fn post(store: &Store, path: &str, token: &str, body: &Value) -> Answer {
    let headers = [("authorization", token), ("content-type", "application/json")];
    post_at(store, path, &headers, &body.to_string(), morning()).await
}

fn moved() -> Value {
    json!({ "session": SESSION, "decided": "moved", "by": " A. B.\u{7}", "note": "to 14:00" })
}

#[tokio::test]
async fn a_decision_is_kept_and_stands_beside_the_call() {
    let store = with_hidden_club().await;
    let token = keep_token(&store, "pellock-haven", &[Scope::Decide], 1).await;
    let answer = post(&store, OURS, &token, &moved()).await;
    assert_eq!(answer.status.as_u16(), 201, "{}", answer.text());
    is_described("post", "/v1/clubs/{club}/decisions", &answer).await;
    let kept = answer.json();
    assert_eq!(
        kept,
        json!({
            "session": SESSION, "decided": "moved", "by": "A. B.", "at": morning(), "note": "to 14:00"
        })
    );
    assert_eq!(answer.header("cache-control"), "private, no-cache");
    assert_eq!(get(&store, OURS).await.json()["decisions"], json!([kept]));
    let sessions = get(&store, "/v1/clubs/pellock-haven/sessions").await.json();
    let of_session = sessions["sessions"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["id"] == SESSION);
    assert_eq!(of_session.unwrap()["decision"], kept);
    // The last one counts, the earlier one stays on record.
    let off = json!({ "session": SESSION, "decided": "off", "by": "A. B." });
    assert_eq!(post(&store, OURS, &token, &off).await.status.as_u16(), 201);
    let decisions = get(&store, OURS).await.json()["decisions"].clone();
    assert_eq!(
        (decisions[0]["decided"].as_str(), decisions[1]["decided"].as_str()),
        (Some("moved"), Some("off"))
    );
}

#[tokio::test]
async fn only_a_token_of_the_club_with_its_scope_decides() {
    let store = with_hidden_club().await;
    let reads = keep_token(&store, "pellock-haven", &[Scope::Read, Scope::Club], 1).await;
    let hidden = "/v1/clubs/closed-quay/decisions";
    let of_hidden = keep_token(&store, "closed-quay", &[Scope::Decide], 2).await;
    let missing = "Bearer error=\"insufficient_scope\", scope=\"decide\"";
    is_challenge(&post(&store, OURS, &reads, &moved()).await, 403, missing);
    is_challenge(&post(&store, OURS, &of_hidden, &moved()).await, 403, missing);
    let unknown = reads.replace("0101", "0f0f");
    is_challenge(
        &post(&store, OURS, &unknown, &moved()).await,
        401,
        "Bearer error=\"invalid_token\"",
    );
    let json_alone = [("content-type", "application/json")];
    let body = moved().to_string();
    let nobody = post_at(&store, OURS, &json_alone, &body, morning()).await;
    is_challenge(&nobody, 401, "Bearer scope=\"decide\"");
    // To strangers a hidden club is not there.
    let absent = "/v1/clubs/absent-quay/decisions";
    for stranger in [&[json_alone[0]][..], &[json_alone[0], ("authorization", &reads)]] {
        let told = post_at(&store, hidden, stranger, &body, morning()).await;
        let same = post_at(&store, absent, stranger, &body, morning()).await;
        is_problem(&told, 404);
        assert_eq!(told.text().replace("closed", "absent"), same.text());
        assert_eq!(told.headers_but_its_name(), same.headers_but_its_name());
    }
    assert_eq!(
        post(&store, hidden, &of_hidden, &moved()).await.status.as_u16(),
        201
    );
    assert_eq!(
        get(&store, OURS).await.json()["decisions"],
        json!([]),
        "nothing was kept"
    );
    // A token that decides need not be one that reads.
    let headers = [("authorization", of_hidden.as_str())];
    assert_eq!(get_with(&store, hidden, &headers).await.status.as_u16(), 403);
}

#[tokio::test]
async fn what_is_no_decision_is_refused_by_its_field_and_not_kept() {
    let store = with_hidden_club().await;
    let token = keep_token(&store, "pellock-haven", &[Scope::Decide], 1).await;
    let with = |key: &str, value: Value| {
        let mut body = moved();
        body[key] = value;
        body
    };
    let long = "x".repeat(201);
    for (body, field) in [
        (with("by", json!("\u{1b} ")), "by"),
        (with("by", json!(long)), "by"),
        (with("by", json!(7)), "by"),
        (with("note", json!(long)), "note"),
        (with("note", Value::Null), "note"),
        (with("decided", json!("perhaps")), "decided"),
        (with("at", json!("2026-10-17T00:00:00Z")), "at"),
        (json!({ "decided": "on", "by": "A." }), "session"),
        (json!([]), "body"),
    ] {
        let answer = post(&store, OURS, &token, &body).await;
        is_problem(&answer, 422);
        is_described("post", "/v1/clubs/{club}/decisions", &answer).await;
        let error = answer.json()["errors"][0].clone();
        assert!(
            error["field"] == field || (field == "body" && error["field"].is_string()),
            "{body}: {error}"
        );
        assert!(!error["detail"].as_str().unwrap().is_empty());
    }
    for session in ["none", "", "\0", "a\r\nb"] {
        is_problem(
            &post(&store, OURS, &token, &with("session", json!(session))).await,
            404,
        );
    }
    let shown = ("authorization", token.as_str());
    let json = ("content-type", "application/json");
    for body in ["", "{", "\u{feff}{}", "{} {}"] {
        let answer = post_at(&store, OURS, &[shown, json], body, morning()).await;
        assert!(
            matches!(answer.status.as_u16(), 400 | 422),
            "{body}: {}",
            answer.text()
        );
        if body != "{} {}" {
            is_wrong_field(&answer, "body");
        }
    }
    let body = moved().to_string();
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "application/toml",
    ] {
        is_problem(
            &post_at(&store, OURS, &[shown, ("content-type", kind)], &body, morning()).await,
            415,
        );
    }
    is_problem(&post_at(&store, OURS, &[shown], &body, morning()).await, 415);
    let large = with("note", json!("x".repeat(20_000))).to_string();
    is_problem(
        &post_at(&store, OURS, &[shown, json], &large, morning()).await,
        413,
    );
    let over = samples()[0].session.alongside.to_utc() + TimeDelta::seconds(1);
    let answer = post_at(&store, OURS, &[shown, json], &body, over).await;
    is_problem(&answer, 422);
    assert_eq!(answer.json()["errors"][0]["field"], "session");
    assert_eq!(
        get(&store, OURS).await.json()["decisions"],
        json!([]),
        "nothing was kept"
    );
}
