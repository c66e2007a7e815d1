//! What has changed since the club's hour: what was told, what stands now, and why.
//!
//! Owns: what counts as told, and the sentences that hold old and new against each other.

use super::letter::{Block, Letter, Look};
use super::pictures::Pictures;
use super::session::{Shows, in_full};
use super::subject::{self, call_words};
use super::{MailLinks, Standing, foot};
use crate::shown::{Shown, in_order_of_leaving, reason_notes};
use crate::wording::{day_long, ended, weekday_clock};
use advisory::document::{Advisory, CallWord};
use advisory::{Decided, Decision};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// What somebody was told of a session.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// The call.
    pub call: CallWord,
    /// It was past its `valid_until`: old, and no call.
    pub old: bool,
    /// A go with too little wind to sail much.
    pub light: bool,
    /// The sail plan in words, where one was given: "1 reef, ¾ headsail; from 15:00 2 reefs, ½ headsail."
    pub plan: Option<String>,
    /// What the club had decided.
    pub decision: Option<Decision>,
}

impl Told {
    /// What is told of an advisory at this time, with the last of these decisions that is of its session.
    pub fn of(advisory: &Advisory, decisions: &[Decision], now: DateTime<Utc>) -> Self {
        Self::shown(Shown::at(advisory, now).beside(decisions))
    }

    fn shown(shown: Shown<'_>) -> Self {
        Self {
            call: shown.mark(),
            old: shown.old,
            light: shown.light(),
            plan: shown.plan_sentence(),
            decision: shown.decision.cloned(),
        }
    }

    /// Whether a mail is owed to who was told this: the call or the decision is another. Sail plans move with each run, and
    /// the page has them.
    pub fn differs(&self, now: &Self) -> bool {
        self.call != now.call || self.old != now.old || self.decided() != now.decided()
    }

    /// The same decided again, by whomever, is no other decision.
    fn decided(&self) -> Option<(Decided, Option<&str>)> {
        let decision = self.decision.as_ref()?;
        Some((decision.decided, decision.note.as_deref()))
    }

    fn call(&self) -> String {
        call_words(self.call, self.old, self.light)
    }
}

/// None where there is nothing to say.
pub(super) fn letter(
    standing: Standing<'_>,
    was: &Told,
    links: &MailLinks<'_>,
    pictures: &Pictures,
) -> Option<Letter> {
    let ordered = in_order_of_leaving(standing.advisories, standing.decisions, standing.now);
    let shown = *ordered.first()?;
    let is = Told::shown(shown);
    if !was.differs(&is) {
        return None;
    }
    let mut shows = Shows::new(pictures);
    let mut blocks = vec![Block::Title(format!(
        "Changed: {}",
        day_long(shown.advisory.session.leaves)
    ))];
    blocks.extend(changes(shown, was, &is));
    blocks.extend(in_full(shown, links, &mut shows));
    blocks.extend(foot::of_subscriber(standing, links));
    Some(Letter {
        subject: subject::change(shown, &said(shown, was, &is)),
        club: standing.club.name.clone(),
        blocks,
        pictures: shows.pictures,
    })
}

/// "no-go (was go)"; where the decision has changed, that first: "club decided off (was on); call no-go (was go)".
fn said(shown: Shown<'_>, was: &Told, is: &Told) -> String {
    let call = if was.call() == is.call() {
        is.call()
    } else {
        format!("{} (was {})", is.call(), was.call())
    };
    if was.decision == is.decision {
        return match shown.decision {
            Some(decision) => format!("{call}; club decided {}", decision.decided.word()),
            None => call,
        };
    }
    let before = was.decision.as_ref();
    let before = before.map_or_else(String::new, |before| format!(" (was {})", before.decided.word()));
    let decided = match &is.decision {
        Some(decision) => format!("club decided {}{before}", decision.decided.word()),
        None => format!("club decided nothing{before}"),
    };
    format!("{decided}; call {call}")
}

fn changes(shown: Shown<'_>, was: &Told, is: &Told) -> Vec<Block> {
    let mut blocks = Vec::new();
    if was.decision != is.decision {
        blocks.push(decision(shown, was, is));
    }
    if was.call() != is.call() {
        blocks.push(plain(
            "The call is",
            is.call(),
            format!("; it was {}.", was.call()),
        ));
    }
    if let (Some(before), Some(now)) = (&was.plan, &is.plan)
        && before != now
    {
        let now = now.trim_end_matches('.').to_owned();
        blocks.push(plain("Leave with", now, format!("; it was {before}")));
    }
    if was.call() != is.call() {
        blocks.push(plain("Why", why(shown), String::new()));
    }
    blocks
}

fn plain(name: &str, title: String, rest: String) -> Block {
    Block::Fact {
        look: Look::Plain,
        name: name.to_owned(),
        title,
        rest,
    }
}

fn decision(shown: Shown<'_>, was: &Told, is: &Told) -> Block {
    let at_the_club = |decision: &Decision| decision.at.with_timezone(shown.advisory.decides_by.offset());
    let told = |decision: &Decision| {
        let note = decision
            .note
            .as_ref()
            .map_or_else(String::new, |note| format!(": {note}"));
        format!(
            "{note} ({}, {})",
            decision.by,
            weekday_clock(at_the_club(decision))
        )
    };
    let before = was.decision.as_ref().map_or_else(
        || "; before, nothing was decided.".to_owned(),
        |before| format!("; before it was {}{}.", before.decided.word(), told(before)),
    );
    let (look, title, rest) = match &is.decision {
        Some(decision) => (Look::Stamp, decision.decided.word(), told(decision) + &before),
        None => (Look::Undecided, "nothing", before),
    };
    Block::Fact {
        look,
        name: "The club decided".to_owned(),
        title: title.to_owned(),
        rest,
    }
}

/// The worst reason with its run; without one, what the advisory says of itself.
fn why(shown: Shown<'_>) -> String {
    let reason = shown.advisory.reasons.first().filter(|_| !shown.old);
    reason.map_or_else(
        || shown.explained(),
        |reason| {
            let notes = reason_notes(reason).map_or_else(String::new, |notes| format!(" {notes}"));
            ended(&reason.words) + &notes
        },
    )
}
