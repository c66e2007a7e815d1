//! The catalogue of open forecasts: where a run lies, how its index reads, which messages are wanted and where.
//!
//! Owns: the embedded catalogue, index parsing, plans and what a wanted message must turn out to be.
//! Is given: a run's reference time and index texts. Must not know: an HTTP client, files, GRIB bytes, clubs, SQL.

pub mod catalogue;
pub mod expected;
pub mod feed;
pub mod index;
pub mod plan;

pub use catalogue::{Catalogue, CatalogueError};
pub use expected::{Expected, Found};
pub use feed::{Feed, GustKind, MemberName, StepFile, Want, WantKind};
pub use index::{ByteRange, IndexRecord, NoaaIndex};
pub use plan::{IndexTexts, MissingMessage, PartPlan, WantedMessage, plan_part};
