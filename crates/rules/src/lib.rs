//! Conditions, boat, level and venue in; calls, sail plans, cautions and windows out.
//!
//! Owns: every rule of how a call is made, as tables and small pure functions that a skipper could read.
//! Is given: conditions by hour and member, the club's boat, level, venue and policy, the sun's times, `now`.
//! Must not know: the clock, I/O, randomness, sentences, HTML, where the conditions came from.

pub mod assess;
pub mod call;
pub mod cautions;
pub mod combined;
pub mod count;
pub mod criteria;
pub mod legs;
pub mod lessons;
pub mod numbers;
pub mod outing;
pub mod plan;
pub mod reasons;
pub mod spread;
pub mod steady;
pub mod sure;
pub mod verdict;
pub mod view;
pub mod way_out;
pub mod windows;
pub mod yardstick;

pub use assess::{Assessment, HourAssessment, Judge};
pub use call::Call;
pub use cautions::{CautionCode, CautionDetail, CautionFound};
pub use criteria::{Criterion, Finding, Unknown};
pub use outing::{Forecasts, MemberView, Outing, Sun};
pub use plan::{PlanChange, SailPlan};
pub use steady::{CallState, steadied};
pub use sure::Firmness;
pub use verdict::{Counted, Reason, UnknownSpan, Verdict, VerdictHour, decide};
pub use way_out::{Offered, OtherVenue, WayOut, WayOutKind};
pub use windows::{Window, WindowQuery, find_windows};

/// The version of the rules, carried in every advisory: a change of any rule changes it.
pub const RULES_VERSION: &str = env!("CARGO_PKG_VERSION");
