//! Tests that the keys the reader asks for, those of the rich club and those of the schema are the same.
//!
//! Owns: the note of every key that was asked for, in tests alone.

use serde_json::Value as Json;
use std::cell::RefCell;
use std::collections::BTreeSet;

const RICH: &str = include_str!("../../../fixtures/club/rich.toml");

thread_local! {
    static ASKED: RefCell<BTreeSet<String>> = const { RefCell::new(BTreeSet::new()) };
}

/// Notes that the reader asked for a key.
pub(crate) fn note(path: &str) {
    ASKED.with_borrow_mut(|asked| asked.insert(without_indexes(path)));
}

/// A path with every `[3]` as `[]`.
fn without_indexes(path: &str) -> String {
    let mut within = false;
    path.chars()
        .filter(|character| {
            within = (within || *character == '[') && *character != ']';
            !within || !character.is_ascii_digit()
        })
        .collect()
}

/// The paths of every key below a table or list of TOML.
fn keys_of(value: &toml::Value, path: &str, found: &mut BTreeSet<String>) {
    match value {
        toml::Value::Table(table) => {
            for (key, value) in table {
                let path = join(path, key);
                found.insert(path.clone());
                keys_of(value, &path, found);
            }
        }
        toml::Value::Array(list) => {
            for entry in list {
                keys_of(entry, &format!("{path}[]"), found);
            }
        }
        _ => {}
    }
}

/// The paths of every key that a schema has.
fn keys_in_schema(schema: &Json, of: &Json, path: &str, found: &mut BTreeSet<String>) {
    if let Some(name) = of["$ref"].as_str().and_then(|name| name.strip_prefix("#/$defs/")) {
        keys_in_schema(schema, &schema["$defs"][name], path, found);
    }
    for (key, below) in of["properties"].as_object().into_iter().flatten() {
        let path = join(path, key);
        found.insert(path.clone());
        keys_in_schema(schema, below, &path, found);
    }
    if of["items"].is_object() {
        keys_in_schema(schema, &of["items"], &format!("{path}[]"), found);
    }
    for below in of["oneOf"].as_array().into_iter().flatten() {
        keys_in_schema(schema, below, path, found);
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

fn keys_asked_for(text: &str) -> BTreeSet<String> {
    ASKED.with_borrow_mut(BTreeSet::clear);
    assert!(crate::parse(text).is_ok(), "the rich club has no mistake");
    ASKED.with_borrow(BTreeSet::clone)
}

#[test]
fn every_key_that_the_reader_knows_occurs_in_the_rich_club() {
    let mut written = BTreeSet::new();
    let table = RICH.parse::<toml::Table>().expect("it is TOML");
    keys_of(&toml::Value::Table(table), "", &mut written);
    assert_eq!(keys_asked_for(RICH), written);
    assert!(written.len() > 150, "{} keys", written.len());
}

#[test]
fn the_schema_has_the_readers_keys_and_no_other() {
    let schema: Json = serde_json::from_str(crate::SCHEMA).expect("it is JSON");
    let mut known = BTreeSet::new();
    keys_in_schema(&schema, &schema, "", &mut known);
    assert_eq!(keys_asked_for(RICH), known);
}

#[test]
fn the_demo_club_uses_or_describes_every_key() {
    let demo = include_str!("../../../fixtures/demo/club.toml");
    let is_there = |key: &str| {
        let mut words = demo.split(|character: char| !(character.is_alphanumeric() || character == '_'));
        words.any(|word| word == key)
    };
    for path in keys_asked_for(RICH) {
        let key = path.rsplit('.').next().unwrap_or(&path);
        assert!(is_there(key), "{path} is neither used nor described");
    }
}

#[test]
fn the_defaults_of_the_schemas_policy_are_those_of_the_program() {
    let schema: Json = serde_json::from_str(crate::SCHEMA).expect("it is JSON");
    let defaults = serde_json::to_value(crate::Policy::default()).expect("numbers and texts");
    let properties = schema["$defs"]["policy"]["properties"].as_object().expect("keys");
    for (key, property) in properties {
        let (said, is) = (&property["default"], &defaults[key]);
        let same = match key.as_str() {
            "sea_breeze_from" => is.as_str() == said.as_str().map(|time| format!("{time}:00")).as_deref(),
            "spread_floor" => floor_numbers(said, "speed_kn") == floor_numbers(is, "speed"),
            _ if is.is_number() => is.as_f64() == said.as_f64(),
            _ => is == said,
        };
        assert!(same, "{key}: the schema says {said}, the program {is}");
    }
}

fn floor_numbers(points: &Json, speed: &str) -> Vec<[Option<f64>; 3]> {
    let points = points.as_array().into_iter().flatten();
    points
        .map(|point| ["lead_h", speed, "timing_h"].map(|key| point[key].as_f64()))
        .collect()
}
