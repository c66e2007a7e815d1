//! In this process: messages whose unpacking their own octets and the places bound.
//!
//! Owns: which messages these are. Must not know: the child, its pipes. The `grid` crate's own readers of packings are
//! exercised with hostile octets (tests/fuzz): they end, and ask for no memory beyond what is wanted.

use super::protocol::{Answer, Ask, DecodeRequest};
use super::worker::{decode_fields, the_only_message};
use grid::FieldHeader;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// The most fields of a message that is read here: u and v share theirs, and each field may be as large as a grid can be.
const MOST_FIELDS: usize = 4;

/// The answer to each request, or the request itself where a child is to answer it.
pub(super) fn answers(requests: Vec<DecodeRequest>) -> Vec<Result<Answer, DecodeRequest>> {
    let answered = |request| match catch_unwind(AssertUnwindSafe(|| answer(&request))) {
        Ok(Some(answer)) => Ok(answer),
        // A reader that gave up would do so in a child too, where it costs one message.
        Ok(None) | Err(_) => Err(request),
    };
    requests.into_iter().map(answered).collect()
}

/// None where the message or what is asked of it needs bounds that only a process of its own has.
fn answer(request: &DecodeRequest) -> Option<Answer> {
    // Whole fields of coordinates, as many values as a grid may have.
    if matches!(request.ask, Ask::NearestCells { .. }) {
        return None;
    }
    let message = match the_only_message(&request.message, request.number) {
        Ok(message) => message,
        Err(damage) => return Some(Err(damage)),
    };
    let fields = match grid::read_fields(&message) {
        Ok(fields) => fields,
        Err(damage) => return Some(Err(damage)),
    };
    let in_bounds = |field: &FieldHeader| grid::unpacks_in_bounds(&message, field);
    let bounded = fields.len() <= MOST_FIELDS && fields.iter().all(in_bounds);
    bounded.then(|| Ok(decode_fields(&message, fields, &request.ask)))
}
