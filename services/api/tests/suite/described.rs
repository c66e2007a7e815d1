//! The OpenAPI document against the OpenAPI 3.1 rules it can break, and against what is answered.
//!
//! Sources: OpenAPI 3.1.0 (its schemas are JSON Schema 2020-12; each path parameter is declared and required; each
//! operation has an id of its own); `jsonschema` checks the answers.

use crate::shelf::{Answer, OURS, get, keep_decision, with_samples};
use serde_json::{Value, json};

async fn document() -> Value {
    let answer = get(&with_samples().await, "/openapi.json").await;
    assert_eq!(answer.header("content-type"), "application/json");
    answer.json()
}

/// Those that read, and that anyone may ask; the others are asked in `writes`.
fn operations(document: &Value) -> Vec<(String, Value)> {
    let paths = document["paths"].as_object().unwrap();
    let of_path = |(path, item): (&String, &Value)| (path.clone(), item["get"].clone());
    let open = |(_, operation): &(String, Value)| operation.is_object() && operation["security"].is_null();
    paths.iter().map(of_path).filter(open).collect()
}

/// That an answer is documented and of its schema.
pub async fn is_described(method: &str, path: &str, answer: &Answer) {
    let document = document().await;
    let status = answer.status.as_u16().to_string();
    let described = &document["paths"][path][method]["responses"][&status];
    let media = answer.header("content-type");
    let schema = &described["content"][media]["schema"];
    assert!(schema.is_object(), "{method} {path}: {status} {media}");
    let schema = json!({ "allOf": [schema], "components": document["components"] });
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let body = answer.json();
    let wrong: Vec<String> = validator
        .iter_errors(&body)
        .map(|error| error.to_string())
        .collect();
    assert!(wrong.is_empty(), "{method} {path}: {wrong:?}");
}

fn references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            found.extend(value["$ref"].as_str().map(str::to_owned));
            members.values().for_each(|member| references(member, found));
        }
        Value::Array(items) => items.iter().for_each(|item| references(item, found)),
        _ => {}
    }
}

#[tokio::test]
async fn the_document_is_whole() {
    let document = document().await;
    assert_eq!(document["openapi"], "3.1.0");
    let mut found = Vec::new();
    references(&document, &mut found);
    assert!(found.len() > 30);
    for reference in found {
        let pointer = reference.strip_prefix('#').unwrap();
        assert!(document.pointer(pointer).is_some(), "{reference} leads nowhere");
    }
    let mut ids = Vec::new();
    for (path, operation) in operations(&document) {
        assert!(!operation["summary"].as_str().unwrap().is_empty(), "{path}");
        ids.push(operation["operationId"].as_str().unwrap().to_owned());
        for name in path.split(['{', '}']).skip(1).step_by(2) {
            let parameters = operation["parameters"].as_array().unwrap();
            let declared = parameters
                .iter()
                .find(|one| one["name"] == name && one["in"] == "path");
            assert_eq!(
                declared.unwrap_or_else(|| panic!("{path}: {name}"))["required"],
                true
            );
        }
        for status in ["200", "304", "400", "401", "403", "404", "500", "503"] {
            assert!(operation["responses"][status].is_object(), "{path}: {status}");
        }
        for status in ["400", "401", "403", "404", "500", "503"] {
            let content = &operation["responses"][status]["content"];
            assert!(
                content["application/problem+json"]["schema"].is_object(),
                "{path}: {status}"
            );
        }
    }
    assert!(ids.len() >= 9);
    let count = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), count, "each operation has its own id");
    for id in ["list_clubs", "list_sessions", "get_advisory"] {
        assert!(ids.iter().any(|own| own == id), "{id}");
    }
}

#[tokio::test]
async fn what_is_answered_is_of_its_schema() {
    let store = with_samples().await;
    keep_decision(&store, "dunlin-first/20261017T0930", "moved", 9).await;
    let document = document().await;
    let session = "dunlin-first%2F20261017T0930";
    let mut checked = 0;
    for (path, operation) in operations(&document) {
        let asked = path
            .replace("{club}", "pellock-haven")
            .replace("{id}", session)
            .replace("{date}", "2026-10-17");
        for (asked, status, media) in [
            (asked.clone(), "200", "application/json"),
            (format!("{asked}?nobody=asks"), "400", "application/problem+json"),
            (
                asked
                    .replace("pellock-haven", "absent")
                    .replace(session, "absent"),
                "404",
                "application/problem+json",
            ),
        ] {
            let answer = get(&store, &asked).await;
            if answer.status.as_u16().to_string() != status {
                // An address without a name or a query has no wrong one.
                assert!(status != "200", "{asked}: {}", answer.text());
                continue;
            }
            let described = &operation["responses"][status]["content"];
            if described[media].is_null() {
                // Feeds are text of other standards; `feeds.rs` reads them.
                assert!(
                    path.ends_with(".ics") || path.ends_with(".atom"),
                    "{path}: {described}"
                );
                continue;
            }
            let pointer = &described[media]["schema"];
            let schema = json!({ "allOf": [pointer], "components": document["components"] });
            let validator = jsonschema::draft202012::new(&schema).unwrap();
            let body = answer.json();
            let wrong: Vec<String> = validator
                .iter_errors(&body)
                .map(|error| error.to_string())
                .collect();
            assert!(wrong.is_empty(), "{asked}: {wrong:?}");
            let mut spoiled = body.clone();
            spoiled.as_object_mut().unwrap().clear();
            assert!(
                !validator.is_valid(&spoiled),
                "{asked}: the schema asks for something"
            );
            checked += 1;
        }
    }
    assert!(checked >= 22, "{checked} answers were checked");
}

#[tokio::test]
async fn the_page_describes_every_address_without_a_script() {
    let store = with_samples().await;
    let page = get(&store, "/docs").await;
    assert_eq!(page.header("content-type"), "text/html; charset=utf-8");
    assert!(
        page.header("content-security-policy")
            .contains("default-src 'none'")
    );
    let text = page.text();
    for (path, operation) in operations(&document().await) {
        assert!(text.contains(&format!("GET {path}")), "{path}");
        let summary = operation["summary"].as_str().unwrap().replace('\'', "&#39;");
        assert!(text.contains(&summary), "{path}");
    }
    for written in ["POST /v1/clubs/{club}/decisions", "PUT /v1/clubs/{club}/file"] {
        assert!(text.contains(written), "{written}");
    }
    assert!(text.contains("valid_until") && text.contains("string (date-time)"));
    assert!(!text.contains("<script") && !text.contains("style="));
    for path in ["/openapi.json", "/docs"] {
        let tag = get(&store, path).await.header("etag").to_owned();
        let same = crate::shelf::get_with(&store, path, &[("if-none-match", &tag)]).await;
        assert_eq!(same.status.as_u16(), 304);
    }
    assert!(get(&store, &format!("{OURS}/sessions")).await.status.is_success());
}
