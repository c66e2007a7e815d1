//! How we decide: whatever the club's file can say that bears on a call is on the page.
//!
//! No source: the project's own rule. The file that uses every key is held against the reader by crates/club.

use crate::sample::{HOSTILE, RICH, hostile_club, is_harmless, rich_club};
use present::html;
use toml::Value;

/// What bears on no call: names in addresses, who may read, sessions (they are on the board), measures that only check a table.
/// A boat's kind of wind cannot be changed alone; its two numbers can.
const ASIDE: [&str; 7] = [
    "slug",
    "id",
    "public",
    "sessions",
    "dimensions",
    "table_wind",
    "repeat",
];

/// A way down to a value.
#[derive(Clone, Debug)]
enum Step {
    Key(String),
    Index(usize),
}

fn leaves(value: &Value, path: &[Step], found: &mut Vec<Vec<Step>>) {
    let mut down = |below: &Value, step: Step| leaves(below, &[path, &[step]].concat(), found);
    match value {
        Value::Table(table) => {
            for (key, below) in table.iter().filter(|(key, _)| !ASIDE.contains(&key.as_str())) {
                down(below, Step::Key(key.clone()));
            }
        }
        Value::Array(list) => {
            for (index, below) in list.iter().enumerate() {
                down(below, Step::Index(index));
            }
        }
        _ => found.push(path.to_vec()),
    }
}

fn at<'a>(file: &'a mut Value, path: &[Step]) -> &'a mut Value {
    path.iter().fold(file, |value, step| match step {
        Step::Key(key) => value.get_mut(key.as_str()).unwrap(),
        Step::Index(index) => value.get_mut(*index).unwrap(),
    })
}

/// Other values that might stand in its place.
fn others(value: &Value) -> Vec<Value> {
    let number = |number: f64| {
        let numbers = [
            number + 1.0,
            number - 1.0,
            number * 0.95,
            number * 1.02,
            number + 0.05,
        ];
        numbers
            .map(|other| Value::Float((other * 1e6).round() / 1e6))
            .to_vec()
    };
    match value {
        Value::Integer(whole) => {
            let wholes = [whole + 1, whole - 1].map(Value::Integer).to_vec();
            [wholes, number(*whole as f64)].concat()
        }
        Value::Float(float) => number(*float),
        Value::Boolean(said) => vec![Value::Boolean(!said)],
        Value::String(said) => {
            let at = chrono::DateTime::parse_from_rfc3339(said).ok();
            let later = at.map(|at| (at + chrono::TimeDelta::minutes(1)).to_rfc3339());
            let known = [
                "12:15",
                "worse",
                "port",
                "ecmwf-ens",
                "ecmwf-ifs",
                "ecmwf-wave",
                "Atlantic/Azores",
            ];
            let known = known.map(str::to_owned).into_iter().filter(|other| other != said);
            later.into_iter().chain(known).map(Value::String).collect()
        }
        Value::Datetime(at) => others(&Value::String(at.to_string())),
        Value::Table(_) | Value::Array(_) => Vec::new(),
    }
}

/// The page of a file without its version, which changes with every letter; none where the file has a mistake.
fn page_of(text: &str) -> Option<String> {
    let mut club = club::parse(text).ok()?.club;
    club.version.clear();
    Some(html::how_we_decide(&club, None).unwrap())
}

#[test]
fn every_value_of_the_club_file_that_bears_on_a_call_is_on_the_page() {
    let file: Value = toml::from_str(RICH).unwrap();
    let as_it_is = page_of(&toml::to_string(&file).unwrap()).unwrap();
    let mut paths = Vec::new();
    leaves(&file, &[], &mut paths);
    assert!(paths.len() > 150, "{} values", paths.len());
    let mut unsaid = Vec::new();
    for path in paths {
        let mut changed = file.clone();
        let value = at(&mut changed, &path).clone();
        let differ = others(&value).into_iter().filter(|other| *other != value);
        let pages = differ.filter_map(|other| {
            let mut changed = file.clone();
            *at(&mut changed, &path) = other;
            page_of(&toml::to_string(&changed).unwrap())
        });
        match pages.into_iter().next() {
            None => unsaid.push(format!("{path:?} cannot be changed")),
            Some(page) if page == as_it_is => unsaid.push(format!("{path:?} is not on the page")),
            Some(_) => {}
        }
    }
    assert!(unsaid.is_empty(), "{}", unsaid.join("\n"));
}

#[test]
fn the_tables_and_limits_stand_in_the_clubs_own_words() {
    let club = rich_club();
    let page = html::how_we_decide(&club, None).unwrap();
    for words in [
        &club.version[..12],
        "The club decides by 17:30 on the day before",
        "no-go from 35 % of no-go on, and marginal from 8 % of",
        "the mean of their two probabilities",
        "<th scope=\"row\">24</th><td>31</td>",
        "1 reef, 70 % headsail",
        "headsail to the mark: one diamond",
        "apparent wind at the masthead, 13.5 m up, close hauled at 4.8 kn",
        "<th scope=\"row\">Mean wind</th><td>from 13 kn</td><td>from 17 kn</td>",
        "<th scope=\"row\">Visibility</th><td>down to 3500 m</td><td>down to 1200 m</td>",
        "CAPE of 900 J/kg or more with 1.8 mm",
        "In the berth her bow points to 200°, starboard side to",
        "Seas from 220° to 310° run into it.",
        "learned from 52 logged hours and signed by the principal",
        "coastal bulletin on the boathouse door",
        "<a href=\"/how-we-decide\" aria-current=\"page\">",
    ] {
        assert!(page.contains(words), "lacks {words}");
    }
    assert_eq!(page.matches("class=\"sail\"").count(), 6, "a glyph a row");
}

#[test]
fn hostile_names_arrive_as_words() {
    is_harmless(&html::how_we_decide(&hostile_club(), Some(HOSTILE)).unwrap());
}
