//! Where tests find the material that lies beside the repository, and what they say where it is not at hand.
//!
//! Owns: that one question, for the tests of every package. Must not know: what the material is.

use std::path::{Path, PathBuf};

/// A file or folder below `../shared` (or below `CRINGLE_SHARED`); where it is not there, says what is skipped.
///
/// # Panics
/// With `CRINGLE_NOTHING_SKIPPED=1`, as in CI, when it is not there.
#[expect(
    clippy::panic,
    clippy::print_stdout,
    reason = "a test's way to say that it may not be skipped, or is"
)]
pub fn shared(what: &str) -> Option<PathBuf> {
    let beside = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared");
    let path = std::env::var_os("CRINGLE_SHARED")
        .map_or_else(beside, PathBuf::from)
        .join(what);
    if path.exists() {
        return Some(path);
    }
    if std::env::var_os("CRINGLE_NOTHING_SKIPPED").is_some_and(|value| value == "1") {
        panic!("needs ../shared/{what}, and nothing may be skipped");
    }
    println!("skipped: needs ../shared/{what}");
    None
}
