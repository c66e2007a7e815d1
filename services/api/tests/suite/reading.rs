//! What is read under `/v1`: lists with their filters and pages, the four forms of an advisory, validators.
//!
//! Sources: RFC 9110 (negotiation, validators, 304), RFC 8288 (Link), RFC 3339 (dates), RFC 9457 (problems). What the
//! lists should hold is read off the samples.

use crate::shelf::{
    Answer, OURS, get, get_with, is_problem, is_wrong_field, keep_advisory, keep_club, keep_decision,
    morning, samples, stored, with_samples,
};
use axum::http::StatusCode;
use chrono::TimeDelta;
use serde_json::{Value, json};

const FIRST: &str = "dunlin-first/20261017T0930";
const ADVISORY: &str = "/v1/clubs/pellock-haven/sessions/dunlin-first%2F20261017T0930/advisory";

fn ids(answer: &Answer, list: &str, member: &str) -> Vec<String> {
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    let body = answer.json();
    let items = body[list].as_array().unwrap();
    items
        .iter()
        .map(|item| item[member].as_str().unwrap().to_owned())
        .collect()
}

#[tokio::test]
async fn clubs_are_listed_and_described() {
    let store = with_samples().await;
    keep_club(&store, "zander-bay", true).await;
    let clubs = get(&store, "/v1/clubs").await;
    assert_eq!(ids(&clubs, "clubs", "slug"), ["pellock-haven", "zander-bay"]);
    assert_eq!(clubs.json()["next"], Value::Null);
    assert!(clubs.headers.get("link").is_none());
    let club = get(&store, OURS).await.json();
    assert_eq!(club["time_zone"], "Europe/London");
    assert_eq!(club["boats"], json!([{ "id": "tern", "name": "Tern" }]));
    assert_eq!(club["levels"][0]["id"], "beginners");
    assert_eq!(club["venues"][0]["id"], "roadstead");
    assert!(
        !club.to_string().contains("43.5"),
        "only what is needed to ask on is told"
    );
}

#[tokio::test]
async fn sessions_are_filtered() {
    let store = with_samples().await;
    for (query, expected) in [
        ("", vec![0, 1, 2, 3, 4]),
        ("?from=2026-10-18", vec![2, 3, 4]),
        ("?to=2026-10-18", vec![0, 1, 2]),
        ("?from=2026-10-18&to=2026-10-20", vec![2, 3]),
        ("?from=2026-11-01", vec![]),
        ("?to=2026-10-16", vec![]),
        ("?level=first-days", vec![0, 2, 3]),
        ("?boat=whimbrel", vec![1, 4]),
        ("?call=go", vec![1, 3]),
        ("?call=no-call", vec![4]),
        ("?boat=dunlin&call=no-go", vec![2]),
        ("?level=nobody", vec![]),
    ] {
        let listed = get(&store, &format!("{OURS}/sessions{query}")).await;
        let expected: Vec<String> = expected
            .iter()
            .map(|at: &usize| samples()[*at].session.id.clone())
            .collect();
        assert_eq!(ids(&listed, "sessions", "id"), expected, "{query}");
    }
    let entry = &get(&store, &format!("{OURS}/sessions")).await.json()["sessions"][0];
    assert_eq!(entry["call"], "marginal");
    assert_eq!(entry["old"], false);
    assert_eq!(
        entry["leaves"], "2026-10-17T09:30:00+01:00",
        "times carry the club's offset"
    );
    assert_eq!(entry["advisory"], samples()[0].id);
}

#[tokio::test]
async fn an_old_call_is_listed_as_no_call() {
    let store = with_samples().await;
    let after = samples()[0].valid_until.to_utc() + TimeDelta::seconds(1);
    let path = format!("{OURS}/sessions");
    let listed = crate::shelf::ask(&store, axum::http::Method::GET, &path, after).await;
    for entry in listed.json()["sessions"].as_array().unwrap() {
        assert_eq!((&entry["call"], &entry["old"]), (&json!("no-call"), &json!(true)));
    }
    let go = crate::shelf::ask(&store, axum::http::Method::GET, &format!("{path}?call=go"), after).await;
    assert_eq!(go.json()["sessions"], json!([]));
}

