//! From what was given to settings: each key with its type, bounds and default.
//!
//! Must not know: how file and variables are laid over each other.

use super::layers::{Given, GivenSource, Layers, SOURCES};
use super::mistake::{Mistake, Place, quoted};
use super::{Settings, StoreAddress};
use chrono::TimeDelta;
use feeds::catalogue::{Catalogue, CatalogueError};
use fetcher::{CacheLimits, without_passwords};
use forecast::SourceId;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::time::Duration;
use store::PrunePolicy;
use toml::{Table, Value};

/// The sections with their keys; `[sources.NAME]` tables are beside them.
const KNOWN: [(&str, &[&str]); 8] = [
    ("store", &["url"]),
    ("club", &["file"]),
    (
        "fetch",
        &[
            "contact",
            "per_host",
            "overall",
            "per_minute",
            "further_tries",
            "silence_s",
            "by_subset",
            "interval_min",
        ],
    ),
    (SOURCES, &["enabled"]),
    (
        "serve",
        &[
            "listen",
            "public_address",
            "requests_a_minute",
            "trusted_proxies",
            "metrics",
        ],
    ),
    ("mail", super::mail::KEYS),
    ("cache", &["folder", "most_mb", "keep_hours"]),
    ("prune", &["keep_runs", "keep_for_hours"]),
];

// Defaults of common practice (no source): polite to producers, and long enough for calls to be compared.
const PER_HOST: u64 = 4;
const OVERALL: u64 = 8;
const PER_MINUTE: u64 = 3000;
const FURTHER_TRIES: u64 = 4;
const SILENCE_S: u64 = 30;
const INTERVAL_MIN: u64 = 10;
const LISTEN: &str = "127.0.0.1:8730";
const CACHE_MOST_MB: u64 = 2000;
const CACHE_KEEP_HOURS: u64 = 24;
const KEEP_RUNS: u64 = 4;
const KEEP_FOR_HOURS: u64 = 72;
/// A pull takes the two newest runs: were fewer kept, it would fetch what pruning has just forgotten.
const KEEP_RUNS_BOUNDS: RangeInclusive<u64> = 2..=1000;
/// Longest contact, characters: it is sent with every request.
const CONTACT_AT_MOST: usize = 200;

/// The settings; none if the catalogue that comes with the program cannot be read. Mistakes are added to those there are.
pub(super) fn settings(layers: Layers, mistakes: &mut Vec<Mistake>) -> Option<Settings> {
    let embedded = Catalogue::embedded().ok()?;
    let (catalogue, known) = catalogue(&embedded, &layers.sources, mistakes);
    let mut reader = Reader {
        keys: layers.keys,
        mistakes,
    };
    let default_listen = LISTEN.parse().ok()?;
    let serving = reader.serving();
    let mail = reader.mail(serving.public_address.is_some());
    let settings = Settings {
        store: reader
            .text("store", "url", Show::Never, |_| Ok(()))
            .map(StoreAddress::new),
        club: reader
            .text("club", "file", Show::Found, |_| Ok(()))
            .map(PathBuf::from),
        contact: reader.text("fetch", "contact", Show::Found, contact),
        per_host: reader.count("fetch", "per_host", 1..=64, PER_HOST) as usize,
        overall: reader.count("fetch", "overall", 1..=256, OVERALL) as usize,
        per_minute: reader.count("fetch", "per_minute", 1..=100_000, PER_MINUTE) as u32,
        further_tries: reader.count("fetch", "further_tries", 0..=10, FURTHER_TRIES) as usize,
        silence: Duration::from_secs(reader.count("fetch", "silence_s", 1..=600, SILENCE_S)),
        by_subset: reader.yes_or_no("fetch", "by_subset", true),
        interval: TimeDelta::minutes(reader.count("fetch", "interval_min", 1..=1440, INTERVAL_MIN) as i64),
        enabled: reader.enabled(&known),
        catalogue,
        listen: reader.listen().unwrap_or(default_listen),
        serving,
        mail,
        cache_folder: reader
            .text("cache", "folder", Show::Found, |_| Ok(()))
            .map(PathBuf::from),
        cache: CacheLimits {
            octets: reader.count("cache", "most_mb", 1..=1_000_000, CACHE_MOST_MB) * 1_000_000,
            age: TimeDelta::hours(reader.count("cache", "keep_hours", 1..=8760, CACHE_KEEP_HOURS) as i64),
        },
        prune: PrunePolicy {
            keep_runs: reader.count("prune", "keep_runs", KEEP_RUNS_BOUNDS, KEEP_RUNS) as u16,
            keep_for: TimeDelta::hours(
                reader.count("prune", "keep_for_hours", 1..=87_600, KEEP_FOR_HOURS) as i64,
            ),
        },
    };
    reader.unknown();
    Some(settings)
}

