//! A value being read: it knows its path and place, and says what is wrong with itself.
//!
//! Owns: texts, keys, numbers with a range, lists, wall times, instants. Must not know: what a club is.

use super::{Page, Table, kind};
use crate::mistake::is_obeyed_by_terminals;
use chrono::{DateTime, Datelike, NaiveDateTime, NaiveTime, Utc};
use std::ops::{Range, RangeInclusive};
use toml::de::DeValue;

/// Longest text, characters: it must fit a line of a notice board.
pub(crate) const TEXT_AT_MOST: usize = 200;
/// Longest key of a venue, boat, level or session, characters: it becomes part of addresses.
const KEY_AT_MOST: usize = 40;

/// A value with its place.
pub(crate) struct Value<'p> {
    page: &'p Page<'p>,
    path: String,
    span: Range<usize>,
    value: &'p DeValue<'p>,
}

impl<'p> Value<'p> {
    /// A value at a path and a place.
    pub(crate) fn new(page: &'p Page<'p>, path: String, span: Range<usize>, value: &'p DeValue<'p>) -> Self {
        Self {
            page,
            path,
            span,
            value,
        }
    }

    /// Byte offset of its beginning.
    pub(crate) fn at(&self) -> usize {
        self.span.start
    }

    /// Notes that it is not what was expected, and quotes it.
    pub(crate) fn mistake(&self, expected: impl Into<String>) {
        let found = match self.value {
            DeValue::Table(_) | DeValue::Array(_) => kind(self.value).to_owned(),
            _ => self.page.quote(&self.span),
        };
        self.mistake_found(found, expected);
    }

    /// Notes a mistake here, with what was found in other words than its own.
    pub(crate) fn mistake_found(&self, found: impl Into<String>, expected: impl Into<String>) {
        self.page.mistake_at(self.span.start, &self.path, found, expected);
    }

    /// A text of one line, not blank.
    pub(crate) fn text(&self) -> Option<String> {
        let DeValue::String(text) = self.value else {
            self.mistake("a text in quotation marks");
            return None;
        };
        let length = text.chars().count();
        if length > TEXT_AT_MOST {
            self.mistake_found(
                format!("a text of {length} characters"),
                format!("at most {TEXT_AT_MOST}"),
            );
        } else if text.trim().is_empty() {
            self.mistake_found("an empty text", "at least one letter");
        } else if text.chars().any(is_obeyed_by_terminals) {
            self.mistake("a text of one line without control characters");
        } else {
            return Some(text.trim().to_owned());
        }
        None
    }

    /// A text that is one of a few words.
    pub(crate) fn one_of(&self, words: &[&'static str]) -> Option<&'static str> {
        let word = words.iter().find(|word| self.raw_text() == Some(**word)).copied();
        if word.is_none() {
            self.mistake(format!("one of {}", words.join(", ")));
        }
        word
    }

    /// The text as it stands, unchecked; none if it is no text.
    pub(crate) fn raw_text(&self) -> Option<&'p str> {
        match self.value {
            DeValue::String(text) => Some(text),
            _ => None,
        }
    }

    /// A key: lower-case letters, digits and hyphens, beginning and ending with a letter or digit.
    pub(crate) fn key(&self) -> Option<String> {
        let text = self.raw_text().unwrap_or("");
        let is_letter = |byte: &u8| byte.is_ascii_lowercase() || byte.is_ascii_digit();
        let is_key = text.len() <= KEY_AT_MOST
            && text.bytes().all(|byte| is_letter(&byte) || byte == b'-')
            && text.as_bytes().first().is_some_and(is_letter)
            && text.as_bytes().last().is_some_and(is_letter);
        if is_key {
            return Some(text.to_owned());
        }
        self.mistake(format!(
            "at most {KEY_AT_MOST} lower-case letters, digits and hyphens, such as \"north-bay\""
        ));
        None
    }

    /// A finite number within a range, written with or without decimals.
    pub(crate) fn number(&self, range: RangeInclusive<f64>) -> Option<f64> {
        let number = match self.value {
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
                .ok()
                .map(|integer| integer as f64),
            DeValue::Float(float) => float.as_str().parse().ok(),
            _ => None,
        };
        // NaN lies in no range.
        let within = number.filter(|number| range.contains(number));
        if within.is_none() {
            self.mistake(format!("a number from {} to {}", range.start(), range.end()));
        }
        within
    }

    /// A whole number within a range.
    pub(crate) fn whole(&self, range: RangeInclusive<u8>) -> Option<u8> {
        let whole = self.integer(i64::from(*range.start())..=i64::from(*range.end()))?;
        u8::try_from(whole).ok()
    }

    /// A whole number from 0 to a bound.
    pub(crate) fn count(&self, at_most: u32) -> Option<u32> {
        u32::try_from(self.integer(0..=i64::from(at_most))?).ok()
    }

    /// A whole number of either sign within a range.
    pub(crate) fn whole_between(&self, range: RangeInclusive<i8>) -> Option<i8> {
        let whole = self.integer(i64::from(*range.start())..=i64::from(*range.end()))?;
        i8::try_from(whole).ok()
    }

    fn integer(&self, range: RangeInclusive<i64>) -> Option<i64> {
        let whole = match self.value {
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok(),
            _ => None,
        };
        let within = whole.filter(|whole| range.contains(whole));
        if within.is_none() {
            self.mistake(format!(
                "a whole number from {} to {}",
                range.start(),
                range.end()
            ));
        }
        within
    }

    /// A band: a list of two numbers within a range, the second above the first.
    pub(crate) fn band(&self, range: RangeInclusive<f64>) -> Option<(f64, f64)> {
        let list = self.list(2, 2)?;
        let [low, high] = list.as_slice() else {
            return None;
        };
        let (first, last) = (low.number(range.clone()), high.number(range));
        let (first, last) = (first?, last?);
        if last <= first {
            high.mistake(format!("more than {first}, where the band begins"));
            return None;
        }
        Some((first, last))
    }

    /// True or false.
    pub(crate) fn truth(&self) -> Option<bool> {
        let truth = self.value.as_bool();
        if truth.is_none() {
            self.mistake("true or false");
        }
        truth
    }

    /// The entries of a list, not fewer and not more than the bounds.
    pub(crate) fn list(&self, at_least: usize, at_most: usize) -> Option<Vec<Self>> {
        let DeValue::Array(array) = self.value else {
            self.mistake("a list");
            return None;
        };
        if array.is_empty() && at_least > 0 {
            self.mistake_found("an empty list", "at least one entry");
            return None;
        }
        if array.len() < at_least {
            self.mistake_found(
                match array.len() {
                    1 => "one entry".to_owned(),
                    more => format!("{more} entries"),
                },
                format!("at least {at_least}"),
            );
            return None;
        }
        if array.len() > at_most {
            self.mistake_found(format!("{} entries", array.len()), format!("at most {at_most}"));
            return None;
        }
        let entry = |(index, entry): (usize, &'p toml::Spanned<DeValue<'p>>)| {
            Self::new(
                self.page,
                format!("{}[{index}]", self.path),
                entry.span(),
                entry.get_ref(),
            )
        };
        Some(array.iter().enumerate().map(entry).collect())
    }

    /// A table.
    pub(crate) fn table(&self) -> Option<Table<'p>> {
        let DeValue::Table(table) = self.value else {
            self.mistake("a table");
            return None;
        };
        Some(Table::new(self.page, self.path.clone(), self.span.start, table))
    }

