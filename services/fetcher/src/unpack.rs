//! Whole files that are compressed as a whole: unpacked within a bound.
//!
//! Must not know: feeds, messages.

use bzip2::read::MultiBzDecoder;
use feeds::Compression;
use std::io::Read;

/// The octets inside, at most `most` of them.
///
/// # Errors
/// In words: they are damaged, cut, or more than `most`.
pub fn unpacked(octets: Vec<u8>, compression: Compression, most: u64) -> Result<Vec<u8>, String> {
    match compression {
        Compression::None => Ok(octets),
        Compression::Bzip2 => bunzipped(&octets, most),
    }
}

fn bunzipped(packed: &[u8], most: u64) -> Result<Vec<u8>, String> {
    let mut octets = Vec::new();
    // One octet more than allowed tells that there are too many; nothing beyond it is unpacked.
    let mut bounded = MultiBzDecoder::new(packed).take(most.saturating_add(1));
    (bounded.read_to_end(&mut octets)).map_err(|error| format!("it cannot be unpacked by bzip2: {error}"))?;
    if octets.len() as u64 > most {
        return Err(format!("unpacked it has more than {most} octets"));
    }
    Ok(octets)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn packed(octets: &[u8]) -> Vec<u8> {
        let mut encoder = bzip2::write::BzEncoder::new(Vec::new(), bzip2::Compression::best());
        encoder.write_all(octets).unwrap();
        encoder.finish().unwrap()
    }

    // Source: the library's own encoder; the bound is the project's.
    #[test]
    fn what_was_packed_comes_out_within_its_bound() {
        let out = |octets: Vec<u8>, most| unpacked(octets, Compression::Bzip2, most);
        assert_eq!(out(packed(b"GRIB"), 4), Ok(b"GRIB".to_vec()));
        assert!(out(packed(b"GRIB"), 3).unwrap_err().contains("more than 3"));
        let grows = packed(&vec![0; 50_000_000]);
        assert!(grows.len() < 1_000, "{} octets stand for 50 million", grows.len());
        assert!(out(grows, 1_000_000).unwrap_err().contains("more than 1000000"));
        let whole = packed(&[7; 1000]);
        assert!(out(whole[..whole.len() / 2].to_vec(), 4_000).is_err());
        assert!(out(b"<html>".to_vec(), 4_000).is_err());
        assert_eq!(
            unpacked(b"as it is".to_vec(), Compression::None, 1),
            Ok(b"as it is".to_vec())
        );
    }
}
