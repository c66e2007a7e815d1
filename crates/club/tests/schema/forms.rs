//! Keys that belong together, and texts of a form.

use crate::documents::{Step, changed, json_of, read, validator};
use toml::Value as Toml;

/// A change to a table.
type Change<'c> = &'c dyn Fn(&mut toml::Table);

#[test]
fn what_belongs_together_is_asked_for_by_both() {
    let validator = validator();
    let venue = [Step::Key("venues".into()), Step::Entry(0)];
    let tide = [&venue[..], &[Step::Key("tide".into())]].concat();
    let sector = [&venue[..], &[Step::Key("wind_sectors".into()), Step::Entry(0)]].concat();
    let learned = [&sector[..], &[Step::Key("learned".into())]].concat();
    let list_entry = |list: &str, index| [Step::Key(list.into()), Step::Entry(index)];
    let wrong: [(&str, &[Step], Change<'_>); 13] = [
        ("sails_to alone", &[Step::Key("club".into())], &|table| {
            drop(table.remove("sails_from"))
        }),
        ("sails_from alone", &[Step::Key("club".into())], &|table| {
            drop(table.remove("sails_to"))
        }),
        ("a gate without a tide", &venue, &|table| {
            drop(table.remove("tide"))
        }),
        ("a range without its fellow", &tide, &|table| {
            drop(table.remove("neap_range_m"))
        }),
        ("ranges without a stream", &tide, &|table| {
            drop(table.remove("stream"))
        }),
        ("a learned factor below 0.85", &sector, &|table| {
            set(table, "factor", Toml::Float(0.84))
        }),
        ("a learned factor below 1 of few hours", &learned, &|table| {
            set(table, "hours", Toml::Integer(39))
        }),
        (
            "a masthead table without a height",
            &list_entry("boats", 0),
            &|table| drop(table.remove("masthead_m")),
        ),
        (
            "a masthead's height for a true table",
            &list_entry("boats", 1),
            &|table| {
                set(table, "masthead_m", Toml::Float(14.0));
            },
        ),
        ("two ways to end", &list_entry("sessions", 0), &|table| {
            set(table, "lasts_min", Toml::Integer(60))
        }),
        ("no way to end", &list_entry("sessions", 0), &|table| {
            drop(table.remove("ends"))
        }),
        ("a level without limits", &list_entry("levels", 1), &|table| {
            set(table, "limits", Toml::Table(toml::Table::new()));
        }),
        ("no venue", &[], &|table| {
            set(table, "venues", Toml::Array(Vec::new()))
        }),
    ];
    for (what, way, change) in wrong {
        let with = changed(way, |value| change(value.as_table_mut().expect("a table")));
        assert!(read(&with).is_err(), "{what}: the reader took it");
        assert!(!validator.is_valid(&json_of(&with)), "{what}: the schema took it");
    }
}

fn set(table: &mut toml::Table, key: &str, value: Toml) {
    table.insert(key.to_owned(), value);
}

#[test]
fn texts_of_a_form_are_taken_and_refused_by_both() {
    let validator = validator();
    let time = ["club", "decides_at"].map(|key| Step::Key(key.into()));
    let slug = ["club", "slug"].map(|key| Step::Key(key.into()));
    let name = ["club", "name"].map(|key| Step::Key(key.into()));
    let starts = [
        Step::Key("sessions".into()),
        Step::Entry(1),
        Step::Key("starts".into()),
    ];
    let high = ["venues", "tide", "high_waters"];
    let high = [
        Step::Key(high[0].into()),
        Step::Entry(0),
        Step::Key(high[1].into()),
        Step::Key(high[2].into()),
        Step::Entry(0),
    ];
    let long = "x".repeat(201);
    let wind = ["policy", "wind_sources"].map(|key| Step::Key(key.into()));
    let wind = [&wind[..], &[Step::Entry(0)]].concat();
    let own = format!("own-{}", "x".repeat(37));
    let cases: [(&[Step], &[&str], &[&str]); 6] = [
        (
            &wind,
            &["ecmwf-ens", "own-coast", "own-2-km", &own[..40]],
            &[
                "gfs-wave",
                "coast",
                "own-",
                "own-Coast",
                "own-a b",
                "own-a\n",
                &own,
            ],
        ),
        (
            &time,
            &["00:00", "23:59", "18:00:00"],
            &["24:00", "8:00", "18:60", "18:00:01", "18", ""],
        ),
        (
            &slug,
            &["a", "a-1", &long[..40]],
            &["", "-a", "a-", "A", "a b", &long[..41]],
        ),
        (&name, &["x", "Größe", &long[..200]], &["", "  ", &long]),
        (
            &starts,
            &["2030-05-15T09:00", "2030-05-15T09:00:00", "2030-05-15 09:00"],
            &[
                "2030-05-15",
                "2030-05-15T09:00Z",
                "2030-05-15T09:00:00+01:00",
                "tomorrow",
            ],
        ),
        (
            &high,
            &[
                "2030-05-14T05:12:00Z",
                "2030-05-14T06:12:00.5+01:00",
                "2030-05-14T06:12+01:00",
                "2030-05-14 06:12:00+01:00",
            ],
            &[
                "2030-05-14T06:12:00",
                "2030-05-14",
                "06:12+01:00",
                "2030-05-14T06:12:00+1",
            ],
        ),
    ];
    for (way, good, bad) in cases {
        for (texts, wanted) in [(good, true), (bad, false)] {
            for text in texts {
                let with = changed(way, |value| *value = Toml::String((*text).to_owned()));
                let said = read(&with);
                assert_eq!(said.is_ok(), wanted, "the reader on {text:?}: {said:?}");
                assert_eq!(
                    validator.is_valid(&json_of(&with)),
                    wanted,
                    "the schema on {text:?}"
                );
            }
        }
    }
}
