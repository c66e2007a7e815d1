//! The notice-board sheet: what must stand on paper, what never may, and how many sessions share a page.
//!
//! No source unless named: these are the rules of the design texts (4-interfaces, look).

#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

mod sample;

use advisory::{Advisory, Decided, Decision};
use chrono::{DateTime, NaiveDate, Utc};
use present::html;
use sample::{
    GO, HOSTILE, LIGHT, MARGINAL, NO_CALL, NO_GO, advisories, advisory, entrance, hostile, later, leg,
    lesson, now,
};

const DAY: NaiveDate = NaiveDate::from_ymd_opt(2026, 10, 17).unwrap();

/// So many sessions of one day: the marginal and the go, in turn, each with a name of its own.
fn of_one_day(sessions: usize) -> Vec<Advisory> {
    let mut all: Vec<Advisory> = (0..sessions)
        .map(|index| advisory([MARGINAL, GO][index % 2]))
        .collect();
    for (index, one) in all.iter_mut().enumerate() {
        one.session.leaves = advisory(MARGINAL).session.leaves;
        one.session.id = format!("session-{index}");
        one.entrance = Some(entrance(one, "the Gut"));
    }
    all
}

fn sheet_at(all: &[Advisory], decisions: &[Decision], now: DateTime<Utc>) -> String {
    let told = (now, Some("Demo: invented weather."));
    html::sheet(
        &all[0].club,
        Some(DAY),
        (all, decisions),
        told,
        Some("https://sailing.example"),
    )
    .unwrap()
}

fn sheet(sessions: usize) -> String {
    sheet_at(&of_one_day(sessions), &[], now())
}

fn count(page: &str, words: &str) -> usize {
    page.matches(words).count()
}

#[test]
fn one_or_two_sessions_share_a_page_with_drawings_three_without_and_more_go_on() {
    for (sessions, pages, drawings) in [(1, 1, 1), (2, 1, 2), (3, 1, 0), (4, 2, 4), (5, 3, 5)] {
        let page = sheet(sessions);
        assert_eq!(count(&page, "<div class=\"leaf "), pages, "{sessions} sessions");
        assert_eq!(
            count(&page, "<svg class=\"ladder sheet\""),
            drawings,
            "{sessions} sessions"
        );
        assert_eq!(count(&page, "<section class=\"sh\">"), sessions);
        assert_eq!(
            count(&page, "Saturday 17 October</"),
            pages,
            "the head of each page"
        );
        assert_eq!(count(&page, "<h1>"), 1);
        for always in [
            "The skipper on the water decides",
            "warnings were not checked",
            "Sample Forecast Office",
        ] {
            assert_eq!(count(&page, always), pages, "on each page: {always}");
        }
        assert_eq!(count(&page, "Page 2 of"), usize::from(pages > 1));
    }
}

#[test]
fn a_page_that_would_be_too_full_gives_up_its_drawings_and_no_caution() {
    let mut all = of_one_day(2);
    for one in &mut all {
        let long = |index: usize| advisory::document::Caution {
            title: format!("Caution {index}"),
            words: "what must be seen and takes its room on the paper, ".repeat(2),
            ..advisory(MARGINAL).cautions[0].clone()
        };
        one.cautions = (0..9).map(long).collect();
    }
    let page = sheet_at(&all, &[], now());
    assert_eq!(count(&page, "<svg class=\"ladder"), 0);
    assert_eq!(count(&page, "<b>Caution "), 18);
}

#[test]
fn it_is_of_one_ink_and_says_until_when_it_holds_and_where_its_page_is() {
    let page = sheet(2);
    assert!(page.starts_with("<!doctype html>\n<html lang=\"en\" class=\"mono\">"));
    assert!(page.contains(
        "A printed sheet does not change: after Sat 17 Oct 12:20 it is old. The page is at https://sailing.example/sheet/2026-10-17."
    ));
    assert!(page.contains("valid until Sat 17 Oct 12:20") && page.contains("Issued Sat 17 Oct 06:20"));
    assert!(page.contains("Demo: invented weather."));
    let tokens = html::STYLE
        .split_once("html.mono{")
        .unwrap()
        .1
        .split_once('}')
        .unwrap()
        .0;
    for token in tokens.split(';').filter(|token| token.starts_with("--")) {
        let value = token.split_once(':').unwrap().1;
        assert!(["#000", "#fff", "#d4d4d4"].contains(&value), "{token}");
    }
    assert!(html::STYLE.contains("@page{size:A4"));
}

#[test]
fn every_id_on_it_is_one_and_every_reference_leads_to_one() {
    let page = sheet(2);
    let between = |open: &str, close: char| -> Vec<String> {
        let rests = page.split(open).skip(1);
        rests
            .map(|rest| rest.split(close).next().unwrap().to_owned())
            .collect()
    };
    let mut ids = between(" id=\"", '"');
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an id stands twice");
    let named = between("aria-labelledby=\"", '"');
    let named = named.iter().flat_map(|ids| ids.split(' ')).map(str::to_owned);
    for id in named.chain(between("url(#", ')')) {
        assert!(ids.contains(&id), "nothing has the id {id}");
    }
}

