//! Subscriptions, links, mailings and the outbox. No source but where named: these are this project's own rules.

use crate::samples::after;
use crate::shelf::Shelf;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use store::{
    CONFIRMATIONS_AT_MOST, ClaimedMail, LinkPurpose, MailOutcome, NewLink, NewMailing, NewSubscription,
    REFUSALS_AT_MOST, Store, TokenSecret,
};

on_both_backends!(
    nothing_goes_to_an_address_before_its_owner_has_confirmed_it,
    new_choices_hold_once_they_are_confirmed,
    a_stranger_cannot_have_an_address_sent_more_than_a_few_mails,
    a_link_allows_what_it_is_for_until_it_expires,
    what_ends_a_subscription_leaves_nothing_of_it,
    of_rows_that_were_moved_about_nothing_is_left_either,
    a_mailing_is_made_once_by_two_at_once,
    two_senders_never_have_the_same_mail,
    a_claim_that_ran_out_is_another_s,
    what_became_of_a_mail_is_noted_and_counted,
    an_address_that_refuses_again_and_again_is_sent_no_more,
    of_two_that_tell_of_a_session_one_does,
    old_mail_and_unconfirmed_addresses_are_forgotten,
);

fn address(name: &str) -> EmailAddress {
    EmailAddress::parse(&format!("{name}@crew.example")).unwrap()
}

fn new(name: &str, hours: i64) -> NewSubscription {
    NewSubscription {
        id: format!("id-of-{name}"),
        club: "demo".into(),
        address: address(name),
        choices: Choices::default(),
        at: after(hours),
    }
}

fn link(octet: u8, purpose: LinkPurpose, hours: i64) -> NewLink {
    NewLink {
        secret: TokenSecret::from_random([octet; 32]),
        purpose,
        expires_at: after(hours),
    }
}

fn mailing(name: &str, hours: i64) -> NewMailing {
    NewMailing {
        club: "demo".into(),
        name: name.into(),
        body: b"the body".to_vec(),
        made_at: after(hours),
        ends_at: after(hours + 24),
    }
}

async fn claim(store: &Store, claim: &str, at: DateTime<Utc>, limit: u16) -> Vec<ClaimedMail> {
    let until = at + TimeDelta::minutes(10);
    store.claim_mails(claim, (at, until), limit).await.unwrap()
}

/// Confirmed subscribers, whose mails to confirm have gone out.
async fn subscribers(store: &Store, names: &[&str]) {
    for name in names {
        assert!(store.ask_for_subscription(&new(name, 0)).await.unwrap());
        assert!(
            store
                .confirm_subscription(&format!("id-of-{name}"), after(1))
                .await
                .unwrap()
        );
    }
    for mail in claim(store, "at first", after(1), 1000).await {
        store
            .end_mail(&mail.key, "at first", &MailOutcome::Sent, after(1))
            .await
            .unwrap();
    }
}

async fn nothing_goes_to_an_address_before_its_owner_has_confirmed_it(shelf: Shelf) {
    let store = shelf.open().await;
    assert!(store.ask_for_subscription(&new("anna", 0)).await.unwrap());
    assert!(store.put_mailing(&mailing("day/1", 1)).await.unwrap());
    let mails = claim(&store, "a", after(1), 10).await;
    let named: Vec<_> = mails.iter().map(|mail| mail.key.mailing.as_str()).collect();
    assert_eq!(named, ["confirm/id-of-anna/1"]);
    store
        .end_mail(&mails[0].key, "a", &MailOutcome::Sent, after(1))
        .await
        .unwrap();
    assert!(store.confirm_subscription("id-of-anna", after(2)).await.unwrap());
    assert!(
        !store
            .confirm_subscription("id-of-nobody", after(2))
            .await
            .unwrap()
    );
    assert!(store.put_mailing(&mailing("day/2", 3)).await.unwrap());
    let mails = claim(&store, "b", after(3), 10).await;
    assert_eq!(mails[0].key.mailing, "day/2");
    assert_eq!(
        (mails[0].body.as_slice(), mails[0].ends_at),
        (&b"the body"[..], after(27))
    );
    // Another club's mailing is none of hers.
    let other = NewMailing {
        club: "other".into(),
        ..mailing("day/2", 3)
    };
    assert!(store.put_mailing(&other).await.unwrap());
    assert_eq!(claim(&store, "c", after(3), 10).await.len(), 0);
}

