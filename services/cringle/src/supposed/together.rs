//! What no cell of supposed hours alone can show to be wrong.
//!
//! Owns: the checks of several cells together. Must not know: how cells are read, limits.

use super::read::{Head, MEMBERS_AT_MOST, Reading, whole};
use super::{Column, Hour};
use chrono::TimeDelta;
use std::collections::BTreeSet;

/// Longest span of a file: no forecast is asked for more.
const SPAN_AT_MOST: TimeDelta = TimeDelta::days(16);
/// What a stream without its other half should have.
const STREAM_IN_FULL: &str = "stream_kn and stream_to_deg together: a stream has a rate and a set";

impl Reading {
    /// What no cell alone can show.
    pub(super) fn check_together(&mut self) {
        let time = self.place(Head::Time).unwrap_or(0);
        let Some(first) = self.hours.keys().map(|(_, at)| *at).min() else {
            if self.mistakes.is_empty() {
                self.mistakes.push(whole("no row", "a row for each hour"));
            }
            return;
        };
        let apart: Vec<(u64, &str, &str)> = self
            .hours
            .iter()
            .filter_map(|((_, at), hour)| {
                let after = *at - first;
                if after > SPAN_AT_MOST {
                    let found = "a time more than 16 days after the first";
                    return Some((hour.line, found, "hours within 16 days"));
                }
                let whole = TimeDelta::hours(after.num_hours()) == after;
                let expected = "times that lie whole hours apart, as the steps of a run do";
                (!whole).then_some((hour.line, "a part of an hour after the first time", expected))
            })
            .collect();
        for (line, found, expected) in apart {
            self.wrong(line, time, found, expected);
        }
        let members: BTreeSet<u16> = self.hours.keys().map(|(member, _)| *member).collect();
        if members.len() > MEMBERS_AT_MOST {
            let found = format!("{} members", members.len());
            self.mistakes
                .push(whole(&found, &format!("at most {MEMBERS_AT_MOST}")));
        }
        self.check_gusts();
        self.check_streams();
    }

    /// A run gives its gusts in one way: all of the moment, or all as maxima.
    fn check_gusts(&mut self) {
        let is_maximum = |hour: &Hour| hour.get(Column::GustOver).is_some();
        if !self.hours.values().any(is_maximum) {
            return;
        }
        let of_the_moment: Vec<u64> = self
            .hours
            .values()
            .filter(|hour| hour.get(Column::Gust).is_some() && !is_maximum(hour))
            .map(|hour| hour.line)
            .collect();
        let index = self.place(Head::Value(Column::GustOver)).unwrap_or(0);
        for line in of_the_moment {
            let expected = "the hours of this gust too, as other rows give theirs";
            self.wrong(line, index, "nothing", expected);
        }
    }

    /// A stream is its rate and where it sets: one without the other is a mistake. Both missing is a missing stream.
    fn check_streams(&mut self) {
        let pair = [Column::Stream, Column::StreamTo];
        let place = |reading: &Self, column| reading.place(Head::Value(column));
        for (one, other) in [(pair[0], pair[1]), (pair[1], pair[0])] {
            if let (Some(index), None) = (place(self, one), place(self, other)) {
                self.wrong(self.header_line, index, "one column alone", STREAM_IN_FULL);
                return;
            }
        }
        let halves: Vec<(u64, Column)> = self
            .hours
            .values()
            .filter_map(|hour| {
                let empty = |column: &Column| hour.get(*column).is_none();
                let lacking: Vec<Column> = pair.into_iter().filter(empty).collect();
                (lacking.len() == 1).then(|| (hour.line, lacking[0]))
            })
            .collect();
        for (line, lacking) in halves {
            let index = place(self, lacking).unwrap_or(0);
            self.wrong(line, index, "nothing", STREAM_IN_FULL);
        }
    }
}
