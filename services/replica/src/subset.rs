//! The subset service: fields of one file chosen by variable and level, cut to a box.
//!
//! Owns: which records the question names. Must not know: HTTP, publication.
//!
//! The service gives every record whose variable is among those asked for and whose level is: the product of both lists.

mod cut;
mod question;

pub(crate) use question::Question;

use crate::content::Content;
use crate::index::IndexKind;
use std::ops::Range;

/// Messages cut as the question says, one after another. `index` is the `.idx` beside the file.
///
/// # Errors
/// In words for a person: what of the file cannot be read or cut.
pub(crate) fn cut_file(question: &Question, index: &str, file: &Content) -> Result<Vec<u8>, String> {
    let mut offsets: Vec<u64> = index.lines().filter_map(offset).collect();
    offsets.sort_unstable();
    let mut answer = Vec::new();
    for line in index.lines().filter(|line| question.wants(line)) {
        let start = offset(line).ok_or_else(|| format!("no offset: {line}"))?;
        let end = offsets
            .iter()
            .copied()
            .find(|&other| other > start)
            .unwrap_or(file.size());
        let message = octets(file, start..end).ok_or_else(|| format!("not in the file: {line}"))?;
        match question.region {
            None => answer.extend_from_slice(&message),
            Some(region) => {
                let cut = cut::cut(&message, field_number(line), region);
                answer.extend(cut.map_err(|why| format!("{why}: {line}"))?);
            }
        }
    }
    Ok(answer)
}

fn offset(line: &str) -> Option<u64> {
    IndexKind::Idx.extent(line).map(|extent| extent.offset)
}

/// `12.2` is the second field of a message, `12` the first.
fn field_number(line: &str) -> usize {
    let number = line.split(':').next().and_then(|number| number.split_once('.'));
    number.and_then(|(_, field)| field.parse().ok()).unwrap_or(1)
}

fn octets(file: &Content, range: Range<u64>) -> Option<Vec<u8>> {
    let inside = range.start < range.end && range.end <= file.size();
    inside.then(|| file.part(range).ok())?
}
