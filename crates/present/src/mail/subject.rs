//! The subject: when, for whom, the call, and what to leave with or what binds, in one line.

use crate::shown::Shown;
use crate::wording::{cut, day_clock, main_words};
use advisory::Decided;
use advisory::document::{CallWord, WayOut};

/// Longest name of a level, signs: a telephone shows some forty of a subject.
const NAME: usize = 30;

/// "Sat 17 Oct 14:00, Improvers: go, 2 reefs"; the first of several ends with "(and 3 more)".
pub(super) fn digest(sessions: &[Shown<'_>]) -> String {
    let first = sessions.first().map_or_else(String::new, |shown| {
        let said = stands(*shown);
        format!("{}: {said}", about(*shown))
    });
    match sessions.len().saturating_sub(1) {
        0 => first,
        more => format!("{first} (and {more} more)"),
    }
}

/// "Changed: Sat 17 Oct 14:00, Improvers: no-go (was go)".
pub(super) fn change(shown: Shown<'_>, said: &str) -> String {
    format!("Changed: {}: {said}", about(shown))
}

/// "Sat 17 Oct 14:00, Improvers".
fn about(shown: Shown<'_>) -> String {
    let session = &shown.advisory.session;
    format!(
        "{}, {}",
        day_clock(session.leaves),
        cut(&session.level.name, NAME)
    )
}

/// What stands: "go, 2 reefs"; "marginal, back by 14:15"; "club decided off; call go".
fn stands(shown: Shown<'_>) -> String {
    let call = call(shown);
    match shown.decision.map(|decision| decision.decided) {
        None => call + &binds(shown),
        Some(on @ Decided::On) => format!("club decided {}; call {call}{}", on.word(), binds(shown)),
        Some(decided) => format!("club decided {}; call {call}", decided.word()),
    }
}

/// "go", "go, light", "old, no call".
fn call(shown: Shown<'_>) -> String {
    call_words(shown.mark(), shown.old, shown.light())
}

/// The call in the middle of a sentence.
pub(super) fn call_words(call: CallWord, old: bool, light: bool) -> String {
    match (old, light) {
        (true, _) => "old, no call".to_owned(),
        (false, true) => format!("{}, light", call.words().to_lowercase()),
        (false, false) => call.words().to_lowercase(),
    }
}

/// What to leave with; with a marginal that would be better if shorter, by when to be back.
fn binds(shown: Shown<'_>) -> String {
    let shorter = |way_out: &&WayOut| way_out.kind == "shorter" && shown.mark() == CallWord::Marginal;
    let way_out = shown.way_out().filter(shorter);
    if let Some(way_out) = way_out {
        return format!(", {}", lower_first(way_out.title.trim_end_matches(',')));
    }
    let leave_with = shown.plan().map(|plan| main_words(&plan.leave_with));
    leave_with.map_or_else(String::new, |words| format!(", {words}"))
}

fn lower_first(words: &str) -> String {
    let mut signs = words.chars();
    let first = signs.next().map(char::to_lowercase);
    first.into_iter().flatten().chain(signs).collect()
}
