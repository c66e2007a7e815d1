//! The pages that links in mails lead to: what is opened asks, what is sent does, and what has ended is gone.
//!
//! Sources: RFC 8058 (one-click), RFC 9110 (GET is safe, section 9.2.1), RFC 9111 (no-store), Referrer Policy (W3C).

use crate::mail_desk::{ANNA, Desk, FORM, HIDDEN, OTHER, OURS, is_secret};
use crate::shelf::{is_problem, morning};
use axum::http::Method;
use chrono::{TimeDelta, Weekday};
use club::Choices;
use store::{LinkPurpose, TokenSecret};

const ONE_CLICK: &str = "List-Unsubscribe=One-Click";
/// RFC 8058, section 8.1, with its boundary.
const IN_PARTS: (&str, &str) = (
    "multipart/form-data; boundary=---FormBoundaryjWmhtjORrn",
    "-----FormBoundaryjWmhtjORrn\r\nContent-Disposition: form-data; name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n\
     -----FormBoundaryjWmhtjORrn--\r\n",
);
const NO_USE: &str = "This link does nothing any more";

#[tokio::test]
async fn what_is_opened_changes_nothing_and_what_is_sent_confirms() {
    let desk = Desk::open().await;
    let secret = desk.link_to_confirm(ANNA, "&levels=crew&changes=on", 1).await;
    let path = format!("/confirm/{secret}");
    for method in [Method::GET, Method::HEAD, Method::GET] {
        let opened = desk
            .send_to(OURS, (method.clone(), &path), (&[], ""), morning())
            .await;
        assert_eq!(opened.status.as_u16(), 200);
        assert!(
            desk.of(&secret, LinkPurpose::Confirm)
                .await
                .unwrap()
                .confirmed_at
                .is_none()
        );
        if method == Method::GET {
            is_secret(&opened, 200, "Levels: Crew.");
            let page = opened.text();
            assert!(page.contains("a…@….example") && page.contains("<form") && page.contains("Yes, send it"));
        }
    }
    for _ in 0..2 {
        let sent = desk.post(&path, "").await;
        is_secret(&sent, 200, "Confirmed");
        for needed in [
            "One mail a day at 06:30",
            "Levels: Crew.",
            "Each mail has a link that changes this and one that ends it.",
        ] {
            assert!(sent.text().contains(needed), "{needed}");
        }
    }
    let kept = desk.of(&secret, LinkPurpose::Confirm).await.unwrap();
    assert_eq!((kept.confirmed_at, kept.asked), (Some(morning()), None));
    assert_eq!(kept.choices.levels, ["crew"]);
    let again = desk.get(&path).await;
    is_secret(&again, 200, "Confirmed");
    assert!(!again.text().contains("<form"));
}

#[tokio::test]
async fn a_link_too_old_or_of_another_kind_or_made_up_allows_nothing() {
    let desk = Desk::open().await;
    let confirm = desk.link_to_confirm(ANNA, "", 1).await;
    let manage = desk.subscribed("ben@crew.example", "", 5).await;
    let before = (
        desk.of(&confirm, LinkPurpose::Confirm).await,
        desk.managed(&manage).await,
    );
    let unknown = TokenSecret::from_random([9; 32]).exposed().to_owned();
    let late = morning() + TimeDelta::days(2);
    let mut pages = Vec::new();
    for (page, own, other) in [
        ("confirm", &confirm, &manage),
        ("subscription", &manage, &confirm),
        ("unsubscribe", &manage, &confirm),
    ] {
        for (secret, now) in [
            (other.as_str(), morning()),
            (own, late),
            (&unknown, morning()),
            ("short", morning()),
            ("%00%FF", morning()),
            (&"x".repeat(5000), morning()),
        ] {
            let path = format!("/{page}/{secret}");
            for (method, body) in [(Method::GET, ""), (Method::POST, ONE_CLICK)] {
                let asked = (method.clone(), path.as_str());
                let answer = desk.send_to(OURS, asked, (&[FORM], body), now).await;
                let status = if page == "unsubscribe" && method == Method::POST {
                    200
                } else {
                    404
                };
                if secret.contains('%') {
                    is_problem(&answer, 400);
                    continue;
                }
                is_secret(&answer, status, NO_USE);
                assert!(answer.text().contains("href=\"/subscribe\""));
                pages.push(answer.text());
            }
        }
    }
    pages.dedup();
    assert_eq!(pages.len(), 1, "nobody is told what a link once was");
    let after = (
        desk.of(&confirm, LinkPurpose::Confirm).await,
        desk.managed(&manage).await,
    );
    assert_eq!(before, after);
}

