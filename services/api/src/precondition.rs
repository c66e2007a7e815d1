//! Conditional requests on a club's file: which version the caller knows (RFC 9110, section 13; RFC 6585, section 3).

use crate::club_file::Form;
use axum::http::HeaderMap;
use axum::http::header::{HeaderName, IF_MATCH, IF_NONE_MATCH};

/// The validator of a version in a form: each form has its own (RFC 9110, section 8.8.3.3).
pub(crate) fn tag(version: &str, form: Form) -> String {
    match form {
        Form::Toml => format!("\"{version}\""),
        Form::Json => format!("\"{version}-json\""),
    }
}

/// What must be so for a file to be replaced.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Precondition {
    /// The newest version is one of these, in whichever form it was read.
    OneOf(Vec<String>),
    /// There is a version.
    Any,
    /// There is none yet.
    Absent,
}

impl Precondition {
    /// What the headers ask; none if they ask nothing that keeps one writer from undoing another's work.
    pub(crate) fn of(headers: &HeaderMap) -> Option<Self> {
        let tags = tags(headers, IF_MATCH);
        if headers.contains_key(IF_MATCH) {
            let any = tags.iter().any(|tag| tag == "*");
            return Some(if any { Self::Any } else { Self::OneOf(tags) });
        }
        let absent = self::tags(headers, IF_NONE_MATCH) == ["*"];
        absent.then_some(Self::Absent)
    }

    /// Whether it is so. A weak tag matches nothing (section 8.8.3.2, the strong comparison).
    pub(crate) fn is_met(&self, newest: Option<&str>) -> bool {
        match (self, newest) {
            (Self::OneOf(tags), Some(version)) => {
                let forms = [Form::Toml, Form::Json].map(|form| tag(version, form));
                tags.iter().any(|said| forms.contains(said))
            }
            (Self::OneOf(_), None) => false,
            (Self::Any, newest) => newest.is_some(),
            (Self::Absent, newest) => newest.is_none(),
        }
    }

    /// Whether the caller holds what this tag stands for already (If-None-Match, the weak comparison).
    pub(crate) fn holds(headers: &HeaderMap, tag: &str) -> bool {
        let held = tags(headers, IF_NONE_MATCH);
        held.iter()
            .any(|said| said == "*" || said.strip_prefix("W/").unwrap_or(said) == tag)
    }
}

fn tags(headers: &HeaderMap, name: HeaderName) -> Vec<String> {
    let values = headers.get_all(name);
    let values = values.iter().filter_map(|value| value.to_str().ok());
    let tags = values.flat_map(|value| value.split(',')).map(str::trim);
    tags.filter(|tag| !tag.is_empty()).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    // Source: RFC 9110, sections 13.1.1, 13.1.2 and 8.8.3.2.
    #[test]
    fn a_precondition_is_what_if_match_says_and_weak_tags_do_not_match() {
        for (name, said, newest, expected) in [
            (IF_MATCH, "\"a\"", Some("a"), Some(true)),
            (IF_MATCH, "\"z\", \"a\"", Some("a"), Some(true)),
            (IF_MATCH, "\"a-json\"", Some("a"), Some(true)),
            (IF_MATCH, "*", Some("a"), Some(true)),
            (IF_MATCH, "*", None, Some(false)),
            (IF_MATCH, "\"a\"", None, Some(false)),
            (IF_MATCH, "\"b\"", Some("a"), Some(false)),
            (IF_MATCH, "W/\"a\"", Some("a"), Some(false)),
            (IF_MATCH, "a", Some("a"), Some(false)),
            (IF_MATCH, "", Some("a"), Some(false)),
            (IF_NONE_MATCH, "*", None, Some(true)),
            (IF_NONE_MATCH, "*", Some("a"), Some(false)),
            (IF_NONE_MATCH, "\"b\"", Some("a"), None),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(name.clone(), HeaderValue::from_static(said));
            let met = Precondition::of(&headers).map(|asked| asked.is_met(newest));
            assert_eq!(met, expected, "{name}: {said} with {newest:?}");
        }
        assert_eq!(Precondition::of(&HeaderMap::new()), None);
    }
}
