//! The catalogue of open forecasts: where a run lies, how its index reads, which messages are wanted and where.
//!
//! Owns: the embedded catalogue, index parsing, plans and what a wanted message must turn out to be.
//! Is given: a run's reference time and index texts. Must not know: an HTTP client, files, GRIB bytes, clubs, SQL.

pub mod catalogue;
mod check;
pub mod coalesce;
pub mod ecmwf_index;
pub mod expected;
pub mod feed;
pub mod files;
pub mod index;
mod lookup;
mod overrides;
pub mod plan;
mod schedule;
pub mod subset;
#[cfg(test)]
mod testing;
pub mod want;

pub use catalogue::{Catalogue, CatalogueError};
pub use coalesce::{Coalescing, Request, Span, coalesce, requests};
pub use ecmwf_index::{EcmwfIndex, EcmwfRecord};
pub use expected::{Expected, ExpectedInterval, Found};
pub use feed::{
    Compression, CoordinateField, Coordinates, Feed, GustKind, IndexKind, MemberName, ShortRuns, StepFile,
    Want, WantKind,
};
pub use files::{CoordinateMessage, decoded_path};
pub use index::{ByteRange, IndexRecord, LineFault, NoaaIndex};
pub use plan::{IndexTexts, MissingMessage, PartPlan, WantedMessage, plan_part, plan_part_of_subset};
pub use subset::{Area, Subset};
pub use want::Scale;
