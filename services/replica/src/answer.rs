//! From a request to an answer.
//!
//! Owns: which file or subset of one, whether it has appeared, conditions, ranges, the limit of requests. Must not know: sockets.

use crate::book::FaultBook;
use crate::content::Content;
use crate::fault::Fault;
use crate::index::IndexKind;
use crate::line::Line;
use crate::message_lies;
use crate::misfortune;
use crate::range::{Asked, asked};
use crate::request::Request;
use crate::response::{Delivery, Response};
use crate::settings::ReplicaSettings;
use crate::stamp::Stamp;
use crate::subset::{self, Question};
use crate::tree::{Found, OpenTree};
use crate::validators::{Validators, Verdict, http_date, range_holds, verdict};
use chrono::{DateTime, Utc};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// Where a client that asks too often is sent.
pub(crate) const BLOCK_PAGE: &str = "/block-page";

/// Everything an answer is made from.
pub(crate) struct Answerer {
    settings: ReplicaSettings,
    tree: OpenTree,
    faults: Arc<FaultBook>,
    recent: Mutex<VecDeque<DateTime<Utc>>>,
    line: Option<Arc<Line>>,
}

/// An answer with what its delivery needs.
pub(crate) struct Answer {
    pub response: Response,
    pub delivery: Delivery,
    /// `Date` as the answer states it.
    pub date: DateTime<Utc>,
}

impl Answerer {
    pub fn new(settings: ReplicaSettings, tree: OpenTree, faults: Arc<FaultBook>) -> Self {
        Self {
            line: settings.line.map(Line::new).map(Arc::new),
            settings,
            tree,
            faults,
            recent: Mutex::default(),
        }
    }

    /// The line that all bodies share, if there is one.
    pub fn line(&self) -> Option<Arc<Line>> {
        self.line.clone()
    }

    pub fn now(&self) -> DateTime<Utc> {
        (self.settings.clock)()
    }

    pub fn answer(&self, request: &Request) -> Answer {
        let now = self.now();
        let fault = self.faults.fault_for(request);
        let pace = self.settings.pace;
        Answer {
            response: self.respond(request, fault.as_ref(), now),
            delivery: fault
                .as_ref()
                .map_or_else(|| Delivery::at(pace), |fault| misfortune::delivery(fault, pace)),
            date: now + misfortune::clock_error(fault.as_ref()),
        }
    }

    /// An answer of no file, delivered as it is.
    pub fn refusal(&self, response: Response) -> Answer {
        Answer {
            response,
            delivery: Delivery::at(None),
            date: self.now(),
        }
    }

    fn respond(&self, request: &Request, fault: Option<&Fault>, now: DateTime<Utc>) -> Response {
        if !matches!(request.method.as_str(), "GET" | "HEAD") {
            return Response::words(405, "only GET and HEAD").with("Allow", "GET, HEAD");
        }
        if request.path == BLOCK_PAGE {
            return Response::page(200, "Access is blocked for a while");
        }
        if self.is_over_limit(now) {
            return Response::page(302, "Too many requests").with("Location", BLOCK_PAGE);
        }
        if let Some(response) = fault.and_then(misfortune::instead_of_file) {
            return response;
        }
        if Question::is_for_service(request) {
            return self.subset(request, fault, now);
        }
        let Some((content, validators)) = self.file(&request.path, fault, now) else {
            return Response::words(404, "no such file");
        };
        match fault {
            Some(Fault::RangeRefused) => unsatisfiable(content.size()),
            Some(Fault::RangeIgnored) => file_response(&request.without("range"), content, &validators),
            _ => file_response(request, content, &validators),
        }
    }

    /// The file at this path with its validators, if it has appeared.
    fn file(&self, path: &str, fault: Option<&Fault>, now: DateTime<Utc>) -> Option<(Content, Validators)> {
        let stamp = Stamp::of(path);
        let publication = self.settings.publication;
        if stamp.is_some_and(|stamp| !publication.has_appeared(stamp, now)) {
            return None;
        }
        let Found {
            content,
            etag,
            modified,
        } = misfortune::find(fault, &self.tree, path)?;
        let modified = stamp.map(|stamp| publication.time_of(stamp)).or(modified);
        let modified = modified.unwrap_or(now) + misfortune::age_error(fault);
        Some((content, Validators { etag, modified }))
    }

    /// What the subset service answers, which knows no ranges and no conditions.
    fn subset(&self, request: &Request, fault: Option<&Fault>, now: DateTime<Utc>) -> Response {
        let Some(question) = Question::of(request) else {
            return Response::words(400, "a question needs dir, file and, with subregion, four bounds");
        };
        // What is wrong with octets is done to the answer; only a replaced file is another file.
        let replaced = fault.filter(|fault| matches!(fault, Fault::FileReplacedBy { .. }));
        let beside = IndexKind::Idx.path_beside(&question.path);
        let file = self.file(&question.path, replaced, now);
        let index = self
            .file(&beside, replaced, now)
            .and_then(|(index, _)| index.whole().ok());
        let (Some((file, _)), Some(index)) = (file, index) else {
            return Response::words(404, "no such file, or no index beside it");
        };
        match subset::cut_file(&question, &String::from_utf8_lossy(&index), &file) {
            Ok(mut cut) => {
                if let Some(fault) = fault {
                    message_lies::patch(fault, &mut cut);
                }
                Response::whole(200, "application/octet-stream", Content::of(cut))
            }
            Err(why) => Response::words(500, &why),
        }
    }

    /// Counts a request; whether there were too many within the last minute.
    fn is_over_limit(&self, now: DateTime<Utc>) -> bool {
        let Some(most) = self.settings.requests_per_minute else {
            return false;
        };
        let mut recent = self.recent.lock().unwrap_or_else(PoisonError::into_inner);
        recent.retain(|&at| (now - at).num_seconds() < 60);
        if recent.len() >= most as usize {
            return true;
        }
        recent.push_back(now);
        false
    }
}

/// A file, a part of it, or why neither.
fn file_response(request: &Request, content: Content, validators: &Validators) -> Response {
    let with_validators = |response: Response| {
        response
            .with("ETag", validators.etag.clone())
            .with("Last-Modified", http_date(validators.modified))
            .with("Accept-Ranges", "bytes")
    };
    match verdict(request, validators) {
        Verdict::NotModified => {
            return with_validators(Response::whole(
                304,
                kind_of(&request.path),
                Content::Pieces(Vec::new()),
            ));
        }
        Verdict::PreconditionFailed => {
            return with_validators(Response::words(412, "another version is here"));
        }
        Verdict::Proceed => {}
    }
    let size = content.size();
    let range = request
        .header("range")
        .filter(|_| request.method == "GET" && range_holds(request, validators));
    let whole = |status| with_validators(Response::whole(status, kind_of(&request.path), content.clone()));
    match asked(range, size) {
        Asked::Whole => whole(200),
        Asked::Unsatisfiable => unsatisfiable(size),
        Asked::Part(part) => {
            let stated = format!("bytes {}-{}/{size}", part.start, part.end - 1);
            let mut response = whole(206).with("Content-Range", stated);
            response.part = part;
            response
        }
    }
}

/// The refusal of a range of a file of this size.
pub(crate) fn unsatisfiable(size: u64) -> Response {
    Response::words(416, "the range begins beyond the end").with("Content-Range", format!("bytes */{size}"))
}

/// Content types as the producers send them: an `.index` of JSON lines goes as JSON.
fn kind_of(path: &str) -> &'static str {
    match path.rsplit('.').next() {
        Some("index") => "application/json",
        Some("idx") => "text/plain",
        _ => "application/octet-stream",
    }
}
