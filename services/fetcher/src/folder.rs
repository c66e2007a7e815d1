//! A feed in a folder: the tree of one producer's server at a `file://` address.
//!
//! Owns: which files may be opened and how much may be read. Must not know: what the octets mean.

use crate::error::FetchError;
use feeds::ByteRange;
use std::fs::File;
use std::io::{ErrorKind, Read, Seek, SeekFrom};
use std::path::{Component, Path, PathBuf};

/// Bounds on what is read into memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SizeLimits {
    /// Octets of one message. The largest single field of the known feeds has about 1 MB.
    pub message: u64,
    /// Octets of one index. The largest of the known feeds has about 50 kB.
    pub index: u64,
}

impl Default for SizeLimits {
    fn default() -> Self {
        Self {
            message: 4_000_000,
            index: 8_000_000,
        }
    }
}

/// Why something could not be read from a source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadFault {
    /// It is not there.
    Absent,
    /// It is there and cannot be used, for this reason.
    Unusable(String),
    /// Nothing can be said of it now, for this reason: nothing is kept of it, and a later pull asks again.
    Unreachable(String),
}

/// A producer's tree in a folder.
#[derive(Clone, Debug)]
pub struct FolderSource {
    root: PathBuf,
    limits: SizeLimits,
}

impl FolderSource {
    /// The folder at a `file://` address: whatever follows is its path as the system writes it.
    ///
    /// # Errors
    /// [`FetchError::Address`] for another kind of address or for what is no folder.
    pub fn open(address: &str, limits: SizeLimits) -> Result<Self, FetchError> {
        let refuse = |reason: String| FetchError::Address {
            address: address.to_owned(),
            reason,
        };
        let Some(path) = address.strip_prefix("file://") else {
            return Err(refuse("it does not begin with file://".to_owned()));
        };
        let root = PathBuf::from(path);
        if !root.is_dir() {
            return Err(refuse("there is no such folder".to_owned()));
        }
        Ok(Self { root, limits })
    }

    /// True if there is a file at a path below the root.
    pub fn has(&self, path: &str) -> bool {
        self.below(path).is_some_and(|path| path.is_file())
    }

    /// An index as text.
    ///
    /// # Errors
    /// [`ReadFault`].
    pub fn index(&self, path: &str) -> Result<String, ReadFault> {
        let (file, size) = self.file(path)?;
        if size > self.limits.index {
            return Err(ReadFault::Unusable(format!(
                "{path} has {size} octets, more than {}",
                self.limits.index
            )));
        }
        let mut bytes = Vec::with_capacity(usize::try_from(size).unwrap_or_default());
        // The file may grow while it is read: the limit holds all the same.
        file.take(self.limits.index)
            .read_to_end(&mut bytes)
            .map_err(|error| unusable(path, &error))?;
        String::from_utf8(bytes).map_err(|_| ReadFault::Unusable(format!("{path} is no text")))
    }

    /// The octets of some ranges of one file, each with its own outcome.
    pub fn ranges(&self, path: &str, ranges: &[ByteRange]) -> Vec<Result<Vec<u8>, ReadFault>> {
        match self.file(path) {
            Ok((mut file, size)) => ranges
                .iter()
                .map(|range| self.range(path, &mut file, size, *range))
                .collect(),
            Err(fault) => vec![Err(fault); ranges.len()],
        }
    }

    fn range(&self, path: &str, file: &mut File, size: u64, range: ByteRange) -> Result<Vec<u8>, ReadFault> {
        if range.first >= size {
            return Err(ReadFault::Absent);
        }
        let end = range.last.map_or(size, |last| last.saturating_add(1));
        if end > size {
            return Err(ReadFault::Unusable(format!(
                "{path} ends at octet {size}, inside the message"
            )));
        }
        let length = end - range.first;
        if length > self.limits.message {
            let limit = self.limits.message;
            return Err(ReadFault::Unusable(format!(
                "the message has {length} octets, more than {limit}"
            )));
        }
        let mut bytes = vec![0; usize::try_from(length).unwrap_or_default()];
        let read = file
            .seek(SeekFrom::Start(range.first))
            .and_then(|_| file.read_exact(&mut bytes));
        read.map_err(|error| unusable(path, &error))?;
        Ok(bytes)
    }

