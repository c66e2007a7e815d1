//! Whether a form was sent from one of our own pages.
//!
//! Source: Fetch Metadata Request Headers (W3C), `Sec-Fetch-Site`; the Fetch standard, `Origin` on what is not GET or HEAD.

use axum::http::HeaderMap;
use axum::http::header::{HOST, HeaderName, ORIGIN};

const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// By what the browser says of itself; who says nothing is no browser, and brings no rights that its user does not hold.
pub(super) fn sent_from_here(headers: &HeaderMap) -> bool {
    if let Some(site) = headers.get(FETCH_SITE) {
        return site == "same-origin" || site == "none";
    }
    let Some(origin) = headers.get(ORIGIN) else {
        return true;
    };
    let host = headers.get(HOST).and_then(|host| host.to_str().ok());
    let origin = origin.to_str().ok().and_then(|origin| origin.split_once("://"));
    matches!((origin, host), (Some((_, from)), Some(host)) if from.eq_ignore_ascii_case(host))
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    // Source: Fetch Metadata Request Headers, section 2.2 (the four values); Fetch standard (an opaque origin is "null").
    #[test]
    fn only_what_a_browser_sends_from_our_own_page_is_taken() {
        for (said, taken) in [
            (vec![], true),
            (vec![("sec-fetch-site", "same-origin")], true),
            (vec![("sec-fetch-site", "none")], true),
            (vec![("sec-fetch-site", "same-site")], false),
            (vec![("sec-fetch-site", "cross-site")], false),
            (
                vec![
                    ("sec-fetch-site", "cross-site"),
                    ("origin", "https://club.example"),
                ],
                false,
            ),
            (vec![("origin", "https://club.example")], true),
            (vec![("origin", "https://CLUB.example")], true),
            (vec![("origin", "https://club.example.evil.example")], false),
            (vec![("origin", "https://club.example:8443")], false),
            (vec![("origin", "null")], false),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(HOST, HeaderValue::from_static("club.example"));
            for (name, value) in &said {
                headers.insert(*name, HeaderValue::from_static(value));
            }
            assert_eq!(sent_from_here(&headers), taken, "{said:?}");
        }
    }
}
