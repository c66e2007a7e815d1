//! A club whose file uses every key, the same with hostile names, and what a page with such names must be.

use chrono::{DateTime, Utc};

/// A name that would break out of a page.
pub const HOSTILE: &str = "<script>alert(1)</script>\"'&";

/// A moment of a morning.
pub fn now() -> DateTime<Utc> {
    "2026-10-17T05:40:00Z".parse().unwrap()
}

/// A club whose file uses every key.
pub fn rich_club() -> club::Club {
    club_of(RICH)
}

/// The same with every name in it replaced by the hostile one.
pub fn hostile_club() -> club::Club {
    let named = [
        "name",
        "contact",
        "warnings_from",
        "signed_by",
        "note",
        "foot_mark",
        "light_programme",
    ];
    let mut file: toml::Value = toml::from_str(RICH).unwrap();
    rename(&mut file, &named);
    club_of(&toml::to_string(&file).unwrap())
}

/// A club file that uses every key.
pub const RICH: &str = include_str!("../../../../fixtures/club/rich.toml");

/// The club of a file without mistakes.
fn club_of(text: &str) -> club::Club {
    club::parse(text).map(|parsed| parsed.club).unwrap()
}

fn rename(value: &mut toml::Value, named: &[&str]) {
    match value {
        toml::Value::Table(table) => {
            for (key, below) in table.iter_mut() {
                match below {
                    toml::Value::String(name) if named.contains(&key.as_str()) => {
                        *name = HOSTILE.to_owned();
                    }
                    other => rename(other, named),
                }
            }
        }
        toml::Value::Array(list) => list.iter_mut().for_each(|below| rename(below, named)),
        _ => {}
    }
}

/// That a page holds the hostile name as words only, and that no address on it could be another than ours.
pub fn is_harmless(page: &str) {
    assert!(!page.contains("<script"), "a name became an element");
    assert!(!page.contains("alert(1)</script>"), "a name was not escaped");
    assert!(!page.contains("\"'&"), "a name ended an attribute");
    assert!(page.contains("&#60;script&#62;alert(1)"), "the name is gone");
    for link in page.split("href=\"").skip(1) {
        let link = link.split('"').next().unwrap_or_default();
        let plain = |sign: char| sign.is_ascii_alphanumeric() || "-_.~%/#?=".contains(sign);
        assert!(link.chars().all(plain), "an address holds {link}");
    }
}
