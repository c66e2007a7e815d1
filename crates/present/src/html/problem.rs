//! What a person reads in place of a page that cannot be shown.
//!
//! Must not know: why it cannot; that comes in words. It says that no answer is no call.

use super::filled;
use super::subscribe_said::{BOARD, of_nobody};
use crate::PresentError;

/// Above everything else on it: somebody may stand on a pontoon and wait for a call.
const NO_CALL: &str = "This is no call for any session, and no answer is never a go.";

/// The page for an answer with this status of HTTP, with what is wrong and what to do next.
///
/// # Errors
/// [`PresentError::Page`] if the template cannot be filled.
pub fn problem(status: u16, details: Vec<String>, demo: Option<&str>) -> Result<String, PresentError> {
    let lines = [NO_CALL.to_owned()].into_iter().chain(details);
    let mut page = of_nobody(demo);
    (page.title, page.lines, page.link) = (title(status), lines.collect(), Some(BOARD));
    filled("problem", &page)
}

fn title(status: u16) -> &'static str {
    match status {
        401 | 403 => "Not allowed",
        404 => "Nothing is here",
        429 => "Asked too often",
        500.. => "No answer just now",
        _ => "This cannot be answered",
    }
}
