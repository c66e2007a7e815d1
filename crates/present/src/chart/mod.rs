//! The session's charts: wind across the rows of the boat's own reef table ("the ladder"), and the sea below it.

mod annotations;
mod barbs;
mod carry;
mod description;
mod entrance;
mod gaps;
mod ladder;
mod layout;
mod limits;
mod rows;
mod sea;
mod spread;

pub(crate) use description::caption;
pub use layout::Breadth;
pub(crate) use rows::{Measure, picked, place};
pub(crate) use spread::{floor_only as spread_floor_only, is_known as spread_known};

use crate::shown::Shown;
use advisory::document::Advisory;
use chrono::{DateTime, Utc};

/// The ladder as an `svg` element for one breadth of page; none where the advisory holds no hours or no reef table.
pub fn ladder(advisory: &Advisory, now: DateTime<Utc>, breadth: Breadth) -> Option<String> {
    ladder::draw(Shown::at(advisory, now), breadth)
}

/// The ladder in words, for those who do not see it.
pub(crate) fn described(shown: Shown<'_>) -> String {
    description::description(shown)
}

/// The sea chart with the same hours across; none where the sea was not asked for.
pub fn sea(advisory: &Advisory, breadth: Breadth) -> Option<String> {
    sea::draw(advisory, breadth)
}
