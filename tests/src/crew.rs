//! A club whose sessions are called, with subscribers to its mail, in a store.
//!
//! Owns: filling the store as the program and the owners of addresses would. Must not know: how a mail is made or sent.
#![expect(
    clippy::expect_used,
    reason = "a scene that cannot be set up is a failed test"
)]

use crate::{Scene, program, time, workspace};
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use std::process::Command;
use store::{MailOutcome, NewSubscription, Store};

/// When the hand club's mail is due in [`with_mail`]: a moment at which the bundled run serves.
pub const MAIL_DUE: &str = "2030-05-13T15:10:00Z";
/// The hand club's short name.
pub const CLUB: &str = "hand";
/// Many more than any mailing of these tests.
const EVERY_MAIL: u16 = 10_000;

/// The hand club with a daily mail at [`MAIL_DUE`], 16:10 by its clocks.
///
/// # Panics
/// When the club's file is not there.
pub fn with_mail() -> Scene {
    let club = std::fs::read_to_string(workspace().join("fixtures/hand/club.toml")).expect("the hand club");
    let mut scene = Scene::new(&club.replacen("[club]\n", "[club]\ndigest_at = \"16:10\"\n", 1));
    scene.now = MAIL_DUE.to_owned();
    scene
}

/// Fetches the scene's feeds into a store and issues advisories there, by the program.
///
/// # Panics
/// When it cannot.
pub fn advise_into(scene: &Scene, store: &str) {
    let mut command = Command::new(program());
    command.args(["advise", "--now", &scene.now, "--store", store]);
    command.arg("--club").arg(scene.club());
    command.arg("--feeds").arg(scene.feeds());
    let advised = command.output().expect("the program starts");
    assert!(
        advised.status.success(),
        "{}",
        String::from_utf8_lossy(&advised.stderr)
    );
}

/// The address of a subscriber by number.
pub fn address(number: usize) -> String {
    format!("crew-{number:04}@crew.example")
}

/// So many have subscribed to the hand club's mail, with nothing chosen, and confirmed it. The mails to confirm have gone out long ago.
///
/// # Panics
/// When the store does not keep them.
pub async fn take_aboard(store: &Store, subscribers: usize) {
    let at = time(MAIL_DUE) - TimeDelta::days(3);
    for number in 0..subscribers {
        let new = NewSubscription {
            id: format!("subscription-{number:04}"),
            club: CLUB.to_owned(),
            address: EmailAddress::parse(&address(number)).expect("an address"),
            choices: Choices::default(),
            at,
        };
        assert!(store.ask_for_subscription(&new).await.expect("kept"));
        assert!(store.confirm_subscription(&new.id, at).await.expect("confirmed"));
    }
    forget_confirmations(store, at).await;
}

async fn forget_confirmations(store: &Store, at: DateTime<Utc>) {
    let until = at + TimeDelta::hours(1);
    let claimed = store.claim_mails("long ago", (at, until), EVERY_MAIL).await;
    for mail in claimed.expect("claimed") {
        let sent = store
            .end_mail(&mail.key, "long ago", &MailOutcome::Sent, at)
            .await;
        sent.expect("noted");
    }
}
