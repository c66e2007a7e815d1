//! Lines of at most 80 columns: wrapping by what a terminal shows, indents, ANSI dress, and foreign text made harmless.

use super::{COLUMNS, Style};
use crate::wording::harmless;
use advisory::document::CallWord;
use unicode_width::UnicodeWidthStr;

/// A text being written.
pub(super) struct Sheet {
    style: Style,
    text: String,
}

/// How words stand out; each only repeats what the words say.
#[derive(Clone, Copy)]
pub(super) enum Dress {
    Bold,
    /// What binds: a limit, a reef due, the way out.
    Binds,
}

impl Sheet {
    pub fn new(style: Style) -> Self {
        Self {
            style,
            text: String::new(),
        }
    }

    /// Adds words wrapped under a head that stands once at the left; following lines hang under the words.
    pub fn hanging(&mut self, head: &str, dress: Option<Dress>, words: &str) {
        let head = harmless(head);
        let indent = head.width();
        let lines = wrapped(&harmless(words), COLUMNS.saturating_sub(indent).max(20));
        for (index, line) in lines.iter().enumerate() {
            if index == 0 {
                let start = head.len() - head.trim_start().len();
                let end = head.trim_end().len();
                let (before, named, after) = (
                    &head[..start],
                    &head[start..end.max(start)],
                    &head[end.max(start)..],
                );
                self.text.push_str(before);
                self.dressed(named, dress);
                self.text.push_str(after);
            } else {
                self.text.push_str(&" ".repeat(indent));
            }
            self.text.push_str(line);
            self.end_line();
        }
    }

    /// Adds words wrapped at an indent.
    pub fn words(&mut self, indent: usize, words: &str) {
        self.hanging(&" ".repeat(indent), None, words);
    }

    /// Adds one line of ready text, cut at the last column.
    pub fn line(&mut self, line: &str, dress: Option<Dress>) {
        self.dressed(&cut_to(&harmless(line), COLUMNS), dress);
        self.end_line();
    }

    /// Adds a heading with an empty line before it.
    pub fn heading(&mut self, words: &str) {
        self.empty();
        self.line(words, Some(Dress::Bold));
    }

    /// Adds an empty line.
    pub fn empty(&mut self) {
        self.text.push('\n');
    }

    fn dressed(&mut self, words: &str, dress: Option<Dress>) {
        let code = match dress {
            Some(Dress::Bold) => "1",
            Some(Dress::Binds) => "1;35",
            None => "",
        };
        if self.style.colour && !code.is_empty() && !words.is_empty() {
            self.text.push_str(&format!("\u{1b}[{code}m{words}\u{1b}[0m"));
        } else {
            self.text.push_str(words);
        }
    }

    /// No line ends in blanks.
    fn end_line(&mut self) {
        let kept = self.text.trim_end_matches(' ').len();
        self.text.truncate(kept);
        self.text.push('\n');
    }

    pub fn finish(self) -> String {
        self.text
    }
}

/// The shape beside the word of a call: piers open with a boat, a dog-leg, closed, cannot be seen.
pub(super) fn shape(call: CallWord) -> &'static str {
    match call {
        CallWord::Go => "|^|",
        CallWord::Marginal => "|/|",
        CallWord::NoGo => "|=|",
        CallWord::NoCall => ": :",
    }
}

/// The text padded with blanks, or cut, to so many columns.
pub(super) fn fitted(text: &str, columns: usize) -> String {
    let text = cut_to(&harmless(text), columns);
    let blanks = columns.saturating_sub(text.width());
    format!("{text}{}", " ".repeat(blanks))
}

/// The text cut to so many columns, with an ellipsis where something was cut.
pub(super) fn cut_to(text: &str, columns: usize) -> String {
    if text.width() <= columns {
        return text.to_owned();
    }
    let mut kept = String::new();
    for sign in text.chars() {
        kept.push(sign);
        if kept.width() + 1 > columns {
            kept.pop();
            break;
        }
    }
    kept.push('…');
    kept
}

/// Words in lines of so many columns; a word too long for a line is broken.
fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && line.width() + 1 + word.width() > columns {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
        while line.width() > columns {
            let rest = broken_off(&mut line, columns);
            lines.push(std::mem::replace(&mut line, rest));
        }
    }
    lines.push(line);
    lines
}

/// Cuts a word at so many columns and gives what was cut off; at least one sign stays.
fn broken_off(word: &mut String, columns: usize) -> String {
    let mut end = 0;
    for (start, sign) in word.char_indices() {
        let next = start + sign.len_utf8();
        if word[..next].width() > columns && end > 0 {
            break;
        }
        end = next;
    }
    word.split_off(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_long_words_inside() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("abcdefgh ij", 5), ["abcde", "fgh", "ij"]);
        assert_eq!(wrapped("", 5), [""]);
    }

    // Source: UAX #11, East Asian Width: such a sign takes two columns.
    #[test]
    fn wide_signs_count_double() {
        assert_eq!(wrapped("帆船帆船", 4), ["帆船", "帆船"]);
        assert_eq!(cut_to("帆船帆船", 5), "帆船…");
        assert_eq!(fitted("帆", 4), "帆  ");
    }

    #[test]
    fn signs_that_steer_a_terminal_are_replaced() {
        assert_eq!(
            harmless("Dunlin\u{1b}[2J\n\u{202e}"),
            "Dunlin\u{fffd}[2J\u{fffd}\u{fffd}"
        );
    }
}
