//! Subscriptions by the API: asked for, confirmed, read, changed and ended with the secret of a link.
//!
//! Sources: RFC 9110 (202, 204, 401, 415, 422), RFC 9457 (problems), RFC 6750 (Bearer, section 3: no error code where nothing
//! was shown).

use crate::described::is_described;
use crate::mail_desk::{ANNA, Desk, HIDDEN, JSON, OTHER, OURS, SILENT, is_mistaken};
use crate::shelf::{Answer, is_challenge, is_problem, keep_token, morning};
use axum::http::Method;
use chrono::{TimeDelta, Weekday};
use serde_json::{Value, json};
use store::{CONFIRMATIONS_AT_MOST, LinkPurpose, Scope, TokenSecret};

const ASK: &str = "/v1/clubs/{club}/subscriptions";
const ONE: &str = "/v1/clubs/{club}/subscription";
const CONFIRM: &str = "/v1/clubs/{club}/subscription/confirmation";
const INVALID: &str = "Bearer error=\"invalid_token\"";

async fn at(
    desk: &Desk,
    (method, path): (Method, &str),
    club: &str,
    headers: &[(&str, &str)],
    body: &str,
) -> Answer {
    let path = path.replace("{club}", club);
    let headers = [&[JSON], headers].concat();
    desk.send_to(OURS, (method, &path), (&headers, body), morning())
        .await
}

async fn ask(desk: &Desk, club: &str, body: &Value) -> Answer {
    at(desk, (Method::POST, ASK), club, &[], &body.to_string()).await
}

async fn held(desk: &Desk, asked: (Method, &str), secret: &str, body: &Value) -> Answer {
    let shown = format!("Bearer {secret}");
    let body = if body.is_null() {
        String::new()
    } else {
        body.to_string()
    };
    at(desk, asked, OURS, &[("authorization", &shown)], &body).await
}

#[tokio::test]
async fn the_answer_is_the_same_whatever_is_known_of_an_address() {
    let desk = Desk::open().await;
    desk.subscribed("known@crew.example", "", 1).await;
    let first = ask(&desk, OURS, &json!({ "address": "known@crew.example" })).await;
    assert_eq!(first.status.as_u16(), 202, "{}", first.text());
    assert_eq!(first.header("cache-control"), "no-store");
    is_described("post", ASK, &first).await;
    for _ in 0..=CONFIRMATIONS_AT_MOST {
        let answer = ask(&desk, OURS, &json!({ "address": "new@crew.example" })).await;
        assert_eq!(answer.status, first.status);
        assert_eq!(answer.headers_but_its_name(), first.headers_but_its_name());
        assert_eq!(answer.body, first.body);
    }
}

