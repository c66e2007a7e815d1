//! What of an advisory may be shown at a given time: the one place that knows when a call is old, and that a plan is
//! given only with a call that lets the boat leave.

use crate::wording::{clock, day_clock, ended, from_to, run_time, weekday_clock};
use advisory::Decision;
use advisory::document::{Advisory, CallWord, LessonFit, Plan, Reason, SourceUse, WayOut};
use advisory::words::per_cent;
use chrono::{DateTime, NaiveDate, Utc};

/// An advisory as it may be shown now.
#[derive(Clone, Copy)]
pub(crate) struct Shown<'a> {
    /// The document.
    pub advisory: &'a Advisory,
    /// Past its `valid_until`.
    pub old: bool,
    /// The time it is.
    pub now: DateTime<Utc>,
    /// What the club decided last.
    pub decision: Option<&'a Decision>,
}

impl<'a> Shown<'a> {
    pub fn at(advisory: &'a Advisory, now: DateTime<Utc>) -> Self {
        Self {
            advisory,
            old: now > advisory.valid_until,
            now,
            decision: None,
        }
    }

    /// With the last of these decisions that is of its session.
    pub fn beside(self, decisions: &'a [Decision]) -> Self {
        let of_session = |decision: &&Decision| decision.session == self.advisory.session.id;
        Self {
            decision: decisions.iter().rev().find(of_session),
            ..self
        }
    }

    /// The call in words.
    pub fn words(self) -> &'static str {
        if self.old {
            "Old: no call"
        } else {
            self.advisory.call.words()
        }
    }

    /// The call whose mark is drawn.
    pub fn mark(self) -> CallWord {
        if self.old {
            CallWord::NoCall
        } else {
            self.advisory.call
        }
    }

    /// A go with too little wind to sail much.
    pub fn light(self) -> bool {
        self.advisory.light && self.mark() == CallWord::Go
    }

    /// One or two sentences that explain the call.
    pub fn explained(self) -> String {
        if self.old {
            format!(
                "This advisory was valid until {}. Look for a newer one before anything is decided; \
                 what this one said is kept as a record.",
                day_clock(self.advisory.valid_until)
            )
        } else {
            ended(&self.advisory.summary)
        }
    }

    /// The sail plan. A boat that is not to leave, or an old advisory, has none to follow.
    pub fn plan(self) -> Option<&'a Plan> {
        match self.mark() {
            CallWord::Go | CallWord::Marginal => self.advisory.plan.as_ref(),
            CallWord::NoGo | CallWord::NoCall => None,
        }
    }

    /// "1 reef, ¾ headsail; from 15:00 2 reefs, ½ headsail."
    pub fn plan_sentence(self) -> Option<String> {
        let plan = self.plan()?;
        let mut parts = vec![plan.leave_with.words.clone()];
        let changes = plan.changes.iter();
        parts.extend(changes.map(|change| format!("from {} {}", clock(change.at), change.sail.words)));
        let past = plan.past_table_from;
        parts.extend(past.map(|from| format!("from {} past the table, not sailed", clock(from))));
        Some(ended(&parts.join("; ")))
    }

    /// The lessons the hours suit, those for light air or the others. A boat that is not to leave, or an old advisory, has none.
    pub fn lessons(self, light_air: bool) -> Vec<&'a LessonFit> {
        match self.mark() {
            CallWord::Go | CallWord::Marginal => {
                let lessons = self.advisory.lessons.iter();
                lessons.filter(|lesson| lesson.light_air == light_air).collect()
            }
            CallWord::NoGo | CallWord::NoCall => Vec::new(),
        }
    }

    /// The way out, while the advisory holds.
    pub fn way_out(self) -> Option<&'a WayOut> {
        if self.old {
            None
        } else {
            self.advisory.way_out.as_ref()
        }
    }

    /// "Back by 14:15, then it is a go."
    pub fn way_out_words(self) -> Option<String> {
        let way_out = self.way_out()?;
        let title = way_out.title.trim_end_matches(',');
        Some(ended(&format!("{title}, {}", way_out.words)))
    }

    /// "Way out: Back by 14:15, then it is a go."
    pub fn way_out_sentence(self) -> Option<String> {
        self.way_out_words().map(|words| format!("Way out: {words}"))
    }

    /// The day it is listed under: that of leaving, at the club.
    pub fn date(self) -> NaiveDate {
        self.advisory.session.leaves.date_naive()
    }

    /// In place of reasons where there is none.
    pub fn without_reasons(self) -> &'static str {
        match self.advisory.call {
            CallWord::NoCall => "No limit is known to be passed, but not all of them could be looked at.",
            CallWord::Go | CallWord::Marginal | CallWord::NoGo => "No limit is passed.",
        }
    }

    /// The sentences of the board: the wind where the boat may leave, and what stands against it.
    pub fn board_sentence(self) -> String {
        let against = self
            .advisory
            .reasons
            .first()
            .map(|reason| ended(&reason.short))
            .unwrap_or_default();
        match self.mark() {
            CallWord::Go if !self.advisory.wind_words.is_empty() => ended(&self.advisory.wind_words),
            CallWord::Marginal if !against.is_empty() => {
                format!("{} {against}", ended(&self.advisory.wind_words))
            }
            CallWord::NoGo if !against.is_empty() => against,
            _ => self.explained(),
        }
    }
}

