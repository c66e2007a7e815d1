//! Reading the catalogue: TOML to feeds, with its mistakes named.

use crate::feed::Feed;
use forecast::SourceId;
use forecast::hash::sha256_hex;
use serde::Deserialize;
use thiserror::Error;

const EMBEDDED: &str = include_str!("../catalogue.toml");

/// Every known feed.
#[derive(Clone, Debug, PartialEq)]
pub struct Catalogue {
    feeds: Vec<Feed>,
    hash: String,
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
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CatalogueText {
    feed: Vec<Feed>,
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
        let catalogue = Self {
            feeds: read.feed,
            hash: sha256_hex(text.as_bytes()),
        };
        for feed in &catalogue.feeds {
            if let Some(reason) = catalogue.mistake(feed) {
                return Err(CatalogueError::Wrong {
                    feed: feed.name.to_string(),
                    reason,
                });
            }
        }
        Ok(catalogue)
    }

    /// The feeds, in catalogue order.
    pub fn feeds(&self) -> &[Feed] {
        &self.feeds
    }

    /// The feed of this name.
    pub fn feed(&self, name: &SourceId) -> Option<&Feed> {
        self.feeds.iter().find(|feed| feed.name == *name)
    }

    /// SHA-256 of the catalogue's text: advisories name it.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    fn mistake(&self, feed: &Feed) -> Option<String> {
        if self.feeds.iter().filter(|other| other.name == feed.name).count() > 1 {
            return Some("the name occurs twice".into());
        }
        let mask = feed.land_mask.as_ref();
        if let Some(mask) = mask.filter(|mask| self.feed(mask).is_none()) {
            return Some(format!("land_mask names {mask}, which is no feed"));
        }
        feed.mistake()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_catalogue_is_sound() {
        // No source: the three feeds of the project's own design text.
        let catalogue = Catalogue::embedded().unwrap();
        let names: Vec<_> = catalogue.feeds().iter().map(|feed| feed.name.as_str()).collect();
        assert_eq!(names, ["gfs", "gfs-wave", "gefs"]);
        assert_eq!(catalogue.hash().len(), 64);
        assert!(
            catalogue
                .feeds()
                .iter()
                .all(|feed| feed.attribution.contains("Not endorsed by NOAA"))
        );
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
