//! A request's head, from octets.

use percent_encoding::percent_decode_str;

/// Most octets of a request's head.
pub(crate) const LONGEST_HEAD: usize = 64 * 1024;
/// Most header lines of a request.
const MOST_HEADERS: usize = 64;

/// A request without its body, which no request here has.
#[derive(Clone, Debug)]
pub(crate) struct Request {
    pub method: String,
    /// Path, decoded, without the query.
    pub path: String,
    /// Query as it came.
    pub query: Option<String>,
    /// Names in lower case.
    pub headers: Vec<(String, String)>,
}

/// What the octets at hand are.
pub(crate) enum Head {
    /// More octets are needed.
    Unfinished,
    /// A head, and how many octets it takes.
    Whole(Request, usize),
    /// No request.
    Nonsense,
}

impl Request {
    pub fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.as_str())
    }

    /// The request without a header.
    pub fn without(&self, name: &str) -> Self {
        let mut without = self.clone();
        without.headers.retain(|(known, _)| known != name);
        without
    }

    /// What a fault's path is looked for in: the decoded path, and the decoded query after a question mark.
    pub fn target(&self) -> String {
        match &self.query {
            Some(query) => format!("{}?{}", self.path, percent_decode_str(query).decode_utf8_lossy()),
            None => self.path.clone(),
        }
    }
}

pub(crate) fn read(octets: &[u8]) -> Head {
    let mut headers = [httparse::EMPTY_HEADER; MOST_HEADERS];
    let mut parsed = httparse::Request::new(&mut headers);
    match parsed.parse(octets) {
        Ok(httparse::Status::Partial) if octets.len() < LONGEST_HEAD => Head::Unfinished,
        Ok(httparse::Status::Complete(length)) => {
            whole(&parsed).map_or(Head::Nonsense, |request| Head::Whole(request, length))
        }
        _ => Head::Nonsense,
    }
}

fn whole(parsed: &httparse::Request<'_, '_>) -> Option<Request> {
    let target = parsed.path?;
    let (path, query) = match target.split_once('?') {
        Some((path, query)) => (path, Some(query.to_owned())),
        None => (target, None),
    };
    let header = |header: &httparse::Header<'_>| {
        let value = String::from_utf8_lossy(header.value).into_owned();
        (header.name.to_ascii_lowercase(), value)
    };
    Some(Request {
        method: parsed.method?.to_owned(),
        path: percent_decode_str(path).decode_utf8().ok()?.into_owned(),
        query,
        headers: parsed.headers.iter().map(header).collect(),
    })
}
