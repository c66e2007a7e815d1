//! The mail of the day: what it tells of which session, and what it never tells.

use super::*;
use club::{Choices, Club};
use std::sync::Arc;

#[test]
fn the_first_day_is_told_in_full_and_later_ones_in_short() {
    let all = advisories();
    let mail = digest(&all, &[], now());
    let (first, later) = mail.text.split_once("\nSunday 18 October\n").unwrap();
    for words in [
        "Leave with: 1 reef, ¾ headsail",
        "From 15:00: 2 reefs, ½ headsail",
        "Way out: Back by 14:15, then it is a go.",
        "Decision was due: Fri 18:00",
        "How sure: likely.",
        "15:40 to 17:00: Gusts 25 kn at 17:00; caution from 22, stop at 28.",
        "global-ensemble, run of Fri 16 Oct 18:00 UTC, member 26.",
        "leaving: Blown off the berth",
    ] {
        assert!(one_line(first).contains(words), "no {words} in\n{first}");
    }
    assert!(later.contains("Leave with full main and headsail.") && !later.contains("How sure"));
    assert_eq!(mail.html.matches("alt=\"Wind over the rows of").count(), 2);
    assert_eq!(charts(&mail), 2);
    // A day of many sessions: charts for three, six in full, the others in short.
    let mut many = vec![advisory(GO); 8];
    for (number, one) in many.iter_mut().enumerate() {
        one.session.id = format!("session-{number}");
        one.id = format!("{number}");
    }
    let mail = digest(&many, &[], now());
    assert_eq!(charts(&mail), 3);
    assert_eq!(mail.text.matches("How sure").count(), 6);
    assert_eq!(
        mail.text
            .matches("https://sailing.example/sessions/session-")
            .count(),
        8
    );
    let none = |links: &MailLinks<'_>| {
        let nothing = Standing {
            advisories: &[],
            ..standing(&many, &[], now())
        };
        mail::digest(nothing, links, &PICTURES).unwrap()
    };
    assert_eq!(with_links(none), None, "quiet when nothing is to come");
}

fn charts(mail: &Mail) -> usize {
    mail.pictures
        .iter()
        .filter(|picture| picture.id.starts_with("wind-"))
        .count()
}

#[test]
fn what_the_club_decided_stands_before_the_call_is_explained() {
    let go = advisory(GO);
    let off = decision(&go, Decided::Off, Some("no instructor"));
    let mail = digest(std::slice::from_ref(&go), &[off], now());
    let text = one_line(&mail.text);
    let decided = text
        .find("The club decided: off: no instructor (A. Keel, Fri 18:40)")
        .unwrap();
    assert!(decided < text.find("A good sailing breeze").unwrap());
    assert!(mail.html.contains("border:4px double #9c0f5f"));
    let mail = digest(
        &advisories(),
        &[decision(&advisory(LIGHT), Decided::On, None)],
        now(),
    );
    assert!(
        one_line(&mail.text).contains("The club decided on (A. Keel, Fri 18:40)."),
        "on a later day too"
    );
}

#[test]
fn an_old_advisory_has_nothing_to_go_by() {
    let mail = digest(&advisories(), &[], later());
    // Five sessions, the two of the first day in its list too.
    assert_eq!(mail.text.matches("Old: no call").count(), 7);
    for gone in [
        "Marginal",
        "No-go",
        "Leave with",
        "Way out",
        "How sure",
        "Cautions",
        "Why",
        "alt=\"Wind",
        "reef",
    ] {
        assert!(
            !mail.text.contains(gone) && !mail.html.contains(gone),
            "{gone} in an old mail"
        );
    }
    assert_eq!(charts(&mail), 0);
    assert_eq!(mail.pictures.len(), 1, "the mark of no call");
}

#[test]
fn a_day_of_several_sessions_says_first_what_each_is() {
    let off = decision(&advisory(GO), Decided::Off, None);
    let text = one_line(&digest(&advisories(), &[off], now()).text);
    assert!(text.starts_with(
        "Pellock Haven Sailing School Saturday 17 October - 09:30 to 17:00: Marginal, Dunlin, First days. \
         - 10:00 to 17:00: Go, Whimbrel, Skippers in training. The club decided off. Marginal ========"
    ));
    assert!(one_line(&one(GO).text).starts_with("Pellock Haven Sailing School Saturday 17 October Go =="));
}

