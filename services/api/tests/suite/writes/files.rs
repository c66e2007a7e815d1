//! `GET` and `PUT /v1/clubs/{club}/file`, and its versions.

use crate::described::is_described;
use crate::shelf::{
    Answer, get, get_with, is_challenge, is_problem, keep_club, keep_token, morning, send_to,
    with_hidden_club,
};
use axum::http::Method;
use serde_json::{Value, json};
use store::{Scope, Store};

const FILE: &str = "/v1/clubs/closed-quay/file";
const DESCRIBED: &str = "/v1/clubs/{club}/file";
const SMALL: &str = include_str!("../../../../../fixtures/club/small.toml");
const IMPOSSIBLE: &str = include_str!("../../../../../fixtures/club/impossible.toml");

struct Quay {
    store: Store,
    token: String,
}

impl Quay {
    async fn new() -> Self {
        let store = with_hidden_club().await;
        let token = keep_token(&store, "closed-quay", &[Scope::Club], 1).await;
        Self { store, token }
    }

    async fn read(&self, path: &str, accept: &str) -> Answer {
        let headers = [("authorization", self.token.as_str()), ("accept", accept)];
        get_with(&self.store, path, &headers).await
    }

    async fn put(&self, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let shown = [("authorization", self.token.as_str())];
        let headers = [&shown[..], headers].concat();
        let sent = (&headers[..], body);
        send_to(
            (&self.store, "pellock-haven"),
            (Method::PUT, path),
            sent,
            morning(),
        )
        .await
    }

    async fn put_toml(&self, if_match: &str, body: &str) -> Answer {
        let headers = [("if-match", if_match), ("content-type", "application/toml")];
        self.put(FILE, &headers, body).await
    }

    /// The file as it is kept, and its ETag.
    async fn kept(&self) -> (String, String) {
        let answer = self.read(FILE, "*/*").await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.text());
        (answer.text(), answer.header("etag").to_owned())
    }
}

fn renamed(text: &str) -> String {
    text.replace("Small Pontoon Sailing", "The Quay Behind the Wall")
}

#[tokio::test]
async fn a_file_is_read_changed_and_put_back() {
    let quay = Quay::new().await;
    let (text, tag) = quay.kept().await;
    let shown = quay.read(FILE, "application/toml").await;
    assert_eq!(shown.header("content-type"), "application/toml");
    assert_eq!(shown.header("cache-control"), "private, no-cache");
    assert_eq!(tag, format!("\"{}\"", club::parse(&text).unwrap().club.version));
    let headers = [("authorization", quay.token.as_str()), ("if-none-match", &tag)];
    assert_eq!(get_with(&quay.store, FILE, &headers).await.status.as_u16(), 304);

    let changed = renamed(&text);
    assert_ne!(changed, text);
    let put = quay.put_toml(&tag, &changed).await;
    assert_eq!(put.status.as_u16(), 200, "{}", put.text());
    is_described("put", DESCRIBED, &put).await;
    let (now, now_tag) = quay.kept().await;
    assert_eq!((now, now_tag.as_str()), (changed.clone(), put.header("etag")));
    assert_eq!(put.json()["version"], now_tag.trim_matches('"'));
    // The club is answered for as its newest file says.
    let reads = keep_token(&quay.store, "closed-quay", &[Scope::Read], 2).await;
    let club = get_with(&quay.store, "/v1/clubs/closed-quay", &[("authorization", &reads)]).await;
    assert_eq!(club.json()["name"], "The Quay Behind the Wall");
    // The same again is no new version; an old text may come back as one.
    assert_eq!(quay.put_toml(&now_tag, &changed).await.status.as_u16(), 200);
    assert_eq!(quay.put_toml("*", &text).await.status.as_u16(), 200);
    let versions = quay.read(&format!("{FILE}/versions"), "*/*").await;
    is_described("get", "/v1/clubs/{club}/file/versions", &versions).await;
    let hashes = [
        tag.trim_matches('"'),
        now_tag.trim_matches('"'),
        tag.trim_matches('"'),
    ];
    let listed = versions.json()["versions"].clone();
    for (place, number) in [3, 2, 1].into_iter().enumerate() {
        assert_eq!(listed[place]["number"], number);
        assert_eq!(listed[place]["version"], hashes[place]);
    }
    assert_eq!(listed.as_array().unwrap().len(), 3);
    let first = quay.read(&format!("{FILE}/versions?limit=2"), "*/*").await;
    let next = first.json()["next"].as_str().unwrap().to_owned();
    let second = quay
        .read(&format!("{FILE}/versions?limit=2&cursor={next}"), "*/*")
        .await;
    assert_eq!(
        (&second.json()["versions"][0], &second.json()["next"]),
        (&listed[2], &Value::Null)
    );
}

