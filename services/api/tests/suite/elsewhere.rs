//! What others show of a link: previews by Open Graph, frames by oEmbed. Neither holds a call, as others keep them for weeks.
//!
//! Sources: the Open Graph protocol (ogp.me, required properties); oEmbed 1.0 (oembed.com, sections 2.2 to 2.4: parameters, members
//! of `rich`, statuses 404 and 501, discovery); PNG (ISO/IEC 15948, section 11.2.2: width and height in IHDR).

use crate::shelf::{
    Answer, MARGINAL, catalogue, get, is_problem, is_wrong_field, morning, samples, serving, stored,
    with_hidden_club, with_samples,
};
use api::{ApiState, PublicAddress, Serving, router};
use axum::body::{Body, to_bytes};
use axum::http::Request;
use store::Store;
use tower::ServiceExt;

const SERVICE: &str = "https://sailing.example/advice";

/// Asks the service of a club that knows where others reach it.
async fn ask(store: &Store, club: &str, path: &str) -> Answer {
    let serving = Serving {
        public_address: PublicAddress::read(SERVICE),
        ..serving()
    };
    let state = ApiState::new(store.clone(), club, morning, None, catalogue(), serving);
    let request = Request::get(path).header("host", "evil.example");
    let response = router(state)
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    let (parts, body) = response.into_parts();
    Answer {
        status: parts.status,
        headers: parts.headers,
        body: to_bytes(body, 10_000_000).await.unwrap().to_vec(),
    }
}

async fn oembed(store: &Store, page: &str, more: &str) -> Answer {
    let encoded: String = form_urlencoded::byte_serialize(page.as_bytes()).collect();
    ask(store, "pellock-haven", &format!("/oembed?url={encoded}{more}")).await
}

/// Everything in the head of a page.
fn head(page: &str) -> &str {
    page.split("<body>").next().unwrap()
}

#[tokio::test]
async fn a_head_previews_the_session_and_never_its_call() {
    let store = with_samples().await;
    for sample in samples() {
        let encoded = sample.session.id.replace('/', "%2F");
        let page = ask(&store, "pellock-haven", &format!("/sessions/{encoded}"))
            .await
            .text();
        let head = head(&page);
        let at = sample.session.leaves.format("%a %-d %B %H:%M");
        let (boat, level) = (&sample.session.boat.name, &sample.session.level.name);
        for (property, content) in [
            ("title", format!("{boat}, {level}, {at}")),
            ("type", "article".into()),
            ("url", format!("{SERVICE}/sessions/{encoded}")),
            ("image", format!("{SERVICE}/preview.png")),
            ("site_name", sample.club.name.clone()),
        ] {
            let line = format!("<meta property=\"og:{property}\" content=\"{content}\">");
            assert!(head.contains(&line), "lacks {line}: {head}");
        }
        for word in ["Go", "Marginal", "No-go", "No call", "Leave with", " kn", "force"] {
            assert!(!head.contains(word), "{word} in {head}");
        }
        assert!(!page.contains("evil.example"));
    }
    let board = ask(&store, "pellock-haven", "/").await.text();
    assert!(head(&board).contains(&format!("<meta property=\"og:url\" content=\"{SERVICE}/\">")));
    // Without the setting nothing is said of an address.
    for path in ["/", MARGINAL] {
        let page = get(&store, path).await.text();
        assert!(!page.contains("og:") && !page.contains("oembed"));
    }
    // Another club has no page here that others could be sent to.
    let other = ask(
        &store,
        "open-quay",
        "/v1/clubs/pellock-haven/sessions/dunlin-first%2F20261017T0930/advisory?format=html",
    );
    assert!(!other.await.text().contains("og:"));
}

#[tokio::test]
async fn the_picture_is_small_and_of_the_size_that_is_said() {
    let store = with_samples().await;
    let picture = get(&store, "/preview.png").await;
    assert_eq!(picture.header("content-type"), "image/png");
    assert!(picture.body.len() < 30 * 1024);
    let number = |at: usize| u32::from_be_bytes(picture.body[at..at + 4].try_into().unwrap());
    assert_eq!((number(16), number(20)), (1200, 630));
}

