//! Point series and a venue in, conditions for each member out.
//!
//! Owns: interpolation in space and time, gust and rain by interval, the choice of source for each element, corrections.
//! Is given: the slices of runs, a venue, the club's policy and `now`. Must not know: limits, calls, sentences, GRIB,
//! where the series was kept, the clock.

mod account;
mod asked;
mod corrections;
pub mod element;
mod elements;
mod fetch;
mod front;
pub mod hour;
pub mod member;
mod prepared;
mod sea;
mod sea_breeze;
mod select;
mod space;
mod stream;
mod timeline;
pub mod trace;
pub mod venue;
mod windows;
mod winds;
mod worst;

pub use element::Element;
pub use hour::{HourConditions, Known, Missing, Notes, Reading, Stream};
pub use member::MemberSet;
pub use select::runs_used;
pub use trace::{Correction, Trace, TracedNode, TracedStep};
pub use venue::{SourceUse, Span, VenueConditions};

#[cfg(test)]
mod tests;