#[tokio::test]
async fn pages_follow_one_another_by_link_and_by_cursor() {
    let store = with_samples().await;
    for query in ["limit=2", "limit=1&from=2026-10-17", "limit=5", "limit=200"] {
        let (mut all, mut path) = (Vec::new(), format!("{OURS}/sessions?{query}"));
        loop {
            let page = get(&store, &path).await;
            all.extend(ids(&page, "sessions", "id"));
            let Some(next) = page.json()["next"].as_str().map(str::to_owned) else {
                assert!(page.headers.get("link").is_none());
                break;
            };
            let link = page.header("link").to_owned();
            assert_eq!(
                link,
                format!("<{OURS}/sessions?{query}&cursor={next}>; rel=\"next\"")
            );
            path = link.split(['<', '>']).nth(1).unwrap().to_owned();
        }
        let expected: Vec<String> = samples().iter().map(|one| one.session.id.clone()).collect();
        assert_eq!(all, expected, "{query}");
    }
}

#[tokio::test]
async fn an_advisory_is_answered_in_the_form_that_is_asked_for() {
    let store = with_samples().await;
    let json = get(&store, ADVISORY).await;
    assert_eq!(
        json.body,
        serde_json::to_vec(&samples()[0]).unwrap(),
        "the bytes are those stored"
    );
    let mut tags = Vec::new();
    for (accept, content_type, says) in [
        ("application/json", "application/json", "\"valid_until\""),
        (
            "text/html,*/*;q=0.8",
            "text/html; charset=utf-8",
            "<h1 class=\"word\">Marginal",
        ),
        ("text/plain", "text/plain; charset=utf-8", "Marginal"),
        ("text/calendar", "text/calendar; charset=utf-8", "BEGIN:VEVENT"),
    ] {
        let answer = get_with(&store, ADVISORY, &[("accept", accept)]).await;
        assert_eq!(answer.status, StatusCode::OK);
        assert_eq!(answer.header("content-type"), content_type);
        assert_eq!(answer.header("vary"), "Accept");
        assert!(answer.text().contains(says), "{accept}: {}", answer.text());
        let tag = answer.header("etag").to_owned();
        assert!(
            tag.starts_with("W/\"") && !tags.contains(&tag),
            "a weak tag a form: {tag}"
        );
        for held in [
            tag.clone(),
            tag.trim_start_matches("W/").to_owned(),
            format!("\"x\", {tag}"),
            "*".to_owned(),
        ] {
            let same = get_with(&store, ADVISORY, &[("accept", accept), ("if-none-match", &held)]).await;
            assert_eq!(same.status, StatusCode::NOT_MODIFIED, "{held}");
            assert!(same.body.is_empty());
            for header in ["etag", "cache-control", "vary"] {
                assert_eq!(same.header(header), answer.header(header));
            }
        }
        let other = get_with(
            &store,
            ADVISORY,
            &[("accept", accept), ("if-none-match", "\"x\"")],
        )
        .await;
        assert_eq!(other.status, StatusCode::OK);
        tags.push(tag);
    }
    let by_link = get_with(
        &store,
        &format!("{ADVISORY}?format=calendar"),
        &[("accept", "text/html")],
    )
    .await;
    assert_eq!(by_link.header("content-type"), "text/calendar; charset=utf-8");
    for refused in ["application/xml", "text/html;q=0", "image/*"] {
        is_problem(&get_with(&store, ADVISORY, &[("accept", refused)]).await, 406);
    }
    is_wrong_field(&get(&store, &format!("{ADVISORY}?format=pdf")).await, "format");
}

#[tokio::test]
async fn a_tag_changes_with_what_is_shown() {
    let store = with_samples().await;
    let page = async |now| {
        let club = (&store, "pellock-haven");
        let request = (axum::http::Method::GET, ADVISORY);
        let answer = crate::shelf::ask_of(club, request, &[("accept", "text/html")], now).await;
        answer.header("etag").to_owned()
    };
    let first = page(morning()).await;
    assert_eq!(
        page(morning() + TimeDelta::minutes(1)).await,
        first,
        "it does not change with the clock"
    );
    keep_decision(&store, FIRST, "off", 5).await;
    let decided = page(morning()).await;
    assert_ne!(decided, first);
    let old = page(samples()[0].valid_until.to_utc() + TimeDelta::seconds(1)).await;
    assert_ne!(old, decided);
}