async fn new_choices_hold_once_they_are_confirmed(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna"]).await;
    let few = Choices {
        only_when_sailing: true,
        levels: vec!["first".into()],
        ..Choices::default()
    };
    let shouted = NewSubscription {
        id: "another".into(),
        address: EmailAddress::parse("ANNA@Crew.Example").unwrap(),
        choices: few.clone(),
        ..new("anna", 2)
    };
    assert!(store.ask_for_subscription(&shouted).await.unwrap());
    assert_eq!(
        store.subscription("another").await.unwrap(),
        None,
        "it is the same address"
    );
    let held = store.subscription("id-of-anna").await.unwrap().unwrap();
    assert_eq!(
        (held.choices, held.asked),
        (Choices::default(), Some(few.clone()))
    );
    store.confirm_subscription("id-of-anna", after(3)).await.unwrap();
    let held = store.subscription("id-of-anna").await.unwrap().unwrap();
    assert_eq!(
        (held.choices, held.asked, held.confirmed_at),
        (few, None, Some(after(1)))
    );
    assert!(
        store
            .choose_for_subscription("id-of-anna", &Choices::default())
            .await
            .unwrap()
    );
    assert!(
        !store
            .choose_for_subscription("another", &Choices::default())
            .await
            .unwrap()
    );
}

async fn a_stranger_cannot_have_an_address_sent_more_than_a_few_mails(shelf: Shelf) {
    let store = shelf.open().await;
    let mut sent = 0;
    for round in 0..10 {
        let asked = store.ask_for_subscription(&new("anna", 0)).await.unwrap();
        assert_eq!(asked, round < CONFIRMATIONS_AT_MOST, "{round}");
        for mail in claim(&store, "a", after(0), 10).await {
            store
                .end_mail(&mail.key, "a", &MailOutcome::Sent, after(0))
                .await
                .unwrap();
            sent += 1;
        }
    }
    assert_eq!(sent, CONFIRMATIONS_AT_MOST);
    assert!(store.ask_for_subscription(&new("ben", 0)).await.unwrap());
    assert!(
        store.ask_for_subscription(&new("anna", 25)).await.unwrap(),
        "a day later"
    );
    // Two that ask before the first mail has gone out are answered by one.
    assert!(store.ask_for_subscription(&new("anna", 25)).await.unwrap());
    assert_eq!(
        claim(&store, "b", after(25), 10).await.len(),
        2,
        "ben's and one of anna's"
    );
}

async fn a_link_allows_what_it_is_for_until_it_expires(shelf: Shelf) {
    let store = shelf.open().await;
    store.ask_for_subscription(&new("anna", 0)).await.unwrap();
    let mail = claim(&store, "a", after(0), 1).await.remove(0);
    let confirm = link(1, LinkPurpose::Confirm, 48);
    assert!(
        store
            .begin_mail(&mail.key, "a", after(1), &confirm)
            .await
            .unwrap()
    );
    let of = async |secret: &TokenSecret, purpose, at| {
        let found = store.subscription_of_link(secret, purpose, at).await.unwrap();
        found.map(|found| found.address.exposed().to_owned())
    };
    let found = of(
        &confirm.secret,
        LinkPurpose::Confirm,
        after(48) - TimeDelta::seconds(1),
    )
    .await;
    assert_eq!(found.as_deref(), Some("anna@crew.example"));
    assert_eq!(of(&confirm.secret, LinkPurpose::Confirm, after(48)).await, None);
    assert_eq!(of(&confirm.secret, LinkPurpose::Manage, after(1)).await, None);
    assert_eq!(
        of(
            &link(2, LinkPurpose::Confirm, 48).secret,
            LinkPurpose::Confirm,
            after(1)
        )
        .await,
        None
    );
    // Source: CWE-312 (secrets kept in the clear): only the hash is kept.
    let rows = sqlx::query("SELECT hash FROM subscription_links")
        .fetch_all(&shelf.raw().await)
        .await
        .unwrap();
    let hash: String = sqlx::Row::try_get(&rows[0], 0).unwrap();
    assert_eq!((rows.len(), hash), (1, confirm.secret.hash()));
}

