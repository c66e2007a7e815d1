//! Lists in pages: so many items after a place, and the place where the next page begins.
//!
//! The place is the key of the last item that was given, so nothing is skipped or told twice where items come in
//! between. Callers see it as opaque text.

use crate::extract::is_a_name;
use crate::problem::ApiError;
use axum::http::{HeaderValue, Uri};

/// Items of a page unless a limit is given.
const LIMIT: u16 = 50;
/// Items of a page, at most.
pub(crate) const LIMIT_AT_MOST: u16 = 200;
/// Characters of a cursor, at most.
const CURSOR_AT_MOST: usize = 1000;

/// What orders a list: a number, then a name.
pub(crate) type Key = (i64, String);

/// The page that is asked for.
pub(crate) struct Paging {
    /// How many.
    pub limit: usize,
    /// After which item; from the first where none.
    pub after: Option<Key>,
}

impl Paging {
    /// From the query.
    ///
    /// # Errors
    /// [`ApiError::Field`] for a cursor that no answer gave.
    pub(crate) fn of(limit: Option<u16>, cursor: Option<&str>) -> Result<Self, ApiError> {
        let wrong = || {
            ApiError::field(
                "cursor",
                "give the `next` of an earlier answer, or none to begin anew",
            )
        };
        let after = cursor.map(|cursor| read(cursor).ok_or_else(wrong)).transpose()?;
        Ok(Self {
            limit: usize::from(limit.unwrap_or(LIMIT)),
            after,
        })
    }

    /// The items of the page, of a list in the order of its keys, and the cursor of the next page if there is one.
    pub(crate) fn page<T>(&self, items: Vec<(Key, T)>) -> (Vec<T>, Option<String>) {
        let mut items = items
            .into_iter()
            .filter(|(key, _)| self.after.as_ref().is_none_or(|after| key > after));
        let mut page = Vec::new();
        let mut last = None;
        for (key, item) in items.by_ref().take(self.limit) {
            page.push(item);
            last = Some(key);
        }
        let next = items.next().and(last).map(|key| written(&key));
        (page, next)
    }
}

/// The header Link that leads to the next page (RFC 8288): the same address with another cursor.
pub(crate) fn link(asked: &Uri, next: Option<&str>) -> Option<HeaderValue> {
    let next = next?;
    let kept = asked.query().unwrap_or_default().split('&');
    let kept: String = kept
        .filter(|pair| !pair.is_empty() && *pair != "cursor" && !pair.starts_with("cursor="))
        .map(|pair| format!("{pair}&"))
        .collect();
    HeaderValue::try_from(format!("<{}?{kept}cursor={next}>; rel=\"next\"", asked.path())).ok()
}

fn written((number, name): &Key) -> String {
    format!("{number} {name}")
        .bytes()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

fn read(cursor: &str) -> Option<Key> {
    if cursor.len() > CURSOR_AT_MOST || !cursor.is_ascii() || !cursor.len().is_multiple_of(2) {
        return None;
    }
    let byte = |at: usize| {
        let digits = &cursor[at..at + 2];
        u8::from_str_radix(digits, 16)
            .ok()
            .filter(|_| !digits.starts_with('+'))
    };
    let bytes: Option<Vec<u8>> = (0..cursor.len()).step_by(2).map(byte).collect();
    let text = String::from_utf8(bytes?).ok()?;
    let (number, name) = text.split_once(' ')?;
    let key = (number.parse().ok()?, name.to_owned());
    (name.is_empty() || is_a_name(name)).then_some(key)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list() -> Vec<(Key, u32)> {
        (0..7).map(|n| ((i64::from(n / 2), format!("n{n}")), n)).collect()
    }

    // No source: the project's own form.
    #[test]
    fn pages_put_together_are_the_list() {
        for limit in 1..9 {
            let (mut all, mut cursor) = (Vec::new(), None::<String>);
            loop {
                let (page, next) = Paging::of(Some(limit), cursor.as_deref()).unwrap().page(list());
                assert!(page.len() <= usize::from(limit) && !page.is_empty());
                all.extend(page);
                cursor = next;
                if cursor.is_none() {
                    break;
                }
            }
            assert_eq!(all, (0..7).collect::<Vec<_>>(), "limit {limit}");
        }
    }

    #[test]
    fn a_cursor_that_no_answer_gave_is_refused() {
        let long = "31".repeat(501);
        for wrong in [
            "", "3", "zz", "é", "+131", "31", "2031", "312000", "31200a", "ff20ff", &long,
        ] {
            assert!(Paging::of(None, Some(wrong)).is_err(), "{wrong}");
        }
        let key = (-5, "dunlin-first/20261017T0930".to_owned());
        assert_eq!(read(&written(&key)), Some(key));
    }

    // Source: RFC 8288, section 3.
    #[test]
    fn the_link_keeps_what_was_asked() {
        let asked = Uri::from_static("/v1/clubs?limit=2&cursor=aa&level=x");
        let link = link(&asked, Some("bb")).unwrap();
        assert_eq!(link, "</v1/clubs?limit=2&level=x&cursor=bb>; rel=\"next\"");
        assert!(super::link(&asked, None).is_none());
    }
}
