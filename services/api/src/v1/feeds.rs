//! `/v1/clubs/{club}/calendar.ics` and `/v1/clubs/{club}/advisories.atom`: what other programs subscribe to.
//!
//! Owns: what is in a feed and how long it may be kept. Must not know: how an event or an entry is worded.

use crate::answer::{Answer, Keep, Tagged};
use crate::caller::Caller;
use crate::extract::{Asked, InPath};
use crate::media::Media;
use crate::problem::{ApiError, ReadingProblems};
use crate::{ApiState, documents};
use advisory::Advisory;
use advisory::document::ClubName;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::TimeDelta;
use present::{atom, calendar};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;

/// Issues in the feed, at most.
const ISSUES_AT_MOST: u16 = 100;
/// None issued longer ago than this.
const ISSUED_WITHIN: TimeDelta = TimeDelta::days(30);
/// The media type of an Atom feed (RFC 4287, section 7).
const ATOM: &str = "application/atom+xml";

/// Which sessions.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct CalendarQuery {
    /// Key of a crew level.
    level: Option<String>,
    /// Key of a boat.
    boat: Option<String>,
    /// Key of a venue.
    venue: Option<String>,
}

impl CalendarQuery {
    fn wants(&self, advisory: &Advisory) -> bool {
        let is = |wanted: &Option<String>, id: &str| wanted.as_ref().is_none_or(|wanted| wanted == id);
        let session = &advisory.session;
        is(&self.level, &session.level.id)
            && is(&self.boat, &session.boat.id)
            && is(&self.venue, &session.venue.id)
    }
}

/// The sessions of today and later with what the club decided and the call, to subscribe to (iCalendar, RFC 5545).
#[utoipa::path(get, path = "/v1/clubs/{club}/calendar.ics", tag = "feeds", params(
    ("club" = String, Path, description = "Short name of the club."), CalendarQuery
), responses(
    (status = 200, description = "The calendar.", body = String, content_type = "text/calendar", headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."))),
    ReadingProblems,
))]
pub(crate) async fn get_calendar(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<CalendarQuery>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let mut kept = documents::standing(&state, &slug, now).await?;
    kept.retain(|(advisory, _)| query.wants(advisory));
    let decisions = documents::decisions(&state, &slug, now).await?;
    let standing: Vec<_> = kept
        .iter()
        .map(|(advisory, revision)| calendar::Standing {
            advisory,
            revision: *revision,
        })
        .collect();
    let name = ClubName::from(&*club);
    let body = calendar::feed(&name, &standing, &decisions, now, &|id| state.page_of(&slug, id));
    let until = kept.iter().map(|(one, _)| one.valid_until.to_utc()).collect();
    let tagged = Tagged::new(Media::Calendar.content_type(), body.into_bytes());
    Ok(Answer::of(tagged, Keep::Until(now, until), shared).to(&asked))
}

/// The advisories of the last thirty days as they were issued, the newest first, a hundred at most (Atom, RFC 4287).
#[utoipa::path(get, path = "/v1/clubs/{club}/advisories.atom", tag = "feeds", params(
    ("club" = String, Path, description = "Short name of the club.")
), responses(
    (status = 200, description = "The feed.", body = String, content_type = "application/atom+xml", headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."))),
    ReadingProblems,
))]
pub(crate) async fn get_atom(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let issued = documents::issued(&state, &slug, (now - ISSUED_WITHIN, now), ISSUES_AT_MOST).await?;
    let names: Vec<String> = issued
        .iter()
        .map(|(_, issue)| name_for_good(&[&slug, &issue.id]))
        .collect();
    let issues: Vec<_> = issued
        .iter()
        .zip(&names)
        .map(|((advisory, _), name)| atom::Issued { name, advisory })
        .collect();
    let own = state.address_of(&format!("/v1/clubs/{slug}/advisories.atom"));
    let board = state.board_of(&slug);
    let addresses = atom::Addresses {
        own: own.as_deref(),
        board: board.as_deref(),
        page: &|id| state.page_of(&slug, id),
    };
    let body = atom::feed(
        &ClubName::from(&*club),
        &name_for_good(&[&slug]),
        &issues,
        addresses,
    )?;
    // What an entry says never goes old: it is a record.
    let tagged = Tagged::new(ATOM, body.into_bytes());
    Ok(Answer::of(tagged, Keep::Until(now, Vec::new()), shared).to(&asked))
}

/// A name that needs no authority and never changes: a UUID made of a hash of ours (version 8, RFC 9562, section 5.8).
fn name_for_good(parts: &[&str]) -> String {
    let mut hash = Sha256::new();
    hash.update("cringle-feed");
    for part in parts {
        hash.update([0]);
        hash.update(part);
    }
    let mut octets: [u8; 16] = [0; 16];
    octets.copy_from_slice(&hash.finalize()[..16]);
    octets[6] = octets[6] & 0x0f | 0x80;
    octets[8] = octets[8] & 0x3f | 0x80;
    let digits: String = octets.iter().map(|octet| format!("{octet:02x}")).collect();
    let (a, b, c, d, e) = (
        &digits[..8],
        &digits[8..12],
        &digits[12..16],
        &digits[16..20],
        &digits[20..],
    );
    format!("urn:uuid:{a}-{b}-{c}-{d}-{e}")
}
