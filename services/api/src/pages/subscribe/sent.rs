//! What the forms of the club's mail send, and the one pair that a mail program sends to end it.
//!
//! Owns: reading both. Must not know: what is done with it.

use crate::problem::{ApiError, FieldError};
use club::Choices;
use std::collections::HashSet;

/// What a browser sends of a form.
pub(super) const FORM: &str = "application/x-www-form-urlencoded";
/// What a mail program may send instead (RFC 8058, section 3.2; RFC 7578).
pub(super) const PARTS: &str = "multipart/form-data";

/// The pair that ends a subscription (RFC 8058, section 3.1).
const ONE_CLICK: (&str, &str) = ("List-Unsubscribe", "One-Click");

/// What a form sends. It has no `Debug`: it holds an address.
#[derive(Default)]
pub(super) struct Sent {
    pub address: String,
    pub choices: Choices,
    /// It is to end.
    pub end: bool,
    wrong: Vec<FieldError>,
}

impl Sent {
    /// A box that is not ticked is not sent.
    pub(super) fn read(bytes: &[u8]) -> Self {
        let mut sent = Self::default();
        sent.choices.changes = false;
        let mut seen = HashSet::new();
        for (key, value) in form_urlencoded::parse(bytes) {
            let first = seen.insert(key.to_string());
            match key.as_ref() {
                "address" if first => sent.address = value.into_owned(),
                "address" => sent
                    .wrong
                    .push(FieldError::new("address", "one address at a time")),
                "levels" => sent.choices.levels.push(value.into_owned()),
                "boats" => sent.choices.boats.push(value.into_owned()),
                "weekdays" => match value.parse() {
                    Ok(day) => sent.choices.weekdays.push(day),
                    Err(_) => sent
                        .wrong
                        .push(FieldError::new("weekdays", "a day of the week: Mon to Sun")),
                },
                "only_when_sailing" => sent.choices.only_when_sailing = true,
                "changes" => sent.choices.changes = true,
                "end" => sent.end = true,
                _ => {}
            }
        }
        sent
    }

    /// That what was sent could be read.
    ///
    /// # Errors
    /// [`ApiError::Mistaken`] with the fields that could not.
    pub(super) fn is_whole(&self) -> Result<(), ApiError> {
        match self.wrong.as_slice() {
            [] => Ok(()),
            wrong => Err(ApiError::Mistaken(wrong.to_vec())),
        }
    }
}

/// Whether a form holds the pair that ends a subscription.
pub(super) fn ends(bytes: &[u8]) -> bool {
    form_urlencoded::parse(bytes).any(|(key, value)| (key.as_ref(), value.as_ref()) == ONE_CLICK)
}

/// The same of a form in parts: one of them is of that name and holds that word.
pub(super) fn ends_in_parts(content_type: &str, bytes: &[u8]) -> bool {
    let Some(boundary) = boundary(content_type) else {
        return false;
    };
    let text = String::from_utf8_lossy(bytes);
    let parts: Vec<&str> = text.split(&format!("--{boundary}")).collect();
    // Before the first boundary is the preamble, after the last the epilogue.
    parts.iter().skip(1).any(|part| is_one_click(part))
}

fn boundary(content_type: &str) -> Option<&str> {
    let mut parameters = content_type.split(';').skip(1).map(str::trim);
    let value = parameters.find_map(|one| {
        let (name, value) = one.split_once('=')?;
        name.eq_ignore_ascii_case("boundary").then_some(value)
    })?;
    let bare = value.trim_matches('"');
    (!bare.is_empty()).then_some(bare)
}

fn is_one_click(part: &str) -> bool {
    let Some((head, held)) = part.split_once("\r\n\r\n") else {
        return false;
    };
    let named = head.lines().any(|line| {
        let (name, value) = line.split_once(':').unwrap_or_default();
        let mut parameters = value.split(';').map(str::trim);
        let quoted = format!("name=\"{}\"", ONE_CLICK.0);
        let plain = format!("name={}", ONE_CLICK.0);
        name.eq_ignore_ascii_case("content-disposition")
            && parameters.any(|one| one.eq_ignore_ascii_case(&quoted) || one.eq_ignore_ascii_case(&plain))
    });
    named && held.strip_suffix("\r\n").unwrap_or(held) == ONE_CLICK.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Weekday;

    // Source: HTML standard, "application/x-www-form-urlencoded" (a box that is not ticked is not sent).
    #[test]
    fn boxes_are_what_was_ticked() {
        let sent = Sent::read(b"address=a%40b.example&levels=x&levels=y&weekdays=Sat&only_when_sailing=on");
        assert_eq!(sent.address, "a@b.example");
        assert_eq!(sent.choices.levels, ["x", "y"]);
        assert_eq!(sent.choices.weekdays, [Weekday::Sat]);
        assert!(sent.choices.only_when_sailing && !sent.choices.changes && !sent.end);
        assert!(sent.is_whole().is_ok());
        for wrong in ["weekdays=someday", "address=a&address=b"] {
            assert!(Sent::read(wrong.as_bytes()).is_whole().is_err(), "{wrong}");
        }
    }

    // Sources: RFC 8058, sections 3.1, 3.2 and 8.1 (its example of a form in parts); RFC 7578, section 4.2.
    #[test]
    fn one_click_is_the_pair_and_nothing_else() {
        assert!(ends(b"List-Unsubscribe=One-Click"));
        for other in ["", "List-Unsubscribe", "List-Unsubscribe=one", "list=One-Click"] {
            assert!(!ends(other.as_bytes()), "{other}");
        }
        let kind = "multipart/form-data; boundary=---FormBoundaryjWmhtjORrn";
        let part = |name: &str, held: &str| {
            format!(
                "-----FormBoundaryjWmhtjORrn\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{held}\r\n-----FormBoundaryjWmhtjORrn--\r\n"
            )
        };
        assert!(ends_in_parts(
            kind,
            part("List-Unsubscribe", "One-Click").as_bytes()
        ));
        assert!(ends_in_parts(
            "multipart/form-data; boundary=\"---FormBoundaryjWmhtjORrn\"",
            part("List-Unsubscribe", "One-Click").as_bytes()
        ));
        for wrong in [
            part("Other", "One-Click"),
            part("List-Unsubscribe", "No"),
            String::new(),
        ] {
            assert!(!ends_in_parts(kind, wrong.as_bytes()), "{wrong}");
        }
        let whole = part("List-Unsubscribe", "One-Click");
        assert!(!ends_in_parts("multipart/form-data", whole.as_bytes()));
        assert!(!ends_in_parts(
            "multipart/form-data; boundary=other",
            whole.as_bytes()
        ));
    }
}
