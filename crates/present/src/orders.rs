//! The facts under a call, in the order they are read: what to leave with and what changes when, or what stops it; the way
//! out; what the club decided or when it decides.
//!
//! Must not know: how a fact is set.

use crate::shown::{Shown, decides};
use crate::wording::{clock, ended};
use advisory::document::{CallWord, Sail};

/// One fact.
pub(crate) struct Order<'a> {
    pub kind: Kind,
    /// "From 15:00".
    pub name: String,
    /// What is set, where it says so.
    pub sail: Option<&'a Sail>,
    /// The words that count: "2 reefs, ½ headsail".
    pub title: String,
    /// The rest, or nothing.
    pub words: String,
}

/// What a fact is about.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Plan,
    Stops,
    WayOut,
    /// The club's decision, or when it is due.
    Decision {
        made: bool,
    },
}

/// The facts, as they may be shown now.
pub(crate) fn orders(shown: Shown<'_>) -> Vec<Order<'_>> {
    let mut orders = plan(shown);
    if orders.is_empty() && shown.mark() == CallWord::NoGo {
        let stops = shown.advisory.reasons.first().map(|reason| ended(&reason.short));
        orders.extend(stops.map(|words| fact(Kind::Stops, "What stops it", words, String::new())));
    }
    if let Some(way_out) = shown.way_out() {
        let title = way_out.title.trim_end_matches(',').to_owned();
        orders.push(fact(Kind::WayOut, "Way out", title, way_out.words.clone()));
    }
    let decides = decides(shown);
    let kind = Kind::Decision {
        made: shown.decision.is_some(),
    };
    let more = decides.more.unwrap_or_default();
    orders.push(fact(kind, decides.before, decides.word, more));
    orders
}

fn plan(shown: Shown<'_>) -> Vec<Order<'_>> {
    let Some(plan) = shown.plan() else {
        return Vec::new();
    };
    let mut orders = vec![carry("Leave with".to_owned(), &plan.leave_with)];
    for change in &plan.changes {
        let what = if change.shaking_out { ", shake out to" } else { "" };
        orders.push(carry(format!("From {}{what}", clock(change.at)), &change.sail));
    }
    if let Some(from) = plan.past_table_from {
        let name = format!("From {}", clock(from));
        let words = "the wind is past her reef table".to_owned();
        orders.push(fact(Kind::Plan, &name, "Not sailed".to_owned(), words));
    }
    orders
}

fn carry(name: String, sail: &Sail) -> Order<'_> {
    Order {
        kind: Kind::Plan,
        name,
        sail: Some(sail),
        title: sail.words.clone(),
        words: sail.note.clone().unwrap_or_default(),
    }
}

fn fact<'a>(kind: Kind, name: &str, title: String, words: String) -> Order<'a> {
    Order {
        kind,
        name: name.to_owned(),
        sail: None,
        title,
        words,
    }
}
