//! What other websites embed: who may frame it, how large it is, how long it may be kept, and what a card says.
//!
//! Sources: CSP Level 3 (frame-ancestors, script-src); the Fetch standard (headers another origin may read); RFC 9110,
//! sections 5.6.7 and 6.6.1 (Date). The bound of 10 KiB is the project's own.

use crate::shelf::{
    OURS, ask, ask_of, get, get_with, keep_club, keep_decision, morning, samples, stored, with_hidden_club,
    with_samples,
};
use axum::http::Method;
use chrono::TimeDelta;

/// The path of a session's page, as the `url` crate encodes a segment.
fn page_of(id: &str) -> String {
    let mut url = url::Url::parse("http://sailing.example/sessions/").unwrap();
    url.path_segments_mut().unwrap().pop_if_empty().push(id);
    url.path().to_owned()
}

const CARD: &str = "/embed/sessions/dunlin-first%2F20261017T0930";

#[tokio::test]
async fn the_script_is_one_small_file_that_any_site_may_load_and_keeps_nothing() {
    let store = with_samples().await;
    let packed = get_with(&store, "/embed.js", &[("accept-encoding", "gzip")]).await;
    assert_eq!(packed.header("content-encoding"), "gzip");
    assert!(packed.body.len() < 10 * 1024, "{} octets", packed.body.len());
    let plain = get(&store, "/embed.js").await;
    assert_eq!(plain.header("content-type"), "text/javascript; charset=utf-8");
    assert_eq!(plain.header("access-control-allow-origin"), "*");
    assert_eq!(plain.header("x-content-type-options"), "nosniff");
    assert_eq!(plain.header("cache-control"), "max-age=300");
    let tag = plain.header("etag").to_owned();
    let again = get_with(&store, "/embed.js", &[("if-none-match", &tag)]).await;
    assert_eq!(again.status.as_u16(), 304);
    let script = plain.text();
    for forbidden in [
        "innerHTML",
        "document.cookie",
        "localStorage",
        "sessionStorage",
        "eval(",
        "import ",
    ] {
        assert!(!script.contains(forbidden), "{forbidden}");
    }
    assert!(script.contains(".card .stamp"), "the cards' style sheet is in it");
    let style = get(&store, "/embed.css").await.text();
    assert!(!style.contains(['`', '\\']) && !style.contains("${") && !style.contains("url("));
}

#[tokio::test]
async fn only_cards_may_be_framed_by_others_and_only_they_run_our_script() {
    let store = with_samples().await;
    for path in [CARD, "/embed/next", "/embed/sessions/none"] {
        let answer = get(&store, path).await;
        let policy = answer.header("content-security-policy");
        for rule in [
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "connect-src 'self'",
            "frame-ancestors *",
        ] {
            assert!(policy.split("; ").any(|said| said == rule), "{path}: {policy}");
        }
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert!(answer.headers.get("x-frame-options").is_none());
    }
    for path in [
        "/",
        "/sessions/dunlin-first%2F20261017T0930",
        "/openings",
        "/embed/sessions/%ff",
    ] {
        let answer = get(&store, path).await;
        let policy = answer.header("content-security-policy");
        assert!(
            policy.contains("frame-ancestors 'self'") && !policy.contains("script-src"),
            "{path}: {policy}"
        );
    }
}

#[tokio::test]
async fn a_card_says_call_plan_way_out_decision_validity_and_caution() {
    let store = with_samples().await;
    let sample = &samples()[0];
    let page = get(&store, CARD).await;
    assert_eq!(page.status.as_u16(), 200);
    let page = page.text();
    for words in [
        sample.call.words(),
        &sample.club.name,
        &sample.plan.as_ref().unwrap().leave_with.words,
        &sample.way_out.as_ref().unwrap().words,
        "Decision was due",
        "Valid until 12:20; after that: old, no call.",
        "Fri 16 Oct 18:00 UTC",
        "Sample Forecast Office",
        "The skipper on the water decides. Official warnings were not checked here.",
        "session=\"dunlin-first/20261017T0930\"",
        "href=\"/sessions/dunlin-first%2F20261017T0930\" target=\"_top\"",
    ] {
        assert!(page.contains(words), "lacks {words}");
    }
    keep_decision(&store, "dunlin-first/20261017T0930", "off", 5).await;
    let page = get(&store, CARD).await.text();
    assert!(page.contains("<p class=\"stamp decided\">The club decided off: to the quay (A. B.,"));
}

#[tokio::test]
async fn after_valid_until_a_card_is_old_and_no_cache_keeps_it_until_then() {
    let store = with_samples().await;
    let until = samples()[0].valid_until.to_utc();
    let just = ask(&store, Method::GET, CARD, until - TimeDelta::seconds(9)).await;
    assert_eq!(just.header("cache-control"), "max-age=9");
    assert!(just.text().contains("http-equiv=\"refresh\" content=\"10\""));
    let old = ask(&store, Method::GET, CARD, until + TimeDelta::seconds(1))
        .await
        .text();
    assert!(old.contains("Old: no call") && old.contains("was valid until 12:20"));
    assert!(!old.contains("Leave with") && !old.contains("Way out") && !old.contains("Marginal"));
}

