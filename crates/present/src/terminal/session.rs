//! One session in the terminal: the call and the plan first, then the chart, the hours, and why.

use super::sheet::{Dress, Sheet, shape};
use super::{Style, chart, hours, windows};
use crate::credit::attributions;
use crate::shown::{Shown, beside_the_count, decides, passed, reason_notes, run_words};
use crate::wording::{
    LESSONS, clock, clock_from, day_clock, day_long, ended, from_to, offset, rest_of_sentence, session_line,
    span,
};
use advisory::Opening;
use advisory::document::Advisory;

/// The session.
pub(super) fn text(shown: Shown<'_>, instead: Option<&[Opening]>, style: Style) -> String {
    let mut sheet = Sheet::new(style);
    head(&mut sheet, shown);
    orders(&mut sheet, shown);
    if let Some(openings) = instead {
        windows::instead(&mut sheet, openings);
    }
    cautions(&mut sheet, shown.advisory);
    chart::draw(&mut sheet, shown.advisory);
    hours::table(&mut sheet, shown.advisory);
    sunset(&mut sheet, shown.advisory);
    why(&mut sheet, shown);
    legs(&mut sheet, shown.advisory);
    lessons(&mut sheet, shown);
    missing(&mut sheet, shown.advisory);
    how_sure(&mut sheet, shown);
    stricter(&mut sheet, shown.advisory);
    runs(&mut sheet, shown.advisory);
    foot(&mut sheet, shown.advisory);
    sheet.finish()
}

fn head(sheet: &mut Sheet, shown: Shown<'_>) {
    let session = &shown.advisory.session;
    let light = if shown.light() { ", light" } else { "" };
    let call = format!("{}  {}{light}", shape(shown.mark()), shown.words());
    sheet.line(&call, Some(Dress::Bold));
    let times = from_to(session.leaves, session.alongside);
    sheet.words(
        0,
        &format!(
            "{}. {}, {times}.",
            session_line(session),
            day_long(session.leaves)
        ),
    );
    sheet.empty();
    sheet.words(0, &shown.explained());
    if !shown.advisory.wind_words.is_empty() {
        sheet.words(0, &ended(&shown.advisory.wind_words));
    }
}

fn orders(sheet: &mut Sheet, shown: Shown<'_>) {
    sheet.empty();
    if let Some(plan) = shown.plan() {
        let note = plan
            .leave_with
            .note
            .as_ref()
            .map(|note| format!(" ({note})"))
            .unwrap_or_default();
        sheet.hanging(
            "Leave with  ",
            Some(Dress::Bold),
            &format!("{}{note}", plan.leave_with.words),
        );
        for change in &plan.changes {
            let head = format!("From {:<7}", clock(change.at));
            let shake = if change.shaking_out { "shake out to " } else { "" };
            sheet.hanging(
                &head,
                Some(Dress::Binds),
                &format!("{shake}{}", change.sail.words),
            );
        }
        if let Some(from) = plan.past_table_from {
            let words = "not sailed: the wind is past her reef table";
            sheet.hanging(&format!("From {:<7}", clock(from)), Some(Dress::Binds), words);
        }
    }
    if let Some(way_out) = shown.way_out() {
        let words = format!("{}, {}", way_out.title.trim_end_matches(','), way_out.words);
        sheet.hanging("Way out     ", Some(Dress::Binds), &ended(&words));
    }
    let decides = decides(shown);
    sheet.words(0, &format!("{} {}.", decides.before, decides.in_line()));
}

fn why(sheet: &mut Sheet, shown: Shown<'_>) {
    sheet.heading("Why");
    for reason in &shown.advisory.reasons {
        sheet.hanging(&format!("  {:<15}", passed(reason)), None, &ended(&reason.words));
        if let Some(notes) = reason_notes(reason) {
            sheet.words(17, &format!("({})", notes.trim_end_matches('.')));
        }
    }
    if shown.advisory.reasons.is_empty() {
        sheet.words(2, shown.without_reasons());
    }
}

fn stricter(sheet: &mut Sheet, advisory: &Advisory) {
    if advisory.tightenings.is_empty() {
        return;
    }
    sheet.heading("What moved the call");
    for tightening in &advisory.tightenings {
        sheet.hanging("  ", None, &ended(&tightening.words));
    }
}

fn cautions(sheet: &mut Sheet, advisory: &Advisory) {
    if advisory.cautions.is_empty() {
        return;
    }
    sheet.heading("Cautions");
    for caution in &advisory.cautions {
        let words = format!("{}{}", caution.title, rest_of_sentence(&caution.words));
        sheet.hanging(&format!("  {:<15}", caution.when), None, &words);
    }
}

fn legs(sheet: &mut Sheet, advisory: &Advisory) {
    if advisory.legs.is_empty() {
        return;
    }
    sheet.heading("Legs");
    for leg in &advisory.legs {
        let words = format!("{}{}", leg.title, rest_of_sentence(&leg.words));
        sheet.hanging(&format!("  {:<15}", clock(leg.at)), None, &words);
    }
}

fn lessons(sheet: &mut Sheet, shown: Shown<'_>) {
    for (heading, light_air) in LESSONS {
        let lessons = shown.lessons(light_air);
        if !lessons.is_empty() {
            sheet.heading(heading);
        }
        for lesson in lessons {
            sheet.hanging(&format!("  {:<14} ", lesson.words), None, &ended(&lesson.name));
        }
    }
}

fn missing(sheet: &mut Sheet, advisory: &Advisory) {
    if advisory.missing.is_empty() {
        return;
    }
    sheet.heading("What is not known");
    for missing in &advisory.missing {
        sheet.hanging(
            &format!("  {:<15}", span(missing.span)),
            None,
            &ended(&missing.words),
        );
    }
}

fn how_sure(sheet: &mut Sheet, shown: Shown<'_>) {
    sheet.heading("How sure");
    let firmness = if shown.old {
        String::new()
    } else {
        format!("{}. ", capital(shown.advisory.firmness.words()))
    };
    sheet.words(2, &format!("{firmness}{}", ended(&shown.advisory.sureness.words)));
    for line in beside_the_count(shown.advisory) {
        sheet.words(2, &line);
    }
}

fn runs(sheet: &mut Sheet, advisory: &Advisory) {
    sheet.heading("Forecast runs");
    for used in &advisory.sources {
        sheet.hanging(&format!("  {:<15}", used.used_for), None, &run_words(used));
    }
    for attribution in attributions(&[advisory]) {
        sheet.words(2, &attribution);
    }
}

fn foot(sheet: &mut Sheet, advisory: &Advisory) {
    sheet.empty();
    sheet.words(
        0,
        &format!(
            "Issued {}, valid until {}. Advisory {}. Times are the club's, {}.",
            day_clock(advisory.issued_at),
            clock_from(advisory.valid_until, advisory.issued_at),
            advisory.id,
            offset(advisory.session.leaves)
        ),
    );
    sheet.words(0, &ended(&advisory.warnings));
    sheet.words(0, &ended(&advisory.caution_to_all));
}

/// When the light goes, where the sun sets.
fn sunset(sheet: &mut Sheet, advisory: &Advisory) {
    if let Some(sets) = advisory.sunset {
        sheet.words(
            2,
            &format!("Sunset {}.", clock_from(sets, advisory.session.leaves)),
        );
    }
}

fn capital(words: &str) -> String {
    let mut signs = words.chars();
    signs
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(signs).collect())
}
