//! When a feed's steps and runs come: steps of a run, blocks of steps, runs that should be out, buckets.
//!
//! Owns: this arithmetic. Is given: instants. Must not know: paths, indexes, messages.

use crate::feed::{Feed, ShortRuns, StepRange};
use chrono::{DateTime, TimeDelta, Timelike, Utc};
use forecast::Step;

impl Feed {
    /// Every step of the longest runs, ascending.
    pub fn all_steps(&self) -> Vec<Step> {
        let hours = |range: &StepRange| (range.first..=range.last).step_by(usize::from(range.every.max(1)));
        self.steps.iter().flat_map(hours).map(Step).collect()
    }

    /// Every step of one run, ascending: some cycles end sooner.
    pub fn steps_of_run(&self, run: DateTime<Utc>) -> Vec<Step> {
        let last = self.short(run).map_or(u16::MAX, |short| short.last_step);
        let mut steps = self.all_steps();
        steps.retain(|step| step.0 <= last);
        steps
    }

    /// How many parts the longest runs have.
    pub fn part_count(&self) -> u16 {
        self.parts_to(self.all_steps().last())
    }

    /// How many parts one run has.
    pub fn part_count_of_run(&self, run: DateTime<Utc>) -> u16 {
        self.parts_to(self.steps_of_run(run).last())
    }

    /// The part a step lies in. A part ends with a multiple of `part_hours`; the first holds step 0 too.
    pub fn part_of(&self, step: Step) -> u16 {
        step.0.saturating_sub(1) / self.part_hours.max(1)
    }

    /// The steps of a part of the longest runs, ascending.
    pub fn steps_of_part(&self, part: u16) -> Vec<Step> {
        let mut steps = self.all_steps();
        steps.retain(|step| self.part_of(*step) == part);
        steps
    }

    /// The steps of a part of one run, ascending.
    pub fn steps_of_run_part(&self, run: DateTime<Utc>, part: u16) -> Vec<Step> {
        let mut steps = self.steps_of_run(run);
        steps.retain(|step| self.part_of(*step) == part);
        steps
    }

    /// Minutes after a run's reference time from which its first files are usually out.
    pub fn usual_delay_of_run(&self, run: DateTime<Utc>) -> u32 {
        let of_short = self.short(run).and_then(|short| short.usual_delay_min);
        of_short.unwrap_or(self.usual_delay_min)
    }

    /// The reference times of runs that should be out at `now`, newest first, as far back as `look_back`.
    pub fn runs_out_at(&self, now: DateTime<Utc>, look_back: TimeDelta) -> Vec<DateTime<Utc>> {
        let oldest = now - look_back;
        let this_hour = now
            - TimeDelta::seconds(now.timestamp().rem_euclid(3600))
            - TimeDelta::nanoseconds(i64::from(now.timestamp_subsec_nanos()));
        let hours = (0..)
            .map(|hours| this_hour - TimeDelta::hours(hours))
            .take_while(|time| *time >= oldest);
        let is_out = |run: &DateTime<Utc>| {
            *run + TimeDelta::minutes(i64::from(self.usual_delay_of_run(*run))) <= now
                && self.cycles.iter().any(|cycle| u32::from(*cycle) == run.hour())
        };
        hours.filter(is_out).collect()
    }

    /// True when steps of a run that are still absent at `now` are taken to be lost, not late.
    pub fn given_up(&self, run: DateTime<Utc>, now: DateTime<Utc>) -> bool {
        now >= run + TimeDelta::minutes(i64::from(self.given_up_after_min))
    }

    /// The first hour of the bucket that ends with a step.
    pub fn bucket_start(&self, step: Step) -> u16 {
        let hours = self.bucket_hours.unwrap_or(1).max(1);
        hours * (step.0.saturating_sub(1) / hours)
    }

    fn parts_to(&self, last: Option<&Step>) -> u16 {
        last.map_or(0, |step| self.part_of(*step) + 1)
    }

    fn short(&self, run: DateTime<Utc>) -> Option<&ShortRuns> {
        let short = self.short_runs.as_ref()?;
        let of_run = |cycle: &u8| u32::from(*cycle) == run.hour();
        short.cycles.iter().any(of_run).then_some(short)
    }
}

#[cfg(test)]
mod tests {
    use crate::Catalogue;
    use crate::testing::{feed, instant};
    use chrono::{DateTime, TimeDelta, Utc};
    use forecast::Step;