#[test]
fn the_call_is_explained_in_few_words_and_its_reasons_in_all_of_theirs() {
    let mut no_go = advisory(NO_GO);
    let long: Vec<&str> = no_go.reasons.iter().map(|reason| reason.words.as_str()).collect();
    no_go.summary = format!("No limit alone stops it. {}", long.join(" "));
    let text = one_line(&digest(&[no_go], &[], now()).text);
    assert!(
        text.contains("No limit alone stops it. Gusts 34.4 kn at 12:00. Mean wind 24 kn at 12:00. Wind west")
    );
    assert!(!text.contains("What stops it"), "said already");
    assert_eq!(text.matches("caution from 22, stop at 28").count(), 1, "{text}");
}

#[test]
fn who_does_not_leave_has_no_plan_and_no_cautions() {
    for index in [NO_GO, NO_CALL] {
        let mut told = advisory(index);
        told.cautions = advisory(MARGINAL).cautions;
        let mail = digest(&[told], &[], now());
        assert!(!mail.text.contains("Leave with") && !mail.text.contains("Cautions"));
        assert!(!mail.text.contains("Clip on") && mail.text.contains("Why\n"));
    }
    let text = one_line(&one(NO_CALL).text);
    assert!(text.contains("What is not known - 13:00 to 15:00: No gust 13:00 to 15:00: damaged message"));
    assert!(text.contains("No limit is known to be passed, but not all of them could be looked at."));
    let mut much = advisory(NO_CALL);
    let missing = much.missing[0].clone();
    much.missing = vec![missing; 5];
    assert!(
        digest(&[much], &[], now())
            .text
            .contains("And 2 more, on the session’s page.")
    );
}

#[test]
fn a_chart_is_drawn_once_for_all_who_are_sent_it() {
    let pictures = Pictures::default();
    let all = advisories();
    let mut mails = (0..2).map(|_| {
        with_links(|links| {
            mail::digest(standing(&all, &[], now()), links, &pictures)
                .unwrap()
                .unwrap()
        })
    });
    let (one, other) = (mails.next().unwrap(), mails.next().unwrap());
    assert_eq!(one, other);
    for (first, second) in one.pictures.iter().zip(&other.pictures) {
        assert!(Arc::ptr_eq(&first.png, &second.png), "{}", first.id);
    }
}

#[test]
fn without_public_pages_a_mail_links_to_the_subscribers_own_pages_alone() {
    let all = advisories();
    let links = MailLinks {
        public: None,
        manage: MANAGE.to_owned(),
        unsubscribe: UNSUBSCRIBE.to_owned(),
    };
    let made = mail::digest(standing(&all, &[], now()), &links, &PICTURES);
    let mail = made.unwrap().unwrap();
    assert_eq!(mail.html.matches("href=").count(), 2);
}

fn club() -> Club {
    let text = include_str!("../../../../fixtures/demo/club.toml");
    club::parse(text).unwrap().club
}

#[test]
fn choices_are_said_by_their_names() {
    let club = club();
    let all = mail::choices_in_words(&Choices::default(), &club).join(" ");
    assert_eq!(
        all,
        "All levels. All boats. Every day of the week. Daily mail whenever a session is to come. \
         A mail when a call or decision changes after the club’s hour."
    );
    let (level, boat) = (&club.levels[0], &club.boats[0]);
    let some = Choices {
        levels: vec![level.id.clone()],
        boats: vec![boat.id.clone(), "sold".to_owned()],
        weekdays: vec![chrono::Weekday::Sat, chrono::Weekday::Sun],
        only_when_sailing: true,
        changes: false,
    };
    let words = mail::choices_in_words(&some, &club).join(" ");
    assert_eq!(
        words,
        format!(
            "Levels: {}. Boats: {}, sold. Sessions that leave on Saturday, Sunday. Daily mail only if a session may sail: go \
             or marginal, and not called off. No mail of changes.",
            level.name, boat.name
        )
    );
}
