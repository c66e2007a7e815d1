//! A club's file in the two forms it has over the API: TOML as it is kept, and the same document as JSON.
//!
//! Owns: turning one into the other, mistakes as a problem's fields. Must not know: what a club file holds, which the
//! `club` crate does.

use crate::problem::{ApiError, FieldError};
use club::{Mistake, Parsed};
use serde_json::Value as Json;
use toml::{Table, Value as Toml};

/// A form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Toml,
    Json,
}

/// As Content-Type names them, in the order of [`Form::at`].
pub(crate) const MEDIA_TYPES: [&str; 2] = ["application/toml", "application/json"];

impl Form {
    /// The form at a place of [`MEDIA_TYPES`].
    pub(crate) fn at(place: usize) -> Self {
        match place {
            0 => Self::Toml,
            _ => Self::Json,
        }
    }

    /// As Content-Type says it.
    pub(crate) fn media_type(self) -> &'static str {
        match self {
            Self::Toml => MEDIA_TYPES[0],
            Self::Json => MEDIA_TYPES[1],
        }
    }
}

/// The kept text in a form.
///
/// # Errors
/// [`ApiError::ClubFile`] for a text that was damaged.
pub(crate) fn shown(text: String, form: Form) -> Result<Vec<u8>, ApiError> {
    if form == Form::Toml {
        return Ok(text.into_bytes());
    }
    let table: Table = text.parse().map_err(|_| ApiError::ClubFile)?;
    serde_json::to_vec(&json_of(Toml::Table(table))).map_err(ApiError::Document)
}

/// TOML's dates and times are texts in JSON.
fn json_of(value: Toml) -> Json {
    match value {
        Toml::String(text) => Json::String(text),
        Toml::Integer(number) => number.into(),
        Toml::Float(number) => number.into(),
        Toml::Boolean(truth) => truth.into(),
        Toml::Datetime(moment) => moment.to_string().into(),
        Toml::Array(list) => list.into_iter().map(json_of).collect(),
        Toml::Table(table) => table
            .into_iter()
            .map(|(key, value)| (key, json_of(value)))
            .collect(),
    }
}

/// The text to be kept and the club it describes. Of what is given as JSON the text is TOML with the same members.
///
/// # Errors
/// [`ApiError::Mistaken`] with every mistake: with line and column of what was sent, as far as they are known.
pub(crate) fn read(bytes: &[u8], form: Form) -> Result<(String, Parsed), ApiError> {
    let text = match form {
        Form::Toml => String::from_utf8_lossy(bytes).into_owned(),
        Form::Json => toml_of(bytes)?,
    };
    let parsed = match form {
        // Bytes that are no text are a mistake with its place.
        Form::Toml => club::parse_bytes(bytes, None),
        Form::Json => club::parse(&text),
    };
    let parsed = parsed.map_err(|mistakes| {
        ApiError::Mistaken(mistakes.0.iter().map(|mistake| field(mistake, form)).collect())
    })?;
    Ok((text, parsed))
}

fn toml_of(bytes: &[u8]) -> Result<String, ApiError> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read: Result<Table, _> = serde_path_to_error::deserialize(&mut reader);
    let read = read.map_err(|error| (error.path().to_string(), error.into_inner()));
    let table = read.and_then(|table| match reader.end() {
        Ok(()) => Ok(table),
        Err(error) => Err(("the file".to_owned(), error)),
    });
    let table = table.map_err(|(path, error)| {
        let place = |number: usize| u32::try_from(number).ok().filter(|number| *number > 0);
        ApiError::Mistaken(vec![FieldError {
            field: Some(path)
                .filter(|path| path != ".")
                .unwrap_or("the file".to_owned()),
            detail: format!("expected JSON that a club file can be made of: {error}"),
            line: place(error.line()),
            column: place(error.column()),
        }])
    })?;
    toml::to_string(&table).map_err(|error| ApiError::mistaken("the file", error.to_string()))
}

/// A mistake as a field of a problem. Lines and columns are those of the text that was read, which of JSON is not what the
/// caller sent.
pub(crate) fn field(mistake: &Mistake, form: Form) -> FieldError {
    let place = |number| Some(number).filter(|_| form == Form::Toml);
    FieldError {
        field: mistake.key.clone(),
        detail: format!("found {}, expected {}", mistake.found, mistake.expected),
        line: place(mistake.line),
        column: place(mistake.column),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RICH: &str = include_str!("../../../fixtures/club/rich.toml");

    // No source: the two forms hold the same document, so that what was read as one can be written as the other.
    #[test]
    fn a_file_is_the_same_club_by_way_of_json() {
        let json = shown(RICH.to_owned(), Form::Json).unwrap();
        let (_, by_json) = read(&json, Form::Json).unwrap();
        let (text, direct) = read(RICH.as_bytes(), Form::Toml).unwrap();
        assert_eq!(text, RICH);
        let named = |parsed: &Parsed| format!("{:?}", parsed.club).replace(&parsed.club.version, "");
        assert_eq!(named(&by_json), named(&direct));
        let again = shown(read(&json, Form::Json).unwrap().0, Form::Json).unwrap();
        assert_eq!(again, json);
    }

    #[test]
    fn what_is_no_document_is_a_mistake_with_its_place() {
        for (bytes, form) in [
            (&b"\xff\xfe"[..], Form::Toml),
            (b"\xff\xfe", Form::Json),
            (b"{\n  \"club\": nonsense }", Form::Json),
            (b"{} {}", Form::Json),
            (b"[]", Form::Json),
            (b"{ \"club\": { \"name\": null } }", Form::Json),
            (b"{ \"club\": 18446744073709551615 }", Form::Json),
            (b"club = ", Form::Toml),
            (b"", Form::Json),
            ("[".repeat(100_000).as_bytes(), Form::Json),
            (format!("a = {}", "[".repeat(100_000)).as_bytes(), Form::Toml),
        ] {
            let Err(ApiError::Mistaken(errors)) = read(bytes, form) else {
                panic!("{bytes:?} was read");
            };
            assert!(!errors.is_empty());
        }
        let Err(ApiError::Mistaken(errors)) = read(b"{\n  \"club\": nonsense }", Form::Json) else {
            panic!("it was read");
        };
        assert_eq!((errors[0].line, errors[0].field.as_str()), (Some(2), "club"));
    }
}
