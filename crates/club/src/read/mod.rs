//! A small reader of TOML tables that collects every mistake with its place instead of stopping at the first.
//!
//! Owns: the page being read, tables that know which keys were asked for, values that check themselves.
//! Must not know: what a club is; the rooms beside this one read its parts.

pub(crate) mod boats;
pub(crate) mod club_table;
pub(crate) mod dimensions;
pub(crate) mod levels;
pub(crate) mod policy;
pub(crate) mod sessions;
pub(crate) mod tide;
pub(crate) mod value;
pub(crate) mod venues;
pub(crate) mod waters;

use crate::mistake::{Mistake, line_and_column, nearest, quoted};
use std::cell::RefCell;
use std::ops::Range;
use toml::de::{DeTable, DeValue};
use value::Value;

/// Most mistakes that are reported of one file.
pub(crate) const MISTAKES_AT_MOST: usize = 1000;
/// Entries of a list whose keys are compared; no list may hold more.
const ENTRIES_COMPARED: usize = 1000;

/// The file's text and what was found wrong with it so far.
pub(crate) struct Page<'t> {
    text: &'t str,
    mistakes: RefCell<Vec<(usize, Mistake)>>,
}

impl<'t> Page<'t> {
    /// A page nothing has been found on yet.
    pub(crate) fn new(text: &'t str) -> Self {
        Self {
            text,
            mistakes: RefCell::new(Vec::new()),
        }
    }

    /// Notes a mistake at a byte offset.
    pub(crate) fn mistake_at(
        &self,
        offset: usize,
        key: &str,
        found: impl Into<String>,
        expected: impl Into<String>,
    ) {
        // Nobody mends more at once, and finding the line of each of a million would take minutes.
        if self.mistakes.borrow().len() >= MISTAKES_AT_MOST {
            return;
        }
        let mistake = self.describe(offset, key, found, expected);
        self.mistakes.borrow_mut().push((offset, mistake));
    }

    /// A mistake or a warning at a byte offset, not noted.
    pub(crate) fn describe(
        &self,
        offset: usize,
        key: &str,
        found: impl Into<String>,
        expected: impl Into<String>,
    ) -> Mistake {
        let (line, column) = line_and_column(self.text, offset);
        Mistake {
            line,
            column,
            key: key.to_owned(),
            found: found.into(),
            expected: expected.into(),
        }
    }

    /// The piece of the file at a span, fit to be printed.
    pub(crate) fn quote(&self, span: &Range<usize>) -> String {
        quoted(self.text.get(span.clone()).unwrap_or(""))
    }

    /// What was found, in the order of the file.
    pub(crate) fn into_mistakes(self) -> Vec<Mistake> {
        let mut mistakes = self.mistakes.into_inner();
        mistakes.sort_by_key(|(offset, _)| *offset);
        mistakes.into_iter().map(|(_, mistake)| mistake).collect()
    }
}

/// A table being read. It remembers which keys were asked for; `finish` reports the others.
pub(crate) struct Table<'p> {
    page: &'p Page<'p>,
    path: String,
    at: usize,
    table: &'p DeTable<'p>,
    asked: Vec<&'static str>,
}

impl<'p> Table<'p> {
    /// A table at a path; the whole document has an empty path.
    pub(crate) fn new(page: &'p Page<'p>, path: String, at: usize, table: &'p DeTable<'p>) -> Self {
        Self {
            page,
            path,
            at,
            table,
            asked: Vec::new(),
        }
    }

    /// Byte offset of its head.
    pub(crate) fn at(&self) -> usize {
        self.at
    }

    /// Its own path.
    pub(crate) fn path(&self) -> &str {
        &self.path
    }

    /// The path of one of its keys.
    pub(crate) fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// The value of a key that may be left out.
    pub(crate) fn optional(&mut self, key: &'static str) -> Option<Value<'p>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        #[cfg(test)]
        crate::every_key::note(&self.path_of(key));
        let value = self.table.get(key)?;
        Some(Value::new(
            self.page,
            self.path_of(key),
            value.span(),
            value.get_ref(),
        ))
    }

