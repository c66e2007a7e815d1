//! The pages: what must stand on them, what never may, and drawings that say what the document says.
//!
//! No source unless named: these are the rules of the design texts (4-interfaces, look).

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail by panicking"
)]

mod sample;

use advisory::document::CallWord;
use advisory::{Advisory, Decided, Decision};
use present::html;
use present::{Breadth, ladder, sea};
use sample::{GO, LIGHT, MARGINAL, NO_CALL, NO_GO, advisories, advisory, hostile, later, leg, lesson, now};

/// A decision of a sample's session.
fn decision(of: &Advisory, decided: Decided, note: Option<&str>) -> Decision {
    Decision {
        session: of.session.id.clone(),
        decided,
        by: "A. Keel".to_owned(),
        at: now() - chrono::TimeDelta::hours(12),
        note: note.map(str::to_owned),
    }
}

fn board(now: chrono::DateTime<chrono::Utc>) -> String {
    let all = advisories();
    html::board(&all[0].club, &all, &[], now, None).unwrap()
}

fn session(index: usize) -> String {
    html::session(&advisory(index), &[], now(), None).unwrap()
}

/// What stands between an opening tag and its closing tag, the first time.
fn inside<'a>(page: &'a str, open: &str, close: &str) -> &'a str {
    let rest = page.split_once(open).unwrap_or_else(|| panic!("no {open}")).1;
    rest.split_once(close)
        .unwrap_or_else(|| panic!("no {close} after {open}"))
        .0
}

#[test]
fn every_page_has_its_skip_link_language_caution_warnings_run_and_validity() {
    let sessions = (0..advisories().len()).map(session);
    for page in sessions.chain([board(now())]) {
        assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"));
        let skip = inside(&page, "<a class=\"skip\" href=\"#", "\"");
        assert!(
            page.contains(&format!("id=\"{skip}\"")),
            "the skip link leads nowhere"
        );
        let foot = inside(&page, "<footer", "</footer>");
        for words in [
            "The skipper on the water decides on what they see.",
            "warnings were not checked",
            "Fri 16 Oct 18:00 UTC",
            "Sample Forecast Office",
            "valid until",
        ] {
            assert!(foot.contains(words), "the foot lacks: {words}");
        }
    }
}

#[test]
fn nothing_is_fetched_from_elsewhere_and_nothing_runs() {
    for page in [board(now()), session(MARGINAL), session(NO_CALL)] {
        for forbidden in [
            "<script",
            "<iframe",
            "<img",
            "http:",
            "https:",
            "//",
            " style=",
            "javascript:",
            " on",
        ] {
            let found = page
                .match_indices(forbidden)
                .find(|(at, _)| forbidden != " on" || in_a_tag(&page, *at));
            assert!(found.is_none(), "{forbidden} on a page: {found:?}");
        }
    }
    assert!(
        !html::STYLE.contains("url(") && !html::STYLE.contains("@import"),
        "the style sheet fetches something"
    );
}

/// Whether a place lies between `<` and `>`, where " on..." would be a handler.
fn in_a_tag(page: &str, at: usize) -> bool {
    let before = &page[..at];
    let opened = before.rfind('<');
    opened > before.rfind('>') && !before[opened.unwrap_or(0)..].contains('"')
}

#[test]
fn the_call_stands_as_word_and_shape() {
    let shapes = [
        (MARGINAL, "Marginal", "M0 0h15v9.2H0z"),
        (GO, "Go", "zM12 3.5 17 20.5H7z"),
        (NO_GO, "No-go", "fill-rule=\"evenodd\""),
        (LIGHT, "Go", "zM12 3.5 17 20.5H7z"),
        (NO_CALL, "No call", "class=\"open\""),
    ];
    for (index, word, shape) in shapes {
        let page = session(index);
        let head = inside(&page, "<div class=\"call\">", "<p class=\"why\">");
        assert!(head.contains(shape), "{word}: no {shape}");
        assert!(
            head.contains(&format!("<h1 class=\"word\">{word}")),
            "no word {word}"
        );
    }
    assert!(session(LIGHT).contains("<small>light</small>"));
    assert!(!session(GO).contains("<small>light</small>"));
}

