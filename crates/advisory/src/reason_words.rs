//! Reasons, missing values and the summary, in sentences.

use crate::document::{Firmness, MissingValue, Reason, Span};
use crate::plan_words::rounded;
use crate::words::{beside_limits, hour_minute, local, number, of_members, per_cent, run_words, with_unit};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use club::{Level, Quantity};
use conditions::Notes;
use rules::{Call, Criterion, Finding, UnknownSpan, Verdict};

/// The firmness's word.
pub fn firmness_word(firmness: rules::Firmness) -> Firmness {
    match firmness {
        rules::Firmness::Firm => Firmness::Firm,
        rules::Firmness::Likely => Firmness::Likely,
        rules::Firmness::EarlyView => Firmness::EarlyView,
    }
}

/// What a criterion is called at the head of a sentence.
pub fn criterion_words(criterion: Criterion) -> &'static str {
    match criterion {
        Criterion::Limit(Quantity::Mean) => "Mean wind",
        Criterion::Limit(Quantity::Gust) => "Gusts",
        Criterion::Limit(Quantity::WaveHeight) => "Sea",
        Criterion::Limit(Quantity::Steepness) => "Steepness of the sea",
        Criterion::Limit(Quantity::CapeWithRain) => "Thunder (CAPE with rain)",
        Criterion::Limit(Quantity::BerthCrosswind) => "Wind across the berth",
        Criterion::Limit(Quantity::Visibility) => "Visibility",
        Criterion::Limit(Quantity::WindChill) => "Wind chill",
        Criterion::Limit(Quantity::WaterTemperature) => "Water",
        Criterion::Limit(Quantity::DaylightMargin) => "Daylight left on being alongside",
        Criterion::TableMean => "Mean wind past the boat's reef table:",
        Criterion::TableGust => "Gusts past the boat's reef table:",
        Criterion::Squall => "Thunder (CAPE with heavy rain)",
        Criterion::EntranceWave => "Sea in the entrance",
        Criterion::TideGate => "Tide gate of the entrance",
    }
}

/// One reason of the document.
pub fn reason_of(reason: &rules::Reason, members: u16, alongside: DateTime<Utc>, zone: Tz) -> Reason {
    let finding = &reason.finding;
    let unit = finding.criterion.unit();
    let (source, run) = finding
        .origin
        .clone()
        .map(|(source, run)| (String::from(source), run))
        .unzip();
    Reason {
        quantity: finding.criterion.key().to_owned(),
        call: finding.call.into(),
        short: reason_in_short(reason, alongside, zone),
        words: reason_sentence(reason, members, alongside, zone),
        value: rounded(finding.value, 3),
        unit: unit.to_owned(),
        caution_at: finding.limit.caution_at,
        stop_at: finding.limit.stop_at,
        margin: rounded(finding.margin(), 3),
        at: local(finding.at, zone),
        passed: reason.passed.map(|(from, to)| Span {
            from: local(from, zone),
            to: local(to, zone),
        }),
        source,
        run,
        member: reason.member.map(|member| member.0),
        members_past_caution: reason.past_caution,
        members_past_stop: reason.past_stop,
        notes: note_words(&finding.notes),
    }
}

/// The value, its hour and the bound it has passed.
fn reason_in_short(reason: &rules::Reason, alongside: DateTime<Utc>, zone: Tz) -> String {
    let finding = &reason.finding;
    let bound = match (one_bound(finding), finding.call) {
        (Some(bound), _) => bound,
        (None, Call::NoGo) => format!("stop at {}", number(finding.limit.stop_at, 3)),
        (None, _) => format!("caution from {}", number(finding.limit.caution_at, 3)),
    };
    let error = if reason.by_floor {
        ", within its usual error"
    } else {
        ""
    };
    format!(
        "{}{}, {bound}{error}",
        value_at(finding, zone),
        late(finding, alongside)
    )
}

/// Said of an hour after the plan's last: coming home late is counted.
fn late(finding: &Finding, alongside: DateTime<Utc>) -> &'static str {
    if finding.at > alongside { " (if late)" } else { "" }
}

/// The bound of a criterion that has only one; none for a pair.
fn one_bound(finding: &Finding) -> Option<String> {
    match finding.criterion {
        Criterion::TableMean | Criterion::TableGust => {
            Some(format!("the table ends at {}", number(finding.limit.stop_at, 2)))
        }
        Criterion::Squall => Some(format!("stop at {}", number(finding.limit.stop_at, 0))),
        Criterion::TideGate => Some("no passing while it is shut".to_owned()),
        _ => None,
    }
}

/// "Gusts 27 kn at 18:00".
fn value_at(finding: &Finding, zone: Tz) -> String {
    let (words, at) = (
        criterion_words(finding.criterion),
        hour_minute(local(finding.at, zone)),
    );
    if finding.criterion == Criterion::TideGate {
        return format!("{words} shut by {:.0} min at {at}", finding.value * 60.0);
    }
    let unit = finding.criterion.unit();
    let shown = with_unit(&beside_limits(finding.value, unit, finding.limit), unit);
    format!("{words} {shown} at {at}")
}