async fn what_ends_a_subscription_leaves_nothing_of_it(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna", "ben"]).await;
    store.put_mailing(&mailing("day/1", 2)).await.unwrap();
    let mails = claim(&store, "a", after(2), 10).await;
    assert_eq!(mails.len(), 2);
    let manage = link(1, LinkPurpose::Manage, 1000);
    assert!(
        store
            .begin_mail(&mails[0].key, "a", after(3), &manage)
            .await
            .unwrap()
    );
    let ended = mails[0].key.subscription.clone();
    assert!(store.end_subscription(&ended).await.unwrap());
    assert!(!store.end_subscription(&ended).await.unwrap());
    assert_eq!(
        store
            .subscription_of_link(&manage.secret, LinkPurpose::Manage, after(3))
            .await
            .unwrap(),
        None
    );
    // What was about to be sent to it must not go, and what became of it is nobody's.
    assert!(
        !store
            .begin_mail(&mails[0].key, "a", after(3), &link(2, LinkPurpose::Manage, 9))
            .await
            .unwrap()
    );
    store
        .end_mail(&mails[0].key, "a", &MailOutcome::Sent, after(3))
        .await
        .unwrap();
    let left = claim(&store, "b", after(30), 10).await;
    assert_eq!(left.len(), 1);
    assert_ne!(left[0].key.subscription, ended);
    store.close().await;
    let name = ended.trim_start_matches("id-of-");
    if let Some(file) = shelf.file() {
        let octets = std::fs::read(file).unwrap();
        let holds = |text: &str| octets.windows(text.len()).any(|window| window == text.as_bytes());
        assert!(
            !holds(&format!("{name}@crew.example")),
            "the address is in the file still"
        );
        assert!(holds("@crew.example"), "the other one is there");
    }
}

// Source: SQLite documentation, "PRAGMA secure_delete": what is moved within a file leaves its octets behind, too.
async fn of_rows_that_were_moved_about_nothing_is_left_either(shelf: Shelf) {
    let store = shelf.open().await;
    let names: Vec<String> = (0..150).map(|number| format!("crew-{number:03}")).collect();
    let all: Vec<&str> = names.iter().map(String::as_str).collect();
    subscribers(&store, &all).await;
    let (going, staying): (Vec<&str>, Vec<&str>) = all.iter().partition(|name| name.ends_with('7'));
    for (hours, weekday) in [(2, chrono::Weekday::Sat), (3, chrono::Weekday::Sun)] {
        let choices = Choices {
            weekdays: vec![weekday; hours],
            ..Choices::default()
        };
        for name in &all {
            let id = format!("id-of-{name}");
            assert!(store.choose_for_subscription(&id, &choices).await.unwrap());
        }
    }
    for name in &going {
        assert!(store.end_subscription(&format!("id-of-{name}")).await.unwrap());
    }
    store.close().await;
    if let Some(file) = shelf.file() {
        let octets = std::fs::read(file).unwrap();
        let holds = |name: &&&str| {
            let text = format!("{name}@crew.example");
            octets.windows(text.len()).any(|window| window == text.as_bytes())
        };
        assert_eq!(going.iter().filter(holds).count(), 0);
        assert_eq!(staying.iter().filter(holds).count(), 135);
    }
}

