//! The operator's settings: one TOML file, each key overridable by a variable of the environment, read once.
//!
//! Owns: which settings there are, their bounds and defaults, and every mistake in them at once.
//! Is given: the file's text and the variables. Must not know: the clock, files, the environment itself, weather.

pub mod address;
mod layers;
mod mail;
mod mistake;
mod read;
mod served;
#[cfg(test)]
mod tests;

pub use address::StoreAddress;
pub use layers::PREFIX;
pub use mail::MailSet;
pub use mistake::Mistakes;

use api::Serving;
use chrono::TimeDelta;
use feeds::catalogue::Catalogue;
use fetcher::CacheLimits;
use forecast::SourceId;
use std::collections::BTreeMap;
use std::fmt;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;
use store::PrunePolicy;

/// What the operator has set, with defaults for the rest.
#[derive(Clone)]
pub struct Settings {
    /// `[store] url`: a file's path or a PostgreSQL address.
    pub store: Option<StoreAddress>,
    /// `[club] file`.
    pub club: Option<PathBuf>,
    /// `[fetch] contact`: told to the producers with each request.
    pub contact: Option<String>,
    /// `[fetch] per_host`: requests to one host at once.
    pub per_host: usize,
    /// `[fetch] overall`: requests at once in all.
    pub overall: usize,
    /// `[fetch] per_minute`: requests to one host in any minute.
    pub per_minute: u32,
    /// `[fetch] further_tries`: how often a request that failed is sent again.
    pub further_tries: usize,
    /// `[fetch] silence_s`: longest silence within an answer.
    pub silence: Duration,
    /// `[fetch] by_subset`: whether producers' subset services are asked where that costs fewer octets.
    pub by_subset: bool,
    /// `[fetch] interval_min`: how often `serve` looks for new runs.
    pub interval: TimeDelta,
    /// `[sources] enabled`; without it those that the club's policy names.
    pub enabled: Option<Vec<SourceId>>,
    /// The catalogue of feeds with `[sources.NAME]` laid over it.
    pub catalogue: Catalogue,
    /// `[serve] listen`.
    pub listen: SocketAddr,
    /// `[serve] public_address`, `requests_a_minute`, `trusted_proxies`, `metrics`.
    pub serving: Serving,
    /// `[mail]`: without it no mail is sent.
    pub mail: Option<MailSet>,
    /// `[cache] folder`: where raw messages are kept for a while; without it they are not.
    pub cache_folder: Option<PathBuf>,
    /// `[cache] most_mb`, `keep_hours`.
    pub cache: CacheLimits,
    /// `[prune]`.
    pub prune: PrunePolicy,
}

impl Settings {
    /// Reads settings from the file's name and text, and from the variables of the environment.
    ///
    /// # Errors
    /// Every mistake at once.
    pub fn read(
        file: Option<(&str, &str)>,
        environment: &BTreeMap<String, String>,
    ) -> Result<Self, Mistakes> {
        let mut mistakes = Vec::new();
        let layers = layers::Layers::read(file.map(|(_, text)| text), environment, &mut mistakes);
        let settings = read::settings(layers, &mut mistakes);
        mistakes.sort();
        match settings {
            Some(settings) if mistakes.is_empty() => Ok(settings),
            _ => Err(Mistakes {
                file: file.map(|(name, _)| name.to_owned()),
                all: mistakes,
            }),
        }
    }
}

/// Addresses of sources may hold passwords too: only names are shown.
impl fmt::Debug for Settings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Settings")
            .field("store", &self.store)
            .field("club", &self.club)
            .field("contact", &self.contact)
            .field("enabled", &self.enabled)
            .field("listen", &self.listen)
            .field("cache_folder", &self.cache_folder)
            .field("prune", &self.prune)
            .finish_non_exhaustive()
    }
}
