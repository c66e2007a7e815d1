//! What the tests of this crate share: a feed by name, an instant from text.

use crate::{Catalogue, Feed};
use chrono::{DateTime, Utc};
use forecast::SourceId;

/// The embedded feed of this name.
pub fn feed(name: &str) -> Feed {
    let catalogue = Catalogue::embedded().unwrap();
    catalogue.feed(&SourceId::new(name)).unwrap().clone()
}

/// An instant from its text.
pub fn instant(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}