    /// A date and time of day without zone, in quotation marks or as TOML's own local date-time.
    pub(crate) fn wall_time(&self) -> Option<NaiveDateTime> {
        let written = self.date_or_text();
        let wall = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:00", "%Y-%m-%d %H:%M"]
            .iter()
            .find_map(|form| NaiveDateTime::parse_from_str(&written, form).ok());
        // The years that zone tables and recurrence rules can be trusted for.
        let within = wall.filter(|wall| (1970..2200).contains(&wall.year()));
        if within.is_none() {
            self.mistake("a date and time of the club's clocks, such as \"2030-05-14T10:00\"");
        }
        within
    }

    /// A time of day such as "18:00".
    pub(crate) fn time_of_day(&self) -> Option<NaiveTime> {
        let time = self.time_of_day_unless_dated();
        if time.is_none() {
            self.mistake("a time of day, such as \"18:00\"");
        }
        time
    }

    /// A time of day, or none if it is written as something else; notes nothing.
    pub(crate) fn time_of_day_unless_dated(&self) -> Option<NaiveTime> {
        let written = self.date_or_text();
        let two_digits = written.len() == 5 || written.len() == 8;
        let forms = ["%H:%M", "%H:%M:00"];
        forms
            .iter()
            .find_map(|form| NaiveTime::parse_from_str(&written, form).ok())
            .filter(|_| two_digits)
    }

    /// A moment: a date and time with its offset, in quotation marks or as TOML's own offset date-time.
    pub(crate) fn instant(&self) -> Option<DateTime<Utc>> {
        let written = self.date_or_text();
        // TOML 1.1 and people leave the seconds out.
        let short = ["%Y-%m-%dT%H:%M%:z", "%Y-%m-%d %H:%M%:z"];
        let with_numbers = written.replace('Z', "+00:00");
        let at = DateTime::parse_from_rfc3339(&written).ok().or_else(|| {
            short
                .iter()
                .find_map(|form| DateTime::parse_from_str(&with_numbers, form).ok())
        });
        let within = at.filter(|at| (1970..2200).contains(&at.year()));
        if within.is_none() {
            let example = "a date and time with its offset, such as \"2030-05-14T06:12:00+01:00\"";
            let local = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"];
            let without_offset = local
                .iter()
                .any(|form| NaiveDateTime::parse_from_str(&written, form).is_ok());
            self.mistake(if without_offset {
                format!("{example} (without one it could be meant by any clock)")
            } else {
                example.to_owned()
            });
        }
        within.map(|at| at.with_timezone(&Utc))
    }

    /// Whether it is written as a table.
    pub(crate) fn is_table(&self) -> bool {
        matches!(self.value, DeValue::Table(_))
    }

    fn date_or_text(&self) -> String {
        match self.value {
            DeValue::String(text) => text.to_string(),
            DeValue::Datetime(datetime) => datetime.to_string(),
            _ => String::new(),
        }
    }
}