#[tokio::test]
async fn the_advisories_of_a_day() {
    let store = with_samples().await;
    let day = get(&store, &format!("{OURS}/advisories/2026-10-17")).await;
    assert_eq!(
        ids(&day, "advisories", "id"),
        [samples()[0].id.clone(), samples()[1].id.clone()]
    );
    let first: advisory::Advisory = serde_json::from_value(day.json()["advisories"][0].clone()).unwrap();
    assert_eq!(first, samples()[0]);
    let none = get(&store, &format!("{OURS}/advisories/2026-10-19")).await;
    assert_eq!(none.json(), json!({ "advisories": [], "next": null }));
    let one = get(&store, &format!("{OURS}/advisories/2026-10-17?limit=1")).await;
    assert!(one.header("link").contains("rel=\"next\""));
}

#[tokio::test]
async fn the_history_of_a_call() {
    let store = with_samples().await;
    let mut second = samples()[0].clone();
    second.id = "second".into();
    second.call = advisory::document::CallWord::NoGo;
    keep_advisory(
        &store,
        "pellock-haven",
        ("second", FIRST),
        serde_json::to_vec(&second).unwrap(),
    )
    .await;
    keep_decision(&store, FIRST, "on", 9).await;
    keep_decision(&store, "whimbrel-training/20261017T1000", "off", 8).await;
    keep_decision(&store, FIRST, "moved", 7).await;
    let path = format!("{OURS}/calls/dunlin-first%2F20261017T0930/history");
    let history = get(&store, &path).await.json();
    let issues = history["issues"].as_array().unwrap();
    assert_eq!((issues.len(), &history["session"]), (2, &json!(FIRST)));
    assert_eq!(
        (&issues[0]["call"], &issues[1]["call"]),
        (&json!("marginal"), &json!("no-go"))
    );
    assert_eq!(
        (&issues[0]["revision"], &issues[1]["id"]),
        (&json!(1), &json!("second"))
    );
    assert_eq!(issues[0]["p_no_go"], json!(samples()[0].sureness.p_no_go));
    assert!(issues[0]["run"].is_string() && issues[0]["issued_at"].is_string());
    let decided: Vec<_> = history["decisions"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["decided"])
        .collect();
    assert_eq!(decided, ["on", "moved"]);
    let page = get(&store, &format!("{path}?limit=1")).await;
    assert_eq!(ids(&page, "issues", "id"), [samples()[0].id.clone()]);
    let next = page.json()["next"].as_str().unwrap().to_owned();
    let rest = get(&store, &format!("{path}?limit=1&cursor={next}")).await;
    assert_eq!(ids(&rest, "issues", "id"), ["second"]);
    assert_eq!(
        (&rest.json()["next"], &rest.json()["decisions"]),
        (&Value::Null, &json!([]))
    );
    is_problem(&get(&store, &format!("{OURS}/calls/none/history")).await, 404);
}

#[tokio::test]
async fn decisions_in_the_order_they_were_made() {
    let store = with_samples().await;
    for (session, decided, minutes) in [
        (FIRST, "on", 9),
        ("b", "off", 8),
        (FIRST, "off", 7),
        (FIRST, "moved", 7),
    ] {
        keep_decision(&store, session, decided, minutes).await;
    }
    let path = format!("{OURS}/decisions");
    assert_eq!(
        ids(&get(&store, &path).await, "decisions", "decided"),
        ["on", "off", "off", "moved"]
    );
    let of_one = get(&store, &format!("{path}?session=b")).await;
    assert_eq!(ids(&of_one, "decisions", "session"), ["b"]);
    let (mut all, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = get(&store, &format!("{path}?limit=1{cursor}")).await;
        all.extend(ids(&page, "decisions", "decided"));
        let Some(next) = page.json()["next"].as_str().map(str::to_owned) else {
            break;
        };
        cursor = format!("&cursor={next}");
    }
    assert_eq!(all, ["on", "off", "off", "moved"]);
    let before = get(&store, &format!("{path}?to=2026-10-16")).await;
    assert_eq!(before.json()["decisions"], json!([]));
}

