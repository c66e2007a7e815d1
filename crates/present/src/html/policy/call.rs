//! How a call is made, when the club decides, and how far a call can be leaned on, in sentences.

use crate::wording::tenth;
use chrono::NaiveTime;
use club::{Club, Combine, Policy};

/// "40 %".
pub(super) fn share(of_one: f64) -> String {
    format!("{} %", tenth(of_one * 100.0))
}

pub(super) fn clock(at: NaiveTime) -> String {
    at.format("%H:%M").to_string()
}

fn mail(club: &Club) -> String {
    match club.digest_at {
        Some(at) => format!(
            "Subscribers are sent their mail at {}, and one more when a call or decision changes after the club’s hour. \
             That no mail comes says nothing of the weather.",
            clock(at)
        ),
        None => "The club sends no mail of its sessions.".to_owned(),
    }
}

/// The sentences.
pub(super) fn lines(club: &Club) -> Vec<String> {
    let policy = &club.policy;
    let mut lines = vec![
        format!(
            "The club decides by {} on the day before, by the clocks of {}. The program only calls; it never decides.",
            clock(club.decides_at),
            club.time_zone
        ),
        mail(club),
        "Go, where no caution is reached; marginal, from a caution on; no-go, from a stop on; no call, where what is known \
         cannot support one. A limit is reached at its very value. Missing data never make a go."
            .to_owned(),
        format!(
            "Of an ensemble, each member is called by itself. The call is no-go from {} of no-go on, and marginal from {} of \
             marginal or worse on. At least {} of the members must be there.",
            share(policy.no_go_from),
            share(policy.marginal_from),
            share(policy.members_needed)
        ),
        format!("Two ensembles make {}.", combined(policy.combine)),
        format!(
            "Past a stop in the finest single run ({}) the call is at least marginal.",
            policy.deterministic_sources.join(", ")
        ),
    ];
    lines.extend(policy.spread_floor.iter().map(|floor| {
        format!(
            "At {} h after the start of a run the members are taken to differ by at least {} kn in the mean, and to come {} h \
             early or late.",
            floor.lead_h, floor.speed.0, floor.timing_h
        )
    }));
    let widened = !policy.spread_floor.is_empty();
    lines.extend(widened.then(|| {
        "That never makes a call kinder than the members counted as they are; one run alone has no other spread.".to_owned()
    }));
    lines.extend(sureness(policy));
    lines.extend(club.sails.map(|(from, to)| {
        format!(
            "The club sails from {} to {}: openings lie within.",
            clock(from),
            clock(to)
        )
    }));
    lines.push(advisory::make::warnings(club));
    lines
}

fn combined(combine: Combine) -> &'static str {
    match combine {
        Combine::Worse => "the worse of their two probabilities",
        Combine::Mean => "the mean of their two probabilities",
    }
}

fn sureness(policy: &Policy) -> [String; 3] {
    [
        format!(
            "A call is firm up to {} h ahead where at least {} agree with it; likely up to {} h ahead where {} do; an early view \
             otherwise.",
            policy.firm_within_h,
            share(policy.firm_agreement),
            policy.likely_within_h,
            share(policy.likely_agreement)
        ),
        format!(
            "A kinder call than the last is believed when a second run agrees, when the margin of the wind has grown by {} kn, or \
             when the chance of what was called has fallen by {}. A worse call stands at once.",
            policy.kinder_margin_kn.0,
            share(policy.kinder_probability)
        ),
        format!(
            "A run older than {} h is not used for the next two days, nor one older than {} h further ahead, nor one of a \
             regional source older than {} h.",
            policy.stale_after_near_h, policy.stale_after_far_h, policy.stale_after_regional_h
        ),
    ]
}
