//! The answer in words for a terminal.
//!
//! Owns: the sentences. Must not know: limits, how anything was judged.

use super::answer::{Answer, Floors, Missing};
use super::judged::Question;
use advisory::words::{hour_minute, per_cent, sail};
use forecast::Gap;
use present::terminal::paragraph;
use rules::{Call, Firmness};
use std::fmt::Write;

/// All of it.
pub fn in_words(question: &Question<'_>, answer: &Answer) -> String {
    let mut text = format!(
        "Supposed conditions: nothing here is a forecast.\n{}, {}, {}\n{}, {} to {}\n\n{}{} ({})\n",
        question.boat.name,
        question.level.name,
        question.venue.name,
        answer.leaves.format("%a %-d %b %Y"),
        hour_minute(answer.leaves),
        hour_minute(answer.alongside),
        call_words(answer.call),
        if answer.light { ", light" } else { "" },
        firmness_words(answer.firmness),
    );
    tell_plan(&mut text, answer);
    for why in &answer.reasons {
        text += &paragraph("  ", &why.words);
    }
    for missing in &answer.missing {
        text += &paragraph("  ", &missing_words(missing));
    }
    for caution in &answer.cautions {
        text += &paragraph("  ", &caution.words);
    }
    if let Some(found) = &answer.way_out {
        text += &paragraph("  Way out: ", &found.words);
    }
    tell_ground(&mut text, answer);
    text
}

fn tell_plan(text: &mut String, answer: &Answer) {
    for (index, step) in answer.plan.iter().enumerate() {
        let when = if index == 0 {
            "Leave with".to_owned()
        } else {
            format!("From {}", hour_minute(step.from))
        };
        let _ = writeln!(text, "{when}: {}", sail(step.reefs, step.headsail));
    }
    if let Some(from) = answer.past_table_from {
        let _ = writeln!(text, "From {}: past the boat's table", hour_minute(from));
    } else if answer.plan.is_empty() {
        *text += "No sail plan: the wind on leaving is not known.\n";
    }
}

fn tell_ground(text: &mut String, answer: &Answer) {
    *text += "\n";
    if let (Some(no_go), Some(worse)) = (answer.p_no_go, answer.p_marginal_or_worse) {
        let _ = writeln!(
            text,
            "No-go {}, marginal or worse {}, floors of spread included.",
            per_cent(no_go),
            per_cent(worse)
        );
    }
    let _ = writeln!(text, "{}", floor_words(&answer.floors));
    let _ = writeln!(text, "Gusts: {}.", answer.gusts);
    *text += "Firmness as of a forecast made an hour before the first row.\n";
    if !answer.not_judged.is_empty() {
        *text += "Read, but no rule looks at it:\n";
        for column in &answer.not_judged {
            let _ = writeln!(text, "  {}: {}", column.column, column.why);
        }
    }
    let _ = writeln!(
        text,
        "Official warnings were not checked.\n{}",
        advisory::make::CAUTION_TO_ALL.replace(". ", ".\n")
    );
}

/// What a call is called.
fn call_words(call: Call) -> &'static str {
    match call {
        Call::Go => "Go",
        Call::Marginal => "Marginal",
        Call::NoCall => "No call",
        Call::NoGo => "No-go",
    }
}

fn firmness_words(firmness: Firmness) -> &'static str {
    match firmness {
        Firmness::Firm => "firm",
        Firmness::Likely => "likely",
        Firmness::EarlyView => "early view",
    }
}

fn missing_words(missing: &Missing) -> String {
    let why = match missing.reason {
        Gap::NotInFeed => "no such column",
        Gap::NotThere => "an empty cell, or no row",
        Gap::BeyondRun => "after the last row",
        other => other.words(),
    };
    let (from, to) = (hour_minute(missing.from), hour_minute(missing.to));
    let members = match missing.members.len() {
        0 => String::new(),
        1 => format!(", member {}", missing.members[0]),
        several => format!(", {several} members"),
    };
    format!("Not known: {}, {from} to {to}{members}: {why}", missing.name)
}

fn floor_words(floors: &Floors) -> String {
    let Floors {
        members,
        speed_kn,
        added_kn,
        timing_h,
    } = floors;
    if *members == 1 {
        return format!(
            "One run alone has no spread but the floors', as in an advisory:\n{speed_kn} kn either way, changes {timing_h} h early or late."
        );
    }
    format!(
        "{members} members; to their own spread the floors add up to {added_kn} kn (the floor\nis {speed_kn} kn), and changes come {timing_h} h early or late."
    )
}
