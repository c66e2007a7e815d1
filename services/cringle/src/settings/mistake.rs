//! A mistake in the settings: where it stands, what was found, what to do. Values that may hold a password are not quoted.
//!
//! Must not know: which settings there are.

use std::fmt;

/// Longest piece that is quoted back, characters.
const QUOTED_AT_MOST: usize = 60;

/// Where a setting was given.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// In the settings file; line and column from 1.
    File {
        /// Line.
        line: usize,
        /// Column, in characters.
        column: usize,
    },
    /// In a variable of the environment.
    Variable(String),
}

/// One thing in the settings that cannot be so.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mistake {
    /// Where.
    pub place: Place,
    /// The key, as `section.key`.
    pub key: String,
    /// What was found and what to do.
    pub words: String,
}

/// Every mistake of the settings, in the order of the file, then of the variables.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistakes {
    /// The name of the settings file, if there is one.
    pub file: Option<String>,
    /// The mistakes; never empty.
    pub all: Vec<Mistake>,
}

impl fmt::Display for Mistakes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let file = self.file.as_deref().unwrap_or("the settings");
        for mistake in &self.all {
            match &mistake.place {
                Place::File { line, column } => write!(f, "{file}:{line}:{column}: ")?,
                Place::Variable(name) => write!(f, "{name}: ")?,
            }
            writeln!(f, "{}: {}", mistake.key, mistake.words)?;
        }
        let (count, noun) = (
            self.all.len(),
            if self.all.len() == 1 {
                "mistake"
            } else {
                "mistakes"
            },
        );
        write!(f, "{file}: {count} {noun}; mend them and run again")
    }
}

impl Place {
    /// The place of an octet of a text.
    pub fn of(text: &str, offset: usize) -> Self {
        let mut end = offset.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &text[..end];
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Self::File {
            line: before.bytes().filter(|octet| *octet == b'\n').count() + 1,
            column: before[start..].chars().count() + 1,
        }
    }
}

/// A value as it can be printed: one line, short, no control characters.
pub fn quoted(value: &toml::Value) -> String {
    let text = value.to_string();
    let mut shown: String = text
        .chars()
        .take(QUOTED_AT_MOST)
        .map(|letter| if letter.is_control() { ' ' } else { letter })
        .collect();
    if text.chars().nth(QUOTED_AT_MOST).is_some() {
        shown.push('…');
    }
    shown
}