    /// The value of a key that must be there; its absence is a mistake at the table's head.
    pub(crate) fn required(&mut self, key: &'static str, expected: &str) -> Option<Value<'p>> {
        let value = self.optional(key);
        if value.is_none() {
            self.page
                .mistake_at(self.at, &self.path_of(key), "nothing", expected);
        }
        value
    }

    /// Notes a mistake at the table's head, about one of its keys.
    pub(crate) fn mistake(&self, key: &str, found: impl Into<String>, expected: impl Into<String>) {
        self.page.mistake_at(self.at, &self.path_of(key), found, expected);
    }

    /// A mistake or a warning about one of its keys, not noted.
    pub(crate) fn describe(
        &self,
        offset: usize,
        key: &str,
        found: impl Into<String>,
        expected: impl Into<String>,
    ) -> Mistake {
        self.page.describe(offset, &self.path_of(key), found, expected)
    }

    /// Reports every key that was never asked for.
    pub(crate) fn finish(self) {
        for (key, value) in self.table {
            let name: &str = key.get_ref();
            if self.asked.contains(&name) {
                continue;
            }
            // A table's key may carry the span of its header; the value's is where it certainly stands.
            let at = if key.span().is_empty() {
                value.span().start
            } else {
                key.span().start
            };
            let expected = match nearest(name, self.asked.iter().copied()) {
                Some(near) => format!("a key that has a meaning here, perhaps {near}"),
                None => format!("one of {}", self.asked.join(", ")),
            };
            self.page
                .mistake_at(at, &self.path_of(&quoted(name)), "an unknown key", expected);
        }
    }
}

/// Reads a list of tables: each entry by `read_one`; an entry that is no table is a mistake.
pub(crate) fn entries<'p, T>(
    value: Option<Value<'p>>,
    at_most: usize,
    read_one: impl FnMut(usize, &mut Table<'p>) -> Option<T>,
) -> Option<Vec<T>> {
    entries_between(value, 1, at_most, read_one)
}

/// The same with a least number of entries.
pub(crate) fn entries_between<'p, T>(
    value: Option<Value<'p>>,
    at_least: usize,
    at_most: usize,
    mut read_one: impl FnMut(usize, &mut Table<'p>) -> Option<T>,
) -> Option<Vec<T>> {
    let list = value?.list(at_least, at_most)?;
    let read: Vec<Option<T>> = list
        .into_iter()
        .enumerate()
        .map(|(index, entry)| {
            let mut table = entry.table()?;
            let one = read_one(index, &mut table);
            table.finish();
            one
        })
        .collect();
    read.into_iter().collect()
}

/// What kind of value it is, in words.
pub(crate) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// The keys (`id`) of a list's entries as they stand, empty where there is none. Two alike are a mistake.
pub(crate) fn keys_in<'p>(root: &Table<'p>, list: &str) -> Vec<&'p str> {
    let entries = root.table.get(list).and_then(|value| value.get_ref().as_array());
    let mut keys: Vec<&'p str> = Vec::new();
    for (index, entry) in entries.into_iter().flatten().take(ENTRIES_COMPARED).enumerate() {
        let written = entry.get_ref().as_table().and_then(|table| table.get("id"));
        let key = written.and_then(|value| value.get_ref().as_str()).unwrap_or("");
        if let (Some(written), Some(first)) = (
            written,
            keys.iter().position(|other| !key.is_empty() && *other == key),
        ) {
            let found = root.page.quote(&written.span());
            let expected = format!("a key of its own ({list}[{first}] has this one)");
            root.page.mistake_at(
                written.span().start,
                &format!("{list}[{index}].id"),
                found,
                expected,
            );
        }
        keys.push(key);
    }
    keys
}

/// The index of the entry that a value names by its key.
pub(crate) fn index_of(value: Option<Value<'_>>, keys: &[&str], what: &str) -> Option<usize> {
    let value = value?;
    let named = value.raw_text().unwrap_or("");
    let index = keys.iter().position(|key| !named.is_empty() && *key == named);
    if index.is_none() {
        let known: Vec<&str> = keys.iter().copied().filter(|key| !key.is_empty()).collect();
        value.mistake(match nearest(named, known.iter().copied()) {
            Some(near) => format!("the id of a {what} of this file, perhaps \"{near}\""),
            None => format!("the id of a {what} of this file{}", listed(&known)),
        });
    }
    index
}

/// The known ids, if they are few enough to list.
fn listed(known: &[&str]) -> String {
    if known.is_empty() || known.len() > 8 {
        String::new()
    } else {
        format!(" ({})", known.join(", "))
    }
}