#[tokio::test]
async fn the_next_card_is_of_the_first_session_ahead_that_matches() {
    let store = with_samples().await;
    let all = samples();
    let mut ahead: Vec<_> = all
        .iter()
        .filter(|one| one.session.alongside > morning())
        .collect();
    ahead.sort_by_key(|one| one.session.leaves);
    let card = async |query: &str| get(&store, &format!("/embed/next{query}")).await.text();
    let link = |id: &str| format!("href=\"{}\"", page_of(id));
    assert!(card("").await.contains(&link(&ahead[0].session.id)));
    let other = ahead
        .iter()
        .find(|one| one.session.boat.id != ahead[0].session.boat.id)
        .unwrap();
    let boat = &other.session.boat.id;
    assert!(
        card(&format!("?boat={boat}"))
            .await
            .contains(&link(&other.session.id))
    );
    let none = get(&store, "/embed/next?boat=none").await;
    assert_eq!(none.status.as_u16(), 404);
    assert!(none.text().contains("No call") && none.text().contains("lists no such session"));
    // What the element asks for is the same session.
    let listed = get(&store, &format!("{OURS}/sessions?limit=1&ahead=true&boat={boat}"))
        .await
        .json();
    assert_eq!(listed["sessions"][0]["id"], other.session.id);
    assert_eq!(listed["club"].as_str().map(str::is_empty), Some(false));
    let back = all[0].session.alongside.to_utc();
    let id = &all[0].session.id;
    let path = format!("{OURS}/sessions?session={}", id.replace('/', "%2F"));
    let one = ask(&store, Method::GET, &path, back).await.json();
    assert_eq!(
        (
            one["sessions"].as_array().unwrap().len(),
            &one["sessions"][0]["id"]
        ),
        (1, &id.as_str().into())
    );
    let after = ask(&store, Method::GET, &format!("{path}&ahead=true"), back)
        .await
        .json();
    assert_eq!(
        after["sessions"].as_array().unwrap().len(),
        0,
        "it is back alongside"
    );
}

#[tokio::test]
async fn a_list_carries_the_words_of_a_card_and_the_time_by_which_calls_grow_old() {
    let store = with_samples().await;
    let answer = get(
        &store,
        &format!("{OURS}/sessions?session=dunlin-first%2F20261017T0930"),
    )
    .await;
    let exposed = answer.header("access-control-expose-headers");
    assert!(exposed.contains("date") && exposed.contains("age"));
    let date = chrono::DateTime::parse_from_rfc2822(answer.header("date")).unwrap();
    assert_eq!(date, morning());
    let entry = &answer.json()["sessions"][0];
    assert_eq!(entry["old"], false);
    let card = &entry["card"];
    assert!(card["line"].as_str().unwrap().starts_with("Leave with "));
    assert!(card["way_out"].as_str().unwrap().ends_with('.'));
    let later = samples()[0].valid_until.to_utc() + TimeDelta::seconds(1);
    let path = format!("{OURS}/sessions?session=dunlin-first%2F20261017T0930");
    let entry = &ask(&store, Method::GET, &path, later).await.json()["sessions"][0];
    assert_eq!(
        (&entry["old"], &entry["card"]["way_out"]),
        (&true.into(), &serde_json::Value::Null)
    );
    assert!(!entry["card"]["line"].as_str().unwrap().contains("Leave with"));
}

#[tokio::test]
async fn names_with_markup_arrive_escaped() {
    let mut sample = samples().swap_remove(0);
    let bad = "<script>alert(1)</script>\"'&";
    sample.club.name = bad.into();
    sample.session.id = bad.into();
    for named in [
        &mut sample.session.boat,
        &mut sample.session.level,
        &mut sample.session.venue,
    ] {
        named.name = bad.into();
    }
    let store = stored(&[(bad.into(), serde_json::to_vec(&sample).unwrap())]).await;
    for path in [
        page_of(bad).replace("/sessions/", "/embed/sessions/"),
        "/embed/next".into(),
    ] {
        let page = get(&store, &path).await;
        assert_eq!(page.status.as_u16(), 200, "{path}");
        let page = page.text();
        assert!(!page.contains("<script>") && !page.contains("\"'&"), "{page}");
        assert!(page.contains("&#60;script&#62;"), "{page}");
    }
}

#[tokio::test]
async fn a_card_of_a_hidden_club_tells_nothing() {
    let store = with_hidden_club().await;
    let asked = async |path: &str| ask_of((&store, "closed-quay"), (Method::GET, path), &[], morning()).await;
    let (there, absent, next) = (
        asked(CARD).await,
        asked("/embed/sessions/none").await,
        asked("/embed/next").await,
    );
    for answer in [&there, &next] {
        assert_eq!(answer.status.as_u16(), 404);
        assert_eq!(answer.text(), absent.text());
        assert!(!answer.text().contains("closed-quay") && !answer.text().contains("<cringle-session"));
    }
    keep_club(&store, "open-quay", true).await;
    let open = ask_of(
        (&store, "open-quay"),
        (Method::GET, "/embed/next"),
        &[],
        morning(),
    )
    .await;
    assert!(open.status.as_u16() == 404 && open.text().contains("<cringle-session club=\"open-quay\">"));
}