async fn a_mailing_is_made_once_by_two_at_once(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna", "ben", "carl"]).await;
    let (one, other) = (shelf.open().await, shelf.open().await);
    for round in 0..20 {
        let new = mailing(&format!("day/{round}"), 2);
        let made = tokio::join!(one.put_mailing(&new), other.put_mailing(&new));
        let made = [made.0.unwrap(), made.1.unwrap()];
        assert_eq!(made.iter().filter(|made| **made).count(), 1, "{made:?}");
        assert!(store.has_mailing("demo", &new.name).await.unwrap());
    }
    assert_eq!(claim(&store, "a", after(3), 1000).await.len(), 60);
}

async fn two_senders_never_have_the_same_mail(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["a", "b", "c", "d", "e", "f", "g", "h"]).await;
    for day in 0..5 {
        store
            .put_mailing(&mailing(&format!("day/{day}"), 2))
            .await
            .unwrap();
    }
    let (one, other) = (shelf.open().await, shelf.open().await);
    let mut had = Vec::new();
    for _ in 0..10 {
        let (mine, theirs) = tokio::join!(
            claim(&one, "one", after(2), 3),
            claim(&other, "other", after(2), 3)
        );
        for (hand, claimed) in [(&one, ("one", mine)), (&other, ("other", theirs))] {
            for mail in claimed.1 {
                hand.end_mail(&mail.key, claimed.0, &MailOutcome::Sent, after(2))
                    .await
                    .unwrap();
                had.push(mail.key);
            }
        }
    }
    had.sort();
    let all = had.len();
    had.dedup();
    assert_eq!((all, had.len()), (40, 40));
}

async fn a_claim_that_ran_out_is_another_s(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna"]).await;
    store.put_mailing(&mailing("day/1", 2)).await.unwrap();
    let first = claim(&store, "first", after(2), 5).await;
    assert_eq!(claim(&store, "second", after(2), 5).await, []);
    assert_eq!(
        store.next_mail_due().await.unwrap(),
        Some(after(2) + TimeDelta::minutes(10))
    );
    let later = after(2) + TimeDelta::minutes(10);
    let second = claim(&store, "second", later, 5).await;
    assert_eq!(second, first);
    let manage = |octet| link(octet, LinkPurpose::Manage, 100);
    let key = &first[0].key;
    assert!(
        !store
            .begin_mail(key, "first", after(3), &manage(1))
            .await
            .unwrap(),
        "it is no longer its own"
    );
    assert!(
        store
            .begin_mail(key, "second", after(3), &manage(2))
            .await
            .unwrap()
    );
    store
        .end_mail(key, "first", &MailOutcome::TooLate, after(3))
        .await
        .unwrap();
    assert_eq!(
        store.mail_standing().await.unwrap().waits_since,
        Some(after(2)),
        "the first has no say"
    );
    store.release_mails("second").await.unwrap();
    assert_eq!(claim(&store, "third", after(2), 5).await[0].attempts, 1);
}

async fn what_became_of_a_mail_is_noted_and_counted(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["a", "b", "c", "d", "e"]).await;
    store.put_mailing(&mailing("day/1", 2)).await.unwrap();
    let mails = claim(&store, "s", after(2), 10).await;
    let later = |words: &str| MailOutcome::Later {
        fault: "busy",
        words: words.to_owned(),
        due_at: after(5),
    };
    let refused = MailOutcome::Refused {
        fault: "refused",
        words: "550 no".into(),
        address: true,
    };
    let long = format!("451\r\n{}", "x".repeat(1000));
    for (mail, outcome) in mails.iter().zip([
        MailOutcome::Sent,
        MailOutcome::NothingToTell,
        MailOutcome::TooLate,
        refused,
        later(&long),
    ]) {
        store.end_mail(&mail.key, "s", &outcome, after(3)).await.unwrap();
    }
    let standing = store.mail_standing().await.unwrap();
    let counted: Vec<_> = standing
        .counts
        .iter()
        .map(|count| (count.state.as_str(), count.fault.as_deref(), count.mails))
        .collect();
    assert_eq!(
        counted,
        [
            ("late", None, 1),
            ("refused", Some("refused"), 1),
            ("sent", None, 6),
            ("unneeded", None, 1),
            ("waiting", Some("busy"), 1)
        ]
    );
    assert_eq!(standing.waits_since, Some(after(2)));
    let trouble = standing.trouble.unwrap();
    assert!(trouble.at == after(3) && trouble.words.len() <= 300 && !trouble.words.contains('\n'));
    assert_eq!(claim(&store, "s", after(5) - TimeDelta::seconds(1), 10).await, []);
    let again = claim(&store, "s", after(5), 10).await;
    assert_eq!(again.len(), 1);
    store
        .end_mail(&again[0].key, "s", &MailOutcome::Sent, after(5))
        .await
        .unwrap();
    assert_eq!(store.next_mail_due().await.unwrap(), None);
}

