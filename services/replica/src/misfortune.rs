//! How a fault shows: in place of a file, in the file, in its delivery.
//!
//! Must not know: which fault befalls which request, sockets.

use crate::answer::BLOCK_PAGE;
use crate::content::Content;
use crate::fault::Fault;
use crate::index::IndexKind;
use crate::response::{Delivery, Ending, Pace, Response};
use crate::tree::{Found, OpenTree};
use crate::validators::etag_of;
use crate::{index_lies, message_lies};
use chrono::TimeDelta;

/// How much older than its file an old index is.
const OLDER_BY: TimeDelta = TimeDelta::minutes(10);

/// The answer that a fault gives in place of the file, if it does.
pub(crate) fn instead_of_file(fault: &Fault) -> Option<Response> {
    let later = |response: Response, seconds: &Option<u64>| match seconds {
        Some(seconds) => response.with("Retry-After", seconds.to_string()),
        None => response,
    };
    Some(match fault {
        Fault::NotThere | Fault::StopsGrowing { .. } => Response::words(404, "no such file"),
        Fault::Forbidden => Response::words(403, "access denied"),
        Fault::TooManyRequests { retry_after } => {
            later(Response::words(429, "too many requests"), retry_after)
        }
        Fault::ServerError { status, retry_after } => {
            later(Response::words(*status, "the server failed"), retry_after)
        }
        Fault::Redirect { status, to } => {
            Response::words(*status, "look elsewhere").with("Location", to.clone())
        }
        Fault::BlockPage => Response::page(302, "Too many requests").with("Location", BLOCK_PAGE),
        Fault::HtmlPage => Response::page(200, "Maintenance"),
        _ => return None,
    })
}

/// How the body is delivered under a fault.
pub(crate) fn delivery(fault: &Fault, pace: Option<u64>) -> Delivery {
    let mut delivery = Delivery::at(pace);
    match *fault {
        Fault::ClosedUnanswered => delivery.ending = Ending::Unanswered,
        Fault::CutBody { after } => delivery.ending = Ending::CutAfter(after),
        Fault::StalledBody { after } => delivery.ending = Ending::StallsAfter(after),
        Fault::SlowBody { octets, every } => delivery.pace = Pace::Pieces { octets, pause: every },
        Fault::LengthOverstated { by } => delivery.length_lie = i64::from(by),
        Fault::LengthUnderstated { by } => delivery.length_lie = -i64::from(by),
        _ => {}
    }
    delivery
}

/// How much a fault moves the server's clock.
pub(crate) fn clock_error(fault: Option<&Fault>) -> TimeDelta {
    match fault {
        Some(Fault::ClockOff { by }) => *by,
        _ => TimeDelta::zero(),
    }
}

/// How much a fault moves a file's date.
pub(crate) fn age_error(fault: Option<&Fault>) -> TimeDelta {
    match fault {
        Some(Fault::IndexOlder) => -OLDER_BY,
        other => clock_error(other),
    }
}

/// The file at a path as a fault makes it; none where it, or what is served in its place, is not there.
pub(crate) fn find(fault: Option<&Fault>, tree: &OpenTree, path: &str) -> Option<Found> {
    let found = tree.find(path)?;
    let Some(fault) = fault else {
        return Some(found);
    };
    let octets = match (fault, IndexKind::of(path)) {
        (Fault::FileReplacedBy { path: other }, None) => return tree.find(other),
        (Fault::FileReplacedBy { path: other }, Some(kind)) => {
            let other = text(&tree.find(&kind.path_beside(other))?)?;
            index_lies::with_extents_of(kind, &text(&found)?, &other).into_bytes()
        }
        (Fault::FileTruncated { after }, None) => {
            let there = found.content.size().min(*after);
            found.content.part(0..there).ok()?
        }
        (Fault::MeshUuidChanged | Fault::FlippedOctets { .. }, None) => {
            let mut octets = found.content.whole().ok()?;
            message_lies::patch(fault, &mut octets);
            octets
        }
        (
            Fault::IndexOffsetsShifted { .. }
            | Fault::IndexLengthsWrong { .. }
            | Fault::IndexOlder
            | Fault::IndexOfOtherRun { .. }
            | Fault::IndexPointsAt { .. },
            Some(kind),
        ) => index_lies::lie(fault, kind, path, &text(&found)?).into_bytes(),
        _ => return Some(found),
    };
    let content = Content::of(octets);
    let etag = etag_of(&content).ok()?;
    Some(Found {
        content,
        etag,
        ..found
    })
}

fn text(found: &Found) -> Option<String> {
    String::from_utf8(found.content.whole().ok()?).ok()
}
