//! That no address and no secret of a link is told: not in a log of any level, a header, a problem or what is counted; and that
//! one client cannot have many addresses asked.
//!
//! Sources: CWE-532 (secrets in logs), CWE-209 (in errors); RFC 6585 (429), RFC 9110 (Retry-After).

use crate::mail_desk::{ANNA, Desk, FORM, JSON, OURS};
use crate::shelf::{catalogue, morning, serving};
use crate::tokens::Log;
use api::{ApiState, MetricsFor, Serving, serve};
use axum::http::Method;
use std::num::NonZeroU32;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// What is looked for: of the address the part that no page says by itself, of the secrets more of their digits than
/// a time of the log has.
const TOLD: [&str; 4] = [
    "anna.keel",
    "crew.example",
    "0101010101010101",
    "0202020202020202",
];

/// Method, path, headers, body.
type Sent<'a> = (Method, String, Vec<(&'a str, &'a str)>, String);

#[tokio::test]
async fn no_address_and_no_secret_of_a_link_is_told() {
    let desk = Desk::open().await;
    let log = Log::default();
    let _while_asking = log.at_every_level();
    tracing::trace!("the log is read");
    let manage = desk.subscribed(ANNA, "&changes=on", 1).await;
    let confirm = store::TokenSecret::from_random([1; 32]).exposed().to_owned();
    assert!(manage.contains(TOLD[3]) && confirm.contains(TOLD[2]));
    let bearer = format!("Bearer {manage}");
    let shown = ("authorization", bearer.as_str());
    let (api, one) = (
        format!("/v1/clubs/{OURS}/subscriptions"),
        format!("/v1/clubs/{OURS}/subscription"),
    );
    let typed = "anna.keel%40crew.example";
    let mut told = String::new();
    let mut requests: Vec<Sent<'_>> = vec![
        (
            Method::POST,
            "/subscribe".into(),
            vec![FORM],
            format!("address={typed}"),
        ),
        (
            Method::POST,
            "/subscribe".into(),
            vec![FORM, ("origin", "null")],
            format!("address={typed}"),
        ),
        (
            Method::POST,
            "/subscribe".into(),
            vec![JSON],
            format!("address={typed}"),
        ),
        (
            Method::PUT,
            "/subscribe".into(),
            vec![FORM],
            format!("address={typed}"),
        ),
        (
            Method::POST,
            api.clone(),
            vec![JSON],
            format!("{{\"address\": \"{ANNA}\"}}"),
        ),
        (
            Method::POST,
            api.clone(),
            vec![JSON],
            format!("{{\"address\": \"{ANNA}, {ANNA}\"}}"),
        ),
        (
            Method::POST,
            api.clone(),
            vec![JSON],
            format!("{{\"{ANNA}\": \"{ANNA}\"}}"),
        ),
        (
            Method::POST,
            api.clone(),
            vec![JSON],
            format!("{{\"levels\": \"{ANNA}\"}}"),
        ),
        (Method::POST, api.clone(), vec![FORM], ANNA.to_owned()),
        (Method::GET, one.clone(), vec![shown], String::new()),
        (
            Method::PUT,
            one.clone(),
            vec![shown, JSON],
            format!("{{\"levels\": [\"{ANNA}\"]}}"),
        ),
        (
            Method::PUT,
            format!("{one}/confirmation"),
            vec![shown],
            String::new(),
        ),
        (
            Method::DELETE,
            format!("{api}/{manage}"),
            vec![shown],
            String::new(),
        ),
    ];
    for page in ["confirm", "subscription", "unsubscribe"] {
        for secret in [&manage, &confirm] {
            let path = format!("/{page}/{secret}");
            requests.push((Method::GET, path.clone(), vec![], String::new()));
            requests.push((Method::POST, path.clone(), vec![FORM], format!("levels={typed}")));
            requests.push((Method::POST, path, vec![JSON], ANNA.to_owned()));
        }
    }
    for (method, path, headers, body) in &requests {
        let asked = (method.clone(), path.as_str());
        let answer = desk.send_to(OURS, asked, (headers, body), morning()).await;
        told += &format!("{:?} {}\n", answer.headers, answer.text());
    }
    // Typed into the form with a mistake beside it, it is given back to who typed it and logged nowhere.
    let wrong = format!("address={typed}&levels=pirates");
    assert!(desk.post("/subscribe", &wrong).await.text().contains(ANNA));
    // A request that fails in the store is logged with its causes.
    desk.store.close().await;
    let path = format!("/subscription/{manage}");
    for (path, body) in [
        ("/subscribe", format!("address={typed}")),
        (path.as_str(), "end=yes".into()),
    ] {
        let failed = desk.post(path, &body).await;
        assert_eq!(failed.status.as_u16(), 503);
        told += &failed.text();
    }
    let logged = log.text();
    assert!(
        logged.contains("the log is read") && logged.contains("/subscription/{secret}"),
        "{logged}"
    );
    assert!(
        logged.contains("looking for the subscription of a link"),
        "{logged}"
    );
    for word in TOLD {
        assert!(!logged.contains(word), "{word} is in the log: {logged}");
        assert!(!told.contains(word), "{word} is in an answer: {told}");
    }
}

