//! The description of the API: `/openapi.json`, and `/docs` for people.
//!
//! The page is made from the document itself, without a script: the strict content policy stays as it is.

use crate::ApiState;
use crate::answer::{Answer, Keep, Tagged};
use crate::cache::Shared;
use crate::media::Media;
use crate::problem::ApiError;
use askama::Template;
use axum::Router;
use axum::http::HeaderMap;
use axum::routing::get;
use present::PresentError;
use serde_json::Value;
use std::sync::Arc;
use utoipa::openapi::OpenApi;

/// Both routes.
pub(super) fn router(document: OpenApi) -> Router<ApiState> {
    let document = Arc::new(document);
    let again = document.clone();
    Router::new()
        .route(
            "/openapi.json",
            get(async move |asked: HeaderMap| {
                let body = super::bytes(&*document)?;
                Ok::<_, ApiError>(Answer::json(body, Keep::Release, Shared::Public).to(&asked))
            }),
        )
        .route(
            "/docs",
            get(async move |asked: HeaderMap| {
                let body = page(&again)?.into_bytes();
                let tagged = Tagged::new(Media::Html.content_type(), body);
                Ok::<_, ApiError>(Answer::of(tagged, Keep::Release, Shared::Public).to(&asked))
            }),
        )
}

/// The page.
#[derive(Template)]
#[template(path = "docs.html")]
struct Page {
    about: String,
    operations: Vec<Operation>,
    schemas: Vec<Schema>,
}

/// An address with one of its methods.
struct Operation {
    method: String,
    path: String,
    words: String,
    parameters: Vec<Line>,
    answers: Vec<Line>,
}

/// A form of the documents.
struct Schema {
    name: String,
    words: String,
    members: Vec<Line>,
}

/// A name, what kind of thing it is, and its words.
struct Line {
    name: String,
    kind: String,
    words: String,
}

fn page(document: &OpenApi) -> Result<String, ApiError> {
    let document = serde_json::to_value(document).map_err(ApiError::Document)?;
    let page = Page {
        about: text(&document["info"]["description"]),
        operations: members(&document["paths"])
            .flat_map(|(path, item)| {
                members(item).map(move |(method, operation)| described(method, path, operation))
            })
            .collect(),
        schemas: members(&document["components"]["schemas"])
            .map(|(name, schema)| form(name, schema))
            .collect(),
    };
    page.render()
        .map_err(|source| PresentError::Page { page: "docs", source }.into())
}

fn described(method: &str, path: &str, operation: &Value) -> Operation {
    Operation {
        method: method.to_uppercase(),
        path: path.to_owned(),
        words: text(&operation["summary"]),
        parameters: items(&operation["parameters"])
            .map(|parameter| Line {
                name: text(&parameter["name"]),
                kind: format!("{}, {}", text(&parameter["in"]), kind(&parameter["schema"])),
                words: text(&parameter["description"]),
            })
            .collect(),
        answers: members(&operation["responses"])
            .map(|(status, answer)| Line {
                name: status.to_owned(),
                kind: members(&answer["content"])
                    .map(|(media, body)| match kind(&body["schema"]).as_str() {
                        "string" => media.to_owned(),
                        named => format!("{media}: {named}"),
                    })
                    .collect::<Vec<_>>()
                    .join(", "),
                words: text(&answer["description"]),
            })
            .collect(),
    }
}

fn form(name: &str, schema: &Value) -> Schema {
    // A form that holds another's members is written as all of several.
    let parts = std::iter::once(schema).chain(items(&schema["allOf"]));
    let mut lines: Vec<Line> = parts
        .flat_map(|part| {
            let named = part["$ref"].as_str().map(|_| Line {
                name: String::new(),
                kind: kind(part),
                words: "and all its members".to_owned(),
            });
            let own = members(&part["properties"]).map(|(name, property)| Line {
                name: name.to_owned(),
                kind: kind(property),
                words: text(&property["description"]),
            });
            named.into_iter().chain(own)
        })
        .collect();
    if lines.is_empty() {
        lines = items(&schema["enum"])
            .map(|word| Line {
                name: text(word),
                kind: String::new(),
                words: String::new(),
            })
            .collect();
    }
    Schema {
        name: name.to_owned(),
        words: text(&schema["description"]),
        members: lines,
    }
}

/// What a schema is, in few words: "string (date-time) or null", "list of Hour".
fn kind(schema: &Value) -> String {
    if let Some(named) = schema["$ref"].as_str() {
        return named.rsplit('/').next().unwrap_or_default().to_owned();
    }
    let several = items(&schema["oneOf"])
        .chain(items(&schema["anyOf"]))
        .map(kind)
        .collect::<Vec<_>>();
    if !several.is_empty() {
        return several.join(" or ");
    }
    let words = match &schema["type"] {
        Value::Array(types) => types.iter().map(text).collect::<Vec<_>>().join(" or "),
        one => text(one),
    };
    if words.starts_with("array") {
        return words.replacen("array", &format!("list of {}", kind(&schema["items"])), 1);
    }
    let choices = items(&schema["enum"])
        .filter(|word| word.is_string())
        .map(text)
        .collect::<Vec<_>>();
    match (schema["format"].as_str(), choices.as_slice()) {
        (_, [_, ..]) => choices.join(" | "),
        (Some(format), _) => format!("{words} ({format})"),
        (None, _) => words,
    }
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn items(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn members(value: &Value) -> impl Iterator<Item = (&str, &Value)> {
    let members = value.as_object().into_iter().flatten();
    members.map(|(name, member)| (name.as_str(), member))
}