#[test]
fn a_plan_is_given_only_where_the_boat_may_leave() {
    for index in [MARGINAL, GO, LIGHT] {
        let page = session(index);
        let plan = advisory(index).plan.unwrap();
        let orders = inside(&page, "<dl class=\"orders\">", "</dl>");
        assert!(orders.contains("Leave with") && orders.contains(&plan.leave_with.words));
        for change in plan.changes {
            assert!(orders.contains(&format!("From {}", change.at.format("%H:%M"))));
            assert!(orders.contains(&change.sail.words));
        }
    }
    for index in [NO_GO, NO_CALL] {
        let page = session(index);
        assert!(
            advisory(index).plan.is_some(),
            "the sample must hold a plan that is not to be shown"
        );
        assert!(!page.contains("Leave with"), "a plan beside no-go or no call");
        assert!(
            !page.contains("class=\"carry"),
            "a box to carry beside no-go or no call"
        );
    }
    assert!(inside(&session(NO_GO), "<dl class=\"orders\">", "</dl>").contains("Gusts 34.4 kn at 12:00"));
}

#[test]
fn openings_are_offered_instead_of_what_does_not_plainly_go() {
    for (index, offered) in [
        (MARGINAL, true),
        (NO_GO, true),
        (GO, false),
        (LIGHT, false),
        (NO_CALL, false),
    ] {
        let mut one = advisory(index);
        one.session.id = "saturday crew@20261017T0930".to_owned();
        let page = html::session(&one, &[], now(), None).unwrap();
        assert_eq!(
            page.contains("href=\"/openings?session=saturday%20crew\""),
            offered
        );
        let old = html::session(&one, &[], later(), None).unwrap();
        assert!(!old.contains("/openings?session="), "an old call offers nothing");
    }
}

#[test]
fn legs_and_lessons_have_their_sections() {
    let mut one = advisory(GO);
    one.legs = vec![leg(one.session.leaves)];
    one.lessons = vec![
        lesson("Reefing under way", false),
        lesson("Drifting quietly", true),
    ];
    let page = html::session(&one, &[], now(), None).unwrap();
    for part in [
        "<h2>Legs</h2>",
        "<b>Course 225, 6 nm</b>: run, the wind 170° off the bow.",
        "<h2>Lessons these hours suit</h2>",
        "Reefing under way.",
        "<h2>For the light air</h2>",
        "Drifting quietly.",
    ] {
        assert!(page.contains(part), "lacks {part}");
    }
    for (index, at) in [(NO_GO, now()), (NO_CALL, now()), (GO, later())] {
        let mut one = advisory(index);
        one.lessons = vec![lesson("Reefing under way", false)];
        let page = html::session(&one, &[], at, None).unwrap();
        assert!(!page.contains("Reefing under way"));
    }
}

#[test]
fn after_valid_until_no_surface_keeps_the_call_or_the_plan() {
    let page = board(later());
    assert_eq!(
        page.matches("<h3 class=\"word\">Old: no call</h3>").count(),
        advisories().len()
    );
    for words in [
        "<ul class=\"plan\">",
        "Way out",
        "How sure: <b>",
        "<h3 class=\"word\">Go",
    ] {
        assert!(!page.contains(words), "an old board still says {words}");
    }
    for one in advisories() {
        let page = html::session(&one, &[], later(), None).unwrap();
        assert!(page.contains("<h1 class=\"word\">Old: no call</h1>"));
        let title = inside(&page, "<title>", "</title>");
        assert!(
            title.starts_with(&one.session.boat.name),
            "no call where others keep it: {title}"
        );
        assert!(page.contains("valid until Sat 17 Oct 12:20"));
        for words in ["Leave with", "Way out", "How sure: <b>", "class=\"carry"] {
            assert!(!page.contains(words), "an old page still says {words}");
        }
    }
}

#[test]
fn at_the_very_second_of_valid_until_the_call_still_stands() {
    let one = advisory(GO);
    let page = html::session(&one, &[], one.valid_until.to_utc(), None).unwrap();
    assert!(page.contains("<h1 class=\"word\">Go</h1>"));
}

#[test]
fn one_ladder_and_one_sea_for_each_breadth_with_ids_of_their_own() {
    let page = session(MARGINAL);
    for class in ["wide", "mid", "narrow"] {
        assert_eq!(
            page.matches(&format!("class=\"ladder {class}\"")).count(),
            2,
            "{class}: ladder and sea"
        );
    }
    let mut ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an id stands twice");
    let refers = |open: &str, close: char| {
        page.split(open)
            .skip(1)
            .map(|rest| rest.split(close).next().unwrap())
            .collect::<Vec<_>>()
    };
    for id in refers("aria-labelledby=\"", '"')
        .iter()
        .flat_map(|ids| ids.split(' '))
        .chain(refers("url(#", ')'))
    {
        assert!(ids.contains(&id), "nothing has the id {id}");
    }
}

