//! The loop, by a clock that passes as fast as it is waited for. No source: the rules are the project's own.

use crate::samples::{catalogue, may, part, run, text};
use crate::shelf::Shelf;
use advisor::{Advised, Clock, Keeper, Rhythm};
use advisory::document::CallWord;
use chrono::{DateTime, TimeDelta, Utc};
use std::collections::VecDeque;
use std::sync::Mutex;
use store::{NewClubVersion, NewPart, Store};
use tokio::sync::Notify;

on_both_backends!(
    it_wakes_for_parts_of_another_process_for_ends_of_validity_and_decision_hours,
    every_club_of_the_store_is_advised_on_and_one_that_does_not_read_hinders_none,
    news_of_the_own_fetcher_wakes_it_at_once,
);

const LOOK: TimeDelta = TimeDelta::seconds(30);

/// A clock whose time is gone as soon as it is waited for. On its way another process writes parts, each when it is visible.
struct Hurried {
    now: Mutex<DateTime<Utc>>,
    end: DateTime<Utc>,
    ended: Notify,
    other_process: Store,
    parts: Mutex<VecDeque<NewPart>>,
}

impl Clock for Hurried {
    fn now(&self) -> DateTime<Utc> {
        *self.now.lock().unwrap()
    }

    async fn pass(&self, time: TimeDelta) {
        // What else is waited for comes first if it is there already: only then does time go by.
        tokio::task::yield_now().await;
        let until = self.now() + time;
        if until > self.end {
            self.ended.notify_one();
            return std::future::pending().await;
        }
        loop {
            let part = self
                .parts
                .lock()
                .unwrap()
                .pop_front_if(|part| part.visible_at <= until);
            let Some(part) = part else { break };
            assert!(self.other_process.write_part(&part).await.unwrap());
        }
        *self.now.lock().unwrap() = until;
    }
}

/// What was told: when, how many were new, the calls, how many failed.
type Told = (DateTime<Utc>, usize, Vec<CallWord>, usize);

async fn kept_on(
    shelf: &Shelf,
    (start, end): (DateTime<Utc>, DateTime<Utc>),
    parts: Vec<NewPart>,
    news: &Notify,
) -> Vec<Told> {
    let (store, catalogue) = (shelf.open().await, catalogue());
    let clock = Hurried {
        now: Mutex::new(start),
        end,
        ended: Notify::new(),
        other_process: shelf.open().await,
        parts: Mutex::new(parts.into()),
    };
    let keeper = Keeper {
        store: &store,
        catalogue: &catalogue,
        clock: &clock,
        news,
        rhythm: Rhythm {
            look: LOOK,
            beat: TimeDelta::hours(30),
        },
    };
    let told = Mutex::new(Vec::new());
    let tell = |now: DateTime<Utc>, advised: &Advised| {
        let issued = &advised.round.issued;
        let new = issued.iter().filter(|one| one.new).count();
        let calls = issued.iter().map(|one| one.advisory.call).collect();
        told.lock()
            .unwrap()
            .push((now, new, calls, advised.round.failed.len()));
    };
    tokio::select! {
        never = keeper.keep_on(tell) => match never {},
        () = clock.ended.notified() => {}
    }
    told.into_inner().unwrap()
}

async fn keep(store: &Store, slug: &str, text: String) {
    let version = NewClubVersion {
        slug: slug.to_owned(),
        version: club::parse(&text).map_or_else(|_| "broken".to_owned(), |parsed| parsed.club.version),
        text,
        seen_at: may(13, 0, 0),
    };
    assert!(store.put_club_version(&version).await.unwrap());
}

/// The small club's one session, without the Monday evening.
fn one_session(slug: &str) -> String {
    let text = text(slug);
    text[..text.rfind("[[sessions]]").unwrap()].to_owned()
}

