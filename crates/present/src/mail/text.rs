//! The plain part: the same sentences, in lines a screen of a telephone or a terminal can show.
//!
//! Owns: line width, indents, empty lines. A link stands on its own line and is never broken.

use super::letter::Block;
use crate::wording::harmless;
use unicode_width::UnicodeWidthStr;

/// Widest line, columns: replies that quote it stay within 78 (RFC 5322, section 2.1.1).
const COLUMNS: usize = 72;

/// The text, each line ended by a line feed.
pub(super) fn part(club: &str, blocks: &[Block]) -> String {
    let mut lines = wrapped("", "", club);
    let mut before: Option<&Block> = None;
    for block in blocks {
        if !runs_on(before, block) {
            lines.push(String::new());
        }
        lines.extend(of(block));
        before = Some(block);
    }
    lines.iter().map(|line| harmless(line) + "\n").collect()
}

/// Facts and lines of a list follow each other without an empty line; a list follows its heading so.
fn runs_on(before: Option<&Block>, block: &Block) -> bool {
    matches!(
        (before, block),
        (Some(Block::Fact { .. }), Block::Fact { .. })
            | (Some(Block::Item { .. } | Block::Section(_)), Block::Item { .. })
            | (Some(Block::Section(_)), Block::Words(_))
            | (Some(Block::Link { .. }), Block::Link { .. })
            | (Some(Block::Row { .. }), Block::Link { .. })
            // Nothing of it is seen here.
            | (_, Block::Chart { .. })
    )
}

fn of(block: &Block) -> Vec<String> {
    match block {
        Block::Title(words) | Block::Day(words) | Block::Lead(words) | Block::Words(words) => {
            wrapped("", "", words)
        }
        Block::Section(words) => wrapped("", "", words),
        Block::Small(first, rest) => wrapped("", "", &format!("{first} {rest}")),
        Block::Call { call, who, when, .. } => {
            let rule = "=".repeat(call.width());
            [call.clone(), rule]
                .into_iter()
                .chain(wrapped("", "", who))
                .chain(wrapped("", "", when))
                .collect()
        }
        Block::Row {
            call,
            who,
            when,
            lines,
            ..
        } => {
            let words = [who, when].into_iter().chain(lines);
            std::iter::once(call.clone())
                .chain(words.flat_map(|words| wrapped("  ", "  ", words)))
                .collect()
        }
        Block::Fact {
            name, title, rest, ..
        } => wrapped("", "  ", &format!("{name}: {title}{rest}")),
        Block::Item {
            when,
            title,
            rest,
            note,
        } => {
            let when = if when.is_empty() {
                String::new()
            } else {
                format!("{when}: ")
            };
            wrapped("- ", "  ", &format!("{when}{title}{rest} {note}"))
        }
        Block::Link { words, address } => {
            let mut lines = wrapped("", "", &format!("{words}:"));
            lines.push(format!("  {address}"));
            lines
        }
        // For who does not see the chart there are the sentences around it.
        Block::Chart { .. } => Vec::new(),
        Block::Foot => vec!["--------".to_owned()],
    }
}

/// Words in lines, the first after one head and the others after another. A word that is wider than a line stays whole: it may
/// be an address.
fn wrapped(first: &str, others: &str, words: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = first.to_owned();
    let mut empty = true;
    for word in words.split_whitespace() {
        if !empty && line.width() + 1 + word.width() > COLUMNS {
            lines.push(std::mem::replace(&mut line, others.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_never_inside_one() {
        let address = format!("https://sailing.example/{}", "a".repeat(80));
        let lines = wrapped("- ", "  ", &format!("{} {address} end", "word ".repeat(20)));
        assert!(lines[0].starts_with("- word") && lines[1].starts_with("  word"));
        assert!(lines.contains(&format!("  {address}")) && lines.contains(&"  end".to_owned()));
        assert!(
            lines
                .iter()
                .all(|line| line.width() <= COLUMNS || line.contains(&address))
        );
    }
}
