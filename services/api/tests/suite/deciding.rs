//! `/decide/{id}`: who may decide by the form, what is said of a mistake, and that a token is never given back.
//!
//! Sources: RFC 9110 (303, 409, 401 with a challenge), RFC 6750 (its words), Fetch Metadata Request Headers (W3C).

use crate::shelf::{
    Answer, ask_of, get, is_problem, keep_decision, keep_token, morning, send_to, with_hidden_club,
    with_samples,
};
use axum::http::Method;
use chrono::{DateTime, TimeDelta, Utc};
use store::{Scope, Store};

const SESSION: &str = "dunlin-first/20261017T0930";
const FORM: &str = "/decide/dunlin-first%2F20261017T0930";
const PAGE: &str = "/sessions/dunlin-first%2F20261017T0930";
const KIND: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");

async fn post(
    store: &Store,
    fields: &[(&str, &str)],
    headers: &[(&str, &str)],
    now: DateTime<Utc>,
) -> Answer {
    let body = form_urlencoded::Serializer::new(String::new())
        .extend_pairs(fields)
        .finish();
    let headers = [&[KIND], headers].concat();
    send_to(
        (store, "pellock-haven"),
        (Method::POST, FORM),
        (&headers, &body),
        now,
    )
    .await
}

async fn token(store: &Store, scopes: &[Scope]) -> String {
    let shown = keep_token(store, "pellock-haven", scopes, 7).await;
    shown.strip_prefix("Bearer ").unwrap().to_owned()
}

fn fields<'a>(token: &'a str, after: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("decided", "moved"),
        ("by", "A. Keel"),
        ("note", "to Tuesday"),
        ("token", token),
        ("after", after),
    ]
}

/// What the form says of the decision it follows.
fn after(page: &str) -> String {
    let rest = page.split("name=\"after\" value=\"").nth(1).unwrap();
    rest.split('"').next().unwrap().to_owned()
}

