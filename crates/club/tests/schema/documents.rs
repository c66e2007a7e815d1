//! Club files as documents: read, validated, and changed at one place.

use club::{Mistakes, SCHEMA, parse};
use jsonschema::Validator;
use serde_json::Value as Json;
use toml::Value as Toml;

pub(crate) const SHIPPED: [(&str, &str); 6] = [
    ("demo", include_str!("../../../../fixtures/demo/club.toml")),
    ("small", include_str!("../../../../fixtures/club/small.toml")),
    ("rich", include_str!("../../../../fixtures/club/rich.toml")),
    ("suppose", include_str!("../../../../fixtures/suppose/club.toml")),
    (
        "waters",
        include_str!("../../../../fixtures/suppose/club-waters.toml"),
    ),
    ("hand", include_str!("../../../../fixtures/hand/club.toml")),
];
pub(crate) fn schema() -> Json {
    serde_json::from_str(SCHEMA).expect("it is JSON")
}

pub(crate) fn validator() -> Validator {
    jsonschema::draft202012::new(&schema()).expect("it is a schema")
}

/// TOML as JSON: dates and times as texts.
pub(crate) fn json_of(value: &Toml) -> Json {
    match value {
        Toml::Table(table) => table
            .iter()
            .map(|(key, value)| (key.clone(), json_of(value)))
            .collect(),
        Toml::Array(list) => list.iter().map(json_of).collect(),
        Toml::String(text) => text.as_str().into(),
        Toml::Integer(whole) => (*whole).into(),
        Toml::Float(number) => (*number).into(),
        Toml::Boolean(truth) => (*truth).into(),
        Toml::Datetime(at) => at.to_string().into(),
    }
}

pub(crate) fn document(text: &str) -> Toml {
    Toml::Table(text.parse().expect("it is TOML"))
}

pub(crate) fn rich() -> Toml {
    document(SHIPPED[2].1)
}

/// What the reader says of a document.
pub(crate) fn read(document: &Toml) -> Result<(), Mistakes> {
    parse(&toml::to_string(document).expect("it can be written")).map(|_| ())
}

/// A step down a document.
#[derive(Clone, Debug)]
pub(crate) enum Step {
    Key(String),
    Entry(usize),
}

/// Everything in a document that a schema speaks of: its way there, its path as the reader writes it, its schema.
pub(crate) struct Place {
    pub(crate) way: Vec<Step>,
    pub(crate) path: String,
    pub(crate) schema: Json,
}

/// The schema that holds for a value: references followed, the branch of its kind taken.
fn resolved(root: &Json, schema: &Json, value: &Toml) -> Json {
    if let Some(name) = schema["$ref"]
        .as_str()
        .and_then(|name| name.strip_prefix("#/$defs/"))
    {
        return resolved(root, &root["$defs"][name], value);
    }
    let is_table = value.is_table();
    let branches = schema["oneOf"].as_array().filter(|_| schema["type"].is_null());
    match branches.and_then(|all| all.iter().find(|one| (one["type"] == "object") == is_table)) {
        Some(branch) => resolved(root, branch, value),
        None => schema.clone(),
    }
}

fn places(root: &Json, schema: &Json, value: &Toml, at: (&[Step], &str), found: &mut Vec<Place>) {
    let schema = resolved(root, schema, value);
    let (way, path) = at;
    let below = |step: Step| [way, &[step]].concat();
    match value {
        Toml::Table(table) => {
            for (key, value) in table {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                let of = &schema["properties"][key];
                places(root, of, value, (&below(Step::Key(key.clone())), &path), found);
            }
        }
        Toml::Array(list) => {
            for (index, entry) in list.iter().enumerate() {
                let path = format!("{path}[{index}]");
                places(
                    root,
                    &schema["items"],
                    entry,
                    (&below(Step::Entry(index)), &path),
                    found,
                );
            }
        }
        _ => {}
    }
    found.push(Place {
        way: way.to_vec(),
        path: path.to_owned(),
        schema,
    });
}

pub(crate) fn places_in_rich() -> Vec<Place> {
    let (root, mut found) = (schema(), Vec::new());
    places(&root, &root, &rich(), (&[], ""), &mut found);
    found
}

/// The rich club with the value at a place changed.
pub(crate) fn changed(way: &[Step], change: impl FnOnce(&mut Toml)) -> Toml {
    let mut document = rich();
    let mut at = &mut document;
    for step in way {
        at = match step {
            Step::Key(key) => at.get_mut(key.as_str()).expect("it is there"),
            Step::Entry(index) => at.get_mut(*index).expect("it is there"),
        };
    }
    change(at);
    document
}
