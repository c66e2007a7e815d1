//! The openings page: what it says of a day with and without openings, and that nothing unknown looks good.
//!
//! No source unless named: these are the project's own rules.

use crate::sample::{HOSTILE, hostile_club, is_harmless, now, rich_club};
use advisory::document::{CallWord, Sail};
use advisory::openings::DayLookedAt;
use advisory::{Opening, OpeningQuery};
use chrono::{NaiveDate, TimeDelta};
use club::Club;
use present::html::{self, OpeningsAsked, OpeningsFound};

fn day(number: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 10, number).unwrap()
}

fn asked(club: &Club) -> OpeningsAsked<'_> {
    OpeningsAsked {
        club,
        venue: club.venues[0].id.clone(),
        boat: club.boats[1].id.clone(),
        level: club.levels[0].id.clone(),
        length: "3".into(),
        marginal_too: true,
        from: "2026-10-17".into(),
        to: String::new(),
        days: (day(17), day(31)),
    }
}

fn opening(number: u32, holds: Option<f64>) -> Opening {
    let from = day(number)
        .and_hms_opt(10, 0, 0)
        .unwrap()
        .and_utc()
        .fixed_offset();
    Opening {
        from,
        to: from + TimeDelta::hours(4),
        call: CallWord::Marginal,
        holds,
        leave_with: Some(Sail {
            row: 2,
            reefs: 2,
            headsail: 0.5,
            words: "2 reefs, ½ headsail".into(),
            note: None,
        }),
        source: "gefs".into(),
        run: Some(now()),
    }
}

fn looked_at(numbers: &[u32], by: Option<&str>) -> Vec<DayLookedAt> {
    let looked = |number: &u32| DayLookedAt {
        date: day(*number),
        by: by.map(|source| (source.to_owned(), now())),
    };
    numbers.iter().map(looked).collect()
}

fn found<'a>(club: &'a Club, openings: Vec<Opening>, looked_at: &'a [DayLookedAt]) -> OpeningsFound<'a> {
    OpeningsFound {
        query: OpeningQuery {
            venue: &club.venues[0],
            boat: &club.boats[1],
            level: &club.levels[0],
            marginal_too: true,
            at_least: TimeDelta::minutes(150),
            days: 3,
        },
        days: (day(17), day(20)),
        openings,
        looked_at,
        no_data: None,
        attributions: vec!["Made by the Sample Forecast Office".into()],
    }
}

/// The section of a day.
fn of_day(page: &str, number: u32) -> String {
    let head = format!("<h2 class=\"date\"><b>{number}</b>");
    let rest = page
        .split_once(&head)
        .unwrap_or_else(|| panic!("no day {number}"))
        .1;
    rest.split_once("</section>").unwrap().0.to_owned()
}

#[test]
fn each_day_says_what_was_found_or_why_there_is_nothing() {
    let club = rich_club();
    let mut past = opening(17, None);
    past.leave_with = None;
    let mut days = looked_at(&[17, 18], Some("gefs"));
    days.extend(looked_at(&[19], None));
    let found = found(&club, vec![opening(17, Some(0.9333)), past], &days);
    let page = html::openings(&asked(&club), Ok(&found), None).unwrap();
    let first = of_day(&page, 17);
    for words in [
        "10:00 to 14:00",
        "<b>Marginal</b>, 4 h",
        "M0 0h15v9.2H0z",
        "93 % of members hold throughout.",
        "2 reefs, ½ headsail",
        "One run alone",
        "Past her reef table at first",
    ] {
        assert!(first.contains(words), "lacks {words}: {first}");
    }
    assert!(of_day(&page, 18).contains("None of 2 h 30 min or more."));
    assert!(of_day(&page, 19).contains("Nothing can be said: no run"));
    assert!(of_day(&page, 20).contains("No daylight is left"));
    for words in [
        "an opening is no advisory",
        "at least 2 h 30 min with every hour go or marginal",
        "Wind from gefs, run of Sat 17 Oct 05:40 UTC.",
        "Made by the Sample Forecast Office.",
        "Nothing was issued",
        "The skipper on the water decides",
        "warnings were not checked",
        "coastal bulletin on the boathouse door",
        "<a href=\"/openings\" aria-current=\"page\">",
    ] {
        assert!(page.contains(words), "the page lacks: {words}");
    }
}

#[test]
fn without_any_run_no_day_is_shown_at_all() {
    let club = rich_club();
    let days = looked_at(&[17, 18], None);
    let mut found = found(&club, vec![], &days);
    found.no_data = Some("No run is kept that is not too old.");
    let page = html::openings(&asked(&club), Ok(&found), None).unwrap();
    assert!(page.contains("<b>Nothing can be said.</b> No run is kept"));
    assert!(!page.contains("class=\"date\"") && !page.contains("None of"));
}

#[test]
fn the_form_keeps_what_was_chosen_and_a_mistake_stands_at_its_field() {
    let club = rich_club();
    let mut asked = asked(&club);
    asked.length = "99".into();
    let wrong = ("length", "a whole number of hours from 1 to 24");
    let page = html::openings(&asked, Err(wrong), None).unwrap();
    let chosen = format!("<option value=\"{}\" selected>", club.boats[1].id);
    for words in [
        chosen.as_str(),
        "<option value=\"marginal\" selected>",
        "value=\"2026-10-17\"",
        "value=\"99\" aria-invalid=\"true\" aria-describedby=\"length-wrong\"",
        "id=\"length-wrong\">a whole number of hours from 1 to 24.</p>",
        "<details class=\"ask\" open>",
    ] {
        assert!(page.contains(words), "lacks {words}");
    }
    assert!(!page.contains("class=\"date\""));
    let unknown = html::openings(&asked, Err(("lenght", "unknown field")), None).unwrap();
    assert!(unknown.contains("lenght: unknown field.") && !unknown.contains("aria-invalid"));
    for name in ["boat", "level", "venue", "call", "length", "from", "to"] {
        assert!(
            page.contains(&format!("<label for=\"{name}\">")) && page.contains(&format!("id=\"{name}\"")),
            "{name} has no label"
        );
    }
}

#[test]
fn hostile_names_arrive_as_words() {
    let club = hostile_club();
    let days = looked_at(&[17, 18], Some(HOSTILE));
    let mut wild = opening(17, Some(1.0));
    let sail = wild.leave_with.as_mut().unwrap();
    (sail.words, sail.note) = (HOSTILE.into(), Some(HOSTILE.into()));
    wild.source = HOSTILE.into();
    let mut found = found(&club, vec![wild], &days);
    found.attributions = vec![HOSTILE.into()];
    found.no_data = None;
    let mut asked = asked(&club);
    (asked.length, asked.from, asked.to) = (HOSTILE.into(), HOSTILE.into(), HOSTILE.into());
    for page in [
        html::openings(&asked, Ok(&found), Some(HOSTILE)).unwrap(),
        html::openings(&asked, Err((HOSTILE, HOSTILE)), None).unwrap(),
        html::openings(&asked, Err(("from", HOSTILE)), None).unwrap(),
    ] {
        is_harmless(&page);
    }
}