    fn file(&self, path: &str) -> Result<(File, u64), ReadFault> {
        let below = self
            .below(path)
            .ok_or_else(|| ReadFault::Unusable(format!("{path} leads out of the source")))?;
        let open = File::open(below).and_then(|file| Ok((file.metadata()?, file)));
        match open {
            Ok((about, file)) if about.is_file() => Ok((file, about.len())),
            Ok(_) => Err(ReadFault::Unusable(format!("{path} is no file"))),
            Err(error) if error.kind() == ErrorKind::NotFound => Err(ReadFault::Absent),
            Err(error) => Err(unusable(path, &error)),
        }
    }

    /// The path below the root; none if it could lead out of it. Paths stand as in an address: octets are decoded.
    fn below(&self, path: &str) -> Option<PathBuf> {
        let path = feeds::decoded_path(path)?;
        let path = Path::new(&path);
        path.components()
            .all(|part| matches!(part, Component::Normal(_)))
            .then(|| self.root.join(path))
    }
}

fn unusable(path: &str, error: &std::io::Error) -> ReadFault {
    ReadFault::Unusable(format!("{path} cannot be read: {error}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(limits: SizeLimits) -> (tempfile::TempDir, FolderSource) {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("inside")).unwrap();
        std::fs::write(folder.path().join("inside/data"), b"0123456789").unwrap();
        std::fs::write(folder.path().join("secret"), b"secret").unwrap();
        let address = format!("file://{}", folder.path().join("inside").display());
        let source = FolderSource::open(&address, limits).unwrap();
        (folder, source)
    }

    // No source: the expected octets are those written above.
    #[test]
    fn ranges_are_exact_and_the_open_one_ends_with_the_file() {
        let (_folder, source) = folder(SizeLimits {
            message: 6,
            index: 100,
        });
        let range = |first, last| ByteRange { first, last };
        let read = source.ranges(
            "data",
            &[
                range(2, Some(4)),
                range(7, None),
                range(10, None),
                range(8, Some(10)),
                range(1, Some(8)),
                range(5, Some(u64::MAX)),
            ],
        );
        assert_eq!(read[0], Ok(b"234".to_vec()));
        assert_eq!(read[1], Ok(b"789".to_vec()));
        assert_eq!(read[2], Err(ReadFault::Absent));
        let words = |outcome: &Result<Vec<u8>, ReadFault>| format!("{outcome:?}");
        assert!(
            words(&read[3]).contains("data ends at octet 10, inside the message"),
            "{:?}",
            read[3]
        );
        assert!(words(&read[4]).contains("8 octets, more than 6"), "{:?}", read[4]);
        assert!(words(&read[5]).contains("ends at octet 10"), "{:?}", read[5]);
        assert_eq!(source.ranges("none", &[range(0, None)]), [Err(ReadFault::Absent)]);
    }

    #[test]
    fn no_path_leads_out_of_the_folder() {
        let (_folder, source) = folder(SizeLimits::default());
        for path in [
            "../secret",
            "/etc/hostname",
            "a/../../secret",
            "./data",
            "%2e%2e/secret",
            "%2Fetc%2Fhostname",
            "%",
        ] {
            assert!(!source.has(path), "{path}");
            assert!(
                matches!(source.index(path), Err(ReadFault::Unusable(_))),
                "{path}"
            );
        }
        assert!(source.has("data"));
    }

    #[test]
    fn an_index_is_bounded_and_must_be_text() {
        let (folder, source) = folder(SizeLimits { message: 6, index: 9 });
        assert!(
            matches!(source.index("data"), Err(ReadFault::Unusable(words)) if words.contains("more than 9"))
        );
        std::fs::write(folder.path().join("inside/binary"), [0xff, 0xfe]).unwrap();
        assert!(
            matches!(source.index("binary"), Err(ReadFault::Unusable(words)) if words.contains("no text"))
        );
        assert_eq!(source.index("absent"), Err(ReadFault::Absent));
    }

    #[test]
    fn other_addresses_are_refused_in_words() {
        let error = FolderSource::open("https://example.org", SizeLimits::default())
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("https://example.org") && error.contains("file://"),
            "{error}"
        );
        assert!(FolderSource::open("file:///no/such/folder", SizeLimits::default()).is_err());
    }
}