#[tokio::test]
async fn what_is_chosen_anew_is_what_is_read() {
    let desk = Desk::open().await;
    let secret = desk.subscribed(ANNA, "&levels=beginners&changes=on", 1).await;
    let path = format!("/subscription/{secret}");
    let opened = desk.get(&path).await;
    is_secret(&opened, 200, "a…@….example");
    let ticked = |page: &str, key: &str| page.contains(&format!("value=\"{key}\" checked"));
    let page = opened.text();
    assert!(ticked(&page, "beginners") && !ticked(&page, "crew") && ticked(&page, "changes"));
    let body = "levels=crew&boats=tern&weekdays=Fri&weekdays=Mon&only_when_sailing=on";
    let kept = desk.post(&path, body).await;
    is_secret(&kept, 200, "Kept: from now on");
    let expected = Choices {
        levels: vec!["crew".into()],
        // The club has this boat alone: all of them.
        boats: Vec::new(),
        weekdays: vec![Weekday::Mon, Weekday::Fri],
        only_when_sailing: true,
        changes: false,
    };
    assert_eq!(desk.managed(&secret).await.choices, expected);
    for page in [kept.text(), desk.get(&path).await.text()] {
        for key in ["crew", "Mon", "Fri", "only_when_sailing"] {
            assert!(ticked(&page, key), "{key}");
        }
        for key in ["beginners", "tern", "Sat", "changes"] {
            assert!(!ticked(&page, key), "{key}");
        }
    }
    for (body, field) in [("levels=pirates", "levels"), ("weekdays=someday", "weekdays")] {
        let wrong = desk.post(&path, body).await;
        is_secret(&wrong, 422, &format!("id=\"{field}-wrong\""));
    }
    assert_eq!(desk.managed(&secret).await.choices, expected);
    let large = desk.post(&path, &format!("levels={}", "x".repeat(20_000))).await;
    is_problem(&large, 413);
}

#[tokio::test]
async fn a_link_works_whichever_club_the_service_shows() {
    let desk = Desk::open().await;
    let secret = desk.subscribed(ANNA, "", 1).await;
    for club in [OTHER, HIDDEN, "absent"] {
        let path = format!("/subscription/{secret}");
        let opened = desk
            .send_to(club, (Method::GET, &path), (&[], ""), morning())
            .await;
        is_secret(&opened, 200, "The mail of Small Pontoon Sailing");
        assert!(
            !opened.text().contains("href=\"/openings\""),
            "these pages are another club's"
        );
    }
    // A secret shows what it is of and nothing of the service's own club that is hidden.
    let unknown = format!("/subscription/{}", TokenSecret::from_random([9; 32]).exposed());
    let stranger = desk
        .send_to(HIDDEN, (Method::GET, &unknown), (&[], ""), morning())
        .await;
    is_secret(&stranger, 404, NO_USE);
    assert!(!stranger.text().contains("Small Pontoon") && !stranger.text().contains("/subscribe\""));
}