/// Whether a mistake may quote what was found.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Show {
    Found,
    Never,
}

pub(super) struct Reader<'m> {
    keys: BTreeMap<(String, String), Given>,
    mistakes: &'m mut Vec<Mistake>,
}

impl Reader<'_> {
    pub(super) fn take(&mut self, section: &str, key: &str) -> Option<Given> {
        self.keys.remove(&(section.to_owned(), key.to_owned()))
    }

    pub(super) fn wrong(&mut self, given: &Given, key: &str, expected: &str, show: Show) {
        let words = match show {
            Show::Found => format!("found {}, expected {expected}", quoted(&given.value)),
            Show::Never => {
                format!("found something else (not shown: it may hold a password), expected {expected}")
            }
        };
        self.mistakes.push(Mistake {
            place: given.place.clone(),
            key: key.to_owned(),
            words,
        });
    }

    /// Where a section is given first, if any key of it is.
    pub(super) fn first_place(&self, section: &str) -> Option<Place> {
        let of_section = self.keys.iter().filter(|((name, _), _)| name == section);
        of_section.map(|(_, given)| given.place.clone()).min()
    }

    /// Something is missing beside what is given there.
    pub(super) fn missing(&mut self, place: &Place, key: &str, words: &str) {
        self.mistakes.push(Mistake {
            place: place.clone(),
            key: key.to_owned(),
            words: words.to_owned(),
        });
    }

    pub(super) fn text(
        &mut self,
        section: &str,
        key: &str,
        show: Show,
        check: fn(&str) -> Result<(), &'static str>,
    ) -> Option<String> {
        let given = self.take(section, key)?;
        let expected = match given.value.as_str().map(str::trim) {
            None => "text in quotes",
            Some("") => "text that is not empty",
            Some(text) => match check(text) {
                Ok(()) => return Some(text.to_owned()),
                Err(expected) => expected,
            },
        };
        self.wrong(&given, &format!("{section}.{key}"), expected, show);
        None
    }

    pub(super) fn count(
        &mut self,
        section: &str,
        key: &str,
        bounds: RangeInclusive<u64>,
        default: u64,
    ) -> u64 {
        let Some(given) = self.take(section, key) else {
            return default;
        };
        let number = match (&given.value, &given.place) {
            (Value::Integer(number), _) => u64::try_from(*number).ok(),
            (Value::String(text), Place::Variable(_)) => text.trim().parse().ok(),
            _ => None,
        };
        number
            .filter(|number| bounds.contains(number))
            .unwrap_or_else(|| {
                let expected = format!("a whole number from {} to {}", bounds.start(), bounds.end());
                self.wrong(&given, &format!("{section}.{key}"), &expected, Show::Found);
                default
            })
    }

    fn yes_or_no(&mut self, section: &str, key: &str, default: bool) -> bool {
        let Some(given) = self.take(section, key) else {
            return default;
        };
        let answer = match (&given.value, &given.place) {
            (Value::Boolean(answer), _) => Some(*answer),
            (Value::String(text), Place::Variable(_)) => text.trim().parse().ok(),
            _ => None,
        };
        answer.unwrap_or_else(|| {
            self.wrong(&given, &format!("{section}.{key}"), "true or false", Show::Found);
            default
        })
    }

    fn enabled(&mut self, known: &[String]) -> Option<Vec<SourceId>> {
        let given = self.take(SOURCES, "enabled")?;
        let names = list_of(&given).unwrap_or_default();
        let unknown: Vec<&str> = names
            .iter()
            .filter(|name| !known.contains(name))
            .map(String::as_str)
            .collect();
        if names.is_empty() || !unknown.is_empty() {
            let known = known.join(", ");
            let expected = match unknown.as_slice() {
                [] => format!("a list of sources, of {known}"),
                unknown => format!(
                    "sources that are known ({} is not), of {known}",
                    unknown.join(", ")
                ),
            };
            self.wrong(&given, "sources.enabled", &expected, Show::Found);
            return None;
        }
        let mut sources: Vec<SourceId> = Vec::new();
        for source in names.into_iter().map(SourceId::new) {
            if !sources.contains(&source) {
                sources.push(source);
            }
        }
        Some(sources)
    }

    /// Whatever was not asked for is no setting.
    fn unknown(self) {
        for ((section, key), given) in self.keys {
            let known = KNOWN.iter().find(|(name, _)| *name == section);
            let words = match known {
                Some((SOURCES, _)) => {
                    "unknown key: [sources] has enabled, and a table [sources.NAME] for each source"
                        .to_owned()
                }
                Some((_, keys)) => format!("unknown key: [{section}] has {}", keys.join(", ")),
                None => {
                    let sections: Vec<String> = KNOWN.iter().map(|(name, _)| format!("[{name}]")).collect();
                    format!("unknown section: there are {}", sections.join(", "))
                }
            };
            self.mistakes.push(Mistake {
                place: given.place,
                key: format!("{section}.{key}"),
                words: format!("{words}; correct its name or take it away"),
            });
        }
    }
}