#[tokio::test]
async fn the_runs_say_whose_they_are() {
    let store = with_samples().await;
    let runs = get(&store, &format!("{OURS}/runs")).await;
    let source = &runs.json()["sources"][0];
    assert_eq!(
        (&source["source"], &source["state"]),
        (&json!("gfs"), &json!("stale"))
    );
    let catalogue = crate::shelf::catalogue();
    let feed = catalogue
        .feeds()
        .iter()
        .find(|feed| feed.name.as_str() == "gfs")
        .unwrap();
    assert_eq!(source["attribution"], json!(feed.attribution));
    assert_eq!(runs.header("cache-control"), "no-cache");
}

#[tokio::test]
async fn what_is_wrong_in_a_query_is_named() {
    let store = with_samples().await;
    for (path, field) in [
        ("sessions?from=2026-13-01", "from"),
        ("sessions?from=2026-02-30", "from"),
        ("sessions?from=26-10-17", "from"),
        ("sessions?from=%2B2026-10-1", "from"),
        ("sessions?from=", "from"),
        ("sessions?from=2026-10-17T00:00:00Z", "from"),
        ("sessions?to=tomorrow", "to"),
        ("sessions?from=2026-10-18&to=2026-10-17", "to"),
        ("sessions?from=2026-01-01&to=2026-12-31", "to"),
        ("sessions?call=gone", "call"),
        ("sessions?limit=0", "limit"),
        ("sessions?limit=201", "limit"),
        ("sessions?limit=-1", "limit"),
        ("sessions?limit=%2B5", "limit"),
        ("sessions?limit=99999999999999999999", "limit"),
        ("sessions?limit=ten", "limit"),
        ("sessions?cursor=x", "cursor"),
        ("sessions?cursor=", "cursor"),
        ("sessions?levle=first-days", "levle"),
        ("sessions?limit=1&limit=2", "limit"),
        ("advisories/2026-10-32", "date"),
        ("advisories/today", "date"),
        ("advisories/2026-10-17?cursor=00", "cursor"),
        ("decisions?from=1", "from"),
        ("decisions?cursor=7", "cursor"),
        ("runs?limit=x", "limit"),
        ("runs?cursor=x", "cursor"),
        ("calls/a/history?limit=x", "limit"),
        ("calls/a/history?cursor=x", "cursor"),
        ("sessions/%ff/advisory", "id"),
        ("calls/%c3%28/history", "id"),
        ("advisories/%ff", "date"),
    ] {
        is_wrong_field(&get(&store, &format!("{OURS}/{path}")).await, field);
    }
    is_wrong_field(&get(&store, "/v1/clubs?limit=x").await, "limit");
    is_wrong_field(&get(&store, "/v1/clubs/%ff").await, "club");
    for days in [
        "from=0000-01-01&to=0000-01-02",
        "from=9999-12-30&to=9999-12-31",
        "to=0000-01-01",
    ] {
        let far = get(&store, &format!("{OURS}/sessions?{days}")).await;
        assert_eq!(far.json()["sessions"], json!([]), "{days}");
    }
    assert_eq!(
        get(&store, &format!("{OURS}/sessions?from=9999-12-31"))
            .await
            .status,
        StatusCode::OK
    );
}

#[tokio::test]
async fn a_damaged_document_takes_no_other_off_a_list() {
    let mut documents = vec![("broken".to_owned(), b"{\"call\":\"go\"}".to_vec())];
    documents.push((FIRST.to_owned(), serde_json::to_vec(&samples()[0]).unwrap()));
    let store = stored(&documents).await;
    let listed = get(&store, &format!("{OURS}/sessions")).await;
    assert_eq!(ids(&listed, "sessions", "id"), [FIRST]);
    is_problem(
        &get(&store, &format!("{OURS}/sessions/broken/advisory")).await,
        500,
    );
}