#[tokio::test]
async fn only_what_is_sent_ends_it_and_then_nothing_of_it_is_left() {
    let desk = Desk::open().await;
    let secret = desk.subscribed(ANNA, "", 1).await;
    let path = format!("/unsubscribe/{secret}");
    for method in [Method::GET, Method::HEAD] {
        let opened = desk.send_to(OURS, (method, &path), (&[], ""), morning()).await;
        assert_eq!(opened.status.as_u16(), 200);
    }
    let opened = desk.get(&path).await;
    is_secret(&opened, 200, "End the mail?");
    assert!(
        opened
            .text()
            .contains("name=\"List-Unsubscribe\" value=\"One-Click\"")
    );
    for (kind, body) in [
        (FORM.1, ""),
        (FORM.1, "List-Unsubscribe=No"),
        (IN_PARTS.0, "List-Unsubscribe=One-Click"),
    ] {
        let headers = [("content-type", kind)];
        let sent = desk.send_to(OURS, (Method::POST, &path), (&headers, body), morning());
        is_problem(&sent.await, 400);
    }
    let plain = desk.send_to(
        OURS,
        (Method::POST, &path),
        (&[("content-type", "text/plain")], ONE_CLICK),
        morning(),
    );
    is_problem(&plain.await, 415);
    let id = desk.managed(&secret).await.id;
    desk.asked(ANNA, "").await;
    assert_eq!(desk.waiting().await, 1);
    // From anywhere, without a cookie: RFC 8058, section 3.2.
    let elsewhere = [
        FORM,
        ("origin", "https://mail.example"),
        ("sec-fetch-site", "cross-site"),
    ];
    let ended = desk
        .send_to(OURS, (Method::POST, &path), (&elsewhere, ONE_CLICK), morning())
        .await;
    is_secret(&ended, 200, "Ended");
    assert!(
        ended
            .text()
            .contains("The address and all that was chosen are deleted")
    );
    assert_eq!(desk.store.subscription(&id).await.unwrap(), None);
    assert_eq!(desk.waiting().await, 0);
    let again = desk.post(&path, ONE_CLICK).await;
    is_secret(&again, 200, NO_USE);
    let unknown = format!("/unsubscribe/{}", TokenSecret::from_random([9; 32]).exposed());
    let never = desk.post(&unknown, ONE_CLICK).await;
    assert_eq!(
        (again.status, again.headers_but_its_name(), again.body),
        (never.status, never.headers_but_its_name(), never.body)
    );
    for page in ["subscription", "unsubscribe"] {
        is_secret(&desk.get(&format!("/{page}/{secret}")).await, 404, NO_USE);
    }
}

#[tokio::test]
async fn a_form_in_parts_ends_it_and_so_does_the_button_of_the_choices() {
    let desk = Desk::open().await;
    let secret = desk.subscribed(ANNA, "", 1).await;
    let path = format!("/unsubscribe/{secret}");
    let parts = [("content-type", IN_PARTS.0)];
    let ended = desk
        .send_to(OURS, (Method::POST, &path), (&parts, IN_PARTS.1), morning())
        .await;
    is_secret(&ended, 200, "Ended");
    assert_eq!(desk.of(&secret, LinkPurpose::Manage).await, None);
    let secret = desk.subscribed(ANNA, "", 11).await;
    let ended = desk.post(&format!("/subscription/{secret}"), "end=yes").await;
    is_secret(&ended, 200, "Ended");
    assert_eq!(desk.of(&secret, LinkPurpose::Manage).await, None);
}

#[tokio::test]
async fn mail_that_has_stopped_can_still_be_ended_and_not_be_asked_for() {
    let mut desk = Desk::open().await;
    let manage = desk.subscribed(ANNA, "", 1).await;
    let confirm = desk.link_to_confirm("ben@crew.example", "", 5).await;
    desk.sends_mail = false;
    is_problem(&desk.get(&format!("/confirm/{confirm}")).await, 404);
    is_problem(&desk.post(&format!("/confirm/{confirm}"), "").await, 404);
    let opened = desk.get(&format!("/subscription/{manage}")).await;
    is_secret(&opened, 200, "The club sends no mail at present");
    is_secret(
        &desk.post(&format!("/unsubscribe/{manage}"), ONE_CLICK).await,
        200,
        "Ended",
    );
}
