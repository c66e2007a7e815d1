//! `/v1/clubs/{club}/conditions`: the values kept of each source's newest run at a venue's points, or why one is missing.

use super::{bytes, coverage};
use crate::answer::{Answer, Keep, Tagged};
use crate::caller::Caller;
use crate::extract::{Asked, InPath};
use crate::problem::{ApiError, Problem, ReadingProblems};
use crate::{ApiState, documents, media};
use advisor::{KeptPoint, KeptValue, pick};
use advisory::document::Named;
use advisory::words::local;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::{DateTime, FixedOffset, TimeDelta, Utc};
use chrono_tz::Tz;
use club::Club;
use feeds::Feed;
use forecast::{Member, Parameter};
use serde::{Deserialize, Deserializer, Serialize, de::Error as _};
use std::collections::BTreeSet;
use utoipa::{IntoParams, ToSchema};

/// Hours after `from` that are shown unless `to` is given.
const USUALLY_H: i64 = 48;
/// Longest stretch, days: no run reaches further.
const LONGEST_DAYS: i64 = 16;
/// The registered media type of CoverageJSON (OGC 21-069r2).
const COVERAGE_JSON: &str = "application/prs.coverage+json";

/// A club, the version of its file, a venue's key, and a source.
pub(crate) type ConditionsQuestion = (String, String, String, Option<String>);

/// Which values.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ConditionsQuery {
    /// Key of a venue; the club's first unless given.
    venue: Option<String>,
    /// A source by its name; every one that the club's policy names unless given.
    source: Option<String>,
    /// First moment (RFC 3339, its plus percent-encoded); now unless given.
    #[serde(default, deserialize_with = "optional_moment")]
    #[param(value_type = Option<String>, format = DateTime)]
    from: Option<DateTime<FixedOffset>>,
    /// Last moment, at most 16 days after the first; 48 hours after it unless given.
    #[serde(default, deserialize_with = "optional_moment")]
    #[param(value_type = Option<String>, format = DateTime)]
    to: Option<DateTime<FixedOffset>>,
    /// For links, which cannot say Accept: wins over it.
    #[param(inline)]
    format: Option<Form>,
}

/// A representation.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Form {
    /// `application/json`.
    Json,
    /// `application/prs.coverage+json`: a CoverageJSON collection, a point series for each source, point and member.
    CoverageJson,
}

/// What is kept for a venue.
#[derive(Serialize, ToSchema)]
pub(crate) struct Conditions {
    /// Where.
    venue: Named,
    /// First moment.
    from: DateTime<FixedOffset>,
    /// Last moment.
    to: DateTime<FixedOffset>,
    /// What is kept, for each source and point: as the sources say it, before the venue's own corrections.
    points: Vec<AtPoint>,
    /// Sources of which nothing is kept there.
    nothing_kept_of: Vec<String>,
    /// To everyone who reads this.
    caution: &'static str,
}

/// A source's newest run at a point.
#[derive(Serialize, ToSchema)]
pub(crate) struct AtPoint {
    /// The source.
    source: String,
    /// The sentence its licence asks for.
    attribution: String,
    /// Its licence.
    licence: String,
    /// The run's reference time.
    run: DateTime<Utc>,
    /// The point, as the club names it.
    point: String,
    /// Degrees north.
    lat: f64,
    /// Degrees east.
    lon: f64,
    /// The nodes around it that carry weight, with their distance in nautical miles.
    nodes: Vec<String>,
    /// The hours.
    times: Vec<DateTime<FixedOffset>>,
    /// The quantities.
    quantities: Vec<QuantitySeries>,
}

/// One quantity over the hours.
#[derive(Serialize, ToSchema)]
pub(crate) struct QuantitySeries {
    /// Its name.
    quantity: &'static str,
    /// Its unit.
    unit: &'static str,
    /// A series for each member.
    members: Vec<MemberSeries>,
}

/// One member's values.
#[derive(Serialize, ToSchema)]
pub(crate) struct MemberSeries {
    /// The member; 0 is the control or the only one.
    member: u16,
    /// A value for each of the hours; none where it is missing or the source does not give it then.
    values: Vec<Option<f64>>,
    /// Why a value is missing that the source gives.
    missing: Vec<MissingAt>,
}

