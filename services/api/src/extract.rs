//! Path and query as handlers get them: what the framework refuses is answered as a problem that names the field.

use crate::problem::ApiError;
use axum::extract::path::ErrorKind;
use axum::extract::rejection::PathRejection;
use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, de::Error as _};

/// Characters of a name in an address, at most: longer ones are nobody's.
const NAME_AT_MOST: usize = 200;

/// Names in the path.
pub(crate) struct InPath<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned + Send> FromRequestParts<S> for InPath<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, ApiError> {
        match Path::<T>::from_request_parts(parts, state).await {
            Ok(Path(names)) => Ok(Self(names)),
            Err(rejection) => Err(unreadable(&rejection)),
        }
    }
}

fn unreadable(rejection: &PathRejection) -> ApiError {
    let field = match rejection {
        PathRejection::FailedToDeserializePathParams(cause) => match cause.kind() {
            ErrorKind::InvalidUtf8InPathParam { key } | ErrorKind::ParseErrorAtKey { key, .. } => key.clone(),
            _ => "path".to_owned(),
        },
        _ => "path".to_owned(),
    };
    ApiError::field(field, "this is not UTF-8 text, percent-encoded")
}

/// The query. A key that is not known is an error: a mistyped filter would show the wrong list.
pub(crate) struct Asked<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Asked<T> {
    type Rejection = ApiError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, ApiError> {
        asked_in(parts.uri.query().unwrap_or_default()).map(Self)
    }
}

/// What a query asks.
///
/// # Errors
/// [`ApiError::Field`] with the key that cannot be so.
pub(crate) fn asked_in<T: DeserializeOwned>(query: &str) -> Result<T, ApiError> {
    let pairs = serde_urlencoded::Deserializer::new(form_urlencoded::parse(query.as_bytes()));
    serde_path_to_error::deserialize(pairs)
        .map_err(|error| ApiError::field(field_of(&error), error.inner().to_string()))
}

/// The key an error is about: the place it was met, or the word it quotes.
fn field_of(error: &serde_path_to_error::Error<serde::de::value::Error>) -> String {
    let place = error.path().to_string();
    if place != "." && place != "?" {
        return place;
    }
    let said = error.inner().to_string();
    said.split('`').nth(1).map_or("query".to_owned(), str::to_owned)
}

/// A day of the query.
pub(crate) fn optional_day<'de, D: Deserializer<'de>>(value: D) -> Result<Option<NaiveDate>, D::Error> {
    day(&String::deserialize(value)?)
        .map(Some)
        .map_err(D::Error::custom)
}

/// A full date of RFC 3339: four digits of a year, month, day.
///
/// # Errors
/// What a date looks like.
pub(crate) fn day(said: &str) -> Result<NaiveDate, &'static str> {
    let digits = said.bytes().enumerate().all(|(place, byte)| match place {
        4 | 7 => byte == b'-',
        _ => byte.is_ascii_digit(),
    });
    let date = NaiveDate::parse_from_str(said, "%Y-%m-%d").ok();
    date.filter(|_| digits && said.len() == 10)
        .ok_or("a day is written YYYY-MM-DD, for example 2030-05-14")
}

/// A count of the query: a whole number in bounds.
pub(crate) fn optional_limit<'de, D: Deserializer<'de>>(value: D) -> Result<Option<u16>, D::Error> {
    let said = String::deserialize(value)?;
    let number = said.parse::<u16>().ok().filter(|number| {
        said.bytes().all(|byte| byte.is_ascii_digit()) && (1..=crate::paging::LIMIT_AT_MOST).contains(number)
    });
    let expected = || {
        D::Error::custom(format!(
            "a whole number from 1 to {}",
            crate::paging::LIMIT_AT_MOST
        ))
    };
    number.map(Some).ok_or_else(expected)
}

/// Whether a name can be anybody's; others are not looked for.
pub(crate) fn is_a_name(said: &str) -> bool {
    !said.is_empty() && said.chars().count() <= NAME_AT_MOST && !said.chars().any(char::is_control)
}

/// A name fit to be repeated in a problem.
pub(crate) fn repeated(said: &str) -> String {
    if is_a_name(said) {
        said.to_owned()
    } else {
        "like that".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 3339, section 5.6 (full-date).
    #[test]
    fn a_day_is_a_full_date_and_nothing_else() {
        assert_eq!(
            day("2028-02-29"),
            Ok(NaiveDate::from_ymd_opt(2028, 2, 29).unwrap())
        );
        for wrong in [
            "2030-02-29",
            "2030-2-01",
            " 2030-02-01",
            "+2030-02-1",
            "20300201",
            "2030-02-01Z",
            "-030-02-01",
            "",
        ] {
            assert!(day(wrong).is_err(), "{wrong}");
        }
    }

    // Source: PostgreSQL documentation, "Character Types": the character with code zero cannot be stored, so that a
    // question with it is an error there.
    #[test]
    fn no_name_that_a_database_would_refuse_is_looked_for() {
        for wrong in ["", "\0", "tuesday\0", "a\r\nb", &"x".repeat(201)] {
            assert!(!is_a_name(wrong), "{wrong:?}");
            assert_eq!(repeated(wrong), "like that");
        }
        assert!(is_a_name("tuesday@2030-05-14T10:00") && is_a_name(&"é".repeat(200)));
    }
}
