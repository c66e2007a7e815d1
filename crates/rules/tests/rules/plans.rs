//! Sail plans, windows and the way out, worked by hand (common practice, no source).

use crate::common::{Floors, WIND_AND_SEA, at, blowing, call_one, club, fair, outing, reference, shared};
use chrono::TimeDelta;
use conditions::HourConditions;
use forecast::{Member, SourceId};
use rules::plan::{PlanChange, Wanted, make_plan};
use rules::way_out::{Offered, OtherVenue, WayOutKind, find_way_out};
use rules::{Call, Forecasts, MemberView, WindowQuery, find_windows};
use seaway::Knots;

fn plan_of(rows: &[usize]) -> (usize, Vec<(i64, usize)>) {
    let club = club(Floors::None, WIND_AND_SEA);
    let mut outing = outing(&club);
    outing.alongside = outing.leaves + TimeDelta::hours(rows.len() as i64 - 1);
    let asked: Vec<_> = rows
        .iter()
        .enumerate()
        .map(|(i, &row)| (at(10 + i as i64), Wanted::Row(row)))
        .collect();
    let plan = make_plan(&outing, &asked).expect("a plan");
    let hour = |change: &PlanChange| ((change.at - at(0)).num_hours(), change.row);
    (plan.leave_with, plan.changes.iter().map(hour).collect())
}

#[test]
fn the_plan_to_leave_with_looks_ahead_and_sail_is_shaken_out_only_when_it_stays_lighter() {
    // reef_ahead is two hours: rows at 10, 11 and 12 count for leaving.
    assert_eq!(plan_of(&[0, 0, 0, 0, 0]), (0, vec![]));
    assert_eq!(
        plan_of(&[0, 1, 2, 2, 2]),
        (2, vec![]),
        "rising within the look-ahead: leave with the most reefed"
    );
    assert_eq!(
        plan_of(&[0, 0, 0, 1, 2, 2]),
        (0, vec![(13, 1), (14, 2)]),
        "rising after it: changes with their hours"
    );
    assert_eq!(
        plan_of(&[2, 1, 1, 1, 1]),
        (2, vec![(13, 1)]),
        "easing: shaken out once the look-ahead is over"
    );
    assert_eq!(
        plan_of(&[2, 1, 1, 0, 2, 1]),
        (2, vec![]),
        "a lull is not an easing"
    );
}

#[test]
fn a_level_with_extra_reefs_carries_a_row_more() {
    let club = club(Floors::None, WIND_AND_SEA);
    let leave_with = |level: usize, mean, gust| {
        let mut outing = outing(&club);
        outing.level = &club.levels[level];
        call_one(&outing, &|t| blowing(t, mean, gust))
            .plan
            .expect("a plan")
            .leave_with
    };
    assert_eq!((leave_with(0, 10.0, 13.0), leave_with(1, 10.0, 13.0)), (0, 1));
    assert_eq!(leave_with(1, 23.0, 30.0), 3, "the last row is as far as it goes");
}

#[test]
fn gusts_pick_the_row_as_well_as_the_mean() {
    let club = club(Floors::None, WIND_AND_SEA);
    let row = |mean, gust| club.boats[0].reef_table.row_for(Knots(mean), Knots(gust));
    assert_eq!(row(12.0, 16.0), Some(0));
    assert_eq!(row(12.1, 16.0), Some(1));
    assert_eq!(row(10.0, 22.0), Some(2));
    assert_eq!(row(10.0, 33.0), None);
}

#[test]
fn windows_are_unbroken_maximal_and_long_enough() {
    let club = club(Floors::None, WIND_AND_SEA);
    let mut outing = outing(&club);
    (outing.leaves, outing.alongside) = (at(7), at(19));
    // Good 7 to 9, a blow at 10, good 11 to 15, a caution 16 to 17, good 18 to 19.
    let hour = |_: Member, t: chrono::DateTime<chrono::Utc>| match (t - at(0)).num_hours() {
        10 => blowing(t, 21.0, 24.0),
        16 | 17 => blowing(t, 16.0, 19.0),
        _ => fair(t),
    };
    let source = SourceId::new("test");
    let members: Vec<Member> = (0..10).map(Member).collect();
    let view = MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at: &shared(&hour),
    };
    let found = |wanted, hours| -> Vec<(i64, i64, Call)> {
        let query = WindowQuery {
            wanted,
            at_least: TimeDelta::hours(hours),
        };
        let hours = |t: chrono::DateTime<chrono::Utc>| (t - at(0)).num_hours();
        find_windows(&outing, &view, query)
            .iter()
            .map(|w| (hours(w.from), hours(w.to), w.call))
            .collect()
    };
    assert_eq!(found(Call::Go, 3), vec![(11, 15, Call::Go)]);
    assert_eq!(found(Call::Go, 2), vec![(7, 9, Call::Go), (11, 15, Call::Go)]);
    assert_eq!(found(Call::Marginal, 3), vec![(11, 19, Call::Marginal)]);
}

