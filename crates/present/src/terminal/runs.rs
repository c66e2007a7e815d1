//! How each source stands, in a few lines a source.

use super::Style;
use super::sheet::{Dress, Sheet};
use crate::standing::{ExpectedRun, RunStanding, SourceStanding, SourceState, age};
use crate::wording::run_time;
use chrono::{DateTime, Utc};

/// The lines of all sources.
pub(super) fn text(
    standings: &[SourceStanding],
    credit: &dyn Fn(&str) -> Option<String>,
    now: DateTime<Utc>,
    style: Style,
) -> String {
    let mut sheet = Sheet::new(style);
    sheet.words(0, &format!("Sources and their runs at {}", run_time(now)));
    if standings.is_empty() {
        sheet.words(0, "No source is enabled.");
    } else if standings.iter().all(|standing| standing.newest_run.is_none()) {
        sheet.words(0, "nothing fetched yet");
    }
    for standing in standings {
        source(&mut sheet, standing);
        if let Some(words) = credit(&standing.source) {
            entry(&mut sheet, "credit", None, &words);
        }
    }
    sheet.finish()
}

fn source(sheet: &mut Sheet, standing: &SourceStanding) {
    sheet.empty();
    sheet.hanging(
        &format!("{}  ", standing.source),
        Some(Dress::Bold),
        &format!("{}: {}", standing.title, state(standing)),
    );
    if let Some(run) = &standing.newest_run {
        entry(sheet, "newest run", None, &newest(run));
        entry(sheet, "kept", None, &kept(run));
    }
    if let Some(late) = &standing.late_run {
        entry(
            sheet,
            "late",
            Some(Dress::Binds),
            &format!("{}, not kept", expected(late)),
        );
    }
    if let Some(next) = &standing.next_run {
        entry(sheet, "next run", None, &expected(next));
    }
    if let Some(why) = standing
        .why
        .as_ref()
        .filter(|_| standing.state != SourceState::Usable)
    {
        entry(sheet, "why", Some(Dress::Binds), why);
    }
    if let Some(error) = &standing.last_error {
        entry(
            sheet,
            "last error",
            Some(Dress::Binds),
            &format!("{}: {}", run_time(error.at), error.words),
        );
    }
    if let Some(notice) = &standing.notice {
        entry(sheet, "notice", Some(Dress::Binds), notice);
    }
}

fn entry(sheet: &mut Sheet, head: &str, dress: Option<Dress>, words: &str) {
    sheet.hanging(&format!("  {head:<12}"), dress, words);
}

fn state(standing: &SourceStanding) -> &'static str {
    match standing.state {
        SourceState::Usable => "usable",
        SourceState::Stale => "STALE",
        SourceState::Unreadable => "NOT READABLE",
        SourceState::Absent => "nothing kept",
    }
}

fn newest(run: &RunStanding) -> String {
    format!(
        "{}, {} old, reaches {}",
        run_time(run.run),
        age(run.age_min),
        run_time(run.reaches)
    )
}

fn kept(run: &RunStanding) -> String {
    if run.complete {
        return format!(
            "complete: {} parts, {} messages",
            run.parts_kept, run.messages_read
        );
    }
    let mut words = format!("{} of {} parts", run.parts_kept, run.parts_of_run);
    words += &format!(
        "; of their messages {} of {}",
        run.messages_read, run.messages_wanted
    );
    for missing in &run.missing {
        words += &format!("; {} x {}", missing.messages, missing.reason);
    }
    words
}

fn expected(run: &ExpectedRun) -> String {
    format!(
        "{}, usually out from {}",
        run_time(run.run),
        run_time(run.usually_out_at)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standing::LastError;
    use crate::standing::tests::{at, standing};

    fn credit(source: &str) -> Option<String> {
        (source == "gfs").then(|| "public domain. Forecast data: NOAA/NCEP GFS.".to_owned())
    }

    #[test]
    fn a_run_with_parts_absent_is_never_called_complete_and_lines_stay_within_the_columns() {
        let mut gfs = standing();
        gfs.notice = Some("gfs ends on 30 November 2030, as its producer has announced".into());
        gfs.last_error = Some(LastError {
            at: at("2030-05-13T14:00:00Z"),
            ended: true,
            words: "no run of the last 72 hours is at https://forecasts.example/a/very/long/path \u{1b}[2J"
                .into(),
        });
        let text = text(
            &[gfs],
            &credit,
            at("2030-05-13T15:00:00Z"),
            Style { colour: false },
        );
        assert!(!text.contains("complete"), "{text}");
        for needed in [
            "Mon 13 May 06:00 UTC, 9 h old, reaches Thu 16 May 06:00 UTC",
            "31 of 32 parts; of their messages 9 of 10; 1 x damaged message",
            "usually out from Mon 13 May 15:30 UTC",
            "ends on 30 November 2030",
            "credit      public domain. Forecast data: NOAA/NCEP GFS.",
            "Mon 13 May 14:00 UTC: no run",
        ] {
            assert!(text.contains(needed), "{needed}:\n{text}");
        }
        assert!(!text.contains('\u{1b}'), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    }

    #[test]
    fn a_whole_run_is_complete_and_an_empty_store_says_so() {
        let mut gfs = standing();
        let run = gfs.newest_run.as_mut().unwrap();
        (run.complete, run.parts_kept, run.messages_read) = (true, 32, 10);
        run.missing.clear();
        assert!(
            text(
                &[gfs.clone()],
                &credit,
                at("2030-05-13T15:00:00Z"),
                Style::default()
            )
            .contains("complete: 32 parts")
        );
        gfs.newest_run = None;
        let nothing = text(
            &[gfs.judged()],
            &credit,
            at("2030-05-13T15:00:00Z"),
            Style::default(),
        );
        assert!(
            nothing.contains("\nnothing fetched yet\n") && nothing.contains("nothing kept"),
            "{nothing}"
        );
    }
}