async fn it_wakes_for_parts_of_another_process_for_ends_of_validity_and_decision_hours(shelf: Shelf) {
    keep(&shelf.open().await, "pontoon", one_session("pontoon")).await;
    let whole = part(may(13, 0, 0), (0, 0..=72), 8.0, may(13, 4, 0));
    let told = kept_on(
        &shelf,
        (may(13, 3, 59), may(13, 23, 0)),
        vec![whole],
        &Notify::new(),
    )
    .await;
    // The part is seen by the look after it was written; nothing was told before there was anything to tell.
    assert!(
        told[0].0 >= may(13, 4, 0) && told[0].0 <= may(13, 4, 0) + LOOK,
        "{told:?}"
    );
    assert_eq!((told[0].1, told[0].2.as_slice()), (1, [CallWord::Go].as_slice()));
    // It wakes at the hour at which the club decides, 18:00 of Madeira's summer, and issues what stands then.
    let decided = told.iter().find(|one| one.0 == may(13, 17, 0));
    assert!(decided.is_some_and(|one| one.1 == 1), "{told:?}");
    // From 16:00 on the run is too old, and no further one has come: no call, and never a go again.
    for (at, _, calls, failed) in &told {
        let call = if *at <= may(13, 16, 0) {
            CallWord::Go
        } else {
            CallWord::NoCall
        };
        assert_eq!((calls.as_slice(), *failed), ([call].as_slice(), 0), "{at}");
    }
    // It woke because something ended each time, and not at every look: each time a document took another's place.
    assert!(told.iter().all(|one| one.1 == 1), "{told:?}");
    let session = advisor::coming(
        &club::parse(&one_session("pontoon")).unwrap().club,
        may(13, 10, 0),
    );
    let history = shelf
        .open()
        .await
        .advisories_for("pontoon", &session[0].id)
        .await
        .unwrap();
    assert_eq!(history.len(), told.len());
    // No advisory's time ran out before the next was issued.
    for pair in history.windows(2) {
        let before = advisory::from_bytes(&pair[0].advisory.document).unwrap();
        assert!(
            pair[1].advisory.issued_at <= before.valid_until + TimeDelta::seconds(1),
            "{}",
            before.valid_until
        );
    }
}

async fn every_club_of_the_store_is_advised_on_and_one_that_does_not_read_hinders_none(shelf: Shelf) {
    let store = shelf.open().await;
    keep(&store, "anchorage", one_session("anchorage")).await;
    keep(&store, "broken", "not a club".into()).await;
    keep(&store, "pontoon", one_session("pontoon")).await;
    run(&store, may(13, 0, 0), 8.0).await;
    let news = Notify::new();
    news.notify_one();
    let told = kept_on(&shelf, (may(13, 10, 0), may(13, 10, 20)), Vec::new(), &news).await;
    assert_eq!((told[0].1, told[0].3), (2, 1), "{told:?}");
    // The fault ends nothing: it is tried again, after pauses, and nothing new is said meanwhile.
    assert!(told.len() > 2, "{told:?}");
    assert!(
        told[1..]
            .iter()
            .all(|one| (one.1, one.2.len(), one.3) == (0, 2, 1)),
        "{told:?}"
    );
    let pauses: Vec<i64> = told
        .windows(2)
        .map(|pair| (pair[1].0 - pair[0].0).num_seconds())
        .collect();
    assert_eq!(pauses[..3], [60, 120, 240]);
}

async fn news_of_the_own_fetcher_wakes_it_at_once(shelf: Shelf) {
    let store = shelf.open().await;
    keep(&store, "pontoon", one_session("pontoon")).await;
    run(&store, may(13, 0, 0), 8.0).await;
    let news = Notify::new();
    news.notify_one();
    // The clock ends before the first look: only the news can have woken it.
    let told = kept_on(
        &shelf,
        (may(13, 10, 0), may(13, 10, 0) + LOOK / 2),
        Vec::new(),
        &news,
    )
    .await;
    assert_eq!(told.len(), 1);
    assert_eq!((told[0].0, told[0].1), (may(13, 10, 0), 1));
    // Without news nothing is told, and the parts that were there from the beginning are not news.
    let quiet = kept_on(
        &shelf,
        (may(13, 10, 0), may(13, 10, 5)),
        Vec::new(),
        &Notify::new(),
    )
    .await;
    assert!(quiet.is_empty(), "{quiet:?}");
}
