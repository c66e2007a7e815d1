//! Where a feed's tree lies: in a folder or on a server, with the same operations.
//!
//! Must not know: what the octets mean, when runs are out.

use crate::answer::Answer;
use crate::error::FetchError;
use crate::etiquette::HttpClient;
use crate::folder::{FolderSource, ReadFault, SizeLimits};
use crate::http::HttpSource;
use bytes::Bytes;
use feeds::{ByteRange, Coalescing, coalesce};
use std::sync::Arc;
use std::time::SystemTime;
use tokio::task::{JoinSet, spawn_blocking};

/// A producer's tree. Clones share what they know of it.
#[derive(Clone, Debug)]
pub enum Source {
    /// A folder.
    Folder(Arc<FolderSource>),
    /// A server.
    Http(Arc<HttpSource>, SizeLimits),
}

impl Source {
    /// The tree at a `file://`, `http://` or `https://` address.
    ///
    /// # Errors
    /// [`FetchError::Address`].
    pub fn open(address: &str, http: &HttpClient, limits: SizeLimits) -> Result<Self, FetchError> {
        if !address.starts_with("http://") && !address.starts_with("https://") {
            return Ok(Self::Folder(Arc::new(FolderSource::open(address, limits)?)));
        }
        let source = HttpSource::open(address, http, limits).map_err(|reason| FetchError::Address {
            address: address.to_owned(),
            reason,
        })?;
        Ok(Self::Http(Arc::new(source), limits))
    }

    /// Octets received over the network so far.
    pub fn received(&self) -> u64 {
        match self {
            Self::Folder(_) => 0,
            Self::Http(source, _) => source.received(),
        }
    }

    /// Octets received over the network since this was last asked.
    pub fn newly_received(&self) -> u64 {
        match self {
            Self::Folder(_) => 0,
            Self::Http(source, _) => source.newly_received(),
        }
    }

    /// When a file was last changed, as its server said with the last answer about it.
    pub fn last_modified(&self, path: &str) -> Option<SystemTime> {
        match self {
            Self::Folder(_) => None,
            Self::Http(source, _) => source.last_modified(path),
        }
    }

    /// Whether all of these files are there.
    pub async fn has_all(&self, paths: Vec<String>) -> Result<bool, FetchError> {
        for path in paths {
            if !self.has_any(vec![path]).await? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether any of these files is there.
    pub async fn has_any(&self, paths: Vec<String>) -> Result<bool, FetchError> {
        match self {
            Self::Folder(folder) => {
                let folder = Arc::clone(folder);
                let look = move || paths.iter().any(|path| folder.has(path));
                spawn_blocking(look).await.map_err(interrupted)
            }
            Self::Http(source, _) => {
                for path in &paths {
                    if source.has(path).await.map_err(FetchError::from)? {
                        return Ok(true);
                    }
                }
                Ok(false)
            }
        }
    }

    /// Indexes as text, each with its own outcome, in the order of the paths.
    pub async fn indexes(
        &self,
        paths: Vec<String>,
    ) -> Result<Vec<(String, Result<String, ReadFault>)>, FetchError> {
        match self {
            Self::Folder(folder) => {
                let folder = Arc::clone(folder);
                let read = move |path: String| (folder.index(&path), path);
                let all = move || {
                    paths
                        .into_iter()
                        .map(read)
                        .map(|(text, path)| (path, text))
                        .collect()
                };
                spawn_blocking(all).await.map_err(interrupted)
            }
            Self::Http(source, _) => {
                let mut asked = JoinSet::new();
                for path in paths {
                    let source = Arc::clone(source);
                    asked.spawn(async move {
                        let text = source.index(&path).await;
                        (path, text)
                    });
                }
                let mut read = Vec::with_capacity(asked.len());
                while let Some(done) = asked.join_next().await {
                    read.push(done.map_err(interrupted)?);
                }
                Ok(read)
            }
        }
    }

    /// The octets of ascending ranges of one file, each with its own outcome.
    pub async fn ranges(
        &self,
        path: &str,
        ranges: Vec<ByteRange>,
    ) -> Result<Vec<Result<Bytes, ReadFault>>, FetchError> {
        match self {
            Self::Folder(folder) => {
                let (folder, path) = (Arc::clone(folder), path.to_owned());
                let read = move || {
                    let read = folder.ranges(&path, &ranges).into_iter();
                    read.map(|octets| octets.map(Bytes::from)).collect()
                };
                spawn_blocking(read).await.map_err(interrupted)
            }
            Self::Http(source, limits) => over_http(source, path, &ranges, limits.message).await,
        }
    }
}

async fn over_http(
    source: &Arc<HttpSource>,
    path: &str,
    ranges: &[ByteRange],
    most: u64,
) -> Result<Vec<Result<Bytes, ReadFault>>, FetchError> {
    let mut outcomes: Vec<Result<Bytes, ReadFault>> = vec![Err(ReadFault::Absent); ranges.len()];
    let mut asked = JoinSet::new();
    let bounds = Coalescing::default();
    for span in coalesce(ranges, bounds) {
        // Only a range that stands alone can be this long: the bound on a message is the larger or the smaller one.
        let length = span.range.length().unwrap_or_default();
        if length > most.max(bounds.most) || (span.serves.len() == 1 && length > most) {
            let words = format!("the message has {length} octets, more than {most}");
            span.serves
                .iter()
                .for_each(|place| outcomes[*place] = Err(ReadFault::Unusable(words.clone())));
            continue;
        }
        let (source, path) = (Arc::clone(source), path.to_owned());
        asked.spawn(async move { (source.range(&path, span.range).await, span) });
    }
    while let Some(done) = asked.join_next().await {
        let (answer, span) = done.map_err(interrupted)?;
        for place in span.serves {
            outcomes[place] = cut(path, &answer, ranges[place], most);
        }
    }
    Ok(outcomes)
}

/// One wanted range out of the span that was received.
fn cut(
    path: &str,
    answer: &Result<Answer, ReadFault>,
    range: ByteRange,
    most: u64,
) -> Result<Bytes, ReadFault> {
    let (first, octets) = match answer {
        Ok(Answer::Octets(answer)) => (answer.first, &answer.octets),
        Ok(_) => return Err(ReadFault::Absent),
        Err(fault) => return Err(fault.clone()),
    };
    let end = first + octets.len() as u64;
    if range.first >= end {
        return Err(ReadFault::Absent);
    }
    let to = range.last.map_or(end, |last| last.saturating_add(1));
    if to > end {
        return Err(ReadFault::Unusable(format!(
            "{path} ends at octet {end}, inside the message"
        )));
    }
    if to - range.first > most {
        let length = to - range.first;
        return Err(ReadFault::Unusable(format!(
            "the message has {length} octets, more than {most}"
        )));
    }
    let place = |octet: u64| usize::try_from(octet.checked_sub(first)?).ok();
    let inside = |(from, to): &(usize, usize)| from <= to && *to <= octets.len();
    let wanted = place(range.first).zip(place(to)).filter(inside);
    wanted.map_or(Err(ReadFault::Absent), |(from, to)| Ok(octets.slice(from..to)))
}

fn interrupted(source: tokio::task::JoinError) -> FetchError {
    FetchError::Interrupted {
        what: "a feed".to_owned(),
        source,
    }
}
