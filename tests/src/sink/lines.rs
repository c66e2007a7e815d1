//! Lines and mails off the wire, bounded.
//!
//! A line ends with CR LF and with nothing else (RFC 5321, 2.3.8): who ends a mail by another server's liberties gets it into
//! one piece here.

use std::io::{self, BufRead};

/// Longest line of a command, octets with CR LF: RFC 4954, section 4 (12,288 for an answer to AUTH), which is more than RFC
/// 5321, 4.5.3.1.4 asks for.
const COMMAND_AT_MOST: usize = 12_288;
/// Longest line of a mail, octets with CR LF: RFC 5321, 4.5.3.1.6.
const TEXT_LINE_AT_MOST: usize = 1000;
/// A line that is longer than this is not read to its end.
const LINE_READ_AT_MOST: usize = 1 << 20;

/// The next command without its end; none when the client has gone.
pub fn read_command(reader: &mut impl BufRead) -> io::Result<Option<String>> {
    let Some(mut line) = read_line(reader, COMMAND_AT_MOST)? else {
        return Ok(None);
    };
    line.truncate(line.len() - 2);
    // RFC 5321, 2.4: commands are ASCII. Anything else becomes an unknown command.
    Ok(Some(String::from_utf8_lossy(&line).into_owned()))
}

/// A mail up to the line of a single dot.
#[derive(Debug, PartialEq, Eq)]
pub enum Text {
    /// Its octets, with the dots that were added for the way taken off (RFC 5321, 4.5.2).
    Whole(Vec<u8>),
    /// It is larger than was said.
    TooLarge,
    /// It has a line that is longer than RFC 5321 allows.
    LineTooLong,
}

/// Reads a mail; none when the client has gone before its end.
pub fn read_text(reader: &mut impl BufRead, size: usize) -> io::Result<Option<Text>> {
    let (mut octets, mut too_large, mut too_long) = (Vec::new(), false, false);
    while let Some(line) = read_line(reader, LINE_READ_AT_MOST)? {
        if line == b".\r\n" {
            return Ok(Some(match (too_large, too_long) {
                (true, _) => Text::TooLarge,
                (_, true) => Text::LineTooLong,
                _ => Text::Whole(octets),
            }));
        }
        let line = line.strip_prefix(b".").unwrap_or(&line);
        too_long |= line.len() > TEXT_LINE_AT_MOST;
        too_large |= octets.len() + line.len() > size;
        if !too_large {
            octets.extend_from_slice(line);
        }
    }
    Ok(None)
}

/// The next line with its end; none when the client has gone.
fn read_line(reader: &mut impl BufRead, most: usize) -> io::Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    loop {
        let buffer = reader.fill_buf()?;
        if buffer.is_empty() {
            return Ok(None);
        }
        let upto = buffer
            .iter()
            .position(|octet| *octet == b'\n')
            .map_or(buffer.len(), |at| at + 1);
        if line.len() + upto > most {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "a line without end"));
        }
        line.extend_from_slice(&buffer[..upto]);
        reader.consume(upto);
        if line.ends_with(b"\r\n") {
            return Ok(Some(line));
        }
    }
}
