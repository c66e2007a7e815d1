//! How an advisory came about: made again from its inputs, each number traced to message, node, correction and rule.

use crate::document::Advisory;
use crate::inputs::{AdvisoryError, Inputs};
use crate::make::{Assembled, cast, outing_of};
use crate::plan_words::rounded;
use chrono::{DateTime, Utc};
use club::{Club, Quantity};
use conditions::{Element, MemberSet, Trace};
use forecast::Member;
use rules::Criterion;
use serde::Serialize;

/// One number of the document and the account of it.
#[derive(Clone, Debug, Serialize)]
pub struct TracedReason {
    /// What is accounted for: a reason's sentence, a missing value's, or an hour of the table.
    pub what: String,
    /// The rule that used it.
    pub rule: String,
    /// The accounts, one for each element of the weather that went into it.
    pub traces: Vec<Trace>,
}

/// An advisory made again, with its accounts.
#[derive(Debug)]
pub struct Explanation {
    /// The document, made again.
    pub advisory: Advisory,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The accounts: reasons first, then what is missing, then the hours out.
    pub accounts: Vec<TracedReason>,
}

/// The bytes of a document: its JSON, indented so that people can read what is stored.
pub fn to_bytes(advisory: &Advisory) -> Result<Vec<u8>, AdvisoryError> {
    let mut bytes = serde_json::to_vec_pretty(advisory)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// A document from its bytes.
pub fn from_bytes(bytes: &[u8]) -> Result<Advisory, AdvisoryError> {
    Ok(serde_json::from_slice(bytes)?)
}

/// Makes an advisory again and accounts for its numbers.
pub fn explain(inputs: &Inputs, club: &Club, issued_at: DateTime<Utc>) -> Result<Explanation, AdvisoryError> {
    let assembled = Assembled::of(inputs, club, issued_at)?;
    let advisory = assembled.make(inputs)?;
    let cast = cast(inputs, club)?;
    let conditions = &assembled.conditions;
    let governing = conditions.governing();
    let one = conditions.deterministic();
    let account =
        |set: &MemberSet, element, member, at: DateTime<Utc>| set.trace(&inputs.slices, element, member, at);
    let mut accounts = Vec::new();
    for reason in &advisory.reasons {
        let by_member = reason.member.map(Member);
        // A reason without a member may be the single run's, one with a member the second ensemble's.
        let other = if by_member.is_none() {
            one
        } else {
            conditions.second_ensemble()
        };
        let set = other
            .filter(|set| reason.source.as_deref() == Some(set.source.as_str()))
            .unwrap_or(governing);
        let member = by_member.or(set.members.first().copied()).unwrap_or(Member(0));
        let at = reason.at.with_timezone(&Utc);
        accounts.push(TracedReason {
            what: reason.words.clone(),
            rule: limit_rule(&cast.level.name, reason),
            traces: elements_of(&reason.quantity)
                .iter()
                .map(|&element| account(set, element, member, at))
                .collect(),
        });
    }
    for missing in &advisory.missing {
        let member = missing
            .members
            .first()
            .map_or(Member(0), |&member| Member(member));
        let at = missing.span.from.with_timezone(&Utc);
        accounts.push(TracedReason {
            what: missing.words.clone(),
            rule: "a missing value makes no call, and never hides a limit that is already broken".to_owned(),
            traces: elements_of(&missing.quantity)
                .iter()
                .map(|&element| account(governing, element, member, at))
                .collect(),
        });
    }
    let outing = outing_of(inputs, club, cast);
    for at in outing.instants() {
        let member = median_member(governing, at);
        let elements = [
            Element::Wind,
            Element::Gust,
            Element::WaveHeight,
            Element::WavePeriod,
        ];
        accounts.push(TracedReason {
            what: format!("Hour {}", at.with_timezone(&club.time_zone).format("%H:%M")),
            rule: format!(
                "the row is the first of {}'s table whose mean and gust both hold, for the more reefed of the median member and the single run",
                cast.boat.name
            ),
            traces: elements.iter().map(|&element| account(governing, element, member, at)).collect(),
        });
    }
    let bytes = to_bytes(&advisory)?;
    Ok(Explanation {
        advisory,
        bytes,
        accounts,
    })
}

fn limit_rule(level: &str, reason: &crate::document::Reason) -> String {
    if reason.quantity == Criterion::TideGate.key() {
        return format!("{level}, {}: no-go while it is shut", reason.quantity);
    }
    let bound = |value: f64| rounded(value, 3);
    if reason.caution_at == reason.stop_at {
        return format!(
            "{level}, {}: past {} no-go",
            reason.quantity,
            bound(reason.stop_at)
        );
    }
    let side = match reason.quantity.as_str() {
        key if Quantity::ALL
            .iter()
            .any(|quantity| quantity.key() == key && quantity.lower_is_worse()) =>
        {
            "below"
        }
        _ => "above",
    };
    format!(
        "{level}, {}: at or {side} {} marginal, at or {side} {} no-go",
        reason.quantity,
        bound(reason.caution_at),
        bound(reason.stop_at)
    )
}

/// The elements of the weather that a criterion is made from.
fn elements_of(key: &str) -> &'static [Element] {
    let quantity = Quantity::ALL.into_iter().find(|quantity| quantity.key() == key);
    match quantity {
        Some(Quantity::Mean | Quantity::BerthCrosswind) => &[Element::Wind],
        Some(Quantity::Gust) => &[Element::Gust],
        Some(Quantity::WaveHeight) => &[Element::WaveHeight],
        Some(Quantity::Steepness) => &[Element::WaveHeight, Element::WavePeriod],
        Some(Quantity::CapeWithRain) => &[Element::Cape, Element::Rain],
        Some(Quantity::Visibility) => &[Element::Visibility],
        Some(Quantity::WindChill) => &[Element::Air, Element::Wind],
        Some(Quantity::WaterTemperature) => &[Element::Water],
        Some(Quantity::DaylightMargin) => &[],
        None if key == Criterion::TableGust.key() => &[Element::Gust],
        None if key == Criterion::EntranceWave.key() => &[Element::WaveHeight, Element::WaveFrom],
        None if key == Criterion::Squall.key() => &[Element::Cape, Element::Rain],
        None if key == Criterion::TideGate.key() => &[],
        None => &[Element::Wind],
    }
}

/// The member whose mean wind is the median at an instant.
fn median_member(set: &MemberSet, at: DateTime<Utc>) -> Member {
    let mut ranked: Vec<(f64, Member)> = set
        .members
        .iter()
        .filter_map(|&member| Some((set.at(member, at).wind.ok()?.value.speed.0, member)))
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    ranked
        .get(ranked.len() / 2)
        .or(ranked.last())
        .map_or_else(|| set.members.first().copied().unwrap_or(Member(0)), |(_, m)| *m)
}