#[tokio::test]
async fn it_is_asked_for_confirmed_read_changed_and_ended() {
    let desk = Desk::open().await;
    let asked =
        json!({ "address": ANNA, "levels": ["crew"], "weekdays": ["Sun", "Sat"], "only_when_sailing": true });
    assert_eq!(ask(&desk, OURS, &asked).await.status.as_u16(), 202);
    let confirm = desk.next_link(ANNA, LinkPurpose::Confirm, 1).await;
    for _ in 0..2 {
        let confirmed = held(&desk, (Method::PUT, CONFIRM), &confirm, &Value::Null).await;
        assert_eq!(confirmed.status.as_u16(), 200, "{}", confirmed.text());
        is_described("put", CONFIRM, &confirmed).await;
        let expected = json!({
            "levels": ["crew"], "boats": [], "weekdays": ["Sat", "Sun"], "only_when_sailing": true, "changes": true
        });
        assert_eq!(confirmed.json(), expected);
    }
    let kept = desk.of(&confirm, LinkPurpose::Confirm).await.unwrap();
    assert_eq!((kept.confirmed_at, kept.asked), (Some(morning()), None));
    let manage = desk.subscribed("ben@crew.example", "&levels=crew", 5).await;
    let read = held(&desk, (Method::GET, ONE), &manage, &Value::Null).await;
    assert_eq!(
        (read.status.as_u16(), read.header("cache-control")),
        (200, "no-store")
    );
    is_described("get", ONE, &read).await;
    assert_eq!(read.json()["levels"], json!(["crew"]));
    assert!(!read.text().contains("ben@"), "{}", read.text());
    let put = json!({ "boats": ["tern"], "weekdays": ["Fri", "Mon", "Fri"], "changes": false });
    let changed = held(&desk, (Method::PUT, ONE), &manage, &put).await;
    is_described("put", ONE, &changed).await;
    let expected = json!({
        "levels": [], "boats": [], "weekdays": ["Mon", "Fri"], "only_when_sailing": false, "changes": false
    });
    assert_eq!(
        changed.json(),
        expected,
        "the one boat of the club is all of them"
    );
    assert_eq!(
        held(&desk, (Method::GET, ONE), &manage, &Value::Null)
            .await
            .json(),
        expected
    );
    assert_eq!(
        desk.managed(&manage).await.choices.weekdays,
        [Weekday::Mon, Weekday::Fri]
    );
    let id = desk.managed(&manage).await.id;
    let ended = held(&desk, (Method::DELETE, ONE), &manage, &Value::Null).await;
    assert_eq!((ended.status.as_u16(), ended.body.len()), (204, 0));
    assert_eq!(desk.store.subscription(&id).await.unwrap(), None);
    for method in [Method::GET, Method::DELETE] {
        is_challenge(
            &held(&desk, (method, ONE), &manage, &Value::Null).await,
            401,
            INVALID,
        );
    }
}

#[tokio::test]
async fn a_mistake_names_its_field_and_repeats_nothing() {
    let desk = Desk::open().await;
    let manage = desk.subscribed(ANNA, "", 1).await;
    let before = desk.managed(&manage).await;
    let spy = "spy@crew.example";
    let of = |more: Value| {
        let mut body = json!({ "address": "a@b.example" });
        body.as_object_mut()
            .unwrap()
            .extend(more.as_object().unwrap().clone());
        body
    };
    for (body, field) in [
        (
            json!({ "address": "spy@crew.example, anna@crew.example" }),
            "address",
        ),
        (json!({ "address": "spy@crew" }), "address"),
        (json!({ "address": [spy] }), "address"),
        (json!({}), "address"),
        (of(json!({ "levels": [spy] })), "levels"),
        (of(json!({ "levels": spy })), "levels"),
        (of(json!({ "boats": [[spy]] })), "boats"),
        (of(json!({ "weekdays": [spy] })), "weekdays"),
        (of(json!({ "only_when_sailing": spy })), "only_when_sailing"),
        (of(json!({ "changes": spy })), "changes"),
        (of(json!({ (spy): 1 })), "body"),
        (json!([spy]), "body"),
        (json!(spy), "body"),
    ] {
        let answer = ask(&desk, OURS, &body).await;
        is_mistaken(&answer, field, "spy@");
        is_described("post", ASK, &answer).await;
        if field != "address" {
            let mut choices = body;
            if let Some(members) = choices.as_object_mut() {
                members.remove("address");
            }
            is_mistaken(
                &held(&desk, (Method::PUT, ONE), &manage, &choices).await,
                field,
                "spy@",
            );
        }
    }
    for body in ["", "{\"address\": \"spy@crew.example\"", "spy@crew.example"] {
        let answer = at(&desk, (Method::POST, ASK), OURS, &[], body).await;
        is_problem(&answer, 400);
        assert!(!answer.text().contains("spy@"), "{}", answer.text());
    }
    let large = format!("{{\"address\": \"{}\"}}", "x".repeat(20_000));
    is_problem(&at(&desk, (Method::POST, ASK), OURS, &[], &large).await, 413);
    let path = ASK.replace("{club}", OURS);
    let form = desk.post(&path, "address=a%40b.example").await;
    is_problem(&form, 415);
    assert_eq!(desk.managed(&manage).await, before);
    assert_eq!(desk.waiting().await, 0);
}

