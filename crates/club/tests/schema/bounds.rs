//! Bounds of numbers, keys that are required, keys that are unknown: over every place of the rich club.

use crate::documents::{changed, json_of, places_in_rich, read, validator};
use club::Mistakes;
use toml::Value as Toml;

/// Numbers that a rule of the reader compares with a neighbour, so that a bound of their own range may still be refused.
const COMPARED: [&str; 19] = [
    "caution_at",
    "stop_at",
    "mean_up_to_kn",
    "gust_up_to_kn",
    "reefs",
    "headsail",
    "lead_h",
    "springs_kn",
    "neaps_kn",
    "spring_range_m",
    "neap_range_m",
    "hour",
    "hours",
    "factor",
    "from_deg",
    "sea_breeze_mean_kn",
    "sea_breeze_gust_kn",
    "learned_at_least",
    "learned_from_hours",
];

/// Whether the reader refused the number at a path for its range, whatever else it compares it with.
fn out_of_range(read: &Result<(), Mistakes>, path: &str) -> bool {
    let of_range =
        |expected: &str| expected.starts_with("a number from") || expected.starts_with("a whole number from");
    read.as_ref().is_err_and(|mistakes| {
        mistakes
            .0
            .iter()
            .any(|one| one.key == path && of_range(&one.expected))
    })
}

#[test]
fn a_number_is_taken_up_to_its_bound_and_refused_past_it_by_both() {
    let validator = validator();
    let mut bounds = 0;
    for place in places_in_rich() {
        for (bound, outwards) in [("minimum", -1.0), ("maximum", 1.0)] {
            let Some(bound) = place.schema[bound].as_f64() else {
                continue;
            };
            let whole = place.schema["type"] == "integer";
            let number = |value: f64| {
                if whole {
                    Toml::Integer(value as i64)
                } else {
                    Toml::Float(value)
                }
            };
            let step = if whole {
                1.0
            } else {
                1e-6_f64.max(bound.abs() * 1e-9)
            };
            let path = &place.path;

            let at = changed(&place.way, |value| *value = number(bound));
            let said = read(&at);
            assert!(!out_of_range(&said, path), "{path} = {bound}: {said:?}");
            let key = path.rsplit('.').next().unwrap_or("");
            if !COMPARED.contains(&key) && !key.ends_with(']') {
                assert_eq!(said, Ok(()), "{path} = {bound}");
                assert!(validator.is_valid(&json_of(&at)), "{path} = {bound}");
            }

            let past = changed(&place.way, |value| *value = number(bound + outwards * step));
            let said = read(&past);
            assert!(out_of_range(&said, path), "{path} past {bound}: {said:?}");
            assert!(!validator.is_valid(&json_of(&past)), "{path} past {bound}");
            bounds += 1;
        }
    }
    assert!(bounds > 300, "only {bounds} bounds were tried");
}

#[test]
fn a_key_that_is_required_is_missed_by_both() {
    let validator = validator();
    let mut removed = 0;
    for place in places_in_rich() {
        for key in place.schema["required"].as_array().into_iter().flatten() {
            let key = key.as_str().expect("a key");
            let without = changed(&place.way, |value| {
                let table = value.as_table_mut().expect("a table has keys");
                assert!(
                    table.remove(key).is_some(),
                    "{}.{key} is not in the rich club",
                    place.path
                );
            });
            assert!(read(&without).is_err(), "{} without {key}", place.path);
            assert!(
                !validator.is_valid(&json_of(&without)),
                "{} without {key}",
                place.path
            );
            removed += 1;
        }
    }
    assert!(removed > 100, "only {removed} keys were removed");
}

#[test]
fn an_unknown_key_is_refused_by_both_in_every_table() {
    let validator = validator();
    let mut tables = 0;
    for place in places_in_rich() {
        if place.schema["type"] != "object" {
            continue;
        }
        let with = changed(&place.way, |value| {
            let table = value.as_table_mut().expect("it is a table");
            table.insert("mottled".to_owned(), Toml::Boolean(true));
        });
        let said = read(&with).map_err(|mistakes| mistakes.to_string());
        assert!(
            said.as_ref()
                .is_err_and(|said| said.contains("found an unknown key")),
            "{}: {said:?}",
            place.path
        );
        assert!(!validator.is_valid(&json_of(&with)), "{}", place.path);
        tables += 1;
    }
    assert!(tables > 60, "only {tables} tables were tried");
}