#[test]
fn the_ladder_is_told_in_words() {
    let drawing = ladder(&advisory(MARGINAL), now(), Breadth::Wide).unwrap();
    assert_eq!(
        inside(&drawing, "<title id=\"wt\">", "</title>"),
        "Wind over Dunlin’s reef table"
    );
    let words = inside(&drawing, "<desc id=\"wd\">", "</desc>");
    let order = [
        "08:00 to 19:00",
        "On leaving at 09:30",
        "second reef due 15:00",
        "At 17:00 mean 17 knots, gusts 25",
        "stop at 28",
        "Sunset 18:02",
    ];
    let places: Vec<_> = order
        .iter()
        .map(|part| words.find(part).unwrap_or_else(|| panic!("no {part}: {words}")))
        .collect();
    assert!(places.is_sorted(), "{words}");
    assert!(drawing.contains(">second reef due 15:00</text>"));
}

#[test]
fn the_ladder_has_a_band_for_each_row_and_labels_with_their_limits() {
    let one = advisory(MARGINAL);
    for breadth in Breadth::ALL {
        let drawing = ladder(&one, now(), breadth).unwrap();
        for (row, class) in ["r0", "r1", "r2", "r3"].iter().enumerate() {
            assert!(
                drawing.contains(&format!("<rect class=\"{class}\"")),
                "no band for row {row}"
            );
        }
    }
    let wide = ladder(&one, now(), Breadth::Wide).unwrap();
    for row in &one.reef_table {
        assert!(wide.contains(&format!(">{}</text>", row.sail.words)));
        assert!(wide.contains(&format!(
            ">to {} kn, gusts {}</text>",
            row.mean_up_to_kn, row.gust_up_to_kn
        )));
    }
}

#[test]
fn missing_hours_break_the_lines_and_say_why() {
    let whole = ladder(&advisory(MARGINAL), now(), Breadth::Wide).unwrap();
    assert_eq!(whole.matches("class=\"gust\"").count(), 1);
    assert_eq!(whole.matches("class=\"hole\"").count(), 0);
    let broken = ladder(&advisory(NO_CALL), now(), Breadth::Wide).unwrap();
    assert_eq!(
        broken.matches("class=\"gust\"").count(),
        2,
        "the gust line must break"
    );
    assert_eq!(
        broken.matches("class=\"mean\"").count(),
        1,
        "the mean is known throughout"
    );
    assert_eq!(broken.matches("class=\"hole\"").count(), 1);
    assert!(broken.contains(">no gust 13:00 to 15:00</text>") && broken.contains(">damaged</text>"));
    assert!(
        !broken.contains("class=\"fan\""),
        "no spread is known, so none may be drawn"
    );
    let empty_sea = sea(&advisory(NO_CALL), Breadth::Wide).unwrap();
    assert!(!empty_sea.contains("class=\"seal\"") && empty_sea.contains(">beyond run</text>"));
    let page = session(NO_CALL);
    assert!(inside(&page, "<tbody>", "</tbody>").contains("<td>missing</td>"));
    assert!(page.contains("What is not known"));
}

#[test]
fn a_session_without_any_hours_still_has_a_page() {
    let mut bare = advisory(NO_CALL);
    bare.hours.clear();
    bare.reef_table.clear();
    let page = html::session(&bare, &[], now(), None).unwrap();
    assert!(page.contains("No call") && page.contains("There are no hours to draw."));
    let mut dark: Advisory = advisory(NO_CALL);
    for hour in &mut dark.hours {
        (hour.mean_kn, hour.gust_kn, hour.from_deg) = (None, None, None);
    }
    let drawing = ladder(&dark, now(), Breadth::Narrow).unwrap();
    assert!(drawing.contains("class=\"hole\"") && !drawing.contains("class=\"mean\""));
}

fn wild_form() -> html::DecisionForm {
    let wild = || sample::HOSTILE.to_owned();
    html::DecisionForm {
        decided: wild(),
        by: wild(),
        note: wild(),
        after: wild(),
        wrong: Some((wild(), wild())),
    }
}

#[test]
fn a_session_that_is_over_has_no_form() {
    let one = advisory(GO);
    let after = one.session.alongside.to_utc() + chrono::TimeDelta::minutes(1);
    let form = html::DecisionForm::default();
    let over = html::decide(&one, &[], &form, after, None).unwrap();
    assert!(over.contains("This session is over") && !over.contains("<form"));
    let coming = html::decide(&one, &[], &form, now(), None).unwrap();
    assert!(coming.contains("<form") && coming.contains("type=\"password\"") && !coming.contains("is over"));
}