async fn say(address: std::net::SocketAddr, words: &str) -> String {
    let mut stream = TcpStream::connect(address).await.unwrap();
    stream.write_all(words.as_bytes()).await.unwrap();
    let mut read = String::new();
    stream.read_to_string(&mut read).await.unwrap();
    read
}

#[tokio::test]
async fn one_client_has_only_so_many_addresses_asked_by_page_and_api_together() {
    let desk = Desk::open().await;
    let serving = Serving {
        sends_mail: true,
        addresses_an_hour: NonZeroU32::new(2).unwrap(),
        metrics: MetricsFor::Everyone,
        ..serving()
    };
    let state = ApiState::new(desk.store.clone(), OURS, morning, None, catalogue(), serving);
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let task = tokio::spawn(serve(listener, state, std::future::pending()));
    let post = async |path: &str, kind: &str, body: &str| {
        let length = body.len();
        let words = format!(
            "POST {path} HTTP/1.1\r\nHost: h\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{body}"
        );
        say(address, &words).await
    };
    let api = format!("/v1/clubs/{OURS}/subscriptions");
    // What is not kept takes nothing from the account.
    for _ in 0..5 {
        let wrong = post("/subscribe", FORM.1, "address=anna").await;
        assert!(wrong.starts_with("HTTP/1.1 422"), "{wrong}");
    }
    let first = post("/subscribe", FORM.1, "address=a%40crew.example").await;
    assert!(first.starts_with("HTTP/1.1 200"), "{first}");
    let second = post(&api, JSON.1, "{\"address\": \"b@crew.example\"}").await;
    assert!(second.starts_with("HTTP/1.1 202"), "{second}");
    let page = post("/subscribe", FORM.1, "address=c%40crew.example").await;
    assert!(
        page.starts_with("HTTP/1.1 429") && page.contains("too many addresses"),
        "{page}"
    );
    let refused = post(&api, JSON.1, "{\"address\": \"c@crew.example\"}").await;
    assert!(
        refused.starts_with("HTTP/1.1 429") && refused.contains("application/problem+json"),
        "{refused}"
    );
    for answer in [&page, &refused] {
        let seconds = answer.lines().find_map(|line| line.strip_prefix("retry-after: "));
        let seconds: u64 = seconds.unwrap().parse().unwrap();
        // Two an hour: the next within half an hour.
        assert!((1..=1800).contains(&seconds), "{seconds}");
    }
    assert_eq!(desk.waiting().await, 2);
    let counted = say(
        address,
        "GET /metrics HTTP/1.1\r\nHost: h\r\nConnection: close\r\n\r\n",
    )
    .await;
    assert!(
        counted.contains("cringle_requests_refused_total 2\n"),
        "{counted}"
    );
    assert!(!counted.contains("crew.example"));
    task.abort();
}
