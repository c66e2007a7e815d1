//! The board in the terminal: a block of two to four lines a session, under its day.

use super::Style;
use super::sheet::{Dress, Sheet, shape};
use crate::credit::{attributions, runs_line};
use crate::shown::{Shown, decides};
use crate::wording::{day_clock, day_long, ended, from_to};
use advisory::document::Advisory;

/// The board.
pub(super) fn text(ordered: &[Shown<'_>], style: Style) -> String {
    let mut sheet = Sheet::new(style);
    let Some(first) = ordered.first() else {
        sheet.words(
            0,
            "No session is on the board: no advisory has been issued for the days ahead.",
        );
        return sheet.finish();
    };
    let venue = only_venue(ordered);
    let club = &first.advisory.club.name;
    let title = venue.map_or_else(|| club.clone(), |venue| format!("{club}, {venue}"));
    sheet.line(&title, Some(Dress::Bold));
    for day in ordered.chunk_by(|one, next| one.date() == next.date()) {
        sheet.heading(&day_long(day[0].advisory.session.leaves));
        for (index, shown) in day.iter().enumerate() {
            if index > 0 {
                sheet.empty();
            }
            block(&mut sheet, *shown, venue.is_none());
        }
    }
    foot(&mut sheet, ordered);
    sheet.finish()
}

/// The venue, if all sessions share one.
fn only_venue<'a>(ordered: &[Shown<'a>]) -> Option<&'a str> {
    let mut venues = ordered
        .iter()
        .map(|shown| shown.advisory.session.venue.name.as_str());
    let first = venues.next()?;
    venues.all(|venue| venue == first).then_some(first)
}

fn block(sheet: &mut Sheet, shown: Shown<'_>, with_venue: bool) {
    let session = &shown.advisory.session;
    let light = if shown.light() { ", light" } else { "" };
    let call = format!("{} {}{light}", shape(shown.mark()), shown.words());
    let sure = if shown.old {
        String::new()
    } else {
        format!(" ({})", shown.advisory.firmness.words())
    };
    let venue = if with_venue {
        format!(", {}", session.venue.name)
    } else {
        String::new()
    };
    let who = format!(
        "{} {}, {}{venue}{sure} [{}]",
        from_to(session.leaves, session.alongside),
        session.boat.name,
        session.level.name,
        session.id
    );
    sheet.hanging(&format!("{call:<18}"), Some(Dress::Bold), &who);
    if shown.decision.is_some() {
        let decided = decides(shown);
        let head = format!("    {} ", decided.before);
        sheet.hanging(&head, Some(Dress::Bold), &ended(&decided.in_line()));
    }
    sheet.words(4, &shown.board_sentence());
    if let Some(plan) = shown.plan_sentence() {
        sheet.hanging("    Leave with ", Some(Dress::Bold), &plan);
    }
    if let Some(words) = shown.way_out_words() {
        sheet.hanging("    Way out: ", Some(Dress::Binds), &words);
    }
}

fn foot(sheet: &mut Sheet, ordered: &[Shown<'_>]) {
    sheet.empty();
    let advisories = ordered.iter().map(|shown| shown.advisory);
    if let Some(valid) = advisories.clone().map(|advisory| advisory.valid_until).min() {
        sheet.words(
            0,
            &format!(
                "The first of these calls is valid until {}. Times are the club's.",
                day_clock(valid)
            ),
        );
    }
    let open = ordered
        .iter()
        .filter(|shown| shown.now <= shown.advisory.decides_by && shown.decision.is_none());
    if let Some(next) = open.min_by_key(|shown| shown.advisory.decides_by) {
        let decides = decides(*next);
        let day = next.advisory.session.leaves.format("%A");
        sheet.words(0, &format!("{} {} for {day}.", decides.before, decides.word));
    }
    let all: Vec<&Advisory> = advisories.clone().collect();
    let credits = runs_line(&all).into_iter().chain(attributions(&all));
    credits.for_each(|line| sheet.words(0, &line));
    if let Some(advisory) = all.first() {
        sheet.words(0, &ended(&advisory.warnings));
        sheet.words(0, &ended(&advisory.caution_to_all));
    }
}