/// The sessions in order of leaving, then of boat, level and id, so that the same sessions give the same board.
pub(crate) fn in_order_of_leaving<'a>(
    advisories: &'a [Advisory],
    decisions: &'a [Decision],
    now: DateTime<Utc>,
) -> Vec<Shown<'a>> {
    let mut ordered: Vec<_> = advisories
        .iter()
        .map(|advisory| Shown::at(advisory, now).beside(decisions))
        .collect();
    ordered.sort_by(|one, other| {
        let key = |shown: &Shown<'_>| {
            let session = &shown.advisory.session;
            (
                session.leaves,
                session.boat.name.clone(),
                session.level.name.clone(),
                session.id.clone(),
            )
        };
        key(one).cmp(&key(other))
    });
    ordered
}

/// What the club decided, or when it decides.
pub(crate) struct Decides {
    /// What stands before: "The club decided".
    pub before: &'static str,
    /// The one word that counts: "off", or the time it decides by.
    pub word: String,
    /// The note, who and when: "no instructor (A. Keel, Tue 07:10)"; none before the decision.
    pub more: Option<String>,
}

impl Decides {
    /// All but what stands before, in one line: "off: no instructor (A. Keel, Tue 07:10)".
    pub(crate) fn in_line(&self) -> String {
        match &self.more {
            None => self.word.clone(),
            Some(more) if more.starts_with('(') => format!("{} {more}", self.word),
            Some(more) => format!("{}: {more}", self.word),
        }
    }
}

/// What the club decided, by whom and when; or when it decides.
pub(crate) fn decides(shown: Shown<'_>) -> Decides {
    let by = shown.advisory.decides_by;
    let still = |before| Decides {
        before,
        word: weekday_clock(by),
        more: None,
    };
    match shown.decision {
        Some(decision) => {
            let at = weekday_clock(decision.at.with_timezone(by.offset()));
            let note = decision
                .note
                .as_ref()
                .map_or(String::new(), |note| format!("{note} "));
            Decides {
                before: "The club decided",
                word: decision.decided.word().to_owned(),
                more: Some(format!("{note}({}, {at})", decision.by)),
            }
        }
        None if shown.now > by => still("Decision was due"),
        None => still("The club decides by"),
    }
}

/// From when to when a reason's caution is passed: "15:40 to 17:00", or the hour of its value.
pub(crate) fn passed(reason: &Reason) -> String {
    match reason.passed {
        Some(span) if span.from != span.to => from_to(span.from, span.to),
        _ => clock(reason.at),
    }
}

/// Source, run, member and notes behind a reason: "gefs, run of Mon 13 May 00:00 UTC, member 26; gust estimated."
/// None for what no forecast says, as a tide gate.
pub(crate) fn reason_notes(reason: &Reason) -> Option<String> {
    let of_run = reason.source.iter().zip(reason.run);
    let mut notes: Vec<String> = of_run
        .map(|(source, run)| format!("{source}, run of {}", run_time(run)))
        .collect();
    if let (Some(origin), Some(member)) = (notes.first_mut(), reason.member) {
        origin.push_str(&format!(", member {member}"));
    }
    notes.extend(reason.notes.iter().cloned());
    (!notes.is_empty()).then(|| ended(&notes.join("; ")))
}

/// A run in words: "gefs, run of Mon 13 May 00:00 UTC, 31 members; from a node 3 nm offshore."
pub(crate) fn run_words(used: &SourceUse) -> String {
    let mut words = match used.run {
        Some(run) => format!("{}, run of {}", used.source, run_time(run)),
        None => format!("{}: no run", used.source),
    };
    if used.members > 1 {
        words.push_str(&format!(", {} members", used.members));
    }
    for note in &used.notes {
        words.push_str("; ");
        words.push_str(note);
    }
    ended(&words)
}

/// How the call has moved over the last runs: "Over the last runs: no-go 45 % (Mon 13 May 00:00 UTC), then marginal 31 % (06:00 UTC), now marginal 20 %."
pub(crate) fn moved(advisory: &Advisory) -> Option<String> {
    let said = |call: CallWord, p: Option<f64>| match p {
        Some(p) => format!("{}, no-go {}", call.words().to_lowercase(), per_cent(p)),
        None => call.words().to_lowercase(),
    };
    let before: Vec<String> = advisory
        .moved
        .iter()
        .map(|past| format!("{} ({})", said(past.call, past.p_no_go), run_time(past.run)))
        .collect();
    let now = advisory.kinder_forecast.unwrap_or(advisory.call);
    (!before.is_empty()).then(|| {
        format!(
            "Over the last runs: {}; now {}.",
            before.join("; "),
            said(now, advisory.sureness.p_no_go)
        )
    })
}

/// Beside the words of how sure: members set aside, the call of the finest single run, and how the call has moved.
pub(crate) fn beside_the_count(advisory: &Advisory) -> Vec<String> {
    let sureness = &advisory.sureness;
    let aside: Vec<String> = sureness.set_aside.iter().map(u16::to_string).collect();
    let mut lines = Vec::new();
    match aside.as_slice() {
        [] => {}
        [one] => lines.push(format!(
            "Member {one} was set aside: a value it needs is missing."
        )),
        many => lines.push(format!(
            "Members {} were set aside: a value they need is missing.",
            many.join(", ")
        )),
    }
    let single = sureness.deterministic_call.filter(|_| sureness.source.is_some());
    lines.extend(single.map(|call| {
        format!(
            "The finest single run alone says {}.",
            call.words().to_lowercase()
        )
    }));
    lines.extend(moved(advisory));
    lines
}
