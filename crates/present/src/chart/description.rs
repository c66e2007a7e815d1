//! The ladder in words, for readers who do not see it, and the caption under it.

use super::{annotations, entrance, gaps, spread};
use crate::shown::{Shown, passed};
use crate::wording::{clock, ended, from_to, tenth, whole};
use advisory::document::{Advisory, Hour, LimitPair};
use std::cmp::Ordering;

/// "Wind over Dunlin's reef table".
pub(super) fn title(advisory: &Advisory) -> String {
    format!("Wind over {}’s reef table", advisory.session.boat.name)
}

/// Span; leaving row with mean and gust; changes with their hour and range; values alongside; limits and when they are
/// passed; gaps; the entrance; sunset; what is not plain about the hours or the spread.
pub(super) fn description(shown: Shown<'_>) -> String {
    let advisory = shown.advisory;
    let mut sentences = Vec::new();
    if let (Some(first), Some(last)) = (advisory.hours.first(), advisory.hours.last()) {
        let span = from_to(first.at, last.at);
        sentences.push(format!(
            "Wind over the rows of {}’s reef table, {span}.",
            advisory.session.boat.name
        ));
    }
    sentences.extend(plan_sentences(shown));
    let alongside = advisory
        .hours
        .iter()
        .rev()
        .find(|hour| hour.at <= advisory.session.alongside);
    sentences.extend(alongside.map(|hour| format!("At {} {}.", clock(hour.at), wind(hour))));
    sentences.extend(limit_words(advisory));
    sentences.extend(limits_passed(advisory));
    sentences.extend(gaps::wind_gaps(advisory).into_iter().map(|gap| {
        let reason = gap.reason.map(|reason| format!(": {reason}")).unwrap_or_default();
        ended(&format!("There is {}{reason}", gap.words))
    }));
    sentences.extend(advisory.entrance.as_ref().map(entrance::sentence));
    sentences.extend(advisory.sunset.map(|sunset| format!("Sunset {}.", clock(sunset))));
    sentences.extend(clocks_change(advisory));
    sentences.extend((!spread::is_known(advisory)).then(|| "No spread is known.".to_owned()));
    sentences.join(" ")
}

fn plan_sentences(shown: Shown<'_>) -> Vec<String> {
    let Some(plan) = shown.plan() else {
        return vec!["No sail plan is given.".to_owned()];
    };
    let leaves = shown.advisory.session.leaves;
    let first = shown.advisory.hours.iter().find(|hour| hour.at >= leaves);
    let wind = first.map(|hour| format!(", {}", wind(hour))).unwrap_or_default();
    let mut sentences = vec![format!(
        "On leaving at {}: {}{wind}.",
        clock(leaves),
        plan.leave_with.words
    )];
    let mut before = &plan.leave_with;
    for change in &plan.changes {
        let due = annotations::due_words(change, before, false);
        let range = annotations::due_by_the_spread(shown.advisory, change);
        let range = range.map(|words| format!(", {words}")).unwrap_or_default();
        sentences.push(format!("Then {due}{range}: {}.", change.sail.words));
        before = &change.sail;
    }
    sentences
}

/// "mean 10 knots, gusts 15".
fn wind(hour: &Hour) -> String {
    match (hour.mean_kn, hour.gust_kn) {
        (Some(mean), Some(gust)) => format!("mean {} knots, gusts {}", whole(mean), whole(gust)),
        (Some(mean), None) => format!("mean {} knots, gusts missing", whole(mean)),
        (None, Some(gust)) => format!("mean missing, gusts {} knots", whole(gust)),
        (None, None) => "the wind is missing".to_owned(),
    }
}

fn limit_words(advisory: &Advisory) -> Option<String> {
    let pair = |key: &str| advisory.limits.iter().find(|limit| limit.quantity == key);
    let words = |name: &str, limit: &LimitPair| {
        format!(
            "{name} caution from {}, stop at {}",
            tenth(limit.caution_at),
            tenth(limit.stop_at)
        )
    };
    let parts: Vec<_> = [("mean", pair("mean_kn")), ("gusts", pair("gust_kn"))]
        .into_iter()
        .filter_map(|(name, limit)| limit.map(|limit| words(name, limit)))
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "Limits for {}: {}.",
            advisory.session.level.name,
            parts.join("; ")
        )
    })
}

/// "Gusts 25 kn at 17:00; caution from 22, stop at 28. Passed 15:40 to 17:00."
fn limits_passed(advisory: &Advisory) -> impl Iterator<Item = String> + '_ {
    let of_wind = |quantity: &str| matches!(quantity, "mean_kn" | "gust_kn");
    advisory
        .reasons
        .iter()
        .filter(move |reason| of_wind(&reason.quantity))
        .map(|reason| format!("{} Passed {}.", ended(&reason.words), passed(reason)))
}

/// That an hour is drawn twice or left out, where the clocks change between the first hour and the last.
fn clocks_change(advisory: &Advisory) -> Option<String> {
    let east = |hour: &Hour| hour.at.offset().local_minus_utc();
    let (first, last) = (advisory.hours.first()?, advisory.hours.last()?);
    match east(first).cmp(&east(last)) {
        Ordering::Equal => None,
        Ordering::Less => {
            Some("The clocks go forward in these hours: what they pass over is left out.".to_owned())
        }
        Ordering::Greater => {
            Some("The clocks go back in these hours: what they repeat is drawn twice.".to_owned())
        }
    }
}

/// The caption: what the bands, the fan, the hatches mean here.
pub(crate) fn caption(advisory: &Advisory) -> String {
    let mut sentences = vec![
        "Each band is a row of her table, to a mean and a gust; the higher of the two lines picks the row."
            .to_owned(),
    ];
    sentences.extend(advisory.reef_table_words.clone());
    sentences.push(match (spread::is_known(advisory), spread::floor_only(advisory)) {
        (true, false) => {
            "Buff: mean and gust from their lowest to their highest tenth, floors of spread included."
                .to_owned()
        }
        (true, true) => {
            "Buff, dashed: the usual spread at this distance in time, as there is no ensemble.".to_owned()
        }
        (false, _) => "No spread is known.".to_owned(),
    });
    if advisory.hours.iter().any(|hour| hour.gust_estimated) {
        sentences.push("The gust is estimated from the mean.".to_owned());
    }
    sentences.extend(limit_words(advisory).map(|words| format!("Hatched lines: {}", lower_first(&words))));
    let dark = advisory
        .sunset
        .filter(|sunset| advisory.hours.last().is_some_and(|last| *sunset < last.at));
    let passages = advisory.entrance.as_ref().map(entrance::sentence);
    sentences.extend(passages.map(|words| format!("Dotted uprights between piers: {}", lower_first(&words))));
    sentences.extend(clocks_change(advisory));
    sentences.extend(dark.map(|sunset| format!("Hatched ground: after sunset, {}.", clock(sunset))));
    sentences.extend(gaps::wind_gaps(advisory).into_iter().map(|gap| {
        let reason = gap.reason.map(|reason| format!(", {reason}")).unwrap_or_default();
        format!("Dashed outline: {}{reason}.", gap.words)
    }));
    sentences.join(" ")
}

fn lower_first(words: &str) -> String {
    let mut signs = words.chars();
    signs
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().chain(signs).collect())
}
