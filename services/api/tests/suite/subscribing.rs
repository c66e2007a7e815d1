//! `/subscribe`: what is answered and what is kept.
//!
//! Sources: RFC 9110 (404, 413, 415, 422), RFC 6585 (429), Fetch Metadata Request Headers (W3C); the OWASP cheat sheet "Forgot
//! Password" (one answer, whether an account is known or not), as common practice.

use crate::mail_desk::{ANNA, Desk, FORM, HIDDEN, OTHER, OURS, SILENT};
use crate::shelf::{Answer, is_problem, keep_token, morning};
use axum::http::Method;
use chrono::{TimeDelta, Weekday};
use store::{CONFIRMATIONS_AT_MOST, LinkPurpose, Scope};

const BODY: &str = "address=anna.keel%40crew.example&changes=on";

/// The form with a mistake at a field, and with what was typed.
fn is_the_form_again(answer: &Answer, field: &str, typed: &str) {
    assert_eq!(answer.status.as_u16(), 422, "{}", answer.text());
    assert_eq!(answer.header("cache-control"), "no-store");
    let page = answer.text();
    for needed in [&format!("id=\"{field}-wrong\""), typed, "Nothing was kept"] {
        assert!(page.contains(needed), "no {needed} in {page}");
    }
}

#[tokio::test]
async fn the_answer_is_the_same_whatever_is_known_of_an_address() {
    let desk = Desk::open().await;
    let known = desk.subscribed("known@crew.example", "", 1).await;
    let told = desk.managed(&known).await.confirmed_at;
    assert!(told.is_some());
    let mut answers = vec![(
        "confirmed",
        desk.post("/subscribe", "address=known%40crew.example").await,
    )];
    for round in 0..=CONFIRMATIONS_AT_MOST {
        let which = match round {
            0 => "new",
            CONFIRMATIONS_AT_MOST => "asked for too often",
            _ => "asked for before",
        };
        answers.push((which, desk.post("/subscribe", "address=new%40crew.example").await));
    }
    assert_eq!(
        desk.waiting().await,
        2,
        "one mail to each, of those that wait the last one: nothing more is sent"
    );
    let (_, first) = &answers[0];
    assert_eq!(first.status.as_u16(), 200);
    assert!(
        first
            .text()
            .contains("If this is an address that takes mail, a mail is on its way")
    );
    assert!(!first.text().contains("crew.example"));
    for (which, answer) in &answers[1..] {
        assert_eq!(answer.status, first.status, "{which}");
        assert_eq!(
            answer.headers_but_its_name(),
            first.headers_but_its_name(),
            "{which}"
        );
        assert_eq!(answer.body, first.body, "{which}");
    }
}

#[tokio::test]
async fn the_form_says_what_comes_and_what_is_sent_is_kept_until_it_is_confirmed() {
    let desk = Desk::open().await;
    let form = desk.get("/subscribe").await;
    let page = form.text();
    for needed in [
        "One mail a day at 06:30, by the clocks of Atlantic/Madeira",
        "18:00 on the day before a session",
        "That no mail comes says nothing of the weather",
        "type=\"email\" autocomplete=\"email\"",
        "name=\"levels\" value=\"beginners\"> Beginners",
        "name=\"boats\" value=\"tern\"> Tern",
        "name=\"weekdays\" value=\"Sat\"> Saturday",
        "name=\"changes\" value=\"changes\" checked",
        "name=\"only_when_sailing\" value=\"only_when_sailing\"> ",
        "none ticked: all of them",
        "The skipper on the water decides",
    ] {
        assert!(page.contains(needed), "no {needed} in {page}");
    }
    assert!(!page.contains("<script"));
    for path in ["/", "/how-we-decide"] {
        let led = desk.get(path).await.text();
        assert!(led.contains("href=\"/subscribe\""), "{path}: {led}");
    }
    let more = "&levels=crew&weekdays=Sun&weekdays=Sat&only_when_sailing=on";
    let secret = desk.link_to_confirm(ANNA, more, 1).await;
    let kept = desk.of(&secret, LinkPurpose::Confirm).await.unwrap();
    assert_eq!((kept.club.as_str(), kept.confirmed_at), (OURS, None));
    assert!(kept.address.exposed() == ANNA);
    let asked = kept.asked.unwrap();
    assert_eq!(asked.levels, ["crew"]);
    assert_eq!(asked.weekdays, [Weekday::Sat, Weekday::Sun]);
    assert!(asked.boats.is_empty() && asked.only_when_sailing && !asked.changes);
    assert_eq!(kept.id.len(), 32, "sixteen octets in hexadecimal digits");
    assert_eq!(desk.waiting().await, 0);
}

