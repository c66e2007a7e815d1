//! Two ensembles: each counted, put together by the club's policy. No source: common practice; the shares are by hand.

use crate::common::{Floors, WIND_AND_SEA, blowing, club, fair, missing, outing, reference, shared};
use chrono::{DateTime, Utc};
use club::Combine;
use conditions::HourConditions;
use forecast::{Gap, Member, SourceId};
use rules::{Call, Forecasts, MemberView, Verdict, decide};
use std::rc::Rc;

/// Ten members of each; the first `gales` of them blow past the stop.
fn call(combine: Combine, gales: [u16; 2], second: bool) -> Verdict {
    let mut club = club(Floors::None, WIND_AND_SEA);
    club.policy.combine = combine;
    let outing = outing(&club);
    let members: Vec<Member> = (0..10).map(Member).collect();
    let sources = [SourceId::new("one"), SourceId::new("other")];
    let hour = |gales: u16| {
        move |member: Member, at: DateTime<Utc>| {
            Rc::new(if member.0 < gales {
                blowing(at, 21.0, 27.0)
            } else {
                fair(at)
            })
        }
    };
    let hours = gales.map(hour);
    let view = |which: usize| MemberView {
        source: &sources[which],
        reference: Some(reference()),
        members: &members,
        at: &hours[which],
    };
    let forecasts = Forecasts {
        second: second.then(|| view(1)),
        ..Forecasts::one(view(0))
    };
    decide(&outing, &forecasts, reference())
}

#[test]
fn the_worse_of_two_makes_the_call_unless_the_policy_takes_their_mean() {
    // 0 of 10 and 5 of 10: the worse is 0.5, a no-go from 0.4; the mean 0.25 is marginal.
    let worse = call(Combine::Worse, [0, 5], true);
    assert_eq!((worse.call, worse.p_no_go), (Call::NoGo, Some(0.5)));
    assert!(worse.by_second);
    assert_eq!(
        worse.reasons[0].past_stop,
        Some(5),
        "told by the second's members"
    );
    let mean = call(Combine::Mean, [0, 5], true);
    assert_eq!((mean.call, mean.p_no_go), (Call::Marginal, Some(0.25)));
    let alone = call(Combine::Worse, [0, 5], false);
    assert_eq!((alone.call, alone.second), (Call::Go, None));
}

#[test]
fn both_are_shown_and_their_order_does_not_matter() {
    for combine in [Combine::Worse, Combine::Mean] {
        let (one, other) = (call(combine, [1, 5], true), call(combine, [5, 1], true));
        assert_eq!(
            (one.call, one.p_no_go, one.p_marginal_or_worse),
            (other.call, other.p_no_go, other.p_marginal_or_worse)
        );
        let second = one.second.expect("shown");
        assert_eq!((one.counted.no_go, second.counted.no_go), (1, 5));
        assert_eq!((second.call, second.p_no_go), (Call::NoGo, Some(0.5)));
    }
}

#[test]
fn an_ensemble_with_holes_leaves_the_call_to_the_other_and_never_makes_it_kinder() {
    let club = club(Floors::None, WIND_AND_SEA);
    let outing = outing(&club);
    let members: Vec<Member> = (0..10).map(Member).collect();
    let sources = [SourceId::new("one"), SourceId::new("other")];
    let holes = |_: Member, at| HourConditions {
        gust: missing(Gap::Damaged),
        ..fair(at)
    };
    let gales = |member: Member, at| {
        if member.0 < 5 {
            blowing(at, 21.0, 27.0)
        } else {
            fair(at)
        }
    };
    let fine = |_: Member, at| fair(at);
    let decided = |first: &dyn Fn(Member, DateTime<Utc>) -> HourConditions,
                   second: &dyn Fn(Member, DateTime<Utc>) -> HourConditions| {
        let view = |which: usize, at| MemberView {
            source: &sources[which],
            reference: Some(reference()),
            members: &members,
            at,
        };
        let (first, second) = (shared(first), shared(second));
        let forecasts = Forecasts {
            governing: view(0, &first),
            second: Some(view(1, &second)),
            deterministic: None,
        };
        decide(&outing, &forecasts, reference()).call
    };
    assert_eq!(decided(&holes, &fine), Call::Go);
    assert_eq!(decided(&holes, &gales), Call::NoGo);
    assert_eq!(decided(&gales, &holes), Call::NoGo);
    assert_eq!(decided(&holes, &holes), Call::NoCall);
}