#[test]
fn a_window_tells_the_share_of_members_that_hold_throughout() {
    let club = club(Floors::None, WIND_AND_SEA);
    // Each hour one other member of twenty has a caution: every hour is a go, but only some members hold throughout.
    let hour = |m: Member, t: chrono::DateTime<chrono::Utc>| {
        if (t - at(10)).num_hours() == i64::from(m.0) {
            blowing(t, 16.0, 19.0)
        } else {
            fair(t)
        }
    };
    let source = SourceId::new("test");
    let members: Vec<Member> = (0..20).map(Member).collect();
    let view = MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at: &shared(&hour),
    };
    let query = WindowQuery {
        wanted: Call::Go,
        at_least: TimeDelta::hours(3),
    };
    let windows = find_windows(&outing(&club), &view, query);
    assert_eq!(windows.len(), 1);
    // Hours 10 to 16 are seven: 13 of 20 members hold.
    assert_eq!(windows[0].holds, Some(13.0 / 20.0));
}

/// The club's boats are offered, and no other venue.
fn boats_of(club: &club::Club) -> Offered<'_> {
    Offered {
        boats: &club.boats,
        venues: &[],
    }
}

#[test]
fn the_way_out_is_the_longest_shorter_outing_then_another_boat_then_a_shift() {
    let mut club = club(Floors::None, WIND_AND_SEA);
    let source = SourceId::new("test");
    let members = [Member(0)];
    let find = |club: &club::Club, hour: &dyn Fn(Member, chrono::DateTime<chrono::Utc>) -> HourConditions| {
        let view = MemberView {
            source: &source,
            reference: Some(reference()),
            members: &members,
            at: &shared(hour),
        };
        find_way_out(
            &outing(club),
            Call::NoGo,
            boats_of(club),
            &Forecasts::one(view),
            reference(),
        )
    };
    // The blow starts at 15:00: overrun to 15:00 would still be a caution, so back by 13:30 is the longest that is a go.
    let blow = |_: Member, t| {
        if t >= at(15) {
            blowing(t, 21.0, 24.0)
        } else {
            fair(t)
        }
    };
    let way_out = find(&club, &blow).expect("a way out");
    assert_eq!((way_out.kind, way_out.call), (WayOutKind::Shorter, Call::Go));
    assert_eq!(way_out.alongside, at(13) + TimeDelta::minutes(30));
    // Blowing until noon: later by two hours is out of it.
    let early_blow = |_: Member, t| {
        if t < at(12) {
            blowing(t, 21.0, 24.0)
        } else {
            fair(t)
        }
    };
    let way_out = find(&club, &early_blow).expect("a way out");
    assert_eq!((way_out.kind, way_out.leaves), (WayOutKind::Later, at(12)));
    // Past the boat's table all day, but another boat's table goes further.
    let mut big = club.boats[0].clone();
    big.id = "big".to_owned();
    club.boats.insert(0, big);
    club.boats[1].reef_table = common_small_table();
    let fresh = |_: Member, t| blowing(t, 14.0, 19.0);
    let mut small_outing = outing(&club);
    small_outing.boat = &club.boats[1];
    let view = MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at: &shared(&fresh),
    };
    let way_out = find_way_out(
        &small_outing,
        Call::NoGo,
        boats_of(&club),
        &Forecasts::one(view),
        reference(),
    )
    .expect("a way out");
    assert_eq!(way_out.kind, WayOutKind::AnotherBoat { boat: 0 });
    // Nothing helps: a gale all day.
    assert_eq!(find(&club, &|_, t| blowing(t, 40.0, 50.0)), None);
}

/// A table that ends at 12 kn.
fn common_small_table() -> club::ReefTable {
    let text = include_str!("small_table.toml");
    club::parse(text).expect("a club").club.boats[0]
        .reef_table
        .clone()
}

#[test]
fn another_venue_is_a_way_out_after_another_boat_and_before_a_shift() {
    let club = club(Floors::None, WIND_AND_SEA);
    let source = SourceId::new("test");
    let members = [Member(0)];
    // Blowing until noon here, so that later by two hours would be a way out too; fair all day in the bay.
    let here = |_: Member, t| {
        if t < at(12) {
            blowing(t, 21.0, 24.0)
        } else {
            fair(t)
        }
    };
    let bay = |_: Member, t| fair(t);
    let (here, bay) = (shared(&here), shared(&bay));
    let view = |at| MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at,
    };
    let outing = outing(&club);
    let other = [OtherVenue {
        index: 3,
        venue: &club.venues[0],
        sun: outing.sun,
        forecasts: Forecasts::one(view(&bay)),
    }];
    let offered = |venues| Offered {
        boats: &club.boats,
        venues,
    };
    let found = |offered| {
        let forecasts = Forecasts::one(view(&here));
        find_way_out(&outing, Call::NoGo, offered, &forecasts, reference()).expect("a way out")
    };
    let way_out = found(offered(&other));
    assert_eq!(way_out.kind, WayOutKind::AnotherVenue { venue: 3 });
    assert_eq!((way_out.leaves, way_out.call), (outing.leaves, Call::Go));
    assert_eq!(found(offered(&[])).kind, WayOutKind::Later);
}
