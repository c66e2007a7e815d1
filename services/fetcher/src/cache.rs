//! Raw messages kept for a while, so that what a killed or failed pull has read need not be sent again.
//!
//! Owns: their names, bounds on size and age, the sweep. Must not know: what a message says, where it came from.
//!
//! A message is put here only after it was decoded and compared with its plan. The local folder writes to a side and
//! renames, so a reader sees a whole object or none; what is read back is checked and compared anew all the same.

use bytes::Bytes;
use chrono::{DateTime, TimeDelta, Utc};
use forecast::{SourceId, hash::sha256_hex};
use futures_util::TryStreamExt;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ObjectMeta, ObjectStore, ObjectStoreExt};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Bounds of the cache.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CacheLimits {
    /// Octets of all messages together, at most.
    pub octets: u64,
    /// Age of a message, at most.
    pub age: TimeDelta,
}

impl Default for CacheLimits {
    /// Two runs of a deterministic forecast; a run is of no use after a day.
    fn default() -> Self {
        Self {
            octets: 2_000_000_000,
            age: TimeDelta::hours(24),
        }
    }
}

/// The cache. Clones share it. A fault of it costs a request to the producer, never a pull.
#[derive(Clone, Debug)]
pub struct MessageCache {
    store: Arc<dyn ObjectStore>,
    limits: CacheLimits,
    put_since_sweep: Arc<AtomicU64>,
}

/// The shelf of one source's run.
#[derive(Clone, Debug)]
pub(crate) struct Shelf {
    cache: MessageCache,
    folder: String,
    address: String,
}

impl MessageCache {
    /// A cache in a folder, which is made if it is not there.
    ///
    /// # Errors
    /// In words, if the folder can neither be found nor made.
    pub fn in_folder(folder: &std::path::Path, limits: CacheLimits) -> Result<Self, String> {
        let words = |error: &dyn std::fmt::Display| format!("no cache in {}: {error}", folder.display());
        std::fs::create_dir_all(folder).map_err(|error| words(&error))?;
        let store = LocalFileSystem::new_with_prefix(folder).map_err(|error| words(&error))?;
        Ok(Self::over(Arc::new(store.with_automatic_cleanup(true)), limits))
    }

    /// A cache over any object store.
    pub fn over(store: Arc<dyn ObjectStore>, limits: CacheLimits) -> Self {
        Self {
            store,
            limits,
            put_since_sweep: Arc::default(),
        }
    }

    /// The shelf of a run of a source at an address: another address is another shelf.
    pub(crate) fn shelf(&self, source: &SourceId, address: &str, run: DateTime<Utc>) -> Shelf {
        Shelf {
            cache: self.clone(),
            folder: format!("{source}/{}", run.format("%Y%m%dT%H")),
            address: address.to_owned(),
        }
    }

    /// Removes what is too old, then the oldest until the rest fits. Returns what was removed, in octets.
    pub async fn sweep(&self, now: DateTime<Utc>) -> u64 {
        match self.try_sweep(now).await {
            Ok(removed) => removed,
            Err(error) => {
                tracing::warn!("the cache of raw messages could not be swept: {error}");
                0
            }
        }
    }

    async fn try_sweep(&self, now: DateTime<Utc>) -> object_store::Result<u64> {
        self.put_since_sweep.store(0, Ordering::Relaxed);
        let mut kept: Vec<ObjectMeta> = self.store.list(None).try_collect().await?;
        kept.sort_by(|a, b| (b.last_modified, &a.location).cmp(&(a.last_modified, &b.location)));
        let (mut held, mut removed) = (0_u64, 0_u64);
        for object in kept {
            let too_old = now - object.last_modified > self.limits.age;
            if too_old || held.saturating_add(object.size) > self.limits.octets {
                self.store.delete(&object.location).await?;
                removed += object.size;
            } else {
                held += object.size;
            }
        }
        Ok(removed)
    }

    /// True if so much was put since the last sweep that the bound on size may be passed by a tenth.
    pub(crate) fn wants_sweep(&self) -> bool {
        self.put_since_sweep.load(Ordering::Relaxed) > self.limits.octets / 10
    }
}

