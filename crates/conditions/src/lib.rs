//! Point series and a venue in, conditions for each member out.
//!
//! Owns: interpolation in space and time, gust and rain by interval, the choice of source for each element, corrections.
//! Is given: the slices of runs, a venue, the club's policy and `now`. Must not know: limits, calls, sentences, GRIB,
//! where the series was kept, the clock.

pub mod hour;
pub mod trace;
pub mod venue;

pub use hour::{Element, HourConditions, Known, Missing, Notes, Reading};
pub use trace::{Correction, Trace, TracedNode, TracedStep};
pub use venue::{MemberSet, SourceUse, Span, VenueConditions};