#[tokio::test]
async fn a_page_leads_to_its_frame() {
    let store = with_samples().await;
    let page = ask(&store, "pellock-haven", MARGINAL).await.text();
    let link = page
        .split("type=\"application/json+oembed\" href=\"")
        .nth(1)
        .unwrap();
    let link = link.split('"').next().unwrap().replace("&amp;", "&");
    let answer = ask(&store, "pellock-haven", link.strip_prefix(SERVICE).unwrap()).await;
    assert_eq!(answer.header("content-type"), "application/json");
    let frame = answer.json();
    assert_eq!(
        (&frame["version"], &frame["type"]),
        (&"1.0".into(), &"rich".into())
    );
    assert_eq!((&frame["width"], &frame["height"]), (&420.into(), &640.into()));
    let html = frame["html"].as_str().unwrap();
    let source = format!("src=\"{SERVICE}/embed/sessions/dunlin-first%2F20261017T0930\"");
    assert!(html.starts_with("<iframe ") && html.contains(&source), "{html}");
    let left = (samples()[0].valid_until.to_utc() - morning()).num_seconds();
    assert!(frame["cache_age"].as_i64().unwrap() <= left);
    let title = frame["title"].as_str().unwrap();
    assert!(title.starts_with("Dunlin, ") && !title.contains(samples()[0].call.words()));
    let board = oembed(&store, &format!("{SERVICE}/"), "").await.json();
    assert!(
        board["html"]
            .as_str()
            .unwrap()
            .contains(&format!("src=\"{SERVICE}/embed/next\""))
    );
}

#[tokio::test]
async fn sizes_formats_and_foreign_addresses_are_answered_as_the_format_says() {
    let store = with_samples().await;
    let page = format!("{SERVICE}{MARGINAL}");
    let small = oembed(&store, &page, "&maxwidth=300&maxheight=200&theme=x")
        .await
        .json();
    assert_eq!((&small["width"], &small["height"]), (&300.into(), &200.into()));
    assert!(
        small["html"]
            .as_str()
            .unwrap()
            .contains("width=\"300\" height=\"200\"")
    );
    let large = oembed(&store, &page, "&maxwidth=9000&format=json").await.json();
    assert_eq!(large["width"], 420);
    let xml = oembed(&store, &page, "&format=xml").await;
    assert_eq!(xml.header("content-type"), "text/xml; charset=utf-8");
    assert!(xml.text().contains("<type>rich</type>") && xml.text().contains("<html>&#60;iframe "));
    is_problem(&oembed(&store, &page, "&format=yaml").await, 501);
    is_wrong_field(&oembed(&store, &page, "&maxwidth=wide").await, "maxwidth");
    is_wrong_field(&ask(&store, "pellock-haven", "/oembed").await, "url");
    for foreign in [
        "https://evil.example/sessions/s",
        "https://sailing.example/sessions/s",
        "https://sailing.example/advice/openings",
        "https://sailing.example/advice/sessions/none",
        "https://sailing.example/advice/sessions/a/b",
        "https://sailing.example/advice/sessions/%ff",
        "javascript:alert(1)",
        "/",
    ] {
        is_problem(&oembed(&store, foreign, "").await, 404);
    }
    is_problem(&get(&store, "/oembed?url=http%3A%2F%2F127.0.0.1%2F").await, 404);
    let hidden = with_hidden_club().await;
    for page in ["/", MARGINAL] {
        let encoded: String =
            form_urlencoded::byte_serialize(format!("{SERVICE}{page}").as_bytes()).collect();
        is_problem(
            &ask(&hidden, "closed-quay", &format!("/oembed?url={encoded}")).await,
            404,
        );
    }
}

#[tokio::test]
async fn names_with_markup_arrive_escaped_in_both_formats_and_in_the_head() {
    let bad = "<script>alert(1)</script>\"'&\u{1b}";
    let mut sample = samples().swap_remove(0);
    sample.club.name = bad.into();
    sample.session.boat.name = bad.into();
    let id = sample.session.id.clone();
    let store = stored(&[(id, serde_json::to_vec(&sample).unwrap())]).await;
    let page = format!("{SERVICE}{MARGINAL}");
    let json = oembed(&store, &page, "").await.json();
    let html = json["html"].as_str().unwrap();
    assert!(
        !html.contains("<script") && html.contains("title=\"&#60;script&#62;"),
        "{html}"
    );
    assert!(
        json["title"]
            .as_str()
            .unwrap()
            .starts_with("<script>alert(1)</script>\"'&, ")
    );
    let xml = oembed(&store, &page, "&format=xml").await.text();
    assert!(
        !xml.contains("<script") && !xml.contains("&<") && !xml.contains('\u{1b}'),
        "{xml}"
    );
    // Escaped twice within html: once as an attribute, once as XML's text.
    assert!(
        xml.contains("<title>&#60;script&#62;") && xml.contains("title=&#34;&#38;#60;script"),
        "{xml}"
    );
    let page = ask(&store, "pellock-haven", MARGINAL).await.text();
    assert!(
        !head(&page).contains("<script") && head(&page).contains("og:title\" content=\"&#60;script&#62;")
    );
}
