//! What a replica is given.

use crate::{Clock, Publication, Tree};
use std::path::PathBuf;

/// What a replica serves, by which clock, and how fast.
#[derive(Clone)]
pub struct ReplicaSettings {
    /// The files.
    pub tree: Tree,
    /// The time by which files are published and answers dated.
    pub clock: Clock,
    /// When files appear.
    pub publication: Publication,
    /// Octets per second of each body; none for as fast as the machine can.
    pub pace: Option<u64>,
    /// Octets per second of all bodies together, as over one line; none for as fast as the machine can.
    pub line: Option<u64>,
    /// Most requests within a minute of the clock; further ones are sent to a block page with status 302.
    pub requests_per_minute: Option<u32>,
}

impl ReplicaSettings {
    /// A folder of which everything is there, as fast as the machine can.
    pub fn folder(root: impl Into<PathBuf>, clock: Clock) -> Self {
        Self::tree(Tree::Folder(root.into()), clock)
    }

    /// A tree of which everything is there, as fast as the machine can.
    pub fn tree(tree: Tree, clock: Clock) -> Self {
        Self {
            tree,
            clock,
            publication: Publication::Everything,
            pace: None,
            line: None,
            requests_per_minute: None,
        }
    }
}
