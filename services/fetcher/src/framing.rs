//! Is a byte range one whole GRIB2 message? Checked before anything is decoded.

/// Octets of section 0 and of the end section (WMO Manual on Codes, FM 92 GRIB edition 2).
const SHORTEST: usize = 16 + 4;

/// The message that a range holds: all of a closed range, the first message of an open one.
///
/// # Errors
/// What is wrong, in words.
pub fn whole_message(bytes: &[u8], open_end: bool) -> Result<&[u8], String> {
    if !bytes.starts_with(b"GRIB") {
        return Err(format!("it begins with {}, not GRIB", beginning(bytes)));
    }
    if bytes.len() < SHORTEST {
        return Err(format!("it has {} octets, fewer than any message", bytes.len()));
    }
    if bytes[7] != 2 {
        return Err(format!("it is of GRIB edition {}, not 2", bytes[7]));
    }
    let mut length = [0; 8];
    length.copy_from_slice(&bytes[8..16]);
    let length = usize::try_from(u64::from_be_bytes(length)).unwrap_or(usize::MAX);
    let fits = if open_end {
        length <= bytes.len()
    } else {
        length == bytes.len()
    };
    if !fits || length < SHORTEST {
        return Err(format!(
            "it says it has {length} octets, its range has {}",
            bytes.len()
        ));
    }
    let message = &bytes[..length];
    if !message.ends_with(b"7777") {
        return Err("it does not end with 7777".to_owned());
    }
    Ok(message)
}

/// The first octets as text, harmless to print.
fn beginning(bytes: &[u8]) -> String {
    format!(
        "{:?}",
        bytes
            .iter()
            .take(8)
            .map(|byte| char::from(*byte))
            .collect::<String>()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(length: u64, size: usize) -> Vec<u8> {
        let mut bytes = vec![0; size];
        bytes[..4].copy_from_slice(b"GRIB");
        bytes[7] = 2;
        bytes[8..16].copy_from_slice(&length.to_be_bytes());
        bytes[size - 4..].copy_from_slice(b"7777");
        bytes
    }

    // Source: WMO Manual on Codes, FM 92 GRIB edition 2, section 0 (octets 1-4, 8, 9-16) and section 8.
    #[test]
    fn a_range_must_be_one_whole_message() {
        assert!(whole_message(&message(40, 40), false).is_ok());
        let refused = |bytes: &[u8], word: &str| {
            let words = whole_message(bytes, false).unwrap_err();
            assert!(words.contains(word), "{words} lacks {word}");
        };
        refused(&message(39, 40), "39 octets, its range has 40");
        refused(&message(u64::MAX, 40), "its range has 40");
        refused(&message(19, 19 + 21), "its range has");
        refused(b"<!DOCTYPE html><html>not found</html>", "<!DOCTYP");
        refused(b"", "not GRIB");
        refused(b"GRIB", "fewer than any message");
        let mut edition = message(40, 40);
        edition[7] = 1;
        refused(&edition, "edition 1");
        let mut cut = message(40, 40);
        cut[39] = 0;
        refused(&cut, "7777");
    }

    #[test]
    fn an_open_range_may_hold_more_than_its_message() {
        let mut bytes = message(40, 40);
        bytes.extend(message(50, 50));
        assert_eq!(whole_message(&bytes, true).unwrap().len(), 40);
        assert!(whole_message(&bytes, false).is_err());
        assert!(whole_message(&message(41, 40), true).is_err());
    }
}