/// A form with a mistake, from which no token can be read.
fn is_the_form_again(answer: &Answer, status: u16, words: &str, token: &str) {
    assert_eq!(answer.status.as_u16(), status, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    assert_eq!(answer.header("cache-control"), "no-store");
    let page = answer.text();
    assert!(page.contains(words), "no {words} in {page}");
    assert!(
        token.is_empty() || !page.contains(token),
        "the token is on the page"
    );
    for (name, value) in &answer.headers {
        let value = value.to_str().unwrap();
        assert!(
            token.is_empty() || !value.contains(token),
            "the token is in {name}"
        );
        assert!(name != "set-cookie");
    }
}

#[tokio::test]
async fn the_session_leads_to_the_form_and_what_it_sends_is_kept() {
    let store = with_samples().await;
    let token = token(&store, &[Scope::Decide]).await;
    assert!(
        get(&store, PAGE)
            .await
            .text()
            .contains(&format!("href=\"{FORM}\""))
    );
    let form = get(&store, FORM).await;
    is_the_form_again(&form, 200, "Marginal", "");
    assert_eq!(after(&form.text()), "none");
    let kept = post(
        &store,
        &fields(&token, "none"),
        &[("sec-fetch-site", "same-origin")],
        morning(),
    )
    .await;
    assert_eq!(kept.status.as_u16(), 303, "{}", kept.text());
    assert_eq!(kept.header("location"), PAGE);
    assert_eq!(kept.header("cache-control"), "no-store");
    let page = get(&store, PAGE).await.text();
    assert!(
        page.contains(">moved<") && page.contains("to Tuesday (A. Keel,"),
        "{page}"
    );
    let told = get(&store, "/v1/clubs/pellock-haven/decisions").await.json();
    assert_eq!(told["decisions"].as_array().unwrap().len(), 1);
    assert_eq!(told["decisions"][0]["session"], SESSION);
}

#[tokio::test]
async fn what_is_sent_twice_is_kept_once_and_another_decision_is_not_overwritten_unseen() {
    let store = with_samples().await;
    let token = token(&store, &[Scope::Decide]).await;
    let later = morning() + TimeDelta::minutes(1);
    assert_eq!(
        post(&store, &fields(&token, "none"), &[], morning())
            .await
            .status
            .as_u16(),
        303
    );
    assert_eq!(
        post(&store, &fields(&token, "none"), &[], later)
            .await
            .status
            .as_u16(),
        303
    );
    let count = async || {
        let told = ask_of(
            (&store, "pellock-haven"),
            (Method::GET, "/v1/clubs/pellock-haven/decisions"),
            &[],
            later,
        );
        told.await.json()["decisions"].as_array().unwrap().len()
    };
    assert_eq!(count().await, 1);
    let mut other = fields(&token, "none");
    other[0] = ("decided", "off");
    let refused = post(&store, &other, &[], later).await;
    is_the_form_again(&refused, 409, "The club has decided meanwhile", &token);
    let page = refused.text();
    assert!(
        page.contains("to Tuesday (A. Keel,") && page.contains("value=\"off\" checked"),
        "{page}"
    );
    assert_eq!(count().await, 1);
    let newest = after(&page);
    other[4] = ("after", &newest);
    assert_eq!(post(&store, &other, &[], later).await.status.as_u16(), 303);
    assert_eq!(count().await, 2);
}

#[tokio::test]
async fn a_wrong_token_or_mistake_gives_the_form_with_what_was_typed() {
    let store = with_samples().await;
    let decides = token(&store, &[Scope::Decide]).await;
    let reads = keep_token(&store, "pellock-haven", &[Scope::Read], 8).await;
    let elsewhere = keep_token(&store, "closed-quay", &[Scope::Decide], 9).await;
    let unknown = store::TokenSecret::from_random([1; 32]).exposed().to_owned();
    let wrong = "id=\"token-wrong\">this is no valid token";
    for (token, status, words) in [
        ("", 401, wrong),
        ("guess", 401, wrong),
        (unknown.as_str(), 401, wrong),
        (
            reads.strip_prefix("Bearer ").unwrap(),
            403,
            "it needs the scope decide",
        ),
        (
            elsewhere.strip_prefix("Bearer ").unwrap(),
            403,
            "it needs the scope decide",
        ),
    ] {
        let answer = post(&store, &fields(token, "none"), &[], morning()).await;
        is_the_form_again(&answer, status, words, token);
        assert!(answer.header("www-authenticate").starts_with("Bearer error="));
        let page = answer.text();
        assert!(page.contains("value=\"A. Keel\"") && page.contains("value=\"moved\" checked"));
        assert!(page.contains("aria-describedby=\"token-wrong\""));
    }
    let long = "x".repeat(201);
    for (place, value, words) in [
        (0, "perhaps", "id=\"decided-wrong\">choose one"),
        (1, " ", "id=\"by-wrong\">who decides?"),
        (1, long.as_str(), "id=\"by-wrong\">a name has 200"),
        (2, "", "id=\"note-wrong\">a session that is moved"),
    ] {
        let mut sent = fields(&decides, "none");
        sent[place].1 = value;
        is_the_form_again(&post(&store, &sent, &[], morning()).await, 422, words, &decides);
    }
    let over = morning() + TimeDelta::days(3);
    let answer = post(&store, &fields(&decides, "none"), &[], over).await;
    is_the_form_again(&answer, 422, "this session is over", &decides);
    assert!(
        get(&store, "/v1/clubs/pellock-haven/decisions").await.json()["decisions"]
            .as_array()
            .unwrap()
            .is_empty()
    );
}

#[tokio::test]
async fn what_another_site_sends_or_no_form_is_refused() {
    let store = with_samples().await;
    let token = token(&store, &[Scope::Decide]).await;
    for headers in [
        &[("sec-fetch-site", "cross-site")][..],
        &[("sec-fetch-site", "same-site")],
        &[("origin", "https://elsewhere.example"), ("host", "club.example")],
        &[("origin", "null"), ("host", "club.example")],
    ] {
        is_problem(
            &post(&store, &fields(&token, "none"), headers, morning()).await,
            403,
        );
    }
    let note = "x".repeat(20_000);
    let mut large = fields(&token, "none");
    large[2].1 = &note;
    is_problem(&post(&store, &large, &[], morning()).await, 413);
    let twice = [fields(&token, "none"), fields(&token, "none")].concat();
    is_problem(&post(&store, &twice, &[], morning()).await, 400);
    let json = [("content-type", "application/json")];
    let service = (&store, "pellock-haven");
    is_problem(
        &send_to(service, (Method::POST, FORM), (&json, "{}"), morning()).await,
        415,
    );
    is_problem(
        &send_to(service, (Method::PUT, FORM), (&[KIND], ""), morning()).await,
        405,
    );
    for path in ["/decide/none", "/decide/%00"] {
        is_problem(&get(&store, path).await, 404);
        is_problem(
            &send_to(service, (Method::POST, path), (&[KIND], ""), morning()).await,
            404,
        );
    }
    assert!(!get(&store, PAGE).await.text().contains("to Tuesday"));
}

#[tokio::test]
async fn a_hidden_club_has_no_form() {
    let store = with_hidden_club().await;
    let service = (&store, "closed-quay");
    is_problem(&ask_of(service, (Method::GET, FORM), &[], morning()).await, 404);
    is_problem(
        &send_to(service, (Method::POST, FORM), (&[KIND], ""), morning()).await,
        404,
    );
}

#[tokio::test]
async fn the_form_shows_what_stands_and_follows_it() {
    let store = with_samples().await;
    keep_decision(&store, SESSION, "off", 30).await;
    let page = get(&store, FORM).await.text();
    assert!(page.contains(">off<") && page.contains("to the quay (A. B.,"));
    let at = (morning() - TimeDelta::minutes(30)).timestamp_micros();
    assert_eq!(after(&page), at.to_string());
}
