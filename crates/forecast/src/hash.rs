//! Content hashes: what was used is named by the hash of its bytes.

use sha2::{Digest, Sha256};

/// SHA-256 of some bytes, in lower-case hexadecimal.
pub fn sha256_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// The first `digits` hexadecimal digits of the SHA-256 of some bytes: a short name for people.
pub fn short_hash(bytes: &[u8], digits: usize) -> String {
    let mut hash = sha256_hex(bytes);
    hash.truncate(digits);
    hash
}
