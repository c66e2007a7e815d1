//! The daily mail is made once, at the club's hour.

use crate::shelf::{SLUG, claim, issue, keep_club, morning, samples, subscribe, with_samples};
use chrono::{TimeDelta, Utc};
use club::Choices;
use digests::make_mailings;

#[tokio::test]
async fn the_daily_mail_is_made_once_a_day_by_however_many() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    subscribe(&store, "ben", Choices::default()).await;
    let made = async |at| make_mailings(&store, at).await.unwrap().mailings;
    let hour = morning() - TimeDelta::minutes(10);
    let (one, other) = tokio::join!(made(hour), made(hour));
    let all = [one, other].concat();
    assert_eq!(all, [(SLUG.to_owned(), "day/2026-10-17".to_owned())]);
    assert_eq!(made(hour + TimeDelta::hours(5)).await, []);
    let claimed = claim(&store, hour).await;
    assert_eq!(claimed.len(), 2);
    assert_eq!(
        claimed[0].ends_at,
        hour + TimeDelta::days(1),
        "until the next is due"
    );
}

#[tokio::test]
async fn a_club_without_the_hour_sends_none_and_hinders_nobody() {
    let store = with_samples().await;
    keep_club(&store, "quiet", None).await;
    let made = make_mailings(&store, morning()).await.unwrap();
    assert_eq!((made.mailings.len(), made.failed), (1, 0));
}

#[tokio::test]
async fn before_anything_was_said_of_coming_sessions_no_mail_says_that_there_are_none() {
    let store = store::Store::open_in_memory().await.unwrap();
    keep_club(&store, SLUG, Some("06:30")).await;
    // The small club's sessions begin in May 2030, every Tuesday.
    let monday: chrono::DateTime<Utc> = "2030-05-13T08:00:00Z".parse().unwrap();
    let made = async |at| make_mailings(&store, at).await.unwrap().mailings.len();
    assert_eq!(
        made(monday).await,
        0,
        "a session is to come, and there is no advisory"
    );
    assert_eq!(made(morning()).await, 1, "none is to come");
}

// Missing data never turn into "go", and a mail that says "old" to all because it came a minute too early helps nobody either.
#[tokio::test]
async fn it_waits_a_little_for_what_is_being_issued_and_no_longer() {
    let store = with_samples().await;
    let made = async |at: chrono::DateTime<Utc>| make_mailings(&store, at).await.unwrap().mailings.len();
    let old_from = samples()[0].valid_until.to_utc();
    // The club's hour is 06:30; at noon the samples have grown old: the mail is long late and waits no more.
    assert_eq!(made(old_from + TimeDelta::minutes(1)).await, 1);
    let store = with_samples().await;
    keep_club(&store, SLUG, Some("12:25")).await;
    let made = async |at: chrono::DateTime<Utc>| make_mailings(&store, at).await.unwrap().mailings;
    let due = old_from + TimeDelta::minutes(5);
    // The day before's has never been made, and is due first.
    assert_eq!(made(due - TimeDelta::seconds(1)).await[0].1, "day/2026-10-16");
    assert_eq!(made(due).await, []);
    let fresh = samples().into_iter().map(|sample| advisory::Advisory {
        id: format!("{}-2", sample.id),
        issued_at: due.fixed_offset(),
        valid_until: (due + TimeDelta::hours(1)).fixed_offset(),
        ..sample
    });
    for advisory in fresh {
        issue(&store, &advisory).await;
    }
    assert_eq!(made(due + TimeDelta::seconds(30)).await[0].1, "day/2026-10-17");
}
