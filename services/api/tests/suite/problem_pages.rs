//! What a person's browser is shown where there is nothing to show: a page, with the same status and words as the problem details.
//!
//! Sources: RFC 9110, section 12.5.1 (Accept) and 12.5.5 (Vary); that an absent answer is no go: the project's own rule.

use crate::shelf::{get, get_with, is_problem, with_samples};

/// As browsers send it; common practice, no source.
const BROWSER: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,image/webp,*/*;q=0.8";

#[tokio::test]
async fn a_browser_is_shown_a_page_that_is_no_call() {
    let store = with_samples().await;
    let addresses = [
        "/sessions/2030-05-13-nobody",
        "/nothing",
        "/sheet/1999-01-01",
        "/sessions/%3Cscript%3E",
    ];
    for address in addresses {
        let problem = get(&store, address).await;
        is_problem(&problem, problem.status.as_u16());
        assert!(problem.status.is_client_error(), "{address}");
        let asked = [("accept", BROWSER), ("accept-encoding", "gzip, br")];
        let page = get_with(&store, address, &asked).await;
        assert!(page.headers.get("content-encoding").is_none(), "{address}");
        assert_eq!(page.status, problem.status, "{address}");
        assert_eq!(
            page.header("content-type"),
            "text/html; charset=utf-8",
            "{address}"
        );
        assert_eq!(page.header("cache-control"), problem.header("cache-control"));
        let varies = page.headers.get_all("vary").iter();
        assert!(
            varies
                .into_iter()
                .any(|value| value.as_bytes().eq_ignore_ascii_case(b"accept")),
            "{address}"
        );
        let words = page.text();
        assert!(words.contains("This is no call for any session, and no answer is never a go."));
        assert!(words.contains("The skipper on the water decides"), "the foot");
        assert!(words.contains("href=\"/\""), "a way back");
        assert!(!words.contains("<script>"), "{address}");
        let detail = problem.json()["detail"].as_str().unwrap().to_owned();
        let first = detail.split(['\'', '"', '<']).next().unwrap();
        assert!(words.contains(first), "{address}: {first}");
    }
}

#[tokio::test]
async fn programs_are_told_problems_whatever_they_accept() {
    let store = with_samples().await;
    for address in ["/v1/clubs/nobody", "/v1/nothing"] {
        is_problem(&get_with(&store, address, &[("accept", BROWSER)]).await, 404);
    }
    for accept in [
        "*/*",
        "application/json",
        "application/problem+json, text/html;q=0.5",
    ] {
        is_problem(&get_with(&store, "/nothing", &[("accept", accept)]).await, 404);
    }
}
