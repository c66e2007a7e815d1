//! The form in which series and manifests are kept: postcard, closed by a CRC-32, so that a damaged disk or a cut
//! write is told from a value.

use crc::{CRC_32_ISO_HDLC, Crc};
use serde::Serialize;
use serde::de::DeserializeOwned;

const CHECKSUM: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// The bytes to keep.
pub(crate) fn to_blob<T: Serialize>(value: &T) -> Result<Vec<u8>, postcard::Error> {
    postcard::to_stdvec_crc32(value, CHECKSUM.digest())
}

/// What was kept, if not one bit of it has changed.
pub(crate) fn from_blob<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, postcard::Error> {
    match postcard::take_from_bytes_crc32(bytes, CHECKSUM.digest())? {
        (value, []) => Ok(value),
        _ => Err(postcard::Error::DeserializeBadEncoding),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source of the check value CBF43926 for "123456789": the catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC.
    #[test]
    fn a_blob_ends_in_its_crc_32() {
        let blob = to_blob(b"123456789").unwrap();
        assert_eq!(
            blob,
            [&b"123456789"[..], &0xCBF4_3926_u32.to_le_bytes()[..]].concat()
        );
    }

    #[test]
    fn every_single_wrong_bit_every_cut_and_every_addition_is_told() {
        let value = vec![Ok(1.5_f32), Err(7_u8), Ok(-0.0)];
        let blob = to_blob(&value).unwrap();
        assert_eq!(from_blob::<Vec<Result<f32, u8>>>(&blob).unwrap(), value);
        for bit in 0..blob.len() * 8 {
            let mut harmed = blob.clone();
            harmed[bit / 8] ^= 1 << (bit % 8);
            assert!(from_blob::<Vec<Result<f32, u8>>>(&harmed).is_err(), "bit {bit}");
        }
        for length in 0..blob.len() {
            assert!(
                from_blob::<Vec<Result<f32, u8>>>(&blob[..length]).is_err(),
                "cut to {length}"
            );
        }
        let longer = [&blob[..], &[0]].concat();
        assert!(from_blob::<Vec<Result<f32, u8>>>(&longer).is_err());
    }
}