/// A list of texts: as TOML has it, or with commas in a variable.
pub(super) fn list_of(given: &Given) -> Option<Vec<String>> {
    match (&given.value, &given.place) {
        (Value::Array(list), _) => list.iter().map(|one| one.as_str().map(str::to_owned)).collect(),
        (Value::String(text), Place::Variable(_)) => {
            let bare = text.trim().trim_start_matches('[').trim_end_matches(']');
            let names = bare
                .split(',')
                .map(|name| name.trim().trim_matches('"').to_owned());
            Some(names.filter(|name| !name.is_empty()).collect())
        }
        _ => None,
    }
}

fn contact(text: &str) -> Result<(), &'static str> {
    let printable = text
        .chars()
        .all(|letter| letter == ' ' || letter.is_ascii_graphic());
    if printable && text.len() <= CONTACT_AT_MOST {
        Ok(())
    } else {
        Err("a mail or web address in at most 200 ASCII characters")
    }
}

/// The catalogue with what is set of sources laid over it, and the names of all sources. Each mistaken field is told.
fn catalogue(
    embedded: &Catalogue,
    sources: &BTreeMap<String, GivenSource>,
    mistakes: &mut Vec<Mistake>,
) -> (Catalogue, Vec<String>) {
    let before = mistakes.len();
    let names = embedded.feeds().iter().map(|feed| feed.name.to_string());
    let mut known: Vec<String> = names.collect();
    // New sources first: a known one may name them as its land mask.
    let (old, new): (Vec<_>, Vec<_>) = sources.iter().partition(|(name, _)| known.contains(name));
    let mut base = embedded.clone();
    for (name, source) in new {
        match base.with_overrides(&one(name, table_of(source))) {
            Ok(changed) => base = changed,
            Err(error) => mistakes.push(of_source(name, None, source, &error)),
        }
        // Without a path it was never meant as a feed of its own, but misspelt.
        if source.fields.contains_key("path") {
            known.push(name.clone());
        }
    }
    for (name, source) in old {
        mistakes.extend(mistakes_of_known(&base, name, source));
    }
    let all: Table = sources
        .iter()
        .map(|(name, source)| (name.clone(), Value::Table(table_of(source))))
        .collect();
    match embedded.with_overrides(&all) {
        Ok(changed) => (changed, known),
        Err(error) => {
            // What is right one by one can still contradict itself.
            if let (Some((name, source)), true) = (sources.iter().next(), mistakes.len() == before) {
                mistakes.push(of_source(name, None, source, &error));
            }
            (embedded.clone(), known)
        }
    }
}

/// A known source's fields are tried one by one, so that each mistake is told at its own place; then all together.
fn mistakes_of_known(base: &Catalogue, name: &str, source: &GivenSource) -> Vec<Mistake> {
    let wrong = |(key, given): (&String, &Given)| {
        let field = Table::from_iter([(key.clone(), given.value.clone())]);
        let error = base.with_overrides(&one(name, field)).err()?;
        Some(of_source(name, Some(key), source, &error))
    };
    let mut mistakes: Vec<Mistake> = source.fields.iter().filter_map(wrong).collect();
    if mistakes.is_empty() {
        let together = base.with_overrides(&one(name, table_of(source))).err();
        mistakes.extend(together.map(|error| of_source(name, None, source, &error)));
    }
    mistakes
}

fn of_source(name: &str, key: Option<&String>, source: &GivenSource, error: &CatalogueError) -> Mistake {
    let given = key.and_then(|key| source.fields.get(key));
    Mistake {
        place: given.map_or(&source.place, |given| &given.place).clone(),
        key: key.map_or(format!("{SOURCES}.{name}"), |key| {
            format!("{SOURCES}.{name}.{key}")
        }),
        words: without_passwords(&error.to_string()),
    }
}

fn one(name: &str, fields: Table) -> Table {
    Table::from_iter([(name.to_owned(), Value::Table(fields))])
}

fn table_of(source: &GivenSource) -> Table {
    let fields = source.fields.iter();
    fields
        .map(|(key, given)| (key.clone(), given.value.clone()))
        .collect()
}