/// A value that is missing.
#[derive(Serialize, ToSchema)]
pub(crate) struct MissingAt {
    /// The hour.
    at: DateTime<FixedOffset>,
    /// Why.
    why: &'static str,
}

/// The values kept for a venue: by source, point, quantity, member and hour.
#[utoipa::path(get, path = "/v1/clubs/{club}/conditions", tag = "data", params(
    ("club" = String, Path, description = "Short name of the club."), ConditionsQuery
), responses(
    (status = 200, description = "The values.", headers(
        ("etag" = String, description = "Weak validator, the same in every content coding."),
        ("vary" = String, description = "Accept.")), content(
        (Conditions = "application/json"), (coverage::Collection = "application/prs.coverage+json"))),
    (status = 406, description = "Accept names neither of the two media types.", body = Problem,
        content_type = "application/problem+json"),
    ReadingProblems,
))]
pub(crate) async fn get_conditions(
    State(state): State<ApiState>,
    caller: Caller,
    InPath(slug): InPath<String>,
    Asked(query): Asked<ConditionsQuery>,
    asked: HeaderMap,
) -> Result<Response, ApiError> {
    let now = state.now();
    let (club, shared) = documents::club_for(&state, &slug, &caller).await?;
    let form = chosen(&query, &asked)?;
    let span = span(&query, now)?;
    let venue = pick("venue", &club.venues, |venue| &venue.id, query.venue.as_deref());
    let venue = venue.map_err(|error| super::unknown_key(&error))?;
    let feeds = wanted_feeds(&state, &club, query.source.as_deref())?;
    let question = (slug, club.version.clone(), venue.id.clone(), query.source.clone());
    let compute = async {
        let mut found = Vec::new();
        for feed in &feeds {
            for point in 0..venue.points.len() {
                found.extend(
                    advisor::at_point(&state.store, &state.catalogue, feed, venue, point, now).await?,
                );
            }
        }
        Ok::<_, ApiError>(found)
    };
    let kept = state.conditions.answer(question, compute).await?;
    let tagged = match form {
        Form::Json => {
            let shown = shown(&feeds, &kept, span, club.time_zone);
            Tagged::new(
                "application/json",
                bytes(&Conditions {
                    venue: Named {
                        id: venue.id.clone(),
                        name: venue.name.clone(),
                    },
                    from: local(span.0, club.time_zone),
                    to: local(span.1, club.time_zone),
                    nothing_kept_of: without(&feeds, &kept),
                    points: shown,
                    caution: advisory::make::CAUTION_TO_ALL,
                })?,
            )
        }
        Form::CoverageJson => Tagged::new(COVERAGE_JSON, bytes(&coverage::collection(&kept, span))?),
    };
    Ok(Answer {
        negotiated: true,
        ..Answer::of(tagged, Keep::Never, shared)
    }
    .to(&asked))
}

fn chosen(query: &ConditionsQuery, asked: &HeaderMap) -> Result<Form, ApiError> {
    let offered = [("application", "json"), ("application", "prs.coverage+json")];
    let forms = [Form::Json, Form::CoverageJson];
    let accepted = || media::accepted_of(asked, &offered).map(|place| forms[place]);
    query.format.or_else(accepted).ok_or(ApiError::NotAcceptable {
        offered: "application/json and application/prs.coverage+json",
    })
}

fn span(query: &ConditionsQuery, now: DateTime<Utc>) -> Result<(DateTime<Utc>, DateTime<Utc>), ApiError> {
    let from = query.from.map_or(now, |from| from.to_utc());
    let usual = || from.checked_add_signed(TimeDelta::hours(USUALLY_H));
    let to = query.to.map(|to| to.to_utc()).or_else(usual);
    let in_bounds =
        to.filter(|to| (TimeDelta::zero()..=TimeDelta::days(LONGEST_DAYS)).contains(&(*to - from)));
    match in_bounds {
        Some(to) => Ok((from, to)),
        None => Err(ApiError::field(
            "to",
            format!("a moment from `from` on, at most {LONGEST_DAYS} days later"),
        )),
    }
}

