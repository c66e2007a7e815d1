//! The pages of the club's mail: what each must say, and that an address stands on none but where it is being typed.
//!
//! No source unless named: the project's own rules (4-interfaces, look).

use crate::sample::{hostile_club, is_harmless, rich_club};
use chrono::Weekday;
use club::{Choices, Club, EmailAddress};
use present::html::subscribe::{self, MailOf, SubscribeForm};

const ADDRESS: &str = "anna.keel@crew.example";

fn address() -> EmailAddress {
    EmailAddress::parse(ADDRESS).unwrap()
}

fn of(club: &Club) -> MailOf<'_> {
    MailOf {
        club,
        sent: true,
        shown: true,
        demo: None,
    }
}

fn form(choices: &Choices) -> SubscribeForm {
    SubscribeForm {
        choices: choices.clone(),
        ..SubscribeForm::default()
    }
}

/// Every page on which a club stands.
fn of_a_club(of: MailOf<'_>, choices: &Choices) -> Vec<String> {
    [
        subscribe::subscribe(of, &form(choices)),
        subscribe::manage(of, &address(), &form(choices), true),
        subscribe::asked(of),
        subscribe::confirm(of, &address(), choices, false),
        subscribe::confirm(of, &address(), choices, true),
        subscribe::confirmed(of, choices),
        subscribe::ask_to_end(of, &address()),
    ]
    .map(Result::unwrap)
    .into()
}

/// Those that name none.
fn of_nobody() -> Vec<String> {
    [
        subscribe::ended(None),
        subscribe::of_no_use(true, None),
        subscribe::of_no_use(false, None),
    ]
    .map(Result::unwrap)
    .into()
}

#[test]
fn every_page_has_the_foot_and_none_an_address_or_a_script() {
    let club = rich_club();
    let pages = of_a_club(of(&club), &Choices::default());
    for page in &pages {
        assert!(
            page.contains("the coastal bulletin on the boathouse door"),
            "{page}"
        );
        assert!(page.contains("the boathouse on the inner quay"), "{page}");
    }
    for page in pages.iter().chain(&of_nobody()) {
        assert!(page.contains("The skipper on the water decides"), "{page}");
        assert!(page.to_lowercase().contains("warnings"), "{page}");
        assert!(!page.contains("crew.example") && !page.contains("keel"), "{page}");
        assert!(!page.contains("<script") && !page.contains("style="), "{page}");
        // Sent to where it was opened: a secret stands in no page.
        assert!(!page.contains("action="), "{page}");
    }
}

#[test]
fn the_form_says_what_comes_when_and_that_silence_says_nothing() {
    let club = rich_club();
    let page = subscribe::subscribe(of(&club), &SubscribeForm::default()).unwrap();
    for needed in [
        "One mail a day at 07:15, by the clocks of Atlantic/Madeira",
        "when a call or decision changes after the club’s hour, 17:30 on the day before a session",
        "That no mail comes says nothing of the weather",
        "A mail asks the address first",
        "deleted when it is ended",
        "Levels; none ticked: all of them",
        "Boats; none ticked: all of them",
        "name=\"changes\" value=\"changes\" checked",
        "<label for=\"address\">",
    ] {
        assert!(page.contains(needed), "no {needed} in {page}");
    }
    for level in &club.levels {
        assert!(page.contains(&format!("name=\"levels\" value=\"{}\"> {}", level.id, level.name)));
    }
    for boat in &club.boats {
        assert!(page.contains(&format!("name=\"boats\" value=\"{}\"> {}", boat.id, boat.name)));
    }
    for day in ["Monday", "Wednesday", "Sunday"] {
        assert!(page.contains(&format!("value=\"{}\"> {day}", &day[..3])));
    }
    assert_eq!(page.matches("\" checked>").count(), 1);
}

