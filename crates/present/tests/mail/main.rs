//! Mails: what must stand in each, what never may, and that both parts of one say the same.
//!
//! No source unless named: these are the rules of the design texts (4-interfaces, look).

#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

mod changes;
mod digests;
mod parts;
#[path = "../sample/mod.rs"]
mod sample;

use advisory::{Advisory, Decided, Decision};
use chrono::{DateTime, TimeDelta, Utc};
use present::PublicAddress;
use present::mail::{self, Mail, MailLinks, Pictures, Standing, Told};
use sample::{
    GO, HOSTILE, LIGHT, MARGINAL, NO_CALL, NO_GO, advisories, advisory, entrance, hostile, later, leg,
    lesson, now,
};
use std::sync::LazyLock;

/// Kept over all mails, as a sender does.
static PICTURES: LazyLock<Pictures> = LazyLock::new(Pictures::default);

const MANAGE: &str = "https://sailing.example/subscription/c2VjcmV0";
const UNSUBSCRIBE: &str = "https://sailing.example/unsubscribe/c2VjcmV0";

fn with_links<T>(made: impl FnOnce(&MailLinks<'_>) -> T) -> T {
    let public = PublicAddress::read("https://sailing.example").unwrap();
    made(&MailLinks {
        public: Some(&public),
        manage: MANAGE.to_owned(),
        unsubscribe: UNSUBSCRIBE.to_owned(),
    })
}

fn standing<'a>(all: &'a [Advisory], decisions: &'a [Decision], now: DateTime<Utc>) -> Standing<'a> {
    Standing {
        club: &all[0].club,
        advisories: all,
        decisions,
        now,
    }
}

fn digest(all: &[Advisory], decisions: &[Decision], now: DateTime<Utc>) -> Mail {
    let made = |links: &MailLinks<'_>| mail::digest(standing(all, decisions, now), links, &PICTURES);
    with_links(made).unwrap().unwrap()
}

fn one(index: usize) -> Mail {
    digest(&[advisory(index)], &[], now())
}

fn change(of: &Advisory, decisions: &[Decision], was: &Told, now: DateTime<Utc>) -> Option<Mail> {
    let all = std::slice::from_ref(of);
    let made = |links: &MailLinks<'_>| mail::change(standing(all, decisions, now), was, links, &PICTURES);
    with_links(made).unwrap()
}

fn told(index: usize) -> Told {
    Told::of(&advisory(index), &[], now())
}

fn decision(of: &Advisory, decided: Decided, note: Option<&str>) -> Decision {
    Decision {
        session: of.session.id.clone(),
        decided,
        by: "A. Keel".to_owned(),
        at: now() - TimeDelta::hours(12),
        note: note.map(str::to_owned),
    }
}

fn confirm(already: bool) -> Mail {
    let one = advisory(GO);
    let choices = ["Levels: First days.".to_owned(), "All boats.".to_owned()];
    let link = "https://sailing.example/confirm/c2VjcmV0";
    mail::confirm(
        (&one.club, &one.warnings),
        link,
        one.valid_until,
        &choices,
        already,
    )
    .unwrap()
}

/// Every kind of mail, hostile names among them.
fn every_mail() -> Vec<Mail> {
    let all = advisories();
    let mut rich = hostile();
    rich.legs = vec![leg(rich.session.leaves)];
    rich.lessons = vec![lesson(HOSTILE, false)];
    rich.entrance = Some(entrance(&rich, HOSTILE));
    let decisions = [decision(&all[GO], Decided::Moved, Some("to Sunday 10:00"))];
    let mut mails: Vec<Mail> = (0..all.len()).map(one).collect();
    mails.extend([
        digest(&all, &decisions, now()),
        digest(&all, &decisions, later()),
        digest(std::slice::from_ref(&rich), &[], now()),
        digest(std::slice::from_ref(&rich), &[], later()),
        change(&all[NO_GO], &[], &told(GO), now()).unwrap(),
        change(&all[GO], &decisions, &told(MARGINAL), now()).unwrap(),
        change(
            &rich,
            &[decision(&rich, Decided::Off, Some(HOSTILE))],
            &told(GO),
            now(),
        )
        .unwrap(),
        change(&all[GO], &[], &told(GO), later()).unwrap(),
        confirm(false),
        confirm(true),
    ]);
    mails
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_mail_of_a_session_has_caution_warnings_producers_validity_contact_and_the_way_to_stop_it() {
    let all = advisories();
    let mut mails: Vec<Mail> = (0..all.len()).map(one).collect();
    mails.extend([
        digest(&all, &[], now()),
        digest(&all, &[], later()),
        change(&all[NO_GO], &[], &told(GO), now()).unwrap(),
    ]);
    for mail in mails {
        let text = one_line(&mail.text);
        for words in [
            "The skipper on the water decides on what they see.",
            "warnings were not checked",
            "look at your national weather service",
            "Forecast runs: ",
            "Fri 16 Oct 18:00 UTC",
            "Sample Forecast Office",
            "alid until",
            "Issued Sat 17 Oct 06:20",
            "Times are the club’s",
            "Pellock Haven Sailing School: office@pellock.example",
            "You get this because",
            "Choices: https://sailing.example/subscription/c2VjcmV0",
            "Stop all mail: https://sailing.example/unsubscribe/c2VjcmV0",
            "https://sailing.example/sessions/",
        ] {
            assert!(
                text.contains(words),
                "{}: no {words} in\n{}",
                mail.subject,
                mail.text
            );
        }
    }
    for mail in [confirm(false), confirm(true)] {
        let text = one_line(&mail.text);
        for words in [
            "https://sailing.example/confirm/c2VjcmV0",
            "works until Sat 17 Oct 12:20 (UTC+01:00)",
            "If it was not you, do nothing",
            "Levels: First days.",
            "office@pellock.example",
            "The skipper on the water decides",
        ] {
            assert!(text.contains(words), "no {words} in\n{text}");
        }
        assert!(mail.pictures.is_empty());
    }
}
