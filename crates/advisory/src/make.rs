//! From inputs to the document: the same inputs and the same moment give the same bytes.

use crate::caution_words::caution_of;
use crate::document::{
    Advisory, CallWord, ClubName, FORM, LimitPair, MissingValue, Named, Session, Versions,
};
use crate::inputs::{AdvisoryError, Inputs};
use crate::leg_words::{leg_of, lesson_of};
use crate::plan_words::{entrance_of, hour_of, plan_of, table_of, table_words, wind_words};
use crate::reason_words::{firmness_word, missing_of, reason_of, summary};
use crate::sources::sources_of;
use crate::sure_words::sureness_of;
use crate::tightenings::{Called, tightenings_of};
use crate::validity::{decides_by, valid_until};
use crate::voices::Voices;
use crate::way_out::{way_out_for, way_out_of};
use crate::words::local;
use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use club::{Boat, Club, Level, Policy, SessionRule, Venue};
use conditions::VenueConditions;
use forecast::hash;
use rules::cautions::{CautionView, find_cautions};
use rules::legs::along;
use rules::lessons::lessons;
use rules::outing::OVERRUN;
use rules::{Forecasts, Outing, Sun, Verdict, decide};
use seaway::daylight::sun_times;

/// Hours around a session that its inputs must reach: the widest timing floor and the hours shown.
pub const AROUND: TimeDelta = TimeDelta::hours(12);

/// The parts of a club that one session names.
#[derive(Clone, Copy)]
pub(crate) struct Cast<'a> {
    pub(crate) rule: &'a SessionRule,
    pub(crate) venue: &'a Venue,
    pub(crate) boat: &'a Boat,
    pub(crate) level: &'a Level,
}

pub(crate) fn cast<'a>(inputs: &Inputs, club: &'a Club) -> Result<Cast<'a>, AdvisoryError> {
    let rule = club.sessions.iter().find(|rule| rule.id == inputs.session);
    let rule = rule
        .filter(|_| club.version == inputs.club_version)
        .ok_or_else(|| AdvisoryError::NoSuchSession {
            session: inputs.session.clone(),
            version: inputs.club_version.clone(),
        })?;
    Ok(Cast {
        rule,
        venue: &club.venues[rule.venue],
        boat: &club.boats[rule.boat],
        level: &club.levels[rule.level],
    })
}

/// The conditions a session is called from.
pub(crate) fn conditions_of(
    inputs: &Inputs,
    club: &Club,
    venue: &Venue,
    now: DateTime<Utc>,
) -> VenueConditions {
    // The run that serves must reach the end of the overrun; what lies further off is shown where it is known.
    conditions_with(inputs, &club.policy, venue, now)
}

/// The same with another policy or venue than the club's own.
pub(crate) fn conditions_with(
    inputs: &Inputs,
    policy: &Policy,
    venue: &Venue,
    now: DateTime<Utc>,
) -> VenueConditions {
    let span = (inputs.leaves, inputs.alongside + OVERRUN);
    VenueConditions::assemble(venue, policy, &inputs.slices, now, span)
}

/// The outing of a session.
pub(crate) fn outing_of<'a>(inputs: &Inputs, club: &'a Club, cast: Cast<'a>) -> Outing<'a> {
    Outing {
        policy: &club.policy,
        venue: cast.venue,
        boat: cast.boat,
        level: cast.level,
        legs: &cast.rule.legs,
        leaves: inputs.leaves,
        alongside: inputs.alongside,
        sun: sun_on(cast.venue, inputs.leaves, club.time_zone),
    }
}

/// The sun at a venue on the local day of an instant.
pub fn sun_on(venue: &Venue, at: DateTime<Utc>, zone: Tz) -> Sun {
    let Some(point) = venue.points.first() else {
        return Sun {
            rises: None,
            sets: None,
            always_down: false,
        };
    };
    let times = sun_times(point.at, at.with_timezone(&zone).date_naive(), &zone);
    Sun {
        rises: times.sunrise,
        sets: times.sunset,
        always_down: times.always_down,
    }
}