#[test]
fn hostile_names_arrive_as_words() {
    let one = hostile();
    let club = one.club.clone();
    let told = [decision(&one, Decided::Off, Some(sample::HOSTILE))];
    for page in [
        html::session(&one, &told, now(), Some(sample::HOSTILE)).unwrap(),
        html::session(&one, &[], later(), None).unwrap(),
        html::decide(&one, &told, &wild_form(), now(), Some(sample::HOSTILE)).unwrap(),
        html::decide(
            &one,
            &told,
            &wild_form(),
            later() + chrono::TimeDelta::days(2),
            None,
        )
        .unwrap(),
        html::board(
            &club,
            std::slice::from_ref(&one),
            &told,
            now(),
            Some(sample::HOSTILE),
        )
        .unwrap(),
    ] {
        assert!(!page.contains("<script"), "a name became an element");
        assert!(!page.contains("alert(1)</script>\"'"), "a name was not escaped");
        assert!(page.contains("&#60;script&#62;alert(1)"), "the name is gone");
        let plain = |sign: char| sign.is_ascii_alphanumeric() || "-_.~%/#".contains(sign);
        let links: Vec<&str> = page
            .split("href=\"")
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap())
            .collect();
        assert!(links.iter().any(|link| link.contains("/sessions/")));
        for link in links {
            let address = ["?format=json", "?format=calendar"]
                .iter()
                .find_map(|form| link.strip_suffix(form))
                .unwrap_or(link);
            let address = address.strip_prefix("/openings?session=").unwrap_or(address);
            assert!(address.chars().all(plain), "an address holds {link}");
        }
    }
    for breadth in Breadth::ALL {
        let drawing = ladder(&one, now(), breadth).unwrap() + &sea(&one, breadth).unwrap();
        assert!(!drawing.contains("<script"));
    }
}

#[test]
fn the_board_is_in_order_grouped_by_day_and_links_each_session() {
    let mut all = advisories();
    all.reverse();
    let page = html::board(&all[0].club, &all, &[], now(), None).unwrap();
    let days: Vec<&str> = page
        .split("<h2 class=\"date\"><b>")
        .skip(1)
        .map(|rest| rest.split('<').next().unwrap())
        .collect();
    assert_eq!(days, ["17", "18", "20", "22"]);
    let calls: Vec<&str> = page
        .split("<h3 class=\"word\">")
        .skip(1)
        .map(|rest| rest.split('<').next().unwrap().trim())
        .collect();
    assert_eq!(calls, ["Marginal", "Go", "No-go", "Go", "No call"]);
    assert!(page.contains("href=\"/sessions/dunlin-first%2F20261017T0930\""));
    assert!(
        page.contains("The club decides by<br><b>Sat 18:00</b>")
            && page.contains("Decision was due<br><b>Fri 18:00</b>")
    );
    let empty = html::board(&all[0].club, &[], &[], now(), Some("Demo")).unwrap();
    assert!(
        empty.contains("No session is on the board")
            && empty.contains("warnings")
            && empty.contains(">Demo<")
    );
}

#[test]
fn the_page_says_what_the_document_says() {
    let one = advisory(MARGINAL);
    let page = session(MARGINAL);
    let words = one
        .reasons
        .iter()
        .map(|reason| &reason.words)
        .chain(one.cautions.iter().map(|caution| &caution.words));
    for words in words.chain([&one.summary, &one.wind_words, &one.sureness.words]) {
        assert!(page.contains(words.as_str()), "the page lacks: {words}");
    }
    assert!(page.contains("Member 7 was set aside"));
    assert!(page.contains("global-ensemble, run of Fri 16 Oct 18:00 UTC, member 26"));
    assert_eq!(one.call, CallWord::Marginal);
    assert_eq!(
        page.matches("<rect class=\"o\"").count(),
        usize::from(one.sureness.go),
        "one upright a member"
    );
}

// No source: the project's own words.
#[test]
fn the_clubs_decision_stands_beside_the_call_and_never_in_its_place() {
    let (go, no_go) = (advisory(GO), advisory(NO_GO));
    let told = [
        decision(&go, Decided::On, None),
        decision(&go, Decided::Off, Some("no instructor")),
    ];
    let page = html::session(&go, &told, now(), None).unwrap();
    assert!(
        page.contains("The club decided")
            && page.contains(">off<")
            && page.contains("no instructor (A. Keel,"),
        "the last one counts"
    );
    assert!(page.contains(">Go<"), "the call stays");
    let all = [go, no_go];
    let board = html::board(&all[0].club, &all, &told, now(), None).unwrap();
    assert_eq!(board.matches("The club decided").count(), 1);
    assert_eq!(board.matches("class=\"stamp none\"").count(), 1);
    let text = present::terminal::board(&all, &told, now(), present::terminal::Style::default());
    assert_eq!(
        text.matches("The club decided off: no instructor").count(),
        1,
        "{text}"
    );
}
