//! `/oembed`: the address of a board or a session's page in, a frame for it out (oEmbed 1.0, oembed.com).
//!
//! Owns: which addresses are ours, the two formats, sizes. Must not know: what a card says. Keys it does not know are left
//! alone, as the format asks.

use crate::answer::{Answer, Keep, Tagged};
use crate::caller::Caller;
use crate::problem::ApiError;
use crate::{ApiState, documents};
use askama::Template;
use axum::extract::{RawQuery, State};
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::{DateTime, Utc};
use percent_encoding::percent_decode_str;
use present::PresentError;
use present::html::{board_title, session_title};
use serde::Serialize;

/// CSS pixels: a card's largest width, and a height in which it stands whole at that width.
const WIDTH: u32 = 420;
const HEIGHT: u32 = 640;
/// Seconds for which others may keep the answer, at most. What the frame shows is asked for anew by itself.
const KEPT_AT_MOST_S: i64 = 3600;

/// `GET /oembed`.
pub(crate) async fn oembed(
    State(state): State<ApiState>,
    caller: Caller,
    RawQuery(query): RawQuery,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let question = Question::read(query.as_deref().unwrap_or_default())?;
    let public = state.serving.public_address.as_ref();
    let path = public.and_then(|public| public.path_of(&question.url));
    let path = path.ok_or(ApiError::NoSuchPage)?;
    let shared = documents::pages_for(&state, &caller).await?;
    let now = state.now();
    let found = found(&state, &path, now).await?;
    let frame = question.frame(&found.frame, &found.title)?;
    let service = public.map(|public| public.as_str()).unwrap_or_default();
    let body = Body {
        version: "1.0",
        kind: "rich",
        title: &without_controls(&found.title),
        provider_name: &without_controls(&found.club),
        provider_url: service,
        cache_age: kept_for(&found.until, now),
        html: &without_controls(&frame),
        width: question.width,
        height: question.height,
    };
    let tagged = match question.format {
        Format::Json => Tagged::new(
            "application/json",
            serde_json::to_vec(&body).map_err(ApiError::Document)?,
        ),
        Format::Xml => Tagged::new("text/xml; charset=utf-8", filled(&body)?.into_bytes()),
    };
    Ok(Answer::of(tagged, Keep::Until(now, found.until), shared).to(&asked))
}

/// The two forms of an answer.
enum Format {
    Json,
    Xml,
}

/// What is asked.
struct Question {
    url: String,
    format: Format,
    width: u32,
    height: u32,
}

impl Question {
    fn read(query: &str) -> Result<Self, ApiError> {
        let pairs: Vec<_> = form_urlencoded::parse(query.as_bytes()).collect();
        let said = |key: &str| {
            pairs
                .iter()
                .find(|(name, _)| name == key)
                .map(|(_, value)| value.as_ref())
        };
        let at_most = |key: &str, usual: u32| match said(key) {
            None => Ok(usual),
            Some(text) => match text.parse::<u32>() {
                Ok(most) if most > 0 => Ok(most.min(usual)),
                _ => Err(ApiError::field(key, "a whole number of pixels")),
            },
        };
        let url =
            said("url").ok_or_else(|| ApiError::field("url", "the address of a page of this service"))?;
        Ok(Self {
            url: url.to_owned(),
            format: match said("format") {
                None | Some("json") => Format::Json,
                Some("xml") => Format::Xml,
                Some(_) => return Err(ApiError::NoSuchFormat),
            },
            width: at_most("maxwidth", WIDTH)?,
            height: at_most("maxheight", HEIGHT)?,
        })
    }

    fn frame(&self, address: &str, title: &str) -> Result<String, ApiError> {
        let (width, height) = (self.width, self.height);
        filled(&Frame {
            address,
            title,
            width,
            height,
        })
    }
}

/// A page that can be framed as a card.
struct Found {
    title: String,
    club: String,
    /// The card's whole address.
    frame: String,
    until: Vec<DateTime<Utc>>,
}

async fn found(state: &ApiState, path: &str, now: DateTime<Utc>) -> Result<Found, ApiError> {
    let card = |path: &str| state.address_of(path).ok_or(ApiError::NoSuchPage);
    if path == "/" {
        let advisories = documents::of_the_board(state, now).await?;
        let named = advisories.first().map(|one| one.club.name.clone());
        let club = named.unwrap_or_else(|| state.club.to_string());
        return Ok(Found {
            title: board_title(&club),
            club,
            frame: card("/embed/next")?,
            until: advisories.iter().map(|one| one.valid_until.to_utc()).collect(),
        });
    }
    let segment = path
        .strip_prefix("/sessions/")
        .filter(|segment| !segment.contains('/'));
    let segment = segment.ok_or(ApiError::NoSuchPage)?;
    let id = percent_decode_str(segment)
        .decode_utf8()
        .map_err(|_| ApiError::NoSuchPage)?;
    let issue = documents::of_a_session(state, &state.club, &id).await?;
    let advisory = documents::read(&issue.document)?;
    Ok(Found {
        title: session_title(&advisory),
        frame: card(&format!("/embed/sessions/{segment}"))?,
        until: vec![advisory.valid_until.to_utc()],
        club: advisory.club.name,
    })
}

/// Until the first call that is in it grows old, an hour at most.
fn kept_for(until: &[DateTime<Utc>], now: DateTime<Utc>) -> i64 {
    let left = until.iter().map(|until| (*until - now).num_seconds());
    left.filter(|left| *left >= 0)
        .min()
        .unwrap_or(KEPT_AT_MOST_S)
        .min(KEPT_AT_MOST_S)
}

/// XML has no way to write most control characters (XML 1.0, section 2.2).
fn without_controls(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_control()).collect()
}

/// The members, in both formats.
#[derive(Serialize, Template)]
#[template(
    ext = "xml",
    source = r#"<?xml version="1.0" encoding="utf-8" standalone="yes"?>
<oembed><version>{{ version }}</version><type>{{ kind }}</type><title>{{ title }}</title><provider_name>{{ provider_name }}</provider_name><provider_url>{{ provider_url }}</provider_url><cache_age>{{ cache_age }}</cache_age><html>{{ html }}</html><width>{{ width }}</width><height>{{ height }}</height></oembed>
"#
)]
struct Body<'a> {
    version: &'a str,
    #[serde(rename = "type")]
    kind: &'a str,
    title: &'a str,
    provider_name: &'a str,
    provider_url: &'a str,
    cache_age: i64,
    html: &'a str,
    width: u32,
    height: u32,
}

/// What a site puts on its page.
#[derive(Template)]
#[template(
    ext = "html",
    source = r#"<iframe src="{{ address }}" width="{{ width }}" height="{{ height }}" title="{{ title }}" loading="lazy" frameborder="0"></iframe>"#
)]
struct Frame<'a> {
    address: &'a str,
    title: &'a str,
    width: u32,
    height: u32,
}

fn filled(template: &impl Template) -> Result<String, ApiError> {
    template.render().map_err(|source| {
        PresentError::Page {
            page: "oembed",
            source,
        }
        .into()
    })
}