#[test]
fn a_mistake_stands_at_its_field_with_what_was_typed() {
    let club = rich_club();
    let typed = SubscribeForm {
        address: "anna\"><b>".to_owned(),
        choices: Choices {
            weekdays: vec![Weekday::Sun],
            levels: vec!["nobody’s".to_owned()],
            ..Choices::default()
        },
        wrong: Some(("address".to_owned(), "an address is needed".to_owned())),
    };
    let page = subscribe::subscribe(of(&club), &typed).unwrap();
    for needed in [
        "role=\"alert\">Nothing was kept: one field below says why.",
        "aria-invalid=\"true\" aria-describedby=\"address-wrong\"",
        "id=\"address-wrong\">an address is needed.",
        "value=\"anna&#34;&#62;&#60;b&#62;\"",
        "value=\"Sun\" checked",
    ] {
        assert!(page.contains(needed), "no {needed} in {page}");
    }
    let of_the_whole = SubscribeForm {
        wrong: Some((String::new(), "try again in 5 min".to_owned())),
        ..typed
    };
    let page = subscribe::subscribe(of(&club), &of_the_whole).unwrap();
    assert!(page.contains("Nothing was kept. try again in 5 min.") && !page.contains("aria-invalid"));
}

#[test]
fn what_was_chosen_is_ticked_and_said_and_the_address_only_hinted_at() {
    let club = rich_club();
    let (level, boat) = (&club.levels[0], &club.boats[0]);
    let choices = Choices {
        levels: vec![level.id.clone()],
        boats: vec![boat.id.clone()],
        weekdays: vec![Weekday::Sat],
        only_when_sailing: true,
        changes: false,
    };
    let page = subscribe::manage(of(&club), &address(), &form(&choices), true).unwrap();
    assert!(page.contains("to a…@….example."), "{page}");
    assert!(page.contains("role=\"status\"") && page.contains("name=\"end\" value=\"yes\""));
    for key in [level.id.as_str(), boat.id.as_str(), "Sat", "only_when_sailing"] {
        assert!(page.contains(&format!("value=\"{key}\" checked")), "{key}");
    }
    assert_eq!(page.matches("\" checked>").count(), 4);
    let page = subscribe::confirm(of(&club), &address(), &choices, false).unwrap();
    for needed in [
        "Please confirm",
        "to a…@….example",
        &level.name,
        &boat.name,
        "Saturday",
        "No mail of changes.",
        "Yes, send it",
        "If you did not ask for it, close this page",
    ] {
        assert!(page.contains(needed), "no {needed} in {page}");
    }
    let already = subscribe::confirm(of(&club), &address(), &choices, true).unwrap();
    assert_eq!(already, subscribe::confirmed(of(&club), &choices).unwrap());
    assert!(!already.contains("<form"));
}

#[test]
fn a_club_that_sends_none_promises_none() {
    let club = rich_club();
    let silent = MailOf {
        sent: false,
        ..of(&club)
    };
    let page = subscribe::manage(silent, &address(), &SubscribeForm::default(), false).unwrap();
    assert!(page.contains("The club sends no mail at present.") && !page.contains("07:15"));
    assert!(page.contains("name=\"end\""), "it can be ended all the same");
}

#[test]
fn pages_of_a_club_that_is_not_shown_lead_to_no_other_s() {
    let club = rich_club();
    let elsewhere = MailOf {
        shown: false,
        ..of(&club)
    };
    for page in of_a_club(elsewhere, &Choices::default()).iter().skip(1) {
        assert!(!page.contains("href=\"/openings\""), "{page}");
    }
}

#[test]
fn a_club_of_hostile_names_stays_words() {
    let club = hostile_club();
    let choices = Choices {
        levels: vec![club.levels[0].id.clone()],
        ..Choices::default()
    };
    for page in of_a_club(of(&club), &choices) {
        is_harmless(&page);
    }
}

#[test]
fn one_page_serves_every_link_that_allows_nothing() {
    let page = subscribe::of_no_use(true, None).unwrap();
    for needed in [
        "This link does nothing any more",
        "its subscription has ended, and nothing more is sent by it",
        "or the link is too old or was not copied whole",
        "the newest one has links that work",
        "href=\"/subscribe\"",
    ] {
        assert!(
            page.to_lowercase().contains(&needed.to_lowercase()),
            "no {needed} in {page}"
        );
    }
    assert!(!subscribe::of_no_use(false, None).unwrap().contains("/subscribe"));
}