/// The source that is asked for, of all that are known: what is kept of one that the club no longer names can be asked for.
fn wanted_feeds(state: &ApiState, club: &Club, wanted: Option<&str>) -> Result<Vec<Feed>, ApiError> {
    let Some(wanted) = wanted else {
        return Ok(advisor::named_feeds(&state.catalogue, club)
            .into_iter()
            .cloned()
            .collect());
    };
    let known = state.catalogue.feeds();
    let found = known.iter().find(|feed| feed.name.as_str() == wanted);
    found.map(|feed| vec![feed.clone()]).ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|feed| feed.name.as_str()).collect();
        ApiError::field(
            "source",
            format!("no source has this name; there are {}", names.join(", ")),
        )
    })
}

fn without(feeds: &[Feed], kept: &[KeptPoint]) -> Vec<String> {
    let none_of = |feed: &&Feed| kept.iter().all(|point| point.source != feed.name);
    feeds
        .iter()
        .filter(none_of)
        .map(|feed| feed.name.to_string())
        .collect()
}

/// The hours of a point within a span, each once.
pub(super) fn hours(kept: &KeptPoint, (from, to): (DateTime<Utc>, DateTime<Utc>)) -> Vec<DateTime<Utc>> {
    let hours: BTreeSet<DateTime<Utc>> = kept.values.iter().map(|value| value.valid).collect();
    hours
        .into_iter()
        .filter(|hour| (from..=to).contains(hour))
        .collect()
}

/// The quantities and the members that there is anything of.
pub(super) fn quantities_and_members(kept: &KeptPoint) -> (BTreeSet<Parameter>, BTreeSet<Member>) {
    let of = |value: &KeptValue| (value.parameter, value.member);
    kept.values.iter().map(of).unzip()
}

/// To the fourth decimal: no packing says more.
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

fn shown(feeds: &[Feed], kept: &[KeptPoint], span: (DateTime<Utc>, DateTime<Utc>), zone: Tz) -> Vec<AtPoint> {
    let point = |kept: &KeptPoint| {
        let feed = feeds.iter().find(|feed| feed.name == kept.source)?;
        let times = hours(kept, span);
        let (quantities, members) = quantities_and_members(kept);
        let series = |parameter: Parameter| QuantitySeries {
            quantity: parameter.name(),
            unit: parameter.unit(),
            members: members
                .iter()
                .map(|&member| of_member(kept, (parameter, member), &times, zone))
                .collect(),
        };
        Some(AtPoint {
            source: kept.source.to_string(),
            attribution: feed.attribution.clone(),
            licence: feed.licence.clone(),
            run: kept.run,
            point: kept.point.clone(),
            lat: kept.at.lat,
            lon: kept.at.lon,
            nodes: kept.nodes.clone(),
            quantities: quantities.into_iter().map(series).collect(),
            times: times.iter().map(|time| local(*time, zone)).collect(),
        })
    };
    kept.iter().filter_map(point).collect()
}

fn of_member(
    kept: &KeptPoint,
    (parameter, member): (Parameter, Member),
    times: &[DateTime<Utc>],
    zone: Tz,
) -> MemberSeries {
    let mut series = MemberSeries {
        member: member.0,
        values: vec![None; times.len()],
        missing: Vec::new(),
    };
    let of = kept
        .values
        .iter()
        .filter(|value| value.parameter == parameter && value.member == member);
    for value in of {
        let Ok(place) = times.binary_search(&value.valid) else {
            continue;
        };
        match value.value {
            Ok(number) => series.values[place] = Some(rounded(number)),
            Err(gap) => series.missing.push(MissingAt {
                at: local(value.valid, zone),
                why: gap.words(),
            }),
        }
    }
    series
}

/// A moment of the query.
fn optional_moment<'de, D: Deserializer<'de>>(value: D) -> Result<Option<DateTime<FixedOffset>>, D::Error> {
    let said = String::deserialize(value)?;
    let moment = DateTime::parse_from_rfc3339(&said).ok();
    // Years of four digits: what lies outside can be no moment of a forecast, and is not what RFC 3339 writes.
    let moment = moment.filter(|moment| moment.to_utc().timestamp().unsigned_abs() < 1 << 37);
    moment
        .map(Some)
        .ok_or_else(|| D::Error::custom("a moment of RFC 3339, for example 2030-05-14T09:00:00Z"))
}
