//! An advisory as a calendar.
//!
//! Source: RFC 5545, sections 3.1 (lines end in CRLF and hold 75 octets at most), 3.3.11 (text is escaped), 3.6 and 3.6.1
//! (what a calendar and an event must have), 3.8.7.2 and 3.8.7.4 (DTSTAMP in UTC, SEQUENCE from 0).

use crate::shelf::{OURS, get_with, keep_advisory, samples, with_samples};

const ADVISORY: &str = "/sessions/dunlin-first%2F20261017T0930/advisory";

/// The lines of a calendar put together again, each with its name.
pub fn unfolded(calendar: &str) -> Vec<(String, String)> {
    assert!(calendar.ends_with("\r\n"));
    assert!(
        !calendar.replace("\r\n", "").contains(['\r', '\n']),
        "lines end in CRLF"
    );
    for line in calendar.split("\r\n") {
        assert!(line.len() <= 75, "{line}");
    }
    let whole = calendar.replace("\r\n ", "").replace("\r\n\t", "");
    let lines = whole.lines().map(|line| line.split_once(':').unwrap());
    lines
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .collect()
}

fn value(lines: &[(String, String)], name: &str) -> String {
    let values: Vec<_> = lines.iter().filter(|(own, _)| own == name).collect();
    assert_eq!(values.len(), 1, "one {name}: {lines:?}");
    values[0]
        .1
        .replace("\\n", "\n")
        .replace("\\,", ",")
        .replace("\\;", ";")
        .replace("\\\\", "\\")
}

#[tokio::test]
async fn an_event_has_what_the_standard_asks_and_says_when_it_was_issued() {
    let store = with_samples().await;
    let path = format!("{OURS}{ADVISORY}");
    let ask = async || {
        let answer = get_with(&store, &path, &[("accept", "text/calendar")]).await;
        assert_eq!(answer.header("content-type"), "text/calendar; charset=utf-8");
        unfolded(&answer.text())
    };
    let lines = ask().await;
    for (name, expected) in [
        ("VERSION", "2.0"),
        ("UID", "dunlin-first/20261017T0930@pellock-haven"),
        ("DTSTAMP", "20261017T052000Z"),
        ("DTSTART", "20261017T083000Z"),
        ("SEQUENCE", "0"),
        (
            "SUMMARY",
            "Marginal (issued Sat 17 Oct 06:20): Dunlin, First days",
        ),
    ] {
        assert_eq!(value(&lines, name), expected);
    }
    assert!(value(&lines, "PRODID").starts_with("-//"));
    assert!(value(&lines, "DTEND").ends_with('Z'));
    assert!(value(&lines, "DESCRIPTION").contains(&samples()[0].caution_to_all));
    assert_eq!(ask().await, lines, "the same advisory gives the same bytes");

    let mut second = samples()[0].clone();
    second.summary = "Commas, semicolons; a back\\slash\r\nATTENDEE:mailto:helm@boat.example".into();
    second.session.venue.name = "Quay\r\nX-HELM:1".into();
    let document = serde_json::to_vec(&second).unwrap();
    keep_advisory(
        &store,
        "pellock-haven",
        ("second", "dunlin-first/20261017T0930"),
        document,
    )
    .await;
    let lines = ask().await;
    assert_eq!(value(&lines, "SEQUENCE"), "2", "the second issue");
    assert_eq!(value(&lines, "UID"), "dunlin-first/20261017T0930@pellock-haven");
    assert!(value(&lines, "DESCRIPTION").contains("Commas, semicolons; a back\\slash"));
    assert!(
        lines
            .iter()
            .all(|(name, _)| name != "ATTENDEE" && name != "X-HELM"),
        "{lines:?}"
    );
}
