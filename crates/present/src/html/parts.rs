//! The sections around the charts: cautions above them, and below why, legs, lessons, what is not known, how sure, forecast runs, what made it stricter.

use crate::marks::{sureness_strokes, tally};
use crate::shown::{Shown, beside_the_count, passed, reason_notes, run_words};
use crate::wording::{LESSONS, clock, ended, rest_of_sentence, span};
use advisory::document::{Advisory, Sureness};

/// One section.
#[derive(Default)]
pub(super) struct Part {
    pub heading: &'static str,
    pub sure: Option<(String, &'static str)>,
    pub tally: Option<String>,
    pub lines: Vec<String>,
    pub items: Vec<Item>,
}

/// A line of a list: when, a bold title, words, and small notes.
pub(super) struct Item {
    pub when: String,
    pub title: String,
    pub words: String,
    pub notes: Vec<String>,
}

/// The sections that have something to say, in order.
pub(super) fn parts(shown: Shown<'_>) -> Vec<Part> {
    let advisory = shown.advisory;
    let mut parts = vec![why(shown)];
    parts.extend((!advisory.legs.is_empty()).then(|| legs(advisory)));
    parts.extend(lessons(shown));
    parts.extend((!advisory.missing.is_empty()).then(|| not_known(advisory)));
    parts.push(how_sure(shown));
    parts.push(runs(advisory));
    parts.extend((!advisory.tightenings.is_empty()).then(|| stricter(advisory)));
    parts
}

fn why(shown: Shown<'_>) -> Part {
    let items = shown.advisory.reasons.iter().map(|reason| Item {
        when: passed(reason),
        title: String::new(),
        words: ended(&reason.words),
        notes: reason_notes(reason).into_iter().collect(),
    });
    with_items("Why", items.collect(), shown.without_reasons())
}

/// What the skipper must see: it stands above the charts.
pub(super) fn cautions(advisory: &Advisory) -> Part {
    let items = advisory.cautions.iter().map(|caution| Item {
        when: caution.when.clone(),
        title: caution.title.clone(),
        words: rest_of_sentence(&caution.words),
        notes: Vec::new(),
    });
    with_items("Cautions", items.collect(), "None from the rules.")
}

fn legs(advisory: &Advisory) -> Part {
    let items = advisory.legs.iter().map(|leg| Item {
        when: clock(leg.at),
        title: leg.title.clone(),
        words: rest_of_sentence(&leg.words),
        notes: Vec::new(),
    });
    with_items("Legs", items.collect(), "")
}

fn lessons(shown: Shown<'_>) -> impl Iterator<Item = Part> + '_ {
    LESSONS.into_iter().filter_map(move |(heading, light_air)| {
        let items: Vec<Item> = shown
            .lessons(light_air)
            .into_iter()
            .map(|lesson| Item {
                when: lesson.words.clone(),
                title: String::new(),
                words: ended(&lesson.name),
                notes: Vec::new(),
            })
            .collect();
        (!items.is_empty()).then(|| with_items(heading, items, ""))
    })
}

fn not_known(advisory: &Advisory) -> Part {
    let items = advisory.missing.iter().map(|missing| Item {
        when: span(missing.span),
        title: String::new(),
        words: ended(&missing.words),
        notes: Vec::new(),
    });
    with_items("What is not known", items.collect(), "")
}

fn how_sure(shown: Shown<'_>) -> Part {
    let Sureness { words, .. } = &shown.advisory.sureness;
    let firmness = shown.advisory.firmness;
    Part {
        heading: "How sure",
        sure: (!shown.old).then(|| (sureness_strokes(firmness), firmness.words())),
        tally: tally(&shown.advisory.sureness),
        lines: std::iter::once(ended(words))
            .chain(beside_the_count(shown.advisory))
            .collect(),
        items: Vec::new(),
    }
}

fn runs(advisory: &Advisory) -> Part {
    let items = advisory.sources.iter().map(|used| Item {
        when: used.used_for.clone(),
        title: String::new(),
        words: run_words(used),
        notes: vec![ended(&used.attribution)],
    });
    with_items("Forecast runs", items.collect(), "No run was at hand.")
}

fn stricter(advisory: &Advisory) -> Part {
    Part {
        heading: "What moved the call",
        lines: advisory
            .tightenings
            .iter()
            .map(|tightening| ended(&tightening.words))
            .collect(),
        ..Part::default()
    }
}

/// A list, or one sentence in its place.
fn with_items(heading: &'static str, items: Vec<Item>, otherwise: &str) -> Part {
    let lines = if items.is_empty() {
        vec![otherwise.to_owned()]
    } else {
        Vec::new()
    };
    Part {
        heading,
        lines,
        items,
        ..Part::default()
    }
}
