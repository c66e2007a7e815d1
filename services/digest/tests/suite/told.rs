//! A change after the club's hour is told once, of what stood then or was told last.

use crate::shelf::{SLUG, claim, decide, issue, morning, samples, subscribe, with_samples};
use advisory::Advisory;
use advisory::document::CallWord;
use chrono::{DateTime, TimeDelta, Utc};
use club::Choices;
use digests::make_mailings;
use store::Store;

/// The changes that are made at a moment, by name.
async fn changes(store: &Store, at: DateTime<Utc>) -> Vec<String> {
    let made = make_mailings(store, at).await.unwrap().mailings.into_iter();
    made.map(|(_, name)| name)
        .filter(|name| name.starts_with("change/"))
        .collect()
}

fn later(of: usize, call: CallWord, minutes: i64) -> Advisory {
    let sample = samples().remove(of);
    Advisory {
        id: format!("{}-{minutes}", sample.id),
        issued_at: (morning() + TimeDelta::minutes(minutes)).fixed_offset(),
        call,
        ..sample
    }
}

fn after(minutes: i64) -> DateTime<Utc> {
    morning() + TimeDelta::minutes(minutes)
}

/// What a change says was told before.
async fn was(store: &Store, at: DateTime<Utc>) -> Vec<String> {
    let mails = claim(store, at).await.into_iter();
    let bodies = mails
        .filter(|mail| mail.key.mailing.starts_with("change/"))
        .map(|mail| mail.body);
    bodies
        .map(|body| serde_json::from_slice::<serde_json::Value>(&body).unwrap()["was"]["call"].to_string())
        .collect()
}

#[tokio::test]
async fn a_call_that_changes_after_the_club_s_hour_is_told_once() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    // The first is marginal, by an advisory of this morning: the first that was ever issued.
    assert_eq!(changes(&store, after(0)).await, Vec::<String>::new());
    issue(&store, &later(0, CallWord::Marginal, 1)).await;
    assert_eq!(
        changes(&store, after(2)).await,
        Vec::<String>::new(),
        "the same call"
    );
    issue(&store, &later(0, CallWord::NoGo, 3)).await;
    assert_eq!(
        changes(&store, after(4)).await,
        ["change/dunlin-first/20261017T0930/2"]
    );
    assert_eq!(changes(&store, after(5)).await, Vec::<String>::new(), "told once");
    assert_eq!(was(&store, after(5)).await, ["\"marginal\""]);
    issue(&store, &later(0, CallWord::Go, 20)).await;
    assert_eq!(
        changes(&store, after(21)).await,
        ["change/dunlin-first/20261017T0930/3"]
    );
    assert_eq!(was(&store, after(40)).await, ["\"marginal\"", "\"no-go\""]);
}

#[tokio::test]
async fn what_stood_at_the_hour_counts_though_nobody_looked_then() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    // Of the whimbrel's session: no-go on the eve, go since this morning; the mail is looked at for the first time now.
    let eve = samples()[1].decides_by.to_utc() - TimeDelta::hours(1);
    let before = Advisory {
        id: "of-the-eve".into(),
        issued_at: eve.fixed_offset(),
        call: CallWord::NoGo,
        ..samples().remove(1)
    };
    let store_of_the_eve = Store::open_in_memory().await.unwrap();
    crate::shelf::keep_club(&store_of_the_eve, SLUG, Some("06:30")).await;
    subscribe(&store_of_the_eve, "anna", Choices::default()).await;
    issue(&store_of_the_eve, &before).await;
    issue(&store_of_the_eve, &samples()[1]).await;
    assert_eq!(
        changes(&store_of_the_eve, after(0)).await,
        ["change/whimbrel-training/20261017T1000/1"]
    );
    assert_eq!(was(&store_of_the_eve, after(0)).await, ["\"no-go\""]);
}

#[tokio::test]
async fn before_the_hour_nothing_is_a_change_and_after_the_session_nothing_is_told() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    // The third is decided this evening.
    issue(&store, &later(2, CallWord::Go, 1)).await;
    assert_eq!(changes(&store, after(2)).await, Vec::<String>::new());
    issue(&store, &later(0, CallWord::NoGo, 3)).await;
    let over = samples()[0].session.alongside.to_utc();
    assert_eq!(
        changes(&store, over + TimeDelta::minutes(1)).await,
        Vec::<String>::new()
    );
}

#[tokio::test]
async fn a_decision_is_told_as_a_call_is() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    let session = samples().remove(0).session.id;
    decide(
        &store,
        &session,
        "on",
        samples()[0].decides_by.to_utc() - TimeDelta::hours(1),
    )
    .await;
    assert_eq!(
        changes(&store, after(0)).await,
        Vec::<String>::new(),
        "made before the hour"
    );
    decide(&store, &session, "on", after(1)).await;
    assert_eq!(
        changes(&store, after(2)).await,
        Vec::<String>::new(),
        "the same again"
    );
    decide(&store, &session, "off", after(3)).await;
    assert_eq!(changes(&store, after(4)).await.len(), 1);
    assert_eq!(changes(&store, after(5)).await, Vec::<String>::new());
}