fn reason_sentence(reason: &rules::Reason, members: u16, alongside: DateTime<Utc>, zone: Tz) -> String {
    let finding = &reason.finding;
    let limits = one_bound(finding).unwrap_or_else(|| {
        let (caution, stop) = (
            number(finding.limit.caution_at, 3),
            number(finding.limit.stop_at, 3),
        );
        format!("caution from {caution}, stop at {stop}")
    });
    let mut sentence = format!(
        "{}{}; {limits}.",
        value_at(finding, zone),
        late(finding, alongside)
    );
    if let (Some(caution), true) = (reason.past_caution, one_bound(finding).is_some()) {
        sentence += &format!(" So for {}.", of_members(caution, members));
    } else if let (Some(stop), Some(caution)) = (reason.past_stop, reason.past_caution) {
        let and_stop = if stop > 0 {
            format!(", {stop} past the stop")
        } else {
            String::new()
        };
        sentence += &format!(" {} pass the caution{and_stop}.", of_members(caution, members));
    }
    if finding.tightened < 1.0 {
        sentence += &format!(
            " The limits are tightened to {} in this wind.",
            per_cent(finding.tightened)
        );
    }
    if reason.deterministic {
        sentence += " This is the single finest run.";
    }
    if reason.by_floor {
        sentence += " The value is inside; what a forecast of this age may be wrong by is not.";
    }
    sentence
}

/// What was done to a value, in words.
pub fn note_words(notes: &Notes) -> Vec<String> {
    let mut words = Vec::new();
    if let Some(factor) = notes.estimated_gust {
        words.push(format!("gust estimated: mean x {}", number(factor, 2)));
    }
    if notes.long_gust_interval {
        words.push("gust is the maximum of more than three hours".to_owned());
    }
    if notes.gust_raised_to_mean {
        words.push("gust raised to the mean".to_owned());
    }
    if let Some(distance) = notes.offshore {
        words.push(format!("from a node {} nm offshore", number(distance.0, 0)));
    }
    if let Some(factor) = notes.sector_factor {
        words.push(format!("sector factor {} on the mean", number(factor, 2)));
    }
    words.extend(
        notes
            .front
            .map(|factor| format!("gust x {} while a front passes", number(factor, 2))),
    );
    if let Some(stream) = notes.opposing_stream {
        words.push(format!(
            "{} kn of stream against the wind added",
            number(stream.0, 1)
        ));
    }
    if notes.sea_breeze {
        words.push("the sea breeze to plan for".to_owned());
    }
    if notes.by_fetch {
        words.push("raised by the local wind over the venue's fetch".to_owned());
    }
    if notes.breaking {
        words.push("breaking on the stream".to_owned());
    } else if let Some(ratio) = notes.sea_on_stream {
        words.push(format!("x {} on the stream against it", number(ratio, 2)));
    }
    if notes.no_spread {
        words.push("no spread: one run for all members".to_owned());
    }
    if notes.no_land_mask {
        words.push("no land mask at hand".to_owned());
    }
    words
}

/// One missing value of the document.
pub fn missing_of(unknown: &UnknownSpan, zone: Tz) -> MissingValue {
    let (from, to) = (local(unknown.from, zone), local(unknown.to, zone));
    let when = if from == to {
        hour_minute(from)
    } else {
        format!("{} to {}", hour_minute(from), hour_minute(to))
    };
    let mut origin: Vec<String> = unknown.missing.source.iter().map(ToString::to_string).collect();
    origin.extend(
        unknown
            .missing
            .reference
            .map(|reference| format!("run of {}", run_words(reference))),
    );
    let members: Vec<u16> = unknown.members.iter().map(|member| member.0).collect();
    origin.extend(members_words(&members));
    let origin = if origin.is_empty() {
        String::new()
    } else {
        format!(" ({})", origin.join(", "))
    };
    let gap = unknown.missing.gap;
    MissingValue {
        quantity: unknown.criterion.key().to_owned(),
        reason: serde_json::to_value(gap)
            .ok()
            .and_then(|v| v.as_str().map(str::to_owned))
            .unwrap_or_default(),
        words: format!(
            "No {} {when}: {}{origin}.",
            lower(criterion_words(unknown.criterion)),
            gap.words()
        ),
        span: Span { from, to },
        source: unknown.missing.source.as_ref().map(ToString::to_string),
        members,
    }
}

/// "member 7", "members 3, 7 and 9"; none when it is all of them.
pub fn members_words(members: &[u16]) -> Option<String> {
    match members {
        [] => None,
        [one] => Some(format!("member {one}")),
        [most @ .., last] => {
            let most: Vec<String> = most.iter().map(ToString::to_string).collect();
            Some(format!("members {} and {last}", most.join(", ")))
        }
    }
}

fn lower(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Whether a no-go comes of cautions that fall together: no reason is a stop, and no floor reaches past one.
fn no_stop_alone(verdict: &Verdict) -> bool {
    let stops = |reason: &rules::Reason| reason.finding.call == Call::NoGo || reason.by_floor;
    !verdict.reasons.is_empty() && !verdict.reasons.iter().any(stops)
}

/// One or two sentences that explain the call.
pub fn summary(verdict: &Verdict, level: &Level, reasons: &[Reason], missing: &[MissingValue]) -> String {
    let told = |count: usize| {
        reasons
            .iter()
            .take(count)
            .map(|reason| reason.words.clone())
            .collect::<Vec<_>>()
            .join(" ")
    };
    match verdict.call {
        Call::Go if verdict.light => match &level.light_programme {
            Some(programme) => format!("Too little wind to sail much. {programme}"),
            None => "Too little wind to sail much: time for boat handling, knots and pilotage.".to_owned(),
        },
        Call::Go => format!("Nothing in the forecast reaches the limits of {}.", level.name),
        Call::Marginal if verdict.raised_by_deterministic => {
            format!(
                "The members stay inside, but the single finest run does not. {}",
                told(1)
            )
        }
        Call::NoGo if no_stop_alone(verdict) => {
            format!(
                "No limit alone stops it; the cautions of one hour together do. {}",
                told(2)
            )
        }
        Call::Marginal | Call::NoGo => told(2),
        Call::NoCall => {
            let why = missing
                .first()
                .map_or("No forecast reaches this session.", |missing| {
                    missing.words.as_str()
                });
            format!("The data cannot support a call. {why}")
        }
    }
}
