//! The ladder in signs: the rows of the reef table as bands, hours across. m mean, G gust, = both, . the spread,
//! ? an hour whose wind or gust is missing. Each sign stands in the band of the row its value asks for.

use super::sheet::{Sheet, fitted};
use crate::chart::{Measure, picked, place};
use crate::wording::{clock, tenth};
use advisory::document::{Advisory, Hour};
use chrono::Timelike;
use std::fmt::Write as _;

const LABEL: usize = 25;
const PLOT: usize = 80 - LABEL - 1;
/// Lines to a band.
const FINE: usize = 2;

/// The columns of the plot.
struct Across<'a> {
    hours: &'a [Hour],
    /// Columns to an hour.
    step: usize,
}

impl Across<'_> {
    fn columns(&self) -> usize {
        self.hours.len() * self.step
    }
}

/// Draws the chart; nothing without hours or table.
pub(super) fn draw(sheet: &mut Sheet, advisory: &Advisory) {
    if advisory.hours.is_empty() || advisory.reef_table.is_empty() {
        return;
    }
    let shown = &advisory.hours[..advisory.hours.len().min(PLOT)];
    let across = Across {
        hours: shown,
        step: (PLOT / shown.len()).min(4),
    };
    sheet.heading(&format!("Wind over {}'s reef table", advisory.session.boat.name));
    past(sheet, advisory, &across);
    for row in (0..advisory.reef_table.len()).rev() {
        rule(sheet, &across);
        band(sheet, advisory, &across, row);
    }
    rule(sheet, &across);
    axis(sheet, advisory, &across);
}

fn past(sheet: &mut Sheet, advisory: &Advisory, across: &Across<'_>) {
    let rows = advisory.reef_table.len() * FINE;
    labelled(
        sheet,
        "past table: not sailed",
        &signs(advisory, across, rows, ' '),
    );
}

fn rule(sheet: &mut Sheet, across: &Across<'_>) {
    sheet.line(
        &format!("{}+{}", "-".repeat(LABEL), "-".repeat(across.columns())),
        None,
    );
}

fn band(sheet: &mut Sheet, advisory: &Advisory, across: &Across<'_>, row: usize) {
    let limits = &advisory.reef_table[row];
    let words = format!(
        "  to {} kn, gusts {}",
        tenth(limits.mean_up_to_kn),
        tenth(limits.gust_up_to_kn)
    );
    labelled(
        sheet,
        &limits.sail.words,
        &signs(advisory, across, row * FINE + 1, ' '),
    );
    labelled(sheet, &words, &signs(advisory, across, row * FINE, ' '));
}

fn labelled(sheet: &mut Sheet, label: &str, plot: &str) {
    sheet.line(&format!("{}|{plot}", fitted(label, LABEL)), None);
}

/// The line of a place in the table: the edge of a row belongs to the row below it.
fn line_of(table_place: f64, rows: usize) -> usize {
    let line = (table_place * FINE as f64).ceil() as usize;
    line.saturating_sub(1).min(rows * FINE)
}

fn signs(advisory: &Advisory, across: &Across<'_>, line: usize, empty: char) -> String {
    let mut plot = String::new();
    for hour in across.hours {
        let before = across.step / 2;
        let sign = sign(advisory, hour, line).unwrap_or(empty);
        let after = across.step - before - 1;
        let _ = write!(plot, "{}{sign}{}", " ".repeat(before), " ".repeat(after));
    }
    plot
}

fn sign(advisory: &Advisory, hour: &Hour, line: usize) -> Option<char> {
    let table = &advisory.reef_table;
    let at =
        |measure, knots: Option<f64>| knots.map(|knots| line_of(place(table, measure, knots), table.len()));
    let (mean, gust) = (at(Measure::Mean, hour.mean_kn), at(Measure::Gust, hour.gust_kn));
    match (mean == Some(line), gust == Some(line)) {
        (true, true) => Some('='),
        (true, false) => Some('m'),
        (false, true) => Some('G'),
        (false, false) if mean.is_none() || gust.is_none() => Some('?'),
        (false, false) => in_the_spread(advisory, hour, line).then_some('.'),
    }
}

fn in_the_spread(advisory: &Advisory, hour: &Hour, line: usize) -> bool {
    let (Some(mean), Some(gust)) = (hour.mean_spread_kn, hour.gust_spread_kn) else {
        return false;
    };
    let table = &advisory.reef_table;
    let low = line_of(picked(table, mean.0, gust.0), table.len());
    let high = line_of(picked(table, mean.1, gust.1), table.len());
    (low..=high).contains(&line)
}

/// The hours, the session in brackets, and what the signs mean.
fn axis(sheet: &mut Sheet, advisory: &Advisory, across: &Across<'_>) {
    let blank = " ".repeat(LABEL + 1);
    let every = 4_usize.div_ceil(across.step);
    let mut names = blank.clone();
    for hour in across.hours.iter().step_by(every) {
        let column = across.step * every;
        let form = if hour.at.minute() == 0 { "%H" } else { ":%M" };
        let _ = write!(names, "{:^column$}", hour.at.format(form).to_string());
    }
    sheet.line(&names, None);
    let session = &advisory.session;
    let mut bracket: Vec<char> = vec![' '; across.columns()];
    let (from, to) = (
        column(across, session.leaves.timestamp()),
        column(across, session.alongside.timestamp()),
    );
    if let Some(inside) = bracket.get_mut(from..=to) {
        inside.fill('=');
    }
    for (at, sign) in [(from, '['), (to, ']')] {
        if let Some(place) = bracket.get_mut(at) {
            *place = sign;
        }
    }
    let times = fitted(
        &format!("leave {}, in {}", clock(session.leaves), clock(session.alongside)),
        LABEL,
    );
    sheet.line(
        &format!("{times} {}", bracket.into_iter().collect::<String>()),
        None,
    );
    let known = advisory
        .hours
        .iter()
        .all(|hour| hour.mean_kn.is_some() && hour.gust_kn.is_some());
    let missing = if known { "" } else { ", ? missing" };
    let spread = match (
        crate::chart::spread_known(advisory),
        crate::chart::spread_floor_only(advisory),
    ) {
        (true, false) => "; . lowest to highest tenth",
        (true, true) => "; . the usual spread, no ensemble",
        (false, _) => "; no spread known",
    };
    sheet.words(LABEL + 1, &format!("m mean, G gust, = both{missing}{spread}"));
}

/// The column of a time, between the columns of the hours it lies between: they need not be an hour apart.
fn column(across: &Across<'_>, seconds: i64) -> usize {
    let times: Vec<i64> = across.hours.iter().map(|hour| hour.at.timestamp()).collect();
    let after = times.partition_point(|time| *time <= seconds);
    let position = match (after.checked_sub(1), times.get(after)) {
        (None, _) => 0.0,
        (Some(last), None) => last as f64,
        (Some(before), Some(next)) => {
            before as f64 + (seconds - times[before]) as f64 / (next - times[before]) as f64
        }
    };
    across.step / 2 + (position * across.step as f64).round() as usize
}
