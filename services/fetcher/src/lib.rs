//! Finds the newest runs of the open forecasts, reads the wanted messages, has them decoded and keeps their values.
//!
//! Owns: what is pulled and when, reading within bounds, the decoding children for what needs one, the report of a pull.
//! Is given: a plan, a store, an instant. Must not know: rules, advisories, pages, how SQL or GRIB are written.

mod access;
mod answer;
mod appeared;
mod assemble;
mod batch;
mod cache;
mod coverage;
pub mod decoder;
mod error;
mod etiquette;
mod folder;
mod framing;
mod http;
mod mesh_cells;
mod pull;
mod read_part;
mod report;
mod retry;
mod run_pull;
mod secrets;
mod source;
mod true_north;
mod unpack;
pub mod watch;

pub use cache::{CacheLimits, MessageCache};
pub use coverage::grid_of;
pub use error::FetchError;
pub use etiquette::{HttpClient, HttpSettings, in_full};
pub use folder::SizeLimits;
pub use pull::{FetchPlan, PullMeans, pull, pull_over};
pub use report::{PullReport, RunReport, SourceReport};
pub use retry::RetryLimits;
pub use secrets::without_passwords;
pub use watch::{PullEvent, PullWatcher, Unwatched};
