//! A feed on a server: files asked for over HTTP, each answer checked to be what was asked for (RFC 9110).
//!
//! Owns: which answers are taken, which are asked for again, which are refused. Must not know: what the octets mean.

use crate::answer::{Answer, Octets, Times, Trouble, asked_wait, header, partial, times};
use crate::etiquette::{HttpClient, in_full};
use crate::folder::{ReadFault, SizeLimits};
use crate::retry::Budget;
use crate::secrets::without_passwords;
use bytes::Bytes;
use feeds::ByteRange;
use reqwest::header::{ACCEPT_ENCODING, ETAG, IF_NONE_MATCH, RANGE};
use reqwest::{Method, Response, StatusCode, Url};
use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// A producer's tree on a server, for one pull.
#[derive(Debug)]
pub struct HttpSource {
    base: Url,
    http: HttpClient,
    limits: SizeLimits,
    budget: Budget,
    tags: Mutex<HashMap<String, String>>,
    /// When files were last changed, as the server says.
    changed: Mutex<HashMap<String, SystemTime>>,
    received: AtomicU64,
    /// Octets received when this was last asked.
    told: AtomicU64,
}

/// What is asked for.
struct Request<'a> {
    method: Method,
    url: &'a Url,
    range: Option<ByteRange>,
    unless: Option<&'a str>,
    most: u64,
}

impl HttpSource {
    /// The tree at an `http://` or `https://` address.
    ///
    /// # Errors
    /// Why the address cannot be used, in words.
    pub fn open(address: &str, http: &HttpClient, limits: SizeLimits) -> Result<Self, String> {
        let mut base = Url::parse(address).map_err(|error| error.to_string())?;
        if !matches!(base.scheme(), "http" | "https") || base.query().is_some() || base.fragment().is_some() {
            return Err("it is no plain address of a folder on a server".to_owned());
        }
        if !base.path().ends_with('/') {
            base.set_path(&format!("{}/", base.path()));
        }
        Ok(Self {
            base,
            http: http.clone(),
            limits,
            budget: Budget::new(http.settings().retry.budget),
            tags: Mutex::default(),
            changed: Mutex::default(),
            received: AtomicU64::new(0),
            told: AtomicU64::new(0),
        })
    }

    /// Octets of all bodies so far.
    pub fn received(&self) -> u64 {
        self.received.load(Ordering::Relaxed)
    }

    /// Octets of all bodies since this was last asked.
    pub fn newly_received(&self) -> u64 {
        let received = self.received();
        received.saturating_sub(self.told.swap(received, Ordering::Relaxed))
    }

    /// The server's name, for what holds for a whole host.
    pub fn host(&self) -> &str {
        self.base.host_str().unwrap_or_default()
    }

    /// When a file was last changed, as the server said with its last answer about it.
    pub fn last_modified(&self, path: &str) -> Option<SystemTime> {
        let changed = self.changed.lock().unwrap_or_else(PoisonError::into_inner);
        changed.get(path).copied()
    }

    /// True if there is a file at a path below the base address.
    ///
    /// # Errors
    /// [`ReadFault::Unreachable`].
    pub async fn has(&self, path: &str) -> Result<bool, ReadFault> {
        let url = self.below(path)?;
        let request = Request {
            method: Method::HEAD,
            url: &url,
            range: None,
            unless: None,
            most: 0,
        };
        Ok(!matches!(self.ask(path, &request).await?, Answer::Absent))
    }

    /// An index as text; one that has not changed since an earlier pull is not sent again.
    ///
    /// # Errors
    /// [`ReadFault`].
    pub async fn index(&self, path: &str) -> Result<String, ReadFault> {
        let url = self.below(path)?;
        let before = self.http.remembered(url.as_str());
        let unless = before.as_ref().map(|(tag, _)| tag.as_str());
        let request = Request {
            method: Method::GET,
            url: &url,
            range: None,
            unless,
            most: self.limits.index,
        };
        match (self.ask(path, &request).await?, before) {
            (Answer::Unchanged, Some((_, text))) => Ok(text),
            (Answer::Octets(octets), _) => {
                if !self.is_settled(&octets.times) {
                    return Err(ReadFault::Absent);
                }
                let Octets { octets, tag, .. } = octets;
                let text = String::from_utf8(octets.into())
                    .map_err(|_| ReadFault::Unusable(format!("{path} is no text")))?;
                if text.trim_start().starts_with('<') {
                    return Err(ReadFault::Unreachable(format!(
                        "{path} is a web page, not an index"
                    )));
                }
                if let Some(tag) = tag {
                    self.http.remember(url.as_str(), tag, text.clone());
                }
                Ok(text)
            }
            _ => Err(ReadFault::Absent),
        }
    }

