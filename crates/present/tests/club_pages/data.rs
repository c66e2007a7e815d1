//! The page about the data: each source's facts in words, whatever state it is in; no ages.
//!
//! No source: the project's own rules.

use crate::sample::{HOSTILE, hostile_club, is_harmless, now, rich_club};
use chrono::TimeDelta;
use present::html::{self, SourceAbout};
use present::standing::{ExpectedRun, LastError, MissingMessages, RunStanding, SourceStanding, SourceState};

fn about(source: &str, age_h: i64) -> SourceAbout {
    let run = now() - TimeDelta::hours(age_h);
    let expected = |after_h| ExpectedRun {
        run: run + TimeDelta::hours(after_h),
        usually_out_at: run + TimeDelta::hours(after_h + 4),
    };
    let standing = SourceStanding {
        source: source.into(),
        title: "Sample model".into(),
        state: SourceState::Absent,
        why: None,
        newest_run: Some(RunStanding {
            run,
            age_min: age_h * 60,
            reaches: run + TimeDelta::hours(72),
            parts_kept: 31,
            parts_of_run: 32,
            messages_read: 9,
            messages_wanted: 10,
            missing: vec![MissingMessages {
                reason: "damaged message".into(),
                messages: 1,
            }],
            complete: false,
        }),
        late_run: Some(expected(6)),
        next_run: Some(expected(12)),
        stale_after_min: 780,
        notice: Some("ends on 1 March 2027".into()),
        last_error: Some(LastError {
            at: now(),
            ended: false,
            words: "the server answered 503".into(),
        }),
    };
    SourceAbout {
        standing: standing.judged(),
        producer: Some((
            "Sample Office".into(),
            "CC BY 4.0".into(),
            "Made by the Sample Office".into(),
        )),
    }
}

#[test]
fn each_source_says_what_is_kept_what_is_missing_and_when_the_next_is_due() {
    let page = html::about_the_data(&rich_club(), &[about("gefs", 6)], None).unwrap();
    for words in [
        "<h2>Sample model (gefs)</h2>",
        "Of use; something is missing.",
        "Wind and gust.",
        "Fri 16 Oct 23:40 UTC, read until Mon 19 Oct 23:40 UTC; 31 of 32 parts and 9 of 10 messages are kept.",
        "1 message is missing: damaged message.",
        "Nothing is kept of the run of Sat 17 Oct 05:40 UTC, usually out from Sat 17 Oct 09:40 UTC on.",
        "Sat 17 Oct 11:40 UTC, usually out from 15:40 UTC on.",
        "the server answered 503; fetching went on with less.",
        "ends on 1 March 2027.",
        "Sample Office.",
        "CC BY 4.0.",
        "Made by the Sample Office.",
        "times 1.3 at sea",
        "No warning is read by this program",
        "coastal bulletin on the boathouse door",
        "<a href=\"/about-the-data\" aria-current=\"page\">",
    ] {
        assert!(page.contains(words), "lacks {words}: {page}");
    }
    // The policy names this one too, and nobody asks it.
    assert!(page.contains("<h2>gfs-wave</h2><p class=\"wind\">Not asked"));
    assert!(!page.contains("<h2>gefs</h2>"));
}

#[test]
fn what_is_of_no_use_says_so_and_the_same_facts_give_the_same_page() {
    let club = rich_club();
    let page = |about: SourceAbout| html::about_the_data(&club, &[about], None).unwrap();
    let old = page(about("gfs", 20));
    assert!(old.contains("Late: a newer run should have been out by Fri 16 Oct 22:40 UTC."));
    let mut aged = about("gfs", 20);
    aged.standing.newest_run.as_mut().unwrap().age_min += 1;
    assert_eq!(
        page(SourceAbout {
            standing: aged.standing.judged(),
            ..aged
        }),
        old,
        "an age is on the page"
    );
    let mut unread = about("gfs", 6);
    unread.standing.newest_run.as_mut().unwrap().messages_read = 0;
    let unread = SourceAbout {
        standing: unread.standing.judged(),
        ..unread
    };
    assert!(page(unread).contains("Of no use: no message"));
    let mut absent = about("elsewhere", 6);
    absent.standing.newest_run = None;
    let absent = page(SourceAbout {
        standing: absent.standing.judged(),
        ..absent
    });
    assert!(
        absent.contains("Of no use: nothing of it has been fetched") && absent.contains("does not name it")
    );
    assert!(
        html::about_the_data(&club, &[], None)
            .unwrap()
            .contains("Not asked")
    );
}

#[test]
fn hostile_names_arrive_as_words() {
    let mut wild = about(HOSTILE, 6);
    wild.standing.title = HOSTILE.into();
    wild.standing.notice = Some(HOSTILE.into());
    wild.standing.last_error.as_mut().unwrap().words = HOSTILE.into();
    wild.standing.newest_run.as_mut().unwrap().missing[0].reason = HOSTILE.into();
    wild.producer = Some((HOSTILE.into(), HOSTILE.into(), HOSTILE.into()));
    is_harmless(&html::about_the_data(&hostile_club(), &[wild], Some(HOSTILE)).unwrap());
}