#[tokio::test]
async fn the_same_document_is_read_and_put_as_json() {
    let quay = Quay::new().await;
    let (text, toml_tag) = quay.kept().await;
    let shown = quay.read(FILE, "application/json").await;
    assert_eq!(
        (shown.header("content-type"), shown.header("vary")),
        ("application/json", "Accept")
    );
    is_described("get", DESCRIBED, &shown).await;
    let tag = shown.header("etag").to_owned();
    assert_ne!(tag, toml_tag, "each form has its own validator");
    let mut document = shown.json();
    assert_eq!(document["club"]["slug"], "closed-quay");
    document["club"]["name"] = json!("The Quay Behind the Wall");
    let headers = [
        ("if-match", tag.as_str()),
        ("content-type", "application/json; charset=utf-8"),
    ];
    let put = quay.put(FILE, &headers, &document.to_string()).await;
    assert_eq!(put.status.as_u16(), 200, "{}", put.text());
    assert!(put.headers.get("etag").is_none(), "it is not kept as it was sent");
    assert_eq!(quay.read(FILE, "application/json").await.json(), document);
    let named = |text: &str| {
        let club = club::parse(text).unwrap().club;
        format!("{club:?}").replace(&club.version, "")
    };
    assert_eq!(named(&quay.kept().await.0), named(&renamed(&text)));
    is_problem(&quay.read(FILE, "text/html").await, 406);
}

#[tokio::test]
async fn a_file_is_replaced_only_by_who_knows_the_newest() {
    let quay = Quay::new().await;
    let (text, tag) = quay.kept().await;
    let changed = renamed(&text);
    let kind = ("content-type", "application/toml");
    for headers in [&[kind][..], &[kind, ("if-none-match", "\"a\"")]] {
        let answer = quay.put(FILE, headers, &changed).await;
        is_problem(&answer, 428);
        is_described("put", DESCRIBED, &answer).await;
    }
    let weak = format!("W/{tag}");
    for wrong in [weak.as_str(), "\"a\"", "", tag.trim_matches('"')] {
        let answer = quay.put_toml(wrong, &changed).await;
        is_problem(&answer, 412);
        is_described("put", DESCRIBED, &answer).await;
    }
    is_problem(
        &quay.put(FILE, &[kind, ("if-none-match", "*")], &changed).await,
        412,
    );
    assert_eq!(quay.kept().await, (text.clone(), tag.clone()));
    // Of two that know the same version one is told to read again; the store's own tests have two processes do it.
    let other = text.replace("Small Pontoon Sailing", "Another");
    let (one, two) = tokio::join!(quay.put_toml(&tag, &changed), quay.put_toml(&tag, &other));
    let mut statuses = [one.status.as_u16(), two.status.as_u16()];
    statuses.sort_unstable();
    assert_eq!(statuses, [200, 412]);
}

#[tokio::test]
async fn a_clubs_first_file_is_put_where_there_is_none() {
    let quay = Quay::new().await;
    let token = keep_token(&quay.store, "new-quay", &[Scope::Club, Scope::Read], 2).await;
    let quay = Quay { token, ..quay };
    let path = "/v1/clubs/new-quay/file";
    let text = SMALL.replace("small-pontoon", "new-quay");
    is_problem(&quay.read(path, "*/*").await, 404);
    is_problem(&quay.read(&format!("{path}/versions"), "*/*").await, 404);
    let kind = ("content-type", "application/toml");
    is_problem(&quay.put(path, &[kind, ("if-match", "*")], &text).await, 412);
    let put = quay.put(path, &[kind, ("if-none-match", "*")], &text).await;
    assert_eq!(put.status.as_u16(), 201, "{}", put.text());
    is_described("put", DESCRIBED, &put).await;
    is_problem(&quay.put(path, &[kind, ("if-none-match", "*")], &text).await, 412);
    assert_eq!(get(&quay.store, "/v1/clubs/new-quay").await.status.as_u16(), 200);
}

