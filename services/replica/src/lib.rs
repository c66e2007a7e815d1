//! A feed server for tests and demonstrations: producers' trees over HTTP, published by the clock, with faults on demand.
//!
//! Owns: the HTTP/1.1 that object stores and producers' servers speak (one range, entity tags, dates), when a file
//! appears, what goes wrong on request. Is given: a tree, a clock, a publication. Must not know: who fetches, what for.
//!
//! ```
//! use replica::{Fault, Replica, ReplicaSettings, Times, fixed_clock};
//!
//! let now = "2030-05-13T06:00:00Z".parse()?;
//! let replica = Replica::start(ReplicaSettings::folder(".", fixed_clock(now)))?;
//! replica.faults().add(".f030", Fault::CutBody { after: 1000 }, Times::First(2));
//! let _base_url_of_a_source = replica.base_url();
//! assert!(replica.requests().is_empty());
//! replica.stop();
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! It speaks HTTP by hand on a plain socket: a server library sees to it that lengths and bodies agree, and half of what
//! is shown here is that they do not. It runs on a thread of its own, so that it answers while a caller blocks.

mod answer;
mod book;
mod clock;
mod connection;
mod content;
mod error;
mod fault;
mod full_size;
mod index;
mod index_lies;
mod line;
mod message;
mod message_lies;
mod misfortune;
mod publication;
mod range;
mod request;
mod response;
mod seen;
mod server;
mod settings;
mod simple_packing;
mod stamp;
mod subset;
mod tree;
mod validators;

pub use book::{FaultBook, Times};
pub use clock::{Clock, HandClock, fixed_clock};
pub use error::ReplicaError;
pub use fault::Fault;
pub use full_size::{FullSize, VirtualTree};
pub use publication::Publication;
pub use seen::Seen;
pub use server::Replica;
pub use settings::ReplicaSettings;
pub use stamp::Stamp;
pub use tree::Tree;