impl Shelf {
    /// What was kept under a name; none if there is nothing, or the cache fails.
    pub(crate) async fn get(&self, name: &str, longest: u64) -> Option<Bytes> {
        let place = self.place(name);
        let about = self.cache.store.head(&place).await.ok()?;
        if about.size > longest {
            return None;
        }
        self.cache.store.get(&place).await.ok()?.bytes().await.ok()
    }

    /// Keeps octets under a name. True if they were kept.
    pub(crate) async fn put(&self, name: &str, octets: Bytes) -> bool {
        let length = octets.len() as u64;
        if length > self.cache.limits.octets / 10 {
            return false;
        }
        match self.cache.store.put(&self.place(name), octets.into()).await {
            Ok(_) => {
                self.cache.put_since_sweep.fetch_add(length, Ordering::Relaxed);
                true
            }
            Err(error) => {
                tracing::warn!("a raw message could not be kept in the cache: {error}");
                false
            }
        }
    }

    fn place(&self, name: &str) -> Path {
        let name = sha256_hex(format!("{}\n{name}", self.address).as_bytes());
        Path::from(format!("{}/{name}", self.folder))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run() -> DateTime<Utc> {
        "2030-05-13T00:00:00Z".parse().unwrap()
    }

    fn shelf(cache: &MessageCache, address: &str) -> Shelf {
        cache.shelf(&SourceId::new("gfs"), address, run())
    }

    // No source: what goes in comes out, for the same source, run, address and name only.
    #[tokio::test]
    async fn what_was_kept_is_found_by_its_own_name_only() {
        let folder = tempfile::tempdir().unwrap();
        let cache = MessageCache::in_folder(folder.path(), CacheLimits::default()).unwrap();
        let here = shelf(&cache, "https://a");
        assert!(here.put("file 0-3", Bytes::from_static(b"GRIB")).await);
        let found = |octets: &'static [u8]| Some(Bytes::from_static(octets));
        assert_eq!(here.get("file 0-3", 4).await, found(b"GRIB"));
        assert_eq!(here.get("file 0-3", 3).await, None, "longer than may be read");
        assert_eq!(here.get("file 0-4", 4).await, None);
        assert_eq!(shelf(&cache, "https://b").get("file 0-3", 4).await, None);
        let again = MessageCache::in_folder(folder.path(), CacheLimits::default()).unwrap();
        assert_eq!(
            shelf(&again, "https://a").get("file 0-3", 4).await,
            found(b"GRIB")
        );
    }

    // No source: arithmetic of the bounds.
    #[tokio::test]
    async fn the_sweep_keeps_to_age_and_size() {
        let folder = tempfile::tempdir().unwrap();
        let limits = CacheLimits {
            octets: 100,
            age: TimeDelta::hours(1),
        };
        let cache = MessageCache::in_folder(folder.path(), limits).unwrap();
        let here = shelf(&cache, "https://a");
        assert!(
            !here.put("large", Bytes::from(vec![0; 11])).await,
            "a tenth at most"
        );
        for name in 0..15 {
            assert!(here.put(&name.to_string(), Bytes::from(vec![0; 10])).await);
        }
        assert!(cache.wants_sweep());
        assert_eq!(cache.sweep(Utc::now()).await, 50);
        assert!(!cache.wants_sweep());
        assert_eq!(cache.sweep(Utc::now()).await, 0);
        assert_eq!(cache.sweep(Utc::now() + TimeDelta::hours(2)).await, 100);
    }

    // No source: an interrupted write lies beside the name, as the library's documentation says.
    #[tokio::test]
    async fn a_half_written_object_is_never_read() {
        let folder = tempfile::tempdir().unwrap();
        let cache = MessageCache::in_folder(folder.path(), CacheLimits::default()).unwrap();
        let here = shelf(&cache, "https://a");
        let place = folder.path().join(here.place("x").as_ref());
        std::fs::create_dir_all(place.parent().unwrap()).unwrap();
        std::fs::write(format!("{}#1", place.display()), b"GR").unwrap();
        assert_eq!(here.get("x", 100).await, None);
        assert!(here.put("x", Bytes::from_static(b"GRIB")).await);
        assert_eq!(here.get("x", 100).await, Some(Bytes::from_static(b"GRIB")));
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_told() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("file"), b"").unwrap();
        let refused = MessageCache::in_folder(&folder.path().join("file/cache"), CacheLimits::default());
        assert!(refused.unwrap_err().contains("no cache in"));
    }
}