async fn an_address_that_refuses_again_and_again_is_sent_no_more(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna"]).await;
    let refuse = async |day: i64, address: bool| {
        store
            .put_mailing(&mailing(&format!("day/{day}"), day))
            .await
            .unwrap();
        for mail in claim(&store, "s", after(day), 5).await {
            let refused = MailOutcome::Refused {
                fault: "refused",
                words: "550".into(),
                address,
            };
            store
                .end_mail(&mail.key, "s", &refused, after(day))
                .await
                .unwrap();
        }
        store.subscription("id-of-anna").await.unwrap().unwrap().refusals
    };
    assert_eq!(refuse(2, false).await, 0, "it was not the address");
    for day in 1..=REFUSALS_AT_MOST {
        assert_eq!(refuse(day + 2, true).await, day);
    }
    store.put_mailing(&mailing("day/20", 20)).await.unwrap();
    assert_eq!(claim(&store, "s", after(20), 5).await, []);
    store.confirm_subscription("id-of-anna", after(21)).await.unwrap();
    store.put_mailing(&mailing("day/22", 22)).await.unwrap();
    assert_eq!(claim(&store, "s", after(22), 5).await.len(), 1);
}

async fn of_two_that_tell_of_a_session_one_does(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna"]).await;
    let session = ("demo", "sat@2030-05-18T14:00");
    let (one, other) = (shelf.open().await, shelf.open().await);
    assert_eq!(store.told_of_session(session.0, session.1).await.unwrap(), None);
    for round in 0..10 {
        let after_round = (round > 0).then_some(round);
        let new = mailing(&format!("change/{round}"), 2);
        let tell = |store: Store, words: &'static [u8], new: NewMailing| async move {
            store
                .tell_of_session(session, after_round, words, (Some(&new), after(2)))
                .await
                .unwrap()
        };
        let told = tokio::join!(
            tell(one.clone(), b"one", new.clone()),
            tell(other.clone(), b"other", new)
        );
        assert!(told.0 != told.1, "{round}: {told:?}");
        let kept = store
            .told_of_session(session.0, session.1)
            .await
            .unwrap()
            .unwrap();
        assert_eq!((kept.version, kept.document == b"one"), (round + 1, told.0));
    }
    assert_eq!(claim(&store, "s", after(2), 100).await.len(), 10);
}

async fn old_mail_and_unconfirmed_addresses_are_forgotten(shelf: Shelf) {
    let store = shelf.open().await;
    subscribers(&store, &["anna"]).await;
    store.ask_for_subscription(&new("ben", 1)).await.unwrap();
    store.put_mailing(&mailing("day/1", 2)).await.unwrap();
    store.prune_mail(after(0), after(1 + 72)).await.unwrap();
    assert!(store.subscription("id-of-ben").await.unwrap().is_some());
    assert!(store.has_mailing("demo", "day/1").await.unwrap());
    store.prune_mail(after(27), after(2 + 72)).await.unwrap();
    assert_eq!(store.subscription("id-of-ben").await.unwrap(), None);
    assert!(
        store.subscription("id-of-anna").await.unwrap().is_some(),
        "confirmed"
    );
    assert!(!store.has_mailing("demo", "day/1").await.unwrap());
    assert_eq!(claim(&store, "s", after(100), 10).await, []);
}
