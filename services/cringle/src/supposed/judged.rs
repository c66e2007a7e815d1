//! What the rules say of supposed hours, and what was taken for granted in asking them.
//!
//! Owns: asking them, and the answer made of what they say. Must not know: how the hours were written, any limit of its own.

use super::answer::{Answer, Caution, Floors, Missing, SUPPOSED, Sail, WayOut, Why};
use super::not_judged::not_judged;
use super::slice::{run_slice, settled};
use super::stage::stage;
use super::{Column, Supposed};
use chrono::{DateTime, FixedOffset, Utc};
use chrono_tz::Tz;
use club::{Boat, Club, Level, Quantity, Venue};
use conditions::VenueConditions;
use forecast::Gap;
use rules::cautions::{CautionView, find_cautions};
use rules::outing::{OVERRUN, instants_between};
use rules::spread::{floor_at, lacking};
use rules::way_out::find_way_out;
use rules::{
    Call, CautionCode, Firmness, Forecasts, MemberView, Offered, Outing, Reason, UnknownSpan, Verdict,
    WayOutKind, decide,
};
use std::rc::Rc;

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The club.
    pub club: &'a Club,
    /// Where.
    pub venue: &'a Venue,
    /// With which boat.
    pub boat: &'a Boat,
    /// With which crew.
    pub level: &'a Level,
    /// Leaving.
    pub leaves: DateTime<Utc>,
    /// Alongside.
    pub alongside: DateTime<Utc>,
    /// The hours.
    pub supposed: &'a Supposed,
}

/// Asks the rules.
pub fn judge(question: &Question<'_>) -> Answer {
    let Question {
        club,
        boat,
        level,
        leaves,
        alongside,
        supposed,
        ..
    } = *question;
    let lacks_direction = supposed.lacks_direction();
    let (venue, policy) = stage(question, lacks_direction);
    let place = venue.points[0].at;
    let land = venue.sea_breeze.map(|breeze| breeze.land);
    let slice = run_slice(supposed, place, land);
    let now = slice.reference;
    let conditions = VenueConditions::assemble(&venue, &policy, &[slice], now, (leaves, alongside + OVERRUN));
    let set = conditions.governing();
    let at = |member, time| Rc::new(settled(set.at(member, time)));
    let view = MemberView::of(set, &at);
    let outing = Outing {
        policy: &policy,
        venue: &venue,
        boat,
        level,
        legs: &[],
        leaves,
        alongside,
        sun: advisory::make::sun_on(&venue, leaves, club.time_zone),
    };
    let forecasts = Forecasts::one(view);
    let mut verdict = decide(&outing, &forecasts, now);
    let berth_unknown = lacks_direction
        && question.venue.berth.is_some()
        && level.limits.contains_key(&Quantity::BerthCrosswind);
    if berth_unknown {
        withhold(&mut verdict);
    }
    let offered = Offered {
        boats: &club.boats,
        // The supposed hours are of this venue alone.
        venues: &[],
    };
    let way_out = find_way_out(&outing, verdict.call, offered, &forecasts, now).filter(|_| !berth_unknown);
    let floors = floors(&outing, &view);
    answer(
        question,
        &outing,
        &verdict,
        way_out.as_ref(),
        floors,
        berth_unknown,
    )
}

/// No call, unless a limit is broken already: then what is missing hides nothing.
fn withhold(verdict: &mut Verdict) {
    if verdict.call == Call::NoGo {
        return;
    }
    verdict.call = Call::NoCall;
    verdict.firmness = Firmness::EarlyView;
    verdict.light = false;
    verdict.p_no_go = None;
    verdict.p_marginal_or_worse = None;
    verdict.reasons.clear();
}

fn floors(outing: &Outing<'_>, view: &MemberView<'_>) -> Floors {
    let points = &outing.policy.spread_floor;
    let instants = instants_between(outing.leaves, outing.alongside);
    let most = |of: &dyn Fn(DateTime<Utc>) -> f64| instants.iter().map(|&at| of(at)).fold(0.0, f64::max);
    Floors {
        members: view.members.len(),
        speed_kn: rounded(most(&|at| floor_at(points, view.lead_hours(at)).0)),
        added_kn: rounded(most(&|at| lacking(points, view, at))),
        timing_h: rounded(floor_at(points, view.lead_hours(outing.leaves)).1),
    }
}