/// The conditions of one session, assembled once from the slices of its inputs for all that is asked of them.
///
/// What the runs before said and a call that is held do not bear on the conditions: the same ones serve inputs that differ
/// only in these.
pub struct Assembled<'a> {
    club: &'a Club,
    cast: Cast<'a>,
    now: DateTime<Utc>,
    pub(crate) conditions: VenueConditions,
}

impl<'a> Assembled<'a> {
    /// Assembles the conditions of the session that the inputs name, as of `now`.
    pub fn of(inputs: &Inputs, club: &'a Club, now: DateTime<Utc>) -> Result<Self, AdvisoryError> {
        let cast = cast(inputs, club)?;
        Ok(Self {
            club,
            cast,
            now,
            conditions: conditions_of(inputs, club, cast.venue, now),
        })
    }

    /// Reference time of the run of the wind that the session is called from; none where no wind is at hand.
    pub fn run(&self) -> Option<DateTime<Utc>> {
        self.conditions.governing().reference
    }

    /// The name of an advisory: what was used, until when it is current, and which runs were refused as too old.
    pub fn identity(&self, inputs: &Inputs) -> Result<String, AdvisoryError> {
        let refused: Vec<String> = self
            .conditions
            .sources()
            .iter()
            .filter_map(|source| Some(format!("{} {}", source.source, source.unusable?.words())))
            .collect();
        let until = valid_until(inputs, self.club, self.now).timestamp();
        let used = format!("{FORM} {} {until} {}", inputs.hash()?, refused.join(","));
        Ok(hash::sha256_hex(used.as_bytes()))
    }

    /// Makes the advisory, issued at the moment the conditions were assembled for.
    pub fn make(&self, inputs: &Inputs) -> Result<Advisory, AdvisoryError> {
        let (club, cast, now) = (self.club, self.cast, self.now);
        let outing = outing_of(inputs, club, cast);
        let voices = Voices::of(&self.conditions);
        let forecasts = voices.forecasts();
        let verdict = decide(&outing, &forecasts, now);
        let way_out = way_out_for(inputs, club, &outing, &verdict, &forecasts, now);
        let mut id = self.identity(inputs)?;
        id.truncate(16);
        let found = Found {
            cast,
            conditions: &self.conditions,
            forecasts: &forecasts,
            outing: &outing,
            verdict: &verdict,
            way_out,
        };
        Ok(document(inputs, club, &found, now, id))
    }
}

/// All that was found for one session.
struct Found<'a> {
    cast: Cast<'a>,
    conditions: &'a VenueConditions,
    forecasts: &'a Forecasts<'a>,
    outing: &'a Outing<'a>,
    verdict: &'a Verdict,
    way_out: Option<rules::WayOut>,
}