    #[test]
    fn steps_are_the_producers() {
        // Source: the producers' schedules: GFS has 209 files a run, GEFS 0.25 degree 81 steps, ECMWF's oper and wave 85
        // at 00 and 12 UTC and 49 else, AIFS 61 at all cycles, ICON-EU 93 (52 at 03 UTC), ICON-D2 49, EWAM hours 0 to 78.
        let steps = |name: &str, run: &str| feed(name).steps_of_run(instant(run)).len();
        let (midnight, three, six) = (
            "2026-11-24T00:00:00Z",
            "2026-11-24T03:00:00Z",
            "2026-11-24T06:00:00Z",
        );
        for (name, at_midnight, at_six) in [
            ("gfs", 209, 209),
            ("gfs-wave", 209, 209),
            ("gefs", 81, 81),
            ("ecmwf-ifs", 85, 49),
            ("ecmwf-wave", 85, 49),
            ("ecmwf-ens", 49, 49),
            ("ecmwf-aifs", 61, 61),
            ("icon-eu", 93, 93),
            ("icon-eu-native", 93, 93),
            ("icon-d2-native", 49, 49),
            ("ewam", 79, 79),
        ] {
            assert_eq!(
                (steps(name, midnight), steps(name, six)),
                (at_midnight, at_six),
                "{name}"
            );
        }
        assert_eq!(
            (steps("icon-eu", three), steps("icon-eu-native", three)),
            (31, 52)
        );
    }

    #[test]
    fn every_step_lies_in_one_part() {
        // No source: arithmetic of the blocks.
        let runs = [
            "2026-11-24T00:00:00Z",
            "2026-11-24T03:00:00Z",
            "2026-11-24T06:00:00Z",
        ]
        .map(instant);
        for feed in Catalogue::embedded().unwrap().feeds() {
            let parts = 0..feed.part_count();
            let joined: Vec<Step> = parts.flat_map(|part| feed.steps_of_part(part)).collect();
            assert_eq!(joined, feed.all_steps(), "{}", feed.name);
            for run in runs {
                let parts = 0..feed.part_count_of_run(run);
                let joined: Vec<Step> = parts.flat_map(|part| feed.steps_of_run_part(run, part)).collect();
                assert_eq!(joined, feed.steps_of_run(run), "{}", feed.name);
            }
        }
        assert_eq!(feed("gefs").steps_of_part(0), [0, 3, 6, 9, 12].map(Step));
        assert_eq!(feed("gefs").steps_of_part(1), [15, 18, 21, 24].map(Step));
        let ifs = feed("ecmwf-ifs");
        assert_eq!(
            (ifs.part_count_of_run(runs[0]), ifs.part_count_of_run(runs[2])),
            (30, 12)
        );
        assert!(ifs.steps_of_run_part(runs[2], 12).is_empty());
    }

    fn runs(name: &str, now: &str) -> Vec<DateTime<Utc>> {
        feed(name).runs_out_at(instant(now), TimeDelta::hours(14))
    }

    #[test]
    fn runs_are_looked_for_once_they_are_usually_out() {
        // No source: 06 UTC plus the catalogue's 3 h 30 min is 09:30.
        let at = |times: &[&str]| times.iter().map(|time| instant(time)).collect::<Vec<_>>();
        assert_eq!(
            runs("gfs", "2030-05-13T09:29:59.5Z"),
            at(&["2030-05-13T00:00:00Z"])
        );
        assert_eq!(
            runs("gfs", "2030-05-13T09:30:00Z"),
            at(&["2030-05-13T06:00:00Z", "2030-05-13T00:00:00Z"])
        );
    }

    #[test]
    fn a_short_run_may_be_out_sooner() {
        // Source: ECMWF's main runs appear about 7 h 34 min after their reference time, the 06 UTC run after 6 h 27 min.
        let at = |times: &[&str]| times.iter().map(|time| instant(time)).collect::<Vec<_>>();
        assert_eq!(
            runs("ecmwf-ifs", "2030-05-13T12:26:00Z"),
            at(&["2030-05-13T00:00:00Z"])
        );
        assert_eq!(
            runs("ecmwf-ifs", "2030-05-13T12:27:00Z"),
            at(&["2030-05-13T06:00:00Z", "2030-05-13T00:00:00Z"])
        );
        let newest = |now| runs("ecmwf-ifs", now).first().copied();
        assert_eq!(
            newest("2030-05-13T19:33:00Z"),
            Some(instant("2030-05-13T06:00:00Z"))
        );
        assert_eq!(
            newest("2030-05-13T19:34:00Z"),
            Some(instant("2030-05-13T12:00:00Z"))
        );
    }

    #[test]
    fn buckets_restart_every_six_hours() {
        // Source: NOAA index lines of accumulated rain: 6-7, 24-30 and 18-24 hour.
        let starts = [1, 6, 7, 24, 30, 123].map(|step| feed("gfs").bucket_start(Step(step)));
        assert_eq!(starts, [0, 0, 6, 18, 24, 120]);
    }
}
