//! Where the files are.
//!
//! Owns: from a decoded path to octets, and that nothing outside the root is served. Must not know: HTTP, faults.

use crate::ReplicaError;
use crate::content::Content;
use crate::full_size::VirtualTree;
use crate::validators::etag_of;
use chrono::{DateTime, Utc};
use std::collections::HashMap;
use std::fs::{File, Metadata};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

/// The files a replica serves.
#[derive(Clone, Debug)]
pub enum Tree {
    /// A folder, whose files have the producer's paths.
    Folder(PathBuf),
    /// Full-size files that exist only in memory.
    FullSize(VirtualTree),
}

/// A file that is there.
pub(crate) struct Found {
    pub content: Content,
    pub etag: String,
    /// The file system's date, for a path that tells no run.
    pub modified: Option<DateTime<Utc>>,
}

/// A tree that has been opened.
pub(crate) enum OpenTree {
    Folder(Folder),
    FullSize(VirtualTree),
}

impl OpenTree {
    pub fn open(tree: &Tree) -> Result<Self, ReplicaError> {
        match tree {
            Tree::Folder(path) => Folder::open(path).map(Self::Folder),
            Tree::FullSize(tree) => Ok(Self::FullSize(tree.clone())),
        }
    }

    /// The file at a decoded path.
    pub fn find(&self, path: &str) -> Option<Found> {
        match self {
            Self::Folder(folder) => folder.find(path),
            Self::FullSize(tree) => tree.find(path),
        }
    }
}

/// What tells that a file has not changed since its entity tag was made.
type Version = (Option<SystemTime>, u64);

/// A folder and the entity tags made so far.
pub(crate) struct Folder {
    /// Without links, so that what lies below it can be told.
    root: PathBuf,
    etags: Mutex<HashMap<PathBuf, (Version, String)>>,
}

impl Folder {
    fn open(path: &Path) -> Result<Self, ReplicaError> {
        let folder = |source| ReplicaError::Folder {
            path: path.to_owned(),
            source,
        };
        let root = path.canonicalize().map_err(folder)?;
        std::fs::read_dir(&root).map_err(folder)?;
        Ok(Self {
            root,
            etags: Mutex::default(),
        })
    }

    fn find(&self, path: &str) -> Option<Found> {
        let below = Path::new(path.trim_start_matches('/'));
        let plain = below
            .components()
            .all(|part| matches!(part, Component::Normal(_)));
        let wanted = self.root.join(below);
        let real = wanted.canonicalize().ok().filter(|_| plain)?;
        if !real.starts_with(&self.root) {
            return None;
        }
        let file = File::open(&real).ok()?;
        let about = file.metadata().ok().filter(Metadata::is_file)?;
        let content = Content::File {
            file: Arc::new(file),
            size: about.len(),
        };
        let modified = about.modified().ok();
        let etag = self.etag(real, (modified, about.len()), &content)?;
        Some(Found {
            content,
            etag,
            modified: modified.map(DateTime::from),
        })
    }

    fn etag(&self, real: PathBuf, version: Version, content: &Content) -> Option<String> {
        let mut etags = self.etags.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, etag)) = etags.get(&real).filter(|(known, _)| *known == version) {
            return Some(etag.clone());
        }
        let etag = etag_of(content).ok()?;
        etags.insert(real, (version, etag.clone()));
        Some(etag)
    }
}