fn answer(
    question: &Question<'_>,
    outing: &Outing<'_>,
    verdict: &Verdict,
    way_out: Option<&rules::WayOut>,
    floors: Floors,
    berth_unknown: bool,
) -> Answer {
    let zone = question.club.time_zone;
    let local = |at| advisory::words::local(at, zone);
    let caution_view = CautionView {
        outing,
        hours: &verdict.hours,
        passages: verdict.passages.as_ref(),
        plan: verdict.plan.as_ref(),
    };
    let mut missing: Vec<Missing> = verdict
        .unknown
        .iter()
        .map(|span| missing_of(span, &local))
        .collect();
    if berth_unknown {
        let absent = !question.supposed.has(Column::From);
        missing.push(Missing {
            quantity: Column::From.name(),
            name: "Direction of the wind",
            reason: if absent { Gap::NotInFeed } else { Gap::NotThere },
            from: local(outing.leaves),
            to: local(outing.alongside),
            members: Vec::new(),
        });
    }
    Answer {
        conditions: SUPPOSED,
        venue: question.venue.id.clone(),
        boat: question.boat.id.clone(),
        level: question.level.id.clone(),
        leaves: local(outing.leaves),
        alongside: local(outing.alongside),
        call: verdict.call,
        light: verdict.light,
        firmness: verdict.firmness,
        plan: plan_of(question.boat, outing, verdict, &local),
        past_table_from: verdict
            .plan
            .as_ref()
            .and_then(|plan| plan.past_table_from)
            .or_else(|| past_table_on_leaving(verdict))
            .map(local),
        reasons: verdict
            .reasons
            .iter()
            .map(|reason| why(reason, verdict.counted.members().max(1), outing.alongside, zone))
            .collect(),
        cautions: find_cautions(caution_view)
            .iter()
            .map(|found| {
                let told = advisory::caution_of(found, question.boat, zone);
                Caution {
                    code: CautionCode::code(found.code),
                    from: local(found.from),
                    to: local(found.to),
                    words: format!("{}: {}: {}", told.when, told.title, told.words),
                }
            })
            .collect(),
        way_out: way_out.map(|found| way_out_of(found, question, &local)),
        p_no_go: verdict.p_no_go.map(rounded),
        p_marginal_or_worse: verdict.p_marginal_or_worse.map(rounded),
        missing,
        floors,
        gusts: gusts(question.supposed),
        not_judged: not_judged(question),
    }
}

type Local<'a> = &'a dyn Fn(DateTime<Utc>) -> DateTime<FixedOffset>;

/// Without a plan the wind on leaving may be past the table, not unknown.
fn past_table_on_leaving(verdict: &Verdict) -> Option<DateTime<Utc>> {
    let first = verdict.hours.iter().find(|hour| hour.out)?;
    (first.wanted == rules::plan::Wanted::PastTable).then_some(first.at)
}

fn plan_of(boat: &Boat, outing: &Outing<'_>, verdict: &Verdict, local: Local<'_>) -> Vec<Sail> {
    let Some(plan) = &verdict.plan else {
        return Vec::new();
    };
    let changes = plan.changes.iter().map(|change| (change.at, change.row));
    std::iter::once((outing.leaves, plan.leave_with))
        .chain(changes)
        .filter_map(|(from, row)| {
            let row = boat.reef_table.rows().get(row)?;
            Some(Sail {
                from: local(from),
                reefs: row.reefs,
                headsail: row.headsail.0,
            })
        })
        .collect()
}

fn why(reason: &Reason, members: u16, alongside: DateTime<Utc>, zone: Tz) -> Why {
    let finding = &reason.finding;
    Why {
        quantity: finding.criterion.key(),
        value: rounded(finding.value),
        limit: finding.limit.stop_at,
        caution_at: finding.limit.caution_at,
        margin: rounded(finding.margin()),
        time: advisory::words::local(finding.at, zone),
        member: reason.member.map(|member| member.0),
        by_floor: reason.by_floor,
        words: advisory::reason_of(reason, members, alongside, zone).words,
    }
}

fn missing_of(span: &UnknownSpan, local: Local<'_>) -> Missing {
    Missing {
        quantity: span.criterion.key(),
        name: advisory::criterion_words(span.criterion),
        reason: span.missing.gap,
        from: local(span.from),
        to: local(span.to),
        members: span.members.iter().map(|member| member.0).collect(),
    }
}

fn way_out_of(found: &rules::WayOut, question: &Question<'_>, local: Local<'_>) -> WayOut {
    let (kind, boat) = match found.kind {
        WayOutKind::Shorter => ("shorter", None),
        WayOutKind::Earlier => ("earlier", None),
        WayOutKind::Later => ("later", None),
        WayOutKind::AnotherVenue { .. } => ("another-venue", None),
        WayOutKind::AnotherBoat { boat } => ("another-boat", question.club.boats.get(boat)),
    };
    WayOut {
        kind,
        boat: boat.unwrap_or(question.boat).id.clone(),
        words: {
            let told = advisory::way_out_of(found, question.club, question.club.time_zone);
            format!("{}: {}", told.title, told.words)
        },
        leaves: local(found.leaves),
        alongside: local(found.alongside),
        call: found.call,
    }
}

fn gusts(supposed: &Supposed) -> &'static str {
    let maxima = supposed
        .hours
        .values()
        .any(|hour| hour.get(Column::GustOver).is_some());
    match (supposed.has(Column::Gust), supposed.has(Column::Mean)) {
        (true, _) if maxima => "maxima of intervals",
        (true, _) => "of the moment",
        (false, true) => "estimated from the mean",
        (false, false) => "not given",
    }
}

fn rounded(value: f64) -> f64 {
    (value * 10_000.0).round() / 10_000.0
}
