//! The feeds of a club: a calendar of its sessions and the advisories as they were issued.
//!
//! Sources: RFC 5545, sections 3.8.1.11 (STATUS), 3.8.4.7 (UID stays), 3.8.7.4 (SEQUENCE grows with each change); RFC 4287, sections
//! 4.1.1 and 4.1.2 (what a feed and an entry must have), 4.2.6 (an entry's name never changes); RFC 9562, section 5.8 (UUID version 8).
//! Libraries of others read both in the contract check.

use crate::calendars::unfolded;
use crate::shelf::{
    OURS, ask_of, get_with, keep_advisory, keep_club, keep_decision, morning, samples, stored, with_samples,
};
use advisory::document::CallWord;
use axum::http::{Method, StatusCode};
use chrono::{DateTime, TimeDelta, Utc};
use store::Store;

const FIRST: &str = "dunlin-first/20261017T0930";

/// The events of a calendar: each the lines between its BEGIN and END.
async fn events(store: &Store, query: &str, now: DateTime<Utc>) -> Vec<Vec<(String, String)>> {
    let path = format!("{OURS}/calendar.ics{query}");
    let answer = ask_of((store, "pellock-haven"), (Method::GET, &path), &[], now).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "text/calendar; charset=utf-8");
    let lines = unfolded(&answer.text());
    let event = |line: &(String, String)| line.1 == "VEVENT";
    lines.split(event).skip(1).step_by(2).map(<[_]>::to_vec).collect()
}

fn value<'a>(event: &'a [(String, String)], name: &str) -> &'a str {
    let line = event.iter().find(|(own, _)| own == name);
    line.map_or_else(|| panic!("no {name} in {event:?}"), |(_, value)| value)
}

fn first(events: &[Vec<(String, String)>]) -> &[(String, String)] {
    let of_first = |event: &&Vec<(String, String)>| value(event, "UID").starts_with(FIRST);
    events.iter().find(of_first).unwrap()
}

