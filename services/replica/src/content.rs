//! Octets to serve, in memory or in a file, read piece by piece.
//!
//! Must not know: HTTP.

use bytes::Bytes;
use std::fs::File;
use std::io;
use std::ops::Range;
use std::os::unix::fs::FileExt;
use std::sync::Arc;

/// Octets to serve.
#[derive(Clone, Debug)]
pub(crate) enum Content {
    /// One after another; large pieces are shared, not copied.
    Pieces(Vec<Bytes>),
    /// An open file.
    File { file: Arc<File>, size: u64 },
}

impl Content {
    pub fn of(octets: impl Into<Bytes>) -> Self {
        Self::Pieces(vec![octets.into()])
    }

    pub fn size(&self) -> u64 {
        match self {
            Self::Pieces(pieces) => pieces.iter().map(|piece| piece.len() as u64).sum(),
            Self::File { size, .. } => *size,
        }
    }

    /// At least one octet and at most `most` of the range, from its start; nothing of an empty range.
    pub fn read(&self, range: Range<u64>, most: usize) -> io::Result<Bytes> {
        let length = usize::try_from(range.end.saturating_sub(range.start)).unwrap_or(usize::MAX);
        let length = length.min(most);
        match self {
            Self::Pieces(pieces) => Ok(within_pieces(pieces, range.start, length)),
            Self::File { file, .. } => {
                let mut octets = vec![0; length];
                file.read_exact_at(&mut octets, range.start)?;
                Ok(octets.into())
            }
        }
    }

    /// A part that lies inside, in one piece.
    pub fn part(&self, range: Range<u64>) -> io::Result<Vec<u8>> {
        let (mut octets, mut at) = (Vec::new(), range.start);
        while at < range.end {
            let piece = self.read(at..range.end, usize::MAX)?;
            if piece.is_empty() {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            at += piece.len() as u64;
            octets.extend_from_slice(&piece);
        }
        Ok(octets)
    }

    /// Everything, for content that is about to be changed.
    pub fn whole(&self) -> io::Result<Vec<u8>> {
        self.part(0..self.size())
    }
}

fn within_pieces(pieces: &[Bytes], start: u64, length: usize) -> Bytes {
    let mut start = start;
    for piece in pieces {
        let size = piece.len() as u64;
        if start < size {
            let from = start as usize;
            return piece.slice(from..piece.len().min(from.saturating_add(length)));
        }
        start -= size;
    }
    Bytes::new()
}
