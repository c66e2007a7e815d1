//! The schema against the reader: both accept the clubs that ship, and refuse the same number past a bound, key left out and
//! key unknown. Validation by the `jsonschema` crate, after JSON Schema 2020-12.
#![expect(clippy::expect_used, reason = "a test's helper that fails is a failed test")]

mod bounds;
mod documents;
mod forms;

use club::parse;
use documents::{SHIPPED, document, json_of, schema, validator};
use serde_json::Value as Json;

#[test]
fn the_clubs_that_ship_are_valid() {
    let validator = validator();
    for (name, text) in SHIPPED {
        let json = json_of(&document(text));
        let errors: Vec<String> = validator
            .iter_errors(&json)
            .map(|error| format!("{}: {error}", error.instance_path()))
            .collect();
        assert_eq!(errors, Vec::<String>::new(), "{name}");
        assert!(parse(text).is_ok(), "{name}");
    }
}

#[test]
fn every_key_says_what_it_is_and_in_which_unit() {
    fn check(schema: &Json, path: &str) {
        for (key, property) in schema["properties"].as_object().into_iter().flatten() {
            let path = format!("{path}.{key}");
            let said = property["description"].as_str().or(property["$ref"].as_str());
            assert!(
                said.is_some() || property["items"].is_object(),
                "{path} says nothing"
            );
            let units = [
                ("_kn", "knots"),
                ("_nm", "nautical miles"),
                ("_m", "metres"),
                ("_c", "Celsius"),
                ("_deg", "degrees"),
                ("_h", "hours"),
                ("_min", "minutes"),
                ("_j_kg", "J/kg"),
                ("_mm_h", "mm/h"),
                ("_kg", "kilograms"),
            ];
            let named = units
                .iter()
                .filter(|(ending, _)| key.ends_with(ending))
                .max_by_key(|(ending, _)| ending.len());
            if let (Some((_, unit)), Some(said)) = (named, property["description"].as_str())
                && !path.contains("righting")
            {
                assert!(
                    said.to_lowercase().contains(&unit.to_lowercase()),
                    "{path} does not name its unit: {said}"
                );
            }
            check(property, &path);
            check(&property["items"], &path);
        }
    }
    let schema = schema();
    check(&schema, "");
    for (name, part) in schema["$defs"].as_object().expect("parts") {
        assert!(
            part["title"].is_string() && part["description"].is_string(),
            "{name}"
        );
        check(part, name);
    }
}
