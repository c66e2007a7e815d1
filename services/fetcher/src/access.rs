//! Which way a feed is read: byte ranges of its files, or its producer's subset service.
//!
//! Owns: this choice. Must not know: runs, messages, the store.

use crate::error::FetchError;
use crate::etiquette::HttpClient;
use crate::folder::SizeLimits;
use crate::source::Source;
use feeds::{Area, Feed};
use seaway::LatLon;

/// Degrees around the places that the nodes around each, and those near it, lie in: three nodes of a coarse grid.
const MARGIN_DEG: f64 = 0.75;

/// How a feed is read.
#[derive(Clone, Debug)]
pub enum Access {
    /// Byte ranges of the files at its address.
    Ranges,
    /// Fields cut to an area by a service.
    Subset(Source, Area),
}

impl Access {
    /// Octets received from the service so far.
    pub fn received(&self) -> u64 {
        match self {
            Self::Ranges => 0,
            Self::Subset(service, _) => service.received(),
        }
    }

    /// Subsets where the producer offers them, the feed is read from the producer itself and they cost fewer octets; else
    /// ranges.
    ///
    /// # Errors
    /// [`FetchError::Address`] if the service's address cannot be used.
    pub async fn choose(
        feed: &Feed,
        address: &str,
        places: &[LatLon],
        http: &HttpClient,
        limits: SizeLimits,
    ) -> Result<Self, FetchError> {
        let area = Area::around(places, MARGIN_DEG);
        let (Some(subset), Some(area)) = (&feed.subset, area) else {
            return Ok(Self::Ranges);
        };
        // Another address than the entry's is another server: it is not known to have such a service.
        if address != feed.base_url || !subset.is_cheaper(area, feed.want.len()) {
            return Ok(Self::Ranges);
        }
        let source = Source::open(&subset.base_url, http, limits)?;
        if let Source::Http(server, _) = &source {
            http.bind_to_minute(server.host(), subset.requests_per_minute)
                .await;
        }
        Ok(Self::Subset(source, area))
    }
}
