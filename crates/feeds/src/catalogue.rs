//! Reading the catalogue: TOML to feeds, settings laid over them, with the mistakes of both named.

use crate::feed::Feed;
use crate::overrides::lay_over;
use forecast::SourceId;
use forecast::hash::sha256_hex;
use serde::Deserialize;
use thiserror::Error;
use toml::{Table, Value};

const EMBEDDED: &str = include_str!("../catalogue.toml");

/// Every known feed.
#[derive(Clone, Debug, PartialEq)]
pub struct Catalogue {
    feeds: Vec<Feed>,
    hash: String,
    /// The entries as they were read, for laying settings over them.
    entries: Vec<Table>,
}

/// A catalogue that cannot be used.
#[derive(Debug, Error)]
pub enum CatalogueError {
    /// The text is not TOML of the expected form.
    #[error("the catalogue of feeds cannot be read: correct the place named below")]
    Unreadable(#[source] toml::de::Error),
    /// An entry contradicts itself or another one.
    #[error("catalogue entry {feed:?}: {reason}")]
    Wrong {
        /// The entry's name.
        feed: String,
        /// What is wrong and what would be right.
        reason: String,
    },
    /// The settings for a source are no fields of a feed.
    #[error("settings of source {feed:?}: {}: correct that field", .error.message())]
    Settings {
        /// The source's name.
        feed: String,
        /// The field and what was expected.
        #[source]
        error: Box<toml::de::Error>,
    },
    /// The settings' text is not TOML.
    #[error("the settings of sources cannot be read: correct the place named below")]
    SettingsUnreadable(#[source] Box<toml::de::Error>),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CatalogueText {
    feed: Vec<Feed>,
}

#[derive(Deserialize)]
struct CatalogueTables {
    feed: Vec<Table>,
}

impl Catalogue {
    /// The catalogue that comes with the program.
    ///
    /// # Errors
    /// Only if the embedded text is wrong, which a test excludes.
    pub fn embedded() -> Result<Self, CatalogueError> {
        Self::from_toml(EMBEDDED)
    }

    /// A catalogue from its text.
    ///
    /// # Errors
    /// [`CatalogueError`] names the entry and what is wrong.
    pub fn from_toml(text: &str) -> Result<Self, CatalogueError> {
        let read: CatalogueText = toml::from_str(text).map_err(CatalogueError::Unreadable)?;
        let tables: CatalogueTables = toml::from_str(text).map_err(CatalogueError::Unreadable)?;
        Self {
            feeds: read.feed,
            hash: sha256_hex(text.as_bytes()),
            entries: tables.feed,
        }
        .checked()
    }

    /// This catalogue with settings laid over it: a table for each source, its keys the fields of an entry. A field
    /// replaces the entry's; `want.PARAMETER` changes or adds one wanted quantity. A source of a new name is a new feed
    /// and needs every field of one. The hash takes the settings in; without settings it stays as it is.
    ///
    /// # Errors
    /// [`CatalogueError`] names the source and what is wrong.
    pub fn with_overrides(&self, sources: &Table) -> Result<Self, CatalogueError> {
        if sources.is_empty() {
            return Ok(self.clone());
        }
        let mut changed = self.clone();
        for (name, settings) in sources {
            changed.lay_over(name, settings)?;
        }
        changed.hash = sha256_hex(format!("{}\n{}", self.hash, canonical(sources)).as_bytes());
        changed.checked()
    }

    /// As [`Self::with_overrides`], from TOML text whose top-level tables are the sources.
    ///
    /// # Errors
    /// As [`Self::with_overrides`]; also if the text is no TOML.
    pub fn with_overrides_text(&self, text: &str) -> Result<Self, CatalogueError> {
        let sources: Table =
            toml::from_str(text).map_err(|e| CatalogueError::SettingsUnreadable(Box::new(e)))?;
        self.with_overrides(&sources)
    }

    /// The feeds, in catalogue order.
    pub fn feeds(&self) -> &[Feed] {
        &self.feeds
    }

    /// The feed of this name.
    pub fn feed(&self, name: &SourceId) -> Option<&Feed> {
        self.feeds.iter().find(|feed| feed.name == *name)
    }

    /// SHA-256 of the catalogue's text and the settings laid over it: advisories name it.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    fn lay_over(&mut self, name: &str, settings: &Value) -> Result<(), CatalogueError> {
        let wrong = |reason: String| CatalogueError::Wrong {
            feed: name.to_owned(),
            reason,
        };
        let settings = settings
            .as_table()
            .ok_or_else(|| wrong("its settings must be a table".into()))?;
        let place = self.feeds.iter().position(|feed| feed.name.as_str() == name);
        let mut entry = match place {
            Some(place) => self.entries[place].clone(),
            None if settings.contains_key("path") => Table::from_iter([("name".into(), name.into())]),
            None => return Err(wrong(format!("no such feed; known are {}", self.names()))),
        };
        lay_over(&mut entry, settings).map_err(wrong)?;
        let feed: Feed = entry
            .clone()
            .try_into()
            .map_err(|error| CatalogueError::Settings {
                feed: name.to_owned(),
                error: Box::new(error),
            })?;
        match place {
            Some(place) => (self.feeds[place], self.entries[place]) = (feed, entry),
            None => {
                self.feeds.push(feed);
                self.entries.push(entry);
            }
        }
        Ok(())
    }

    fn names(&self) -> String {
        let names: Vec<_> = self.feeds.iter().map(|feed| feed.name.as_str()).collect();
        names.join(", ")
    }

    fn checked(self) -> Result<Self, CatalogueError> {
        for feed in &self.feeds {
            if let Some(reason) = self.mistake(feed) {
                return Err(CatalogueError::Wrong {
                    feed: feed.name.to_string(),
                    reason,
                });
            }
        }
        Ok(self)
    }

    fn mistake(&self, feed: &Feed) -> Option<String> {
        if self.feeds.iter().filter(|other| other.name == feed.name).count() > 1 {
            return Some("the name occurs twice".into());
        }
        let mask = feed.land_mask.as_ref();
        if let Some(mask) = mask.filter(|mask| self.feed(mask).is_none()) {
            return Some(format!("land_mask names {mask}, which is no feed"));
        }
        let successor = feed.successor.as_ref();
        if let Some(successor) = successor.filter(|successor| self.feed(successor).is_none()) {
            return Some(format!("successor names {successor}, which is no feed"));
        }
        feed.mistake()
    }
}

/// The same text for the same settings: keys in order, no comments.
fn canonical(sources: &Table) -> String {
    let mut keys: Vec<&String> = sources.keys().collect();
    keys.sort();
    let lines = keys.iter().map(|key| match &sources[*key] {
        Value::Table(inner) => format!("{key:?} = {{{}}}", canonical(inner)),
        value => format!("{key:?} = {value}"),
    });
    lines.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_catalogue_is_sound() {
        // No source: the feeds of the project's own design text.
        let catalogue = Catalogue::embedded().unwrap();
        let names: Vec<_> = catalogue.feeds().iter().map(|feed| feed.name.as_str()).collect();
        let of_noaa = ["gfs", "gfs-wave", "gefs"];
        let of_ecmwf = ["ecmwf-ifs", "ecmwf-wave", "ecmwf-ens", "ecmwf-aifs"];
        let of_dwd = ["icon-eu", "icon-eu-native", "icon-d2-native", "ewam"];
        assert_eq!(names, [&of_noaa[..], &of_ecmwf, &of_dwd].concat());
        assert_eq!(catalogue.hash().len(), 64);
        for feed in catalogue.feeds() {
            let wanted = match feed.producer.as_str() {
                "NOAA/NCEP" => "Not endorsed by NOAA",
                "ECMWF" => "www.ecmwf.int, under CC BY 4.0",
                "Deutscher Wetterdienst" => "Source: Deutscher Wetterdienst",
                other => panic!("an unknown producer: {other}"),
            };
            assert!(
                feed.attribution.contains(wanted),
                "{}: {}",
                feed.name,
                feed.attribution
            );
        }
    }

    fn overridden(settings: &str) -> Result<Catalogue, CatalogueError> {
        Catalogue::embedded().unwrap().with_overrides_text(settings)
    }

    // No source: the project's rule that every field of an entry is a setting.
    #[test]
    fn settings_replace_fields_and_enter_the_hash() {
        let plain = Catalogue::embedded().unwrap();
        let changed = overridden(
            "[gfs]\nbase_url = \"http://127.0.0.1:9\"\nusual_delay_min = 200\n[gfs.want.gust]\nvariable = \"GUSTX\"",
        )
        .unwrap();
        let gfs = changed.feed(&SourceId::new("gfs")).unwrap();
        assert_eq!(
            (gfs.base_url.as_str(), gfs.usual_delay_min),
            ("http://127.0.0.1:9", 200)
        );
        assert_eq!(gfs.wanted(forecast::Parameter::Gust).unwrap().variable, "GUSTX");
        assert_eq!(gfs.want.len(), plain.feed(&gfs.name).unwrap().want.len());
        assert_ne!(changed.hash(), plain.hash());
        let same = overridden(
            "[gfs]\nwant.gust.variable = \"GUSTX\"\nusual_delay_min = 200\n# a remark\nbase_url = \"http://127.0.0.1:9\"",
        );
        assert_eq!(
            same.unwrap().hash(),
            changed.hash(),
            "the order of keys says nothing"
        );
        assert_eq!(overridden("").unwrap().hash(), plain.hash());
    }

    // No source: the project's rule that an address set by hand is the only one asked.
    #[test]
    fn another_address_leaves_out_the_producers_subset_service_unless_one_is_named() {
        let subset = |settings: &str| {
            let changed = overridden(settings).unwrap();
            changed.feed(&SourceId::new("gfs")).unwrap().subset.clone()
        };
        assert!(subset("[gfs]\nusual_delay_min = 200").is_some());
        assert_eq!(subset("[gfs]\nbase_url = \"http://127.0.0.1:9\""), None);
        let both = "[gfs]\nbase_url = \"http://127.0.0.1:9\"\nsubset.base_url = \"http://127.0.0.1:9\"";
        let both = subset(both).unwrap();
        assert_eq!(
            (both.base_url.as_str(), both.requests_per_minute),
            ("http://127.0.0.1:9", 60)
        );
    }

    // No source: as above.
    #[test]
    fn a_feed_of_a_known_index_kind_is_settings_and_no_code() {
        let text = EMBEDDED.split("[[feed]]").nth(2).unwrap();
        let settings = text
            .replacen("name = \"gfs-wave\"", "", 1)
            .replacen("gfswave.", "regional.", 1);
        let changed = overridden(&format!("[regional-wave]\n{settings}")).unwrap();
        let feed = changed.feed(&SourceId::new("regional-wave")).unwrap();
        let file = feed.file(
            "2030-05-13T00:00:00Z".parse().unwrap(),
            forecast::Member(0),
            forecast::Step(3),
        );
        assert!(file.path.contains("regional.t00z"), "{}", file.path);
    }

    // No source: the project's own words.
    #[test]
    fn wrong_settings_name_the_source_and_what_is_wrong() {
        for (settings, expected) in [
            (
                "[gsf]\nbase_url = \"https://a\"",
                "\"gsf\": no such feed; known are gfs, ",
            ),
            ("[gfs]\nname = \"x\"", "name cannot be changed"),
            ("[gfs]\nbase_uri = \"https://a\"", "unknown field `base_uri`"),
            (
                "[gfs]\nbase_url = \"ftp://a\"",
                "base_url must begin with https://",
            ),
            ("[gfs]\ncycles = [0, 25]", "cycles must name hours"),
            ("gfs = 3", "settings must be a table"),
            ("[gfs.want]\ngust = 3", "want.gust must be a table"),
            ("[gfs.want.gust]\nparameter = \"cape\"", "named by its key"),
            ("[gfs]\nstale_after_min = 10", "must not fall"),
            ("[gfs", "cannot be read"),
        ] {
            let error = overridden(settings).unwrap_err().to_string();
            assert!(error.contains(expected), "{settings}: {error} lacks {expected}");
        }
    }

    #[test]
    fn mistakes_name_the_entry() {
        for (from, to, expected) in [
            (
                "name = \"gefs\"",
                "name = \"gfs\"",
                "\"gfs\": the name occurs twice",
            ),
            (
                "land_mask = \"gfs\"",
                "land_mask = \"moon\"",
                "\"gefs\": land_mask names moon",
            ),
            ("part_hours = 12", "part_hours = 0", "part_hours"),
            ("every = 1 }", "every = 0 }", "steps"),
            ("cycles = [0, 6, 12, 18]", "cycles = [0, 24]", "cycles"),
            (".f{FFF}", ".f{FF}", "{FF}"),
            ("bucket_hours = 6", "", "bucket_hours"),
        ] {
            let text = EMBEDDED.replacen(from, to, 1);
            assert_ne!(text, EMBEDDED, "{from}");
            let error = Catalogue::from_toml(&text).unwrap_err().to_string();
            assert!(error.contains(expected), "{error} lacks {expected}");
        }
        let unknown = EMBEDDED.replacen("producer =", "producr =", 1);
        assert!(matches!(
            Catalogue::from_toml(&unknown),
            Err(CatalogueError::Unreadable(_))
        ));
    }
}