#[tokio::test]
async fn only_the_secret_of_a_link_of_this_club_and_kind_is_a_right() {
    let desk = Desk::open().await;
    let manage = desk.subscribed(ANNA, "", 1).await;
    let confirm = desk.link_to_confirm("ben@crew.example", "", 5).await;
    let token = keep_token(&desk.store, OURS, &Scope::ALL, 8).await;
    let token = token.strip_prefix("Bearer ").unwrap();
    let unknown = TokenSecret::from_random([9; 32]).exposed().to_owned();
    let before = (
        desk.managed(&manage).await,
        desk.of(&confirm, LinkPurpose::Confirm).await,
    );
    for (method, path, other) in [
        (Method::GET, ONE, &confirm),
        (Method::PUT, ONE, &confirm),
        (Method::DELETE, ONE, &confirm),
        (Method::PUT, CONFIRM, &manage),
    ] {
        for shown in [other, &unknown, token, "guess", ""] {
            let answer = held(&desk, (method.clone(), path), shown, &json!({})).await;
            is_challenge(&answer, 401, INVALID);
        }
        let nothing = at(&desk, (method.clone(), path), OURS, &[], "{}").await;
        is_challenge(&nothing, 401, "Bearer");
        let (own, late) = (
            if path == CONFIRM { &confirm } else { &manage },
            morning() + TimeDelta::days(2),
        );
        let shown = format!("Bearer {own}");
        let headers = [JSON, ("authorization", shown.as_str())];
        for club in [OTHER, HIDDEN, "absent"] {
            let elsewhere = at(&desk, (method.clone(), path), club, &headers[1..], "{}").await;
            is_challenge(&elsewhere, 401, INVALID);
        }
        let path = path.replace("{club}", OURS);
        let expired = desk.send_to(OURS, (method, &path), (&headers, "{}"), late).await;
        is_challenge(&expired, 401, INVALID);
    }
    let after = (
        desk.managed(&manage).await,
        desk.of(&confirm, LinkPurpose::Confirm).await,
    );
    assert_eq!(before, after);
    // It is no token of the club either.
    let path = format!("/v1/clubs/{OURS}");
    let shown = format!("Bearer {manage}");
    let headers = [("authorization", shown.as_str())];
    let read = desk
        .send_to(OURS, (Method::GET, &path), (&headers, ""), morning())
        .await;
    is_challenge(&read, 401, INVALID);
}

#[tokio::test]
async fn only_a_club_that_sends_mail_and_is_shown_takes_subscriptions() {
    let mut desk = Desk::open().await;
    let manage = desk.subscribed("ben@crew.example", "", 1).await;
    let body = json!({ "address": ANNA });
    for club in [SILENT, HIDDEN, "absent"] {
        is_problem(&ask(&desk, club, &body).await, 404);
    }
    let hidden = ask(&desk, HIDDEN, &body).await.text();
    let absent = ask(&desk, "absent", &body).await.text();
    assert_eq!(hidden.replace(HIDDEN, "absent"), absent);
    assert!(
        ask(&desk, SILENT, &body)
            .await
            .text()
            .contains("This club sends no mail")
    );
    let reads = keep_token(&desk.store, HIDDEN, &[Scope::Read], 7).await;
    let shown = [("authorization", reads.as_str())];
    let kept = at(&desk, (Method::POST, ASK), HIDDEN, &shown, &body.to_string()).await;
    assert_eq!(kept.status.as_u16(), 202);
    assert_eq!(ask(&desk, OTHER, &body).await.status.as_u16(), 202);
    desk.sends_mail = false;
    is_problem(&ask(&desk, OURS, &body).await, 404);
    let read = held(&desk, (Method::GET, ONE), &manage, &Value::Null).await;
    assert_eq!(read.status.as_u16(), 200);
    let ended = held(&desk, (Method::DELETE, ONE), &manage, &Value::Null).await;
    assert_eq!(ended.status.as_u16(), 204);
}
