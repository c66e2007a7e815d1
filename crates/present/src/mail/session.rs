//! A session in a mail: in full, or in a few lines for a later day.
//!
//! Owns: which of an advisory's words a mail has, in which order. Must not know: how they are set, whom they are sent to.

use super::letter::{Block, Look};
use super::pictures::Pictures;
use super::{MailLinks, MailPicture};
use crate::orders::{Kind, Order, orders};
use crate::shown::{Shown, beside_the_count, decides, passed, reason_notes};
use crate::wording::{ended, from_to, rest_of_sentence, session_line, span};
use crate::{card, chart};
use advisory::document::{CallWord, Reason};

/// Charts in one mail, at most: each has some 50 kB.
const CHARTS: usize = 3;
/// Things not known that a mail names; the session's page has all.
const NOT_KNOWN: usize = 3;

/// The pictures of one mail as they come to be needed.
pub(super) struct Shows<'a> {
    pub kept: &'a Pictures,
    pub pictures: Vec<MailPicture>,
    charts: usize,
}

impl<'a> Shows<'a> {
    pub fn new(kept: &'a Pictures) -> Self {
        Self {
            kept,
            pictures: Vec::new(),
            charts: 0,
        }
    }

    /// The Content-ID of a call's mark; none if there is no picture of it, as its word stands beside it.
    fn mark(&mut self, call: CallWord) -> Option<String> {
        let name = match call {
            CallWord::Go => "go",
            CallWord::Marginal => "marginal",
            CallWord::NoGo => "no-go",
            CallWord::NoCall => "no-call",
        };
        // The same octets under the same name in every mail (RFC 2045, section 7).
        let id = format!("mark-{name}@cringle");
        if self.pictures.iter().all(|picture| picture.id != id) {
            self.pictures.push(MailPicture {
                id: id.clone(),
                file_name: format!("{name}.png"),
                png: self.kept.mark(call)?,
            });
        }
        Some(id)
    }

    /// The Content-ID of a session's chart, if it has one and the mail is not full.
    fn chart(&mut self, shown: Shown<'_>) -> Option<String> {
        if self.charts == CHARTS {
            return None;
        }
        let png = self.kept.chart(shown)?;
        self.charts += 1;
        let number = self.charts;
        let advisory: String = shown
            .advisory
            .id
            .chars()
            .filter(char::is_ascii_alphanumeric)
            .collect();
        let id = format!("wind-{number}-{advisory}@cringle");
        self.pictures.push(MailPicture {
            id: id.clone(),
            file_name: format!("wind-{number}.png"),
            png,
        });
        Some(id)
    }
}

/// The session in full. What is old has its words and the club's decision, and nothing to go by.
pub(super) fn in_full(shown: Shown<'_>, links: &MailLinks<'_>, shows: &mut Shows<'_>) -> Vec<Block> {
    let session = &shown.advisory.session;
    let mut blocks = vec![Block::Call {
        mark: shows.mark(shown.mark()),
        call: call(shown),
        who: session_line(session),
        when: from_to(session.leaves, session.alongside),
    }];
    // What the club has decided comes before the call is explained: nobody plans by a session that is off.
    let (decided, others): (Vec<_>, Vec<_>) = orders(shown)
        .into_iter()
        .partition(|order| order.kind == Kind::Decision { made: true });
    blocks.extend(decided.into_iter().map(fact));
    let explained = explained(shown);
    let said = |order: &Order<'_>| order.kind == Kind::Stops && explained.contains(&order.title);
    let others = others.into_iter().filter(|order| !said(order)).map(fact);
    blocks.push(Block::Lead(explained.clone()));
    if !shown.old && !shown.advisory.wind_words.is_empty() {
        blocks.push(Block::Words(ended(&shown.advisory.wind_words)));
    }
    blocks.extend(others);
    if !shown.old {
        blocks.push(how_sure(shown));
        why(shown, &mut blocks);
        not_known(shown, &mut blocks);
        cautions(shown, &mut blocks);
    }
    blocks.extend(shows.chart(shown).map(|id| Block::Chart {
        id,
        words: chart::described(shown),
    }));
    blocks.push(Block::Words(card::valid(shown)));
    blocks.extend(page(
        shown,
        links,
        "The session’s page, as it stands when you look",
    ));
    blocks
}