#[test]
fn plan_way_out_cautions_and_boxes_stand_beside_the_call() {
    let one = advisory(MARGINAL);
    let page = sheet(1);
    for words in [
        "<h2>Marginal",
        "09:30 to 17:00",
        "1 reef, ¾ headsail",
        "on leaving, 09:30",
        "2 reefs, ½ headsail",
        "from 15:00",
        "Way out: Back by 14:15, then it is a go.",
        "How sure: likely.",
        "Gusts 25 kn at 17:00",
        "Skipper:",
        "second reef due 15:00",
    ] {
        assert!(page.contains(words), "no {words}");
    }
    for caution in &one.cautions {
        assert!(
            page.contains(&format!("<b>{}</b>", caution.title)),
            "{}",
            caution.title
        );
    }
    assert_eq!(
        count(&page, "<i>×</i>"),
        0,
        "nothing is decided, so no box is crossed"
    );
}

#[test]
fn cautions_of_one_title_say_once_what_they_say_alike() {
    let mut all = of_one_day(1);
    let told = [
        ("out at 09:50", "0.8 m of sea. Hatches shut. Engine ready."),
        ("in at 16:40", "0.9 m of sea. Hatches shut. Engine ready."),
    ];
    let caution = all[0].cautions[0].clone();
    all[0].cautions = told
        .map(|(when, words)| advisory::document::Caution {
            when: when.into(),
            title: "Sea in the entrance".into(),
            words: words.into(),
            ..caution.clone()
        })
        .into();
    let page = sheet_at(&all, &[], now());
    assert!(
        page.contains("<b>Sea in the entrance</b> out at 09:50: 0.8 m of sea; in at 16:40: 0.9 m of sea. Hatches shut. Engine ready."),
        "{page}"
    );
    all[0].cautions[1].words = told[0].1.into();
    let page = sheet_at(&all, &[], now());
    assert!(
        page.contains("out at 09:50, in at 16:40: 0.8 m of sea. Hatches shut. Engine ready."),
        "{page}"
    );
}

#[test]
fn the_clubs_decision_crosses_its_box() {
    let all = of_one_day(2);
    let told = Decision {
        session: all[1].session.id.clone(),
        decided: Decided::Moved,
        by: "A. Keel".to_owned(),
        at: now(),
        note: Some("to Sunday".to_owned()),
    };
    let page = sheet_at(&all, &[told], now());
    assert_eq!(count(&page, "<i>×</i>"), 1);
    assert!(page.contains("<i>×</i>moved") && page.contains("to Sunday (A. Keel, Sat 06:40)"));
    assert_eq!(count(&page, "The club decided"), 1);
}

#[test]
fn an_old_advisory_prints_as_old_without_plan_drawing_or_caution() {
    let page = sheet_at(&of_one_day(2), &[], later());
    assert_eq!(count(&page, "<h2>Old: no call"), 2);
    for gone in [
        "class=\"plan\"",
        "<svg class=\"ladder",
        "class=\"cau\"",
        "Way out",
        "How sure",
        "<h2>Marginal",
        "<h2>Go",
    ] {
        assert!(!page.contains(gone), "{gone} on an old sheet");
    }
    assert!(page.contains("This sheet is old. The page is at"));
}

#[test]
fn who_does_not_leave_has_no_plan_and_no_cautions_but_reasons() {
    let mut all = vec![advisory(NO_GO), advisory(NO_CALL)];
    all.iter_mut()
        .for_each(|one| one.session.leaves = advisory(MARGINAL).session.leaves);
    let page = sheet_at(&all, &[], now());
    assert!(!page.contains("class=\"plan\""));
    assert!(page.contains(all[0].reasons[0].short.trim_end_matches('.')));
    assert!(page.contains("<b>Not known</b>"), "what is missing is said");
    assert!(
        all.iter()
            .flat_map(|one| &one.cautions)
            .all(|caution| !page.contains(&caution.words))
    );
}

#[test]
fn a_light_go_says_so_and_other_days_are_linked() {
    let mut all = advisories();
    all[LIGHT].session.leaves = all[MARGINAL].session.leaves;
    let page = sheet_at(&all, &[], now());
    assert!(page.contains("<small>light</small>"));
    assert!(page.contains("href=\"/sheet/2026-10-18\">Sun 18 Oct</a>"));
    let none = html::sheet(&all[0].club, None, (&[], &[]), (now(), None), None).unwrap();
    assert!(none.contains("No session is still to come") && none.contains("warnings"));
}

#[test]
fn hostile_names_arrive_as_words() {
    let mut all = vec![hostile()];
    all[0].legs = vec![leg(all[0].session.leaves)];
    all[0].lessons = vec![lesson(HOSTILE, false)];
    for time in [now(), later()] {
        let told = (time, Some(HOSTILE));
        let page = html::sheet(&all[0].club, Some(DAY), (&all, &[]), told, Some(HOSTILE)).unwrap();
        assert!(!page.contains("<script") && !page.contains("</script>\"'"));
        assert!(page.contains("&#60;script&#62;alert(1)"), "the name is gone");
    }
}