fn document(
    inputs: &Inputs,
    club: &Club,
    found: &Found<'_>,
    issued_at: DateTime<Utc>,
    id: String,
) -> Advisory {
    let Found {
        cast,
        conditions,
        forecasts,
        outing,
        verdict,
        way_out,
    } = found;
    let zone = club.time_zone;
    let bare = CallWord::from(verdict.call);
    let call = inputs.held.unwrap_or(bare);
    let members = match verdict.counted.members() {
        0 => 1,
        counted => counted,
    };
    let reasons: Vec<_> = verdict
        .reasons
        .iter()
        .map(|reason| reason_of(reason, members, inputs.alongside, zone))
        .collect();
    let missing: Vec<MissingValue> = verdict
        .unknown
        .iter()
        .map(|unknown| missing_of(unknown, zone))
        .collect();
    let view = CautionView {
        outing,
        hours: &verdict.hours,
        passages: verdict.passages.as_ref(),
        plan: verdict.plan.as_ref(),
    };
    Advisory {
        id,
        club: ClubName::from(club),
        session: Session {
            id: inputs.occurrence.clone(),
            venue: named(&cast.venue.id, &cast.venue.name),
            boat: named(&cast.boat.id, &cast.boat.name),
            level: named(&cast.level.id, &cast.level.name),
            leaves: local(inputs.leaves, zone),
            alongside: local(inputs.alongside, zone),
        },
        issued_at: local(issued_at, zone),
        valid_until: local(valid_until(inputs, club, issued_at), zone),
        decides_by: local(decides_by(club, inputs.leaves), zone),
        call,
        kinder_forecast: (call != bare).then_some(bare),
        light: verdict.light && call == bare,
        firmness: firmness_word(verdict.firmness),
        summary: held_words(call, bare) + &summary(verdict, cast.level, &reasons, &missing),
        wind_words: wind_words(verdict, zone),
        plan: verdict
            .plan
            .as_ref()
            .and_then(|plan| plan_of(cast.boat, plan, zone)),
        cautions: find_cautions(view)
            .iter()
            .map(|found| caution_of(found, cast.boat, zone))
            .collect(),
        legs: along(outing, &verdict.hours)
            .iter()
            .map(|leg| leg_of(leg, zone))
            .collect(),
        lessons: lessons(outing, &verdict.hours, call.into(), verdict.light && call == bare)
            .iter()
            .map(|fit| lesson_of(fit, zone))
            .collect(),
        way_out: way_out.as_ref().map(|found| way_out_of(found, club, zone)),
        sureness: sureness_of(verdict),
        moved: inputs.moved.clone(),
        hours: verdict.hours.iter().map(|hour| hour_of(hour, zone)).collect(),
        reef_table: table_of(cast.boat),
        reef_table_words: table_words(cast.boat),
        limits: limits_of(cast.level),
        sunset: outing.sun.sets.map(|sets| local(sets, zone)),
        southern: cast.venue.points.first().is_some_and(|point| point.at.lat < 0.0),
        entrance: entrance_of(cast.venue, verdict.passages.as_ref(), zone),
        sources: sources_of(inputs, &club.policy, conditions),
        tightenings: tightenings_of(&Called {
            inputs,
            club,
            cast: *cast,
            conditions,
            forecasts,
            outing,
            verdict,
            issued_at,
        }),
        warnings: warnings(club),
        caution_to_all: CAUTION_TO_ALL.to_owned(),
        versions: Versions {
            club: inputs.club_version.clone(),
            catalogue: inputs.catalogue.clone(),
            rules: inputs.rules.clone(),
            time_zones: inputs.time_zones.clone(),
        },
        reasons,
        missing,
    }
}

fn held_words(call: CallWord, bare: CallWord) -> String {
    if call == bare {
        return String::new();
    }
    let (call, bare) = (call.words().to_lowercase(), bare.words().to_lowercase());
    format!("Kept at {call} until another run agrees: this one alone says {bare}. ")
}

/// On every surface.
pub const CAUTION_TO_ALL: &str = "The skipper on the water decides on what they see. Official warnings, local rules and licensed practice come first.";

/// That official warnings were not checked, and where this club finds them.
pub fn warnings(club: &Club) -> String {
    match &club.warnings_from {
        Some(place) => format!("Official warnings were not checked here. Look at {place} before you leave."),
        None => {
            "Official warnings were not checked here. Look at your national weather service before you leave."
                .to_owned()
        }
    }
}

fn named(id: &str, name: &str) -> Named {
    Named {
        id: id.to_owned(),
        name: name.to_owned(),
    }
}

fn limits_of(level: &Level) -> Vec<LimitPair> {
    let pair = |(quantity, limit): (&club::Quantity, &club::Limit)| LimitPair {
        quantity: quantity.key().to_owned(),
        caution_at: limit.caution_at,
        stop_at: limit.stop_at,
        unit: quantity.unit().to_owned(),
        lower_is_worse: quantity.lower_is_worse(),
    };
    level.limits.iter().map(pair).collect()
}