#[tokio::test]
async fn the_calendar_has_each_session_once_in_order_of_leaving_and_those_asked_for() {
    let store = with_samples().await;
    let all = events(&store, "", morning()).await;
    assert_eq!(all.len(), samples().len());
    let starts: Vec<_> = all
        .iter()
        .map(|event| value(event, "DTSTART").to_owned())
        .collect();
    assert!(starts.is_sorted(), "{starts:?}");
    let boat = &samples()[0].session.boat.id;
    let of_boat = samples()
        .iter()
        .filter(|one| one.session.boat.id == *boat)
        .count();
    assert!(of_boat < samples().len());
    let asked = events(&store, &format!("?boat={boat}"), morning()).await;
    assert_eq!(asked.len(), of_boat);
    assert!(events(&store, "?venue=no-such", morning()).await.is_empty());
    let answer = get_with(&store, &format!("{OURS}/calendar.ics?boot=x"), &[]).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn what_the_club_decided_comes_first_and_every_change_raises_the_sequence() {
    let store = with_samples().await;
    let mut sequences = Vec::new();
    let mut look = async |now| {
        let events = events(&store, "", now).await;
        let event = first(&events);
        sequences.push(value(event, "SEQUENCE").parse::<u32>().unwrap());
        let told = ["UID", "STATUS", "SUMMARY", "DTSTAMP"].map(|name| value(event, name).to_owned());
        assert_eq!(value(event, "LAST-MODIFIED"), told[3]);
        told
    };
    let [uid, status, summary, issued] = look(morning()).await;
    assert_eq!(
        (status.as_str(), issued.as_str()),
        ("TENTATIVE", "20261017T052000Z")
    );
    assert_eq!(
        summary,
        "Marginal (issued Sat 17 Oct 06:20): Dunlin\\, First days"
    );

    keep_decision(&store, FIRST, "on", 3).await;
    let [same, status, summary, _] = look(morning()).await;
    assert_eq!((&same, status.as_str()), (&uid, "CONFIRMED"));
    assert!(
        summary.starts_with("On\\, the club decided: Dunlin\\, First days. Marginal (issued"),
        "{summary}"
    );

    keep_decision(&store, FIRST, "off", 2).await;
    let [same, status, summary, changed] = look(morning()).await;
    assert_eq!((&same, status.as_str()), (&uid, "CANCELLED"));
    assert!(summary.starts_with("Off\\, the club decided"), "{summary}");
    assert_eq!(
        changed,
        (morning() - TimeDelta::minutes(2))
            .format("%Y%m%dT%H%M%SZ")
            .to_string()
    );

    let until = samples()[0].valid_until.to_utc();
    let [_, _, summary, _] = look(until + TimeDelta::seconds(1)).await;
    assert!(
        summary.contains("Old: no call") && !summary.contains("Marginal"),
        "{summary}"
    );

    let mut second = samples()[0].clone();
    second.valid_until += TimeDelta::hours(6);
    second.call = CallWord::NoGo;
    let document = serde_json::to_vec(&second).unwrap();
    keep_advisory(&store, "pellock-haven", ("second", FIRST), document).await;
    let [same, _, summary, _] = look(until + TimeDelta::seconds(2)).await;
    assert_eq!(same, uid);
    assert!(summary.contains("No-go"), "{summary}");
    assert!(
        sequences.windows(2).all(|pair| pair[0] < pair[1]),
        "{sequences:?}"
    );
}

#[tokio::test]
async fn an_old_event_has_no_plan_and_no_way_out() {
    let store = with_samples().await;
    let fresh = events(&store, "", morning()).await;
    let told = value(first(&fresh), "DESCRIPTION").to_owned();
    assert!(told.contains("Leave with") && told.contains("Way out"), "{told}");
    let later = samples()
        .iter()
        .map(|one| one.valid_until)
        .max()
        .unwrap()
        .to_utc()
        + TimeDelta::seconds(1);
    for event in events(&store, "", later).await {
        let told = value(&event, "DESCRIPTION");
        assert!(
            !told.contains("Leave with") && !told.contains("Way out"),
            "{told}"
        );
        assert!(value(&event, "SUMMARY").contains("Old: no call"));
    }
}

async fn atom(store: &Store) -> String {
    let answer = get_with(store, &format!("{OURS}/advisories.atom"), &[]).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    assert_eq!(answer.header("content-type"), "application/atom+xml");
    answer.text()
}

fn names(feed: &str) -> Vec<String> {
    let ids = feed.split("<id>").skip(1);
    ids.map(|rest| rest.split('<').next().unwrap().to_owned())
        .collect()
}

#[tokio::test]
async fn the_feed_keeps_every_issue_under_a_name_that_stays() {
    let store = with_samples().await;
    let before = names(&atom(&store).await);
    assert_eq!(
        before.len(),
        samples().len() + 1,
        "the feed's own and each entry's"
    );
    for name in &before {
        let digits = name.strip_prefix("urn:uuid:").unwrap();
        assert_eq!((digits.len(), &digits[14..15]), (36, "8"), "{name}");
        assert!(matches!(&digits[19..20], "8" | "9" | "a" | "b"), "{name}");
    }
    let mut second = samples()[0].clone();
    second.call = CallWord::NoGo;
    let document = serde_json::to_vec(&second).unwrap();
    keep_advisory(&store, "pellock-haven", ("second", FIRST), document).await;
    let feed = atom(&store).await;
    let after = names(&feed);
    assert_eq!(
        after.len(),
        before.len() + 1,
        "the first issue stays beside the second"
    );
    assert!(before.iter().all(|name| after.contains(name)));
    let mut once = after.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), after.len());
    for said in [
        "Marginal (issued Sat 17 Oct 06:20",
        "No-go (issued Sat 17 Oct 06:20",
        "valid until",
        "<updated>2026-10-17T06:20:00+01:00</updated>",
        "category term=\"no-go\"",
    ] {
        assert!(feed.contains(said), "{said}: {feed}");
    }
}

#[tokio::test]
async fn names_arrive_escaped_in_both_feeds() {
    let mut hostile = samples()[0].clone();
    let name = "<script>\"'&,;\\\u{1b}[2J";
    hostile.session.boat.name = name.into();
    hostile.session.venue.name = name.into();
    hostile.summary = name.into();
    let store = stored(&[(FIRST.to_owned(), serde_json::to_vec(&hostile).unwrap())]).await;
    let feed = atom(&store).await;
    assert!(!feed.contains("<script") && !feed.contains('\u{1b}'), "{feed}");
    // Text of XML once, HTML within it twice.
    assert!(
        feed.contains("&#60;script&#62;") && feed.contains("&#38;#60;script"),
        "{feed}"
    );
    let events = events(&store, "", morning()).await;
    let event = first(&events);
    assert!(
        value(event, "LOCATION").starts_with("<script>\"'&\\,\\;\\\\"),
        "{}",
        value(event, "LOCATION")
    );
    assert!(event.iter().all(|(_, value)| !value.contains('\u{1b}')));
}

#[tokio::test]
async fn feeds_of_a_hidden_club_are_not_there_and_an_empty_one_is_whole() {
    let store = Store::open_in_memory().await.unwrap();
    keep_club(&store, "hidden", false).await;
    keep_club(&store, "pellock-haven", true).await;
    for feed in ["calendar.ics", "advisories.atom"] {
        for club in ["hidden", "absent"] {
            let answer = get_with(&store, &format!("/v1/clubs/{club}/{feed}"), &[]).await;
            assert_eq!(answer.status, StatusCode::NOT_FOUND);
        }
    }
    assert!(events(&store, "", morning()).await.is_empty());
    let feed = atom(&store).await;
    assert!(feed.contains("<updated>1970-01-01T00:00:00+00:00</updated>") && !feed.contains("<entry>"));
}