#[tokio::test]
async fn a_mistake_is_said_at_its_field_and_nothing_is_kept() {
    let desk = Desk::open().await;
    for (body, field, typed) in [
        ("address=anna&levels=crew", "address", "value=\"anna\""),
        ("levels=crew", "address", "value=\"crew\" checked"),
        ("address=&changes=on", "address", "value=\"changes\" checked"),
        (
            "address=a%40b.example%2C+c%40d.example",
            "address",
            "value=\"a@b.example, c@d.example\"",
        ),
        (
            "address=a%40b.example%0D%0ABcc%3A+c%40d.example",
            "address",
            "Bcc: c@d.example",
        ),
        (
            "address=%22%3E%3Cb%3Ea%40b.example",
            "address",
            "value=\"&#34;&#62;&#60;b&#62;a@b.example\"",
        ),
        (
            "address=a%40b.example&address=c%40d.example",
            "address",
            "a@b.example",
        ),
        (
            "address=a%40b.example&levels=pirates",
            "levels",
            "value=\"a@b.example\"",
        ),
        (
            "address=a%40b.example&boats=ark",
            "boats",
            "value=\"a@b.example\"",
        ),
        (
            "address=a%40b.example&weekdays=someday",
            "weekdays",
            "value=\"a@b.example\"",
        ),
        ("address=%FF%FE&levels=%00", "address", "value=\""),
        ("", "address", "value=\"\""),
    ] {
        is_the_form_again(&desk.post("/subscribe", body).await, field, typed);
    }
    assert_eq!(desk.waiting().await, 0);
}

#[tokio::test]
async fn what_another_site_sends_or_no_form_is_refused() {
    let desk = Desk::open().await;
    let send = async |headers: &[(&str, &str)], body: &str| {
        let asked = (Method::POST, "/subscribe");
        desk.send_to(OURS, asked, (headers, body), morning()).await
    };
    for other in [
        &[FORM, ("sec-fetch-site", "cross-site")][..],
        &[FORM, ("sec-fetch-site", "same-site")],
        &[
            FORM,
            ("origin", "https://elsewhere.example"),
            ("host", "club.example"),
        ],
        &[FORM, ("origin", "null"), ("host", "club.example")],
    ] {
        is_problem(&send(other, BODY).await, 403);
    }
    is_problem(&send(&[("content-type", "text/plain")], BODY).await, 415);
    is_problem(&send(&[], BODY).await, 415);
    let large = format!("{BODY}&levels={}", "x".repeat(20_000));
    is_problem(&send(&[FORM], &large).await, 413);
    let put = desk.send_to(OURS, (Method::PUT, "/subscribe"), (&[FORM], BODY), morning());
    is_problem(&put.await, 405);
    assert_eq!(desk.waiting().await, 0);
    let own = send(&[FORM, ("sec-fetch-site", "same-origin")], BODY).await;
    assert_eq!((own.status.as_u16(), desk.waiting().await), (200, 1));
}

#[tokio::test]
async fn only_a_club_that_sends_mail_and_is_shown_takes_subscriptions() {
    let mut desk = Desk::open().await;
    let ask = async |desk: &Desk, club: &str, headers: &[(&str, &str)], method: Method| {
        let headers = [&[FORM], headers].concat();
        let asked = (method, "/subscribe");
        desk.send_to(club, asked, (&headers, BODY), morning()).await
    };
    for method in [Method::GET, Method::POST] {
        for club in [SILENT, HIDDEN, "absent"] {
            is_problem(&ask(&desk, club, &[], method.clone()).await, 404);
        }
    }
    let silent = ask(&desk, SILENT, &[], Method::GET).await;
    assert!(
        silent.text().contains("This club sends no mail"),
        "{}",
        silent.text()
    );
    for path in ["/", "/how-we-decide"] {
        let page = desk
            .send_to(SILENT, (Method::GET, path), (&[], ""), morning())
            .await;
        assert_eq!(page.status.as_u16(), 200);
        assert!(!page.text().contains("/subscribe"), "{path}");
    }
    let reads = keep_token(&desk.store, HIDDEN, &[Scope::Read], 7).await;
    let shown = [("authorization", reads.as_str())];
    assert_eq!(
        ask(&desk, HIDDEN, &shown, Method::POST).await.status.as_u16(),
        200
    );
    assert_eq!(ask(&desk, OTHER, &[], Method::POST).await.status.as_u16(), 200);
    assert_eq!(desk.waiting().await, 2);
    desk.sends_mail = false;
    for method in [Method::GET, Method::POST] {
        let none = ask(&desk, OURS, &[], method).await;
        is_problem(&none, 404);
        assert!(none.text().contains("This club sends no mail"));
    }
    assert!(!desk.get("/").await.text().contains("/subscribe"));
}

#[tokio::test]
async fn an_address_asked_for_too_often_is_asked_again_a_day_later() {
    let desk = Desk::open().await;
    for octet in 1..=CONFIRMATIONS_AT_MOST {
        let _link = desk.link_to_confirm(ANNA, "", octet as u8).await;
    }
    desk.asked(ANNA, "").await;
    assert_eq!(desk.waiting().await, 0, "over the limit nothing is sent");
    let later = morning() + TimeDelta::hours(25);
    let asked = (Method::POST, "/subscribe");
    let answer = desk.send_to(OURS, asked, (&[FORM], BODY), later).await;
    assert_eq!(answer.status.as_u16(), 200);
    let until = later + TimeDelta::minutes(10);
    let claimed = desk.store.claim_mails("later", (later, until), 10).await.unwrap();
    assert_eq!(claimed.len(), 1);
}