    /// The octets of one range, fewer if the file ends inside it.
    pub(crate) async fn range(&self, path: &str, range: ByteRange) -> Result<Answer, ReadFault> {
        let url = self.below(path)?;
        let most = range.length().unwrap_or(self.limits.message);
        let request = Request {
            method: Method::GET,
            url: &url,
            range: Some(range),
            unless: None,
            most,
        };
        let answer = self.ask(path, &request).await?;
        if let Answer::Octets(Octets { tag: Some(tag), .. }) = &answer {
            let mut tags = self.tags.lock().unwrap_or_else(PoisonError::into_inner);
            if tags.entry(path.to_owned()).or_insert_with(|| tag.clone()) != tag {
                return Err(ReadFault::Unreachable(format!(
                    "{path} was changed while it was read"
                )));
            }
        }
        Ok(answer)
    }

    /// False if the file was changed so lately, by the server's own clock, that it may change again.
    fn is_settled(&self, times: &Times) -> bool {
        let (Some(now), Some(changed)) = (times.now, times.changed) else {
            return true;
        };
        // A change in the future is a clock set wrong, not a young file.
        let age = now.duration_since(changed);
        age.map_or(true, |age| age >= self.http.settings().settled_after)
    }

    fn below(&self, path: &str) -> Result<Url, ReadFault> {
        let leads_out = || ReadFault::Unusable(format!("{path} leads out of the source"));
        let url = self.base.join(path).map_err(|_| leads_out())?;
        let inside = url.as_str().starts_with(self.base.as_str());
        inside.then_some(url).ok_or_else(leads_out)
    }

    /// Asks until there is an answer or no try is left.
    async fn ask(&self, path: &str, request: &Request<'_>) -> Result<Answer, ReadFault> {
        let retry = &self.http.settings().retry;
        let mut waits = retry.waits();
        loop {
            if self.budget.is_spent() {
                let words = "was not asked for: the source failed too often in this pull";
                return Err(ReadFault::Unreachable(format!("{path} {words}")));
            }
            let (words, asked) = match self.once(request).await {
                Ok(answer) => {
                    if let Answer::Octets(Octets {
                        times:
                            Times {
                                changed: Some(changed),
                                ..
                            },
                        ..
                    }) = &answer
                    {
                        let mut known = self.changed.lock().unwrap_or_else(PoisonError::into_inner);
                        known.insert(path.to_owned(), *changed);
                    }
                    return Ok(answer);
                }
                Err(Trouble::Unusable(words)) => return Err(ReadFault::Unusable(format!("{path}: {words}"))),
                Err(Trouble::Lasting(words)) => {
                    return Err(ReadFault::Unreachable(format!("{path}: {words}")));
                }
                Err(Trouble::Passing(words, asked)) => (words, asked),
            };
            if asked.is_some_and(|asked| asked > retry.longest_wait) {
                self.budget.spend();
            }
            let Some(wait) = waits.next().filter(|_| self.budget.take()) else {
                return Err(ReadFault::Unreachable(format!("{path}: {words}")));
            };
            tracing::debug!(path, "asked for again: {}", without_passwords(&words));
            tokio::time::sleep(wait.max(asked.unwrap_or_default())).await;
        }
    }

    async fn once(&self, request: &Request<'_>) -> Result<Answer, Trouble> {
        let host = self.http.host(self.host());
        let turn = self.http.turn(&host).await;
        let _turn = turn.ok_or_else(|| Trouble::Lasting("the program is ending".to_owned()))?;
        let client = self.http.client().map_err(Trouble::Lasting)?;
        // A coded body would have other octets than the file.
        let mut asking = client
            .request(request.method.clone(), request.url.clone())
            .header(ACCEPT_ENCODING, "identity");
        if let Some(range) = request.range {
            let last = range.last.map(|last| last.to_string()).unwrap_or_default();
            asking = asking.header(RANGE, format!("bytes={}-{last}", range.first));
        }
        if let Some(tag) = request.unless {
            asking = asking.header(IF_NONE_MATCH, tag);
        }
        let response = asking
            .send()
            .await
            .map_err(|error| Trouble::Passing(in_full(&error), None))?;
        self.answer(request, response).await
    }