#[tokio::test]
async fn every_mistake_is_told_with_its_place_and_nothing_is_kept() {
    let quay = Quay::new().await;
    let before = quay.kept().await;
    let wrong = IMPOSSIBLE.to_owned();
    let answer = quay.put_toml(&before.1, &wrong).await;
    is_problem(&answer, 422);
    is_described("put", DESCRIBED, &answer).await;
    let told = answer.json()["errors"].as_array().unwrap().clone();
    let mistakes = club::parse(&wrong).unwrap_err().0;
    assert!(mistakes.len() >= 20 && told.len() == mistakes.len());
    for (told, mistake) in told.iter().zip(&mistakes) {
        assert_eq!(
            (&told["line"], &told["column"]),
            (&mistake.line.into(), &mistake.column.into())
        );
        assert_eq!(told["field"], mistake.key);
        assert!(told["detail"].as_str().unwrap().contains(&mistake.expected));
    }
    // As JSON by the path of the key: lines of a text that was not sent would mislead.
    let mut document = quay.read(FILE, "application/json").await.json();
    document["boats"][0]["reef_table"][1]["mean_up_to_kn"] = json!(-1);
    document["club"]["colour"] = json!("red");
    let headers = [("if-match", "*"), ("content-type", "application/json")];
    let answer = quay.put(FILE, &headers, &document.to_string()).await;
    is_problem(&answer, 422);
    let fields: Vec<_> = answer.json()["errors"].as_array().unwrap().clone();
    let named = |field: &str| {
        fields
            .iter()
            .any(|told| told["field"] == field && told["line"].is_null())
    };
    assert!(
        named("boats[0].reef_table[1].mean_up_to_kn") && named("club.colour"),
        "{fields:?}"
    );
    let broken = quay.put(FILE, &headers, "{\n \"club\": ]").await;
    is_problem(&broken, 422);
    assert_eq!(broken.json()["errors"][0]["line"], 2);
    let other = before.0.replace("closed-quay", "pellock-haven");
    let answer = quay.put_toml(&before.1, &other).await;
    is_problem(&answer, 422);
    assert_eq!(answer.json()["errors"][0]["field"], "club.slug");
    for body in ["", "\u{0}", "club = ["] {
        is_problem(&quay.put_toml(&before.1, body).await, 422);
    }
    for kind in ["text/plain", "application/toml-seq", ""] {
        let answer = quay
            .put(FILE, &[("if-match", "*"), ("content-type", kind)], &before.0)
            .await;
        is_problem(&answer, 415);
        is_described("put", DESCRIBED, &answer).await;
    }
    let large = format!("{}\n{}", before.0, "# x\n".repeat(300_000));
    let answer = quay.put_toml(&before.1, &large).await;
    is_problem(&answer, 413);
    is_described("put", DESCRIBED, &answer).await;
    assert_eq!(quay.kept().await, before);
}

#[tokio::test]
async fn the_club_of_the_service_is_managed_by_its_file() {
    let quay = Quay::new().await;
    let token = keep_token(&quay.store, "pellock-haven", &[Scope::Club], 2).await;
    let quay = Quay { token, ..quay };
    let path = "/v1/clubs/pellock-haven/file";
    let shown = quay.read(path, "*/*").await;
    assert_eq!(shown.status.as_u16(), 200);
    let headers = [
        ("if-match", shown.header("etag")),
        ("content-type", "application/toml"),
    ];
    let answer = quay.put(path, &headers, &renamed(&shown.text())).await;
    is_problem(&answer, 409);
    is_described("put", DESCRIBED, &answer).await;
    assert_eq!(quay.read(path, "*/*").await.text(), shown.text());
}

#[tokio::test]
async fn a_file_is_for_the_holder_of_a_token_that_says_so() {
    let quay = Quay::new().await;
    keep_club(&quay.store, "open-quay", true).await;
    let without = keep_token(&quay.store, "closed-quay", &[Scope::Read, Scope::Decide], 2).await;
    let missing = "Bearer error=\"insufficient_scope\", scope=\"club\"";
    for under in ["", "/versions"] {
        let path = format!("{FILE}{under}");
        let absent = get(&quay.store, &path.replace("closed", "absent")).await;
        let hidden = get(&quay.store, &path).await;
        is_problem(&hidden, 404);
        assert_eq!(hidden.text().replace("closed", "absent"), absent.text());
        assert_eq!(hidden.headers_but_its_name(), absent.headers_but_its_name());
        let shown = [("authorization", without.as_str())];
        is_challenge(&get_with(&quay.store, &path, &shown).await, 403, missing);
        let open = path.replace("closed", "open");
        is_challenge(&get(&quay.store, &open).await, 401, "Bearer scope=\"club\"");
        is_challenge(&quay.read(&open, "*/*").await, 403, missing);
    }
    let headers = [("if-match", "*"), ("content-type", "application/toml")];
    let sent = (&headers[..], SMALL);
    let nobody = send_to(
        (&quay.store, "pellock-haven"),
        (Method::PUT, FILE),
        sent,
        morning(),
    )
    .await;
    is_problem(&nobody, 404);
    assert_eq!(
        quay.put("/v1/clubs/open-quay/file", &headers, SMALL)
            .await
            .status
            .as_u16(),
        403
    );
}
