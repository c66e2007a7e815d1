//! The settings file with the variables of the environment laid over it: one value for each key, and where it was given.
//!
//! Owns: which variable is which key. Must not know: what the keys mean, beyond the form of the names of sources.

use super::mistake::{Mistake, Place};
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};
use toml::{Spanned, Table, Value};

/// Variables that begin so are settings.
pub const PREFIX: &str = "CRINGLE__";
/// The section whose tables are named by sources.
pub const SOURCES: &str = "sources";
const WANT: &str = "want";

/// A value and where it was given.
#[derive(Clone, Debug)]
pub struct Given {
    /// The value; text where it comes from a variable.
    pub value: Value,
    /// Where.
    pub place: Place,
}

/// What is set of one source.
#[derive(Clone, Debug)]
pub struct GivenSource {
    /// Where its table begins.
    pub place: Place,
    /// Its fields.
    pub fields: BTreeMap<String, Given>,
}

/// All that was given.
#[derive(Clone, Debug, Default)]
pub struct Layers {
    /// Values by section and key.
    pub keys: BTreeMap<(String, String), Given>,
    /// Tables of sources by name.
    pub sources: BTreeMap<String, GivenSource>,
}

impl Layers {
    /// Lays the variables over the file. What fits nowhere is told in `mistakes`.
    pub fn read(
        text: Option<&str>,
        environment: &BTreeMap<String, String>,
        mistakes: &mut Vec<Mistake>,
    ) -> Self {
        let mut layers = Self::default();
        if let Some(text) = text {
            layers.add_file(text, mistakes);
        }
        // An empty variable is one that was left out: containers are often started so.
        let set = environment
            .iter()
            .filter(|(name, value)| name.starts_with(PREFIX) && !value.is_empty());
        for (name, value) in set {
            layers.add_variable(name, value, mistakes);
        }
        layers
    }

    fn add_file(&mut self, text: &str, mistakes: &mut Vec<Mistake>) {
        let parsed = (DeTable::parse(text), toml::from_str::<Table>(text));
        let (Ok(placed), Ok(plain)) = parsed else {
            let error = parsed.0.err().or(parsed.1.err());
            let at = error
                .as_ref()
                .and_then(toml::de::Error::span)
                .map_or(0, |span| span.start);
            let words = error.as_ref().map_or("", toml::de::Error::message);
            let words = format!(
                "this is not TOML ({}): correct it here",
                words.trim().replace('\n', ", ")
            );
            mistakes.push(mistake(Place::of(text, at), "the file", words));
            return;
        };
        for (section, inside) in placed.get_ref() {
            let place = Place::of(text, section.span().start);
            let name = section.get_ref().as_ref();
            let (DeValue::Table(inside), Some(Value::Table(values))) = (inside.get_ref(), plain.get(name))
            else {
                let words = format!("it stands alone: settings stand in sections, such as [{name}]");
                mistakes.push(mistake(place, name, words));
                continue;
            };
            self.add_section(text, name, inside, values);
        }
    }

    fn add_section(&mut self, text: &str, section: &str, inside: &DeTable<'_>, values: &Table) {
        for (key, value) in inside {
            let (name, place) = (key.get_ref().to_string(), Place::of(text, key.span().start));
            let Some(plain) = values.get(&name) else { continue };
            match (section, value.get_ref(), plain) {
                (SOURCES, DeValue::Table(inner), Value::Table(plain)) => {
                    let fields = fields(text, inner, plain);
                    self.sources.insert(name, GivenSource { place, fields });
                }
                _ => {
                    let place = Place::of(text, value.span().start.max(key.span().start));
                    let given = Given {
                        value: plain.clone(),
                        place,
                    };
                    self.keys.insert((section.to_owned(), name), given);
                }
            }
        }
    }

    fn add_variable(&mut self, name: &str, text: &str, mistakes: &mut Vec<Mistake>) {
        let place = Place::Variable(name.to_owned());
        let parts: Vec<String> = name[PREFIX.len()..].split("__").map(str::to_lowercase).collect();
        let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
        match parts.as_slice() {
            [section, key] => {
                let value = Value::String(text.to_owned());
                self.keys
                    .insert(((*section).to_owned(), (*key).to_owned()), Given { value, place });
            }
            [SOURCES, source, field] => {
                let value = value_of(text);
                self.source(source, &place)
                    .insert((*field).to_owned(), Given { value, place });
            }
            [SOURCES, source, WANT, parameter, field] => {
                let fields = self.source(source, &place);
                let wanted = fields.entry(WANT.to_owned()).or_insert_with(|| Given {
                    value: Value::Table(Table::new()),
                    place: place.clone(),
                });
                if let Value::Table(wanted) = &mut wanted.value {
                    let entry = wanted
                        .entry(hyphenated(parameter))
                        .or_insert_with(|| Value::Table(Table::new()));
                    if let Value::Table(entry) = entry {
                        entry.insert((*field).to_owned(), value_of(text));
                        return;
                    }
                }
                mistakes.push(mistake(
                    place,
                    "sources",
                    "the file gives want as a list: change it there".to_owned(),
                ));
            }
            _ => mistakes.push(mistake(
                place,
                "the name",
                format!(
                    "it is no setting: name it {PREFIX}SECTION__KEY, {PREFIX}SOURCES__NAME__FIELD or \
                     {PREFIX}SOURCES__NAME__WANT__PARAMETER__FIELD"
                ),
            )),
        }
    }

    /// The fields of a source that a variable names.
    fn source(&mut self, name: &str, place: &Place) -> &mut BTreeMap<String, Given> {
        let source = self
            .sources
            .entry(hyphenated(name))
            .or_insert_with(|| GivenSource {
                place: place.clone(),
                fields: BTreeMap::new(),
            });
        &mut source.fields
    }
}

/// Names of sources and parameters have hyphens, names of variables cannot: they have underscores there.
fn hyphenated(name: &str) -> String {
    name.replace('_', "-")
}

fn fields(text: &str, inner: &DeTable<'_>, plain: &Table) -> BTreeMap<String, Given> {
    let field = |(key, value): (&Spanned<_>, &Spanned<DeValue<'_>>)| {
        let name: &std::borrow::Cow<'_, str> = key.get_ref();
        let value_starts = value.span().start;
        let place = Place::of(text, value_starts.max(key.span().start));
        let value = plain.get(name.as_ref())?.clone();
        Some((name.to_string(), Given { value, place }))
    };
    inner.iter().filter_map(field).collect()
}

/// A variable's text as a catalogue field: TOML where it is a number, a list or the like, and text as it is otherwise.
fn value_of(text: &str) -> Value {
    let read: Option<Table> = toml::from_str(&format!("value = {text}")).ok();
    let one = read.filter(|table| table.len() == 1);
    one.and_then(|mut table| table.remove("value"))
        .unwrap_or_else(|| Value::String(text.to_owned()))
}

fn mistake(place: Place, key: &str, words: String) -> Mistake {
    Mistake {
        place,
        key: key.to_owned(),
        words,
    }
}
