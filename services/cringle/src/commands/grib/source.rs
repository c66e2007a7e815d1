//! The octets of a file that holds GRIB messages, decompressed where it is compressed, within bounds.

use bzip2::read::MultiBzDecoder;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// The longest file and the most a compressed one may become: a whole global step of 0.25 degrees has 0.5 GB.
const MOST_OCTETS: u64 = 1 << 30;
/// What a bzip2 stream begins with.
const BZIP2_MAGIC: &[u8; 3] = b"BZh";

/// Why a file gives no octets.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    /// The file itself.
    #[error("cannot be read: {0}")]
    File(#[from] io::Error),
    /// A checksum or the form of the compressed data is wrong; nothing of it is used.
    #[error("bzip2 data damaged: {0}")]
    Bzip2(io::Error),
    /// Too much for one file.
    #[error("more than {} octets", MOST_OCTETS)]
    TooLong,
}

/// Reads a file to its end.
pub fn read(path: &Path) -> Result<Vec<u8>, Unreadable> {
    let bytes = within_bounds(File::open(path)?, Unreadable::File)?;
    if bytes.starts_with(BZIP2_MAGIC) || path.extension().is_some_and(|extension| extension == "bz2") {
        return within_bounds(MultiBzDecoder::new(bytes.as_slice()), Unreadable::Bzip2);
    }
    Ok(bytes)
}

fn within_bounds(
    source: impl Read,
    because: impl FnOnce(io::Error) -> Unreadable,
) -> Result<Vec<u8>, Unreadable> {
    let mut bytes = Vec::new();
    source
        .take(MOST_OCTETS + 1)
        .read_to_end(&mut bytes)
        .map_err(because)?;
    if bytes.len() as u64 > MOST_OCTETS {
        Err(Unreadable::TooLong)
    } else {
        Ok(bytes)
    }
}
