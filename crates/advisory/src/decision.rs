//! What the club has decided of a session: it stands beside the call and is never made by the program.
//!
//! Must not know: calls, forecasts, where decisions are kept.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

/// Characters of a name or note, at most.
pub const WORDS_AT_MOST: usize = 200;

/// What was decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Decided {
    /// The session is on.
    On,
    /// The session is off.
    Off,
    /// The session is moved; the note says to when or where.
    Moved,
}

impl Decided {
    /// In one word.
    pub fn word(self) -> &'static str {
        match self {
            Self::On => "on",
            Self::Off => "off",
            Self::Moved => "moved",
        }
    }
}

/// A decision, as it was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Decision {
    /// The session, as its advisory names it.
    pub session: String,
    /// What was decided.
    pub decided: Decided,
    /// Who decided.
    pub by: String,
    /// When.
    pub at: DateTime<Utc>,
    /// A note for the crew; to when or where the session is moved.
    pub note: Option<String>,
}

/// Why something is no decision that can be kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{words}")]
pub struct NoDecision {
    /// The member of the decision that is wrong.
    pub field: &'static str,
    /// What it should be.
    pub words: String,
}

impl Decision {
    /// The decision with its words made fit to be kept and shown: one line each, no control characters.
    ///
    /// # Errors
    /// [`NoDecision`]: nobody decided, a move says not where to, or something is too long.
    pub fn checked(self) -> Result<Self, NoDecision> {
        let plain = |words: &str| -> String {
            let letters = words
                .chars()
                .map(|letter| if letter.is_control() { ' ' } else { letter });
            letters.collect::<String>().trim().to_owned()
        };
        let by = plain(&self.by);
        let note = self.note.as_deref().map(plain).filter(|note| !note.is_empty());
        let long = |words: &str| words.chars().count() > WORDS_AT_MOST;
        let wrong = |field, words: &str| {
            let words = words.to_owned();
            Err(NoDecision { field, words })
        };
        if by.is_empty() {
            return wrong("by", "who decides? A name or initials are needed");
        }
        if long(&by) {
            return wrong("by", &format!("a name has {WORDS_AT_MOST} characters at most"));
        }
        if note.as_deref().is_some_and(long) {
            return wrong("note", &format!("a note has {WORDS_AT_MOST} characters at most"));
        }
        if self.decided == Decided::Moved && note.is_none() {
            return wrong(
                "note",
                "a session that is moved needs a note that says to when or where",
            );
        }
        Ok(Self { by, note, ..self })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decision(decided: Decided, by: &str, note: Option<&str>) -> Decision {
        Decision {
            session: "tuesday@2030-05-14T10:00".into(),
            decided,
            by: by.into(),
            at: DateTime::UNIX_EPOCH,
            note: note.map(str::to_owned),
        }
    }

    // No source: the project's own rules.
    #[test]
    fn a_decision_has_somebody_who_made_it_and_a_move_says_where_to() {
        let checked = decision(Decided::On, " A.\tB.\u{1b} ", Some(" \n"))
            .checked()
            .unwrap();
        assert_eq!((checked.by.as_str(), checked.note), ("A. B.", None));
        assert!(
            decision(Decided::On, "\u{7}", None)
                .checked()
                .unwrap_err()
                .words
                .contains("who decides")
        );
        assert!(
            decision(Decided::Moved, "A.", None)
                .checked()
                .unwrap_err()
                .words
                .contains("to when")
        );
        assert!(
            decision(Decided::Moved, "A.", Some("Thursday 14:00"))
                .checked()
                .is_ok()
        );
        let long = "x".repeat(201);
        let field = |by: &str, note| decision(Decided::Off, by, note).checked().unwrap_err().field;
        assert_eq!((field("A.", Some(&long)), field(&long, None)), ("note", "by"));
    }
}