    async fn answer(&self, request: &Request<'_>, response: Response) -> Result<Answer, Trouble> {
        let status = response.status();
        match (status, request.range) {
            (StatusCode::NOT_FOUND | StatusCode::FORBIDDEN | StatusCode::GONE, _) => Ok(Answer::Absent),
            (StatusCode::NOT_MODIFIED, None) if request.unless.is_some() => Ok(Answer::Unchanged),
            (StatusCode::RANGE_NOT_SATISFIABLE, Some(_)) => Ok(Answer::PastTheEnd),
            (StatusCode::OK, None) if request.method == Method::HEAD => Ok(Answer::Octets(Octets {
                first: 0,
                octets: Bytes::new(),
                tag: None,
                times: times(&response),
            })),
            (StatusCode::OK, None | Some(ByteRange { first: 0, last: None })) => {
                let length = response.content_length();
                self.octets(request, response, 0, length).await
            }
            (StatusCode::OK, Some(_)) => Err(Trouble::Lasting(
                "the server sends the whole file where a range was asked for (200, not 206)".to_owned(),
            )),
            (StatusCode::PARTIAL_CONTENT, Some(range)) => {
                let (first, length) = partial(&response, range)?;
                self.octets(request, response, first, Some(length)).await
            }
            _ if status.is_redirection() => Err(Trouble::Passing(
                format!("the server points elsewhere ({status}): it throttles, or the address is wrong"),
                asked_wait(&response),
            )),
            (StatusCode::TOO_MANY_REQUESTS | StatusCode::REQUEST_TIMEOUT, _) => Err(Trouble::Passing(
                format!("the server answers {status}"),
                asked_wait(&response),
            )),
            _ if status.is_server_error() => Err(Trouble::Passing(
                format!("the server answers {status}"),
                asked_wait(&response),
            )),
            _ => Err(Trouble::Lasting(format!("the server answers {status}"))),
        }
    }

    /// The body: no more than the bound, and exactly the length where it is told.
    async fn octets(
        &self,
        request: &Request<'_>,
        mut response: Response,
        first: u64,
        length: Option<u64>,
    ) -> Result<Answer, Trouble> {
        let most = request.most;
        if length.is_some_and(|length| length > most) {
            return Err(Trouble::Unusable(format!(
                "{} octets, more than {most}",
                length.unwrap_or_default()
            )));
        }
        let declared = response.content_length();
        if let (Some(declared), Some(length)) = (declared, length)
            && declared != length
        {
            let words = format!("the server announces {declared} octets for a range of {length}");
            return Err(Trouble::Passing(words, None));
        }
        let tag = header(&response, &ETAG)
            .filter(|tag| !tag.starts_with("W/"))
            .map(str::to_owned);
        let times = times(&response);
        let mut octets = Vec::with_capacity(usize::try_from(length.unwrap_or_default()).unwrap_or_default());
        loop {
            let chunk = response
                .chunk()
                .await
                .map_err(|error| Trouble::Passing(in_full(&error), None))?;
            let Some(chunk) = chunk else { break };
            self.received.fetch_add(chunk.len() as u64, Ordering::Relaxed);
            if (octets.len() + chunk.len()) as u64 > length.unwrap_or(most) {
                let words = format!(
                    "the body has more than the {} octets allowed",
                    length.unwrap_or(most)
                );
                return Err(Trouble::Passing(words, None));
            }
            octets.extend_from_slice(&chunk);
        }
        match length {
            Some(length) if (octets.len() as u64) < length => Err(Trouble::Passing(
                format!("the body has {} of {length} octets", octets.len()),
                None,
            )),
            _ => Ok(Answer::Octets(Octets {
                first,
                octets: octets.into(),
                tag,
                times,
            })),
        }
    }
}
