//! The demo: an invented club on an invented forecast run that is carried inside the binary, and the clock that stands inside it.
//!
//! The bundled feeds are unpacked to a folder and fetched from there by the path that production uses.

use crate::output::{CommandError, failed};
use chrono::{DateTime, Utc};
use forecast::hash::short_hash;
use rust_embed::RustEmbed;
use std::path::{Path, PathBuf};

#[derive(RustEmbed)]
#[folder = "../../fixtures/demo/feeds"]
struct BundledFeeds;

/// The demo club's file.
pub const CLUB: &str = include_str!("../../../fixtures/demo/club.toml");

/// The demo's clock: Monday 13 May 2030, 15:00 UTC, when the run of 06 UTC is out and that of 12 UTC is not.
pub const CLOCK_SECONDS: i64 = 1_904_914_800;

/// The demo's clock.
pub fn clock() -> DateTime<Utc> {
    DateTime::from_timestamp(CLOCK_SECONDS, 0).unwrap_or_default()
}

/// What the demo says of itself on every surface.
pub fn banner() -> String {
    format!(
        "Demo: invented weather, club and place; the clock stands at {}.",
        clock().format("%A %-d %B %Y %H:%M UTC")
    )
}

/// The folder the demo keeps its feeds and its store in: one for each build, so that versions do not meet.
pub fn folder() -> PathBuf {
    let build = format!("{}{}", env!("CARGO_PKG_VERSION"), bundle_hash());
    cache_home()
        .join("cringle")
        .join(format!("demo-{}", short_hash(build.as_bytes(), 12)))
}

fn cache_home() -> PathBuf {
    let from = |name: &str| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    from("XDG_CACHE_HOME")
        .or_else(|| from("HOME").map(|home| home.join(".cache")))
        .unwrap_or_else(std::env::temp_dir)
}

/// A name for what is bundled: the hash of every file's name and hash, and of the club file.
fn bundle_hash() -> String {
    let mut all = String::from(CLUB);
    for name in BundledFeeds::iter() {
        if let Some(file) = BundledFeeds::get(&name) {
            all += &format!("{name} {:?}\n", file.metadata.sha256_hash());
        }
    }
    short_hash(all.as_bytes(), 16)
}

/// Unpacks the bundled feeds below a folder, unless that has been done, and returns where they lie.
///
/// The folder is filled under another name and renamed when whole, so that a stop in between leaves nothing half-written to be read.
pub fn unpack(folder: &Path) -> Result<PathBuf, CommandError> {
    let feeds = folder.join("feeds");
    if feeds.is_dir() {
        return Ok(feeds);
    }
    let filling = folder.join(format!("feeds-{}", std::process::id()));
    let cannot = || {
        failed::<std::io::Error>(format!(
            "the bundled feeds cannot be unpacked to {}",
            folder.display()
        ))
    };
    for name in BundledFeeds::iter() {
        let Some(file) = BundledFeeds::get(&name) else {
            continue;
        };
        let path = filling.join(name.as_ref());
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(cannot())?;
        }
        std::fs::write(&path, &file.data).map_err(cannot())?;
    }
    match std::fs::rename(&filling, &feeds) {
        // Another process was quicker: its feeds are the same.
        Err(_) if feeds.is_dir() => std::fs::remove_dir_all(&filling).map_err(cannot())?,
        renamed => renamed.map_err(cannot())?,
    }
    Ok(feeds)
}
