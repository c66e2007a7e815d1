//! A store with the sample advisories and subscribers.

use advisory::Advisory;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use digests::{MailServer, MailSettings, Office, Sender};
use present::PublicAddress;
use store::{ClaimedMail, NewAdvisory, NewClubVersion, NewDecision, NewSubscription, Store};

const SAMPLES: &str = include_str!("../../../../crates/present/tests/advisories.json");
const CLUB: &str = include_str!("../../../../fixtures/club/small.toml");
/// The samples' club.
pub const SLUG: &str = "pellock-haven";

pub fn samples() -> Vec<Advisory> {
    serde_json::from_str(SAMPLES).unwrap()
}

/// Twenty minutes after the samples were issued, and ten after the club's mail is due.
pub fn morning() -> DateTime<Utc> {
    samples()[0].issued_at.to_utc() + TimeDelta::minutes(20)
}

pub async fn keep_club(store: &Store, slug: &str, digest_at: Option<&str>) {
    let hour = digest_at.map_or(String::new(), |at| format!(", digest_at = \"{at}\""));
    let text = CLUB
        .replace("small-pontoon", slug)
        .replace("Atlantic/Madeira", "Europe/London")
        .replace(", public = true", &format!(", public = true{hour}"));
    let new = NewClubVersion {
        slug: slug.into(),
        version: club::parse(&text).unwrap().club.version,
        text,
        seen_at: samples()[0].issued_at.to_utc(),
    };
    assert!(store.put_club_version(&new).await.unwrap());
}

/// Issues an advisory of a session after those before.
pub async fn issue(store: &Store, advisory: &Advisory) {
    let new = NewAdvisory {
        id: advisory.id.clone(),
        club: SLUG.into(),
        occurrence: advisory.session.id.clone(),
        input_hash: advisory.id.clone(),
        inputs: vec![],
        document: advisory::to_bytes(advisory).unwrap(),
        issued_at: advisory.issued_at.to_utc(),
    };
    assert!(store.put_advisory(&new).await.unwrap());
}

pub async fn decide(store: &Store, session: &str, decided: &str, at: DateTime<Utc>) {
    let document = serde_json::json!({
        "session": session, "decided": decided, "by": "A. B.", "at": at, "note": null
    });
    let new = NewDecision {
        club: SLUG.into(),
        occurrence: session.into(),
        document: serde_json::to_vec(&document).unwrap(),
        at,
    };
    store.put_decision(&new).await.unwrap();
}

/// The samples, and a club whose mail is due at half past six.
pub async fn with_samples() -> Store {
    let store = Store::open_in_memory().await.unwrap();
    keep_club(&store, SLUG, Some("06:30")).await;
    for sample in samples() {
        issue(&store, &sample).await;
    }
    store
}

/// A confirmed subscriber, whose mail to confirm is out of the way.
pub async fn subscribe(store: &Store, name: &str, choices: Choices) {
    let at = morning() - TimeDelta::hours(30);
    let new = NewSubscription {
        id: name.into(),
        club: SLUG.into(),
        address: EmailAddress::parse(&format!("{name}@crew.example")).unwrap(),
        choices,
        at,
    };
    assert!(store.ask_for_subscription(&new).await.unwrap());
    assert!(store.confirm_subscription(name, at).await.unwrap());
    for mail in claim(store, at).await {
        let sent = store::MailOutcome::Sent;
        store.end_mail(&mail.key, "test", &sent, at).await.unwrap();
    }
}

pub async fn claim(store: &Store, at: DateTime<Utc>) -> Vec<ClaimedMail> {
    let until = at + TimeDelta::minutes(10);
    store.claim_mails("test", (at, until), 1000).await.unwrap()
}

pub fn office(store: &Store) -> Office {
    let from = Sender::parse("Harbour office <office@club.example>").unwrap();
    let settings = MailSettings::of_this_machine(25, from);
    let public = PublicAddress::read("https://sailing.example").unwrap();
    Office::new(store.clone(), MailServer::new(settings).unwrap(), public, SLUG)
}