/// The session in a few lines: the call, whom it is for, what to leave with or what stands against it, what is decided.
pub(super) fn in_short(shown: Shown<'_>, links: &MailLinks<'_>, shows: &mut Shows<'_>) -> Vec<Block> {
    let session = &shown.advisory.session;
    let mut lines = vec![card::line(shown)];
    let decides = decides(shown);
    if shown.decision.is_some() {
        lines.push(ended(&format!("{} {}", decides.before, decides.in_line())));
    }
    let row = Block::Row {
        mark: shows.mark(shown.mark()),
        call: call(shown),
        who: session_line(session),
        when: from_to(session.leaves, session.alongside),
        lines,
    };
    std::iter::once(row)
        .chain(page(shown, links, "Its page"))
        .collect()
}

/// The call explained, each reason in few words: all of them follow, with what they were held against.
fn explained(shown: Shown<'_>) -> String {
    let told = |reason: &&Reason| !shown.old && !reason.words.is_empty();
    let reasons = shown.advisory.reasons.iter().filter(told);
    reasons.fold(shown.explained(), |words, reason| {
        words.replace(&ended(&reason.words), &ended(&reason.short))
    })
}

/// "Go, light".
pub(super) fn call(shown: Shown<'_>) -> String {
    let light = if shown.light() { ", light" } else { "" };
    format!("{}{light}", shown.words())
}

fn fact(order: Order<'_>) -> Block {
    let look = match order.kind {
        Kind::Plan | Kind::Stops => Look::Plain,
        Kind::WayOut => Look::Binds,
        Kind::Decision { made: true } => Look::Stamp,
        Kind::Decision { made: false } => Look::Undecided,
    };
    let rest = match (order.kind, order.words.as_str()) {
        (_, "") => String::new(),
        (Kind::WayOut, words) => format!(", {}", ended(words)),
        (_, words) if words.starts_with('(') => format!(" {words}"),
        (_, words) => format!(": {words}"),
    };
    Block::Fact {
        look,
        name: order.name,
        title: order.title,
        rest,
    }
}

fn how_sure(shown: Shown<'_>) -> Block {
    let advisory = shown.advisory;
    let words = std::iter::once(ended(&advisory.sureness.words)).chain(beside_the_count(advisory));
    Block::Fact {
        look: Look::Plain,
        name: "How sure".to_owned(),
        title: advisory.firmness.words().to_owned(),
        rest: format!(". {}", words.collect::<Vec<_>>().join(" ")),
    }
}

fn why(shown: Shown<'_>, blocks: &mut Vec<Block>) {
    blocks.push(Block::Section("Why"));
    let reasons = &shown.advisory.reasons;
    blocks.extend(reasons.iter().map(|reason| Block::Item {
        when: passed(reason),
        title: String::new(),
        rest: ended(&reason.words),
        note: reason_notes(reason).unwrap_or_default(),
    }));
    if reasons.is_empty() {
        blocks.push(Block::Words(shown.without_reasons().to_owned()));
    }
}

fn not_known(shown: Shown<'_>, blocks: &mut Vec<Block>) {
    let missing = &shown.advisory.missing;
    if missing.is_empty() {
        return;
    }
    blocks.push(Block::Section("What is not known"));
    blocks.extend(missing.iter().take(NOT_KNOWN).map(|missing| Block::Item {
        when: span(missing.span),
        title: String::new(),
        rest: ended(&missing.words),
        note: String::new(),
    }));
    if missing.len() > NOT_KNOWN {
        let more = missing.len() - NOT_KNOWN;
        blocks.push(Block::Words(format!("And {more} more, on the session’s page.")));
    }
}

/// Who does not leave needs none of them.
fn cautions(shown: Shown<'_>, blocks: &mut Vec<Block>) {
    if !matches!(shown.mark(), CallWord::Go | CallWord::Marginal) {
        return;
    }
    blocks.push(Block::Section("Cautions"));
    let cautions = &shown.advisory.cautions;
    blocks.extend(cautions.iter().map(|caution| Block::Item {
        when: caution.when.clone(),
        title: caution.title.clone(),
        rest: rest_of_sentence(&caution.words),
        note: String::new(),
    }));
    if cautions.is_empty() {
        blocks.push(Block::Words("None from the rules.".to_owned()));
    }
}

fn page(shown: Shown<'_>, links: &MailLinks<'_>, words: &str) -> Option<Block> {
    links.public.map(|public| Block::Link {
        words: words.to_owned(),
        address: public.session(&shown.advisory.session.id),
    })
}
