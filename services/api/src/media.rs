//! The media types an advisory is answered in, and which of them a request asks for (RFC 9110, section 12.5.1).

use axum::http::HeaderMap;
use axum::http::header::ACCEPT;
use serde::Deserialize;
use utoipa::ToSchema;

/// A representation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Media {
    /// `application/json`: the document as it was issued.
    Json,
    /// `text/html`: the page.
    Html,
    /// `text/plain`: as in the terminal.
    Text,
    /// `text/calendar`: one event (RFC 5545).
    Calendar,
}

/// In order of preference where a request does not care.
const OFFERED: [Media; 4] = [Media::Json, Media::Html, Media::Text, Media::Calendar];

impl Media {
    /// As the header Content-Type says it.
    pub(crate) fn content_type(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::Html => "text/html; charset=utf-8",
            Self::Text => "text/plain; charset=utf-8",
            Self::Calendar => "text/calendar; charset=utf-8",
        }
    }

    fn parts(self) -> (&'static str, &'static str) {
        match self {
            Self::Json => ("application", "json"),
            Self::Html => ("text", "html"),
            Self::Text => ("text", "plain"),
            Self::Calendar => ("text", "calendar"),
        }
    }
}

/// What the header Accept asks for; JSON without it; none where nothing it names is offered.
pub(crate) fn accepted(headers: &HeaderMap) -> Option<Media> {
    let types = OFFERED.map(Media::parts);
    accepted_of(headers, &types).map(|place| OFFERED[place])
}

/// The place of the type that the header Accept asks for; the first without it; none where nothing it names is offered.
pub(crate) fn accepted_of(headers: &HeaderMap, offered: &[(&str, &str)]) -> Option<usize> {
    let said: Vec<&str> = headers
        .get_all(ACCEPT)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .collect();
    let said = said.join(",");
    if said.trim().is_empty() {
        return Some(0);
    }
    let ranges: Vec<Range<'_>> = said.split(',').filter_map(Range::read).collect();
    let mut best: Option<((u16, u8), usize)> = None;
    for (place, media) in offered.iter().enumerate() {
        // The most exact range that fits says how much the type is wanted.
        let fitting = ranges.iter().filter(|range| range.fits(*media));
        let Some(range) = fitting.max_by_key(|range| range.exactness()) else {
            continue;
        };
        let rank = (range.thousandths, range.exactness());
        if range.thousandths > 0 && best.is_none_or(|(other, _)| rank > other) {
            best = Some((rank, place));
        }
    }
    best.map(|(_, place)| place)
}

/// One media range with its weight.
struct Range<'a> {
    kind: &'a str,
    subtype: &'a str,
    thousandths: u16,
}

impl<'a> Range<'a> {
    fn read(said: &'a str) -> Option<Self> {
        let mut parts = said.split(';').map(str::trim);
        let (kind, subtype) = parts.next()?.split_once('/')?;
        let weight = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
        let thousandths = match weight {
            None => 1000,
            Some(weight) => {
                let weight: f64 = weight
                    .parse()
                    .ok()
                    .filter(|weight| (0.0..=1.0).contains(weight))?;
                (weight * 1000.0).round() as u16
            }
        };
        Some(Self {
            kind,
            subtype,
            thousandths,
        })
    }

    fn fits(&self, (kind, subtype): (&str, &str)) -> bool {
        let same = |said: &str, own: &str| said == "*" || said.eq_ignore_ascii_case(own);
        same(self.kind, kind) && same(self.subtype, subtype)
    }

    fn exactness(&self) -> u8 {
        u8::from(self.kind != "*") + u8::from(self.subtype != "*")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    // Source: RFC 9110, section 12.5.1 (weights; the most specific range counts), on our four types.
    #[test]
    fn the_most_exact_range_says_how_much_a_type_is_wanted() {
        let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,image/webp,*/*;q=0.8";
        for (said, expected) in [
            ("", Some(Media::Json)),
            ("*/*", Some(Media::Json)),
            (browser, Some(Media::Html)),
            ("text/*", Some(Media::Html)),
            ("text/*;q=0.3, text/plain", Some(Media::Text)),
            ("text/calendar, */*;q=0.1", Some(Media::Calendar)),
            ("application/json;q=0, text/*;q=0.5", Some(Media::Html)),
            ("*/*, application/json;q=0", Some(Media::Html)),
            ("TEXT/Calendar;charset=utf-8", Some(Media::Calendar)),
            ("application/json;q=0.200, text/plain;q=0.201", Some(Media::Text)),
            ("application/xml", None),
            ("application/json;q=0", None),
            ("application/json;q=7", None),
            ("nonsense", None),
        ] {
            let mut headers = HeaderMap::new();
            headers.insert(ACCEPT, HeaderValue::from_static(said));
            assert_eq!(accepted(&headers), expected, "{said}");
        }
        assert_eq!(accepted(&HeaderMap::new()), Some(Media::Json));
    }
}
