//! A mistake in a club file: where it stands, what was found there and what was expected.
//!
//! Owns: the mistake, the list of all of them, turning byte offsets into line and column, quoting what was found.
//! Must not know: what a club is.

use std::fmt;

/// Longest piece of the file that is quoted back, characters.
const QUOTED_AT_MOST: usize = 60;

/// One thing in a club file that cannot be so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// Path of the key, for example `boats[0].reef_table[2].mean_up_to_kn`; lists count from 0.
    pub key: String,
    /// What stands there.
    pub found: String,
    /// What should.
    pub expected: String,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "line {}, column {}: {}: found {}, expected {}",
            self.line, self.column, self.key, self.found, self.expected
        )
    }
}

/// Every mistake of a club file, in the order of the file; never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistakes(pub Vec<Mistake>);

impl fmt::Display for Mistakes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, mistake) in self.0.iter().enumerate() {
            let before = if index == 0 { "" } else { "\n" };
            write!(f, "{before}{mistake}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Mistakes {}

/// Line and column, both from 1, of a byte offset; columns count characters. An offset past the end is the end.
pub(crate) fn line_and_column(text: &str, offset: usize) -> (u32, u32) {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
    let lines = before.bytes().filter(|byte| *byte == b'\n').count();
    let columns = before[line_start..]
        .chars()
        .filter(|character| *character != '\u{feff}')
        .count();
    (counted_from_one(lines), counted_from_one(columns))
}

fn counted_from_one(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX - 1) + 1
}

/// A piece of the file as it can be printed: one line, short, no control characters that a terminal would obey.
pub(crate) fn quoted(piece: &str) -> String {
    let line = piece.trim().lines().next().unwrap_or("");
    let mut shown: String = line.chars().take(QUOTED_AT_MOST).map(printable).collect();
    if line.chars().nth(QUOTED_AT_MOST).is_some() || piece.trim().len() > line.len() {
        shown.push('…');
    }
    if shown.is_empty() {
        "nothing".to_owned()
    } else {
        shown
    }
}

fn printable(character: char) -> char {
    if is_obeyed_by_terminals(character) {
        '\u{fffd}'
    } else {
        character
    }
}

/// Control characters, and the marks that turn the direction of text: either makes a page or a terminal lie.
pub(crate) fn is_obeyed_by_terminals(character: char) -> bool {
    character.is_control() || matches!(character, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The candidate that is nearest to a word, if it is near enough to be what was meant.
pub(crate) fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    // A word much longer than any key is no misspelling of one, and the distance would be slow to count.
    if word.len() > QUOTED_AT_MOST {
        return None;
    }
    let near_enough = (word.chars().count() / 2).clamp(1, 3);
    candidates
        .into_iter()
        .map(|candidate| (letters_apart(word, candidate), candidate))
        .filter(|(apart, _)| *apart <= near_enough)
        .min_by_key(|(apart, _)| *apart)
        .map(|(_, candidate)| candidate)
}

/// Letters to insert, remove or change to get from one word to the other (Levenshtein's distance).
fn letters_apart(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (index, letter) in one.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = index + 1;
        for column in 0..other.len() {
            let changed = diagonal + usize::from(letter != other[column]);
            diagonal = row[column + 1];
            row[column + 1] = changed.min(diagonal + 1).min(row[column] + 1);
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_and_lines_count_from_one() {
        let text = "a = 1\r\nnäme = 2\nlast";
        assert_eq!(line_and_column(text, 0), (1, 1));
        assert_eq!(line_and_column(text, text.find('=').unwrap()), (1, 3));
        let second = text.rfind('=').unwrap();
        assert_eq!(
            line_and_column(text, second),
            (2, 6),
            "the two bytes of ä are one character"
        );
        assert_eq!(line_and_column(text, 9999), (3, 5));
        assert_eq!(
            line_and_column("\u{feff}a", 3),
            (1, 1),
            "a byte order mark takes no column"
        );
    }

    #[test]
    fn what_is_quoted_is_short_and_obeyed_by_no_terminal() {
        assert_eq!(quoted("\"\u{1b}[2Jx\""), "\"\u{fffd}[2Jx\"");
        assert_eq!(quoted("[\n1,\n]"), "[…");
        assert_eq!(quoted(&"x".repeat(100)).chars().count(), QUOTED_AT_MOST + 1);
        assert_eq!(quoted("  "), "nothing");
    }

    #[test]
    fn a_misspelt_key_finds_its_neighbour() {
        let keys = ["mean_up_to_kn", "gust_up_to_kn", "reefs", "headsail"];
        assert_eq!(nearest("mean_upto_kn", keys), Some("mean_up_to_kn"));
        assert_eq!(nearest("reef", keys), Some("reefs"));
        assert_eq!(nearest("refes", keys), Some("reefs"));
        assert_eq!(nearest("colour", keys), None);
        assert_eq!(letters_apart("kitten", "sitting"), 3);
    }
}
