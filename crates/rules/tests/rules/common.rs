//! A small invented club and conditions made by hand: the only place outside the production path that makes conditions.

use chrono::{DateTime, TimeDelta, Utc};
use club::Club;
use conditions::{HourConditions, Known, Missing, Notes, Reading};
use forecast::{Gap, Member, SourceId};
use rules::{Forecasts, MemberView, Outing, Sun, Verdict, decide};
use seaway::quantity::Celsius;
use seaway::{DirectionFrom, Hectopascals, Knots, Metres, Seconds, Wind};
use std::rc::Rc;

/// The run's reference time in these tests.
pub fn reference() -> DateTime<Utc> {
    "2030-05-13T06:00:00Z".parse().expect("a time")
}

/// An hour of Tuesday 14 May 2030, UTC.
pub fn at(hour: i64) -> DateTime<Utc> {
    "2030-05-14T00:00:00Z".parse::<DateTime<Utc>>().expect("a time") + TimeDelta::hours(hour)
}

/// The least spread a test works with.
pub enum Floors {
    /// None: members are counted as they are. A club file cannot say so; these tests look at one rule at a time.
    None,
    /// The policy's default.
    Default,
    /// No speed floor, but so many hours early or late.
    Timing(f64),
}

/// A club with one boat and two levels; `limits` (of the first level) are TOML lines.
pub fn club(floors: Floors, limits: &str) -> Club {
    let text = format!(
        r#"
[club]
name = "Test School"
slug = "test"
time_zone = "Atlantic/Madeira"
[[venues]]
id = "roads"
name = "Roads"
points = [{{ lat = 43.5, lon = -15.5 }}]
[[venues.shores]]
name = "the skerries"
bearing_deg = 45
width_deg = 60
distance_nm = 2
[venues.berth]
heading_deg = 0
moored = "port"
fairway_deg = 180
[[boats]]
id = "small"
name = "Small"
reef_table = [
  {{ mean_up_to_kn = 12, gust_up_to_kn = 16, reefs = 0, headsail = 1.0 }},
  {{ mean_up_to_kn = 16, gust_up_to_kn = 21, reefs = 1, headsail = 0.75 }},
  {{ mean_up_to_kn = 21, gust_up_to_kn = 27, reefs = 2, headsail = 0.5 }},
  {{ mean_up_to_kn = 25, gust_up_to_kn = 32, reefs = 3, headsail = 0.3 }},
]
[[levels]]
id = "first"
name = "First"
light_below_kn = 6
reef_ahead_h = 2
[levels.limits]
{limits}
[[levels]]
id = "second"
name = "Second"
extra_reefs = 1
[levels.limits]
mean_kn = {{ caution_at = 20, stop_at = 24 }}
gust_kn = {{ caution_at = 26, stop_at = 31 }}
[[sessions]]
id = "tue"
venue = "roads"
boat = "small"
level = "first"
starts = "2030-05-14T10:00"
ends = "16:00"
"#
    );
    let mut club = club::parse(&text)
        .unwrap_or_else(|mistakes| panic!("{mistakes:?}\n{text}"))
        .club;
    match floors {
        Floors::None => club.policy.spread_floor.clear(),
        Floors::Default => {}
        Floors::Timing(timing_h) => {
            club.policy.spread_floor = vec![club::FloorPoint {
                lead_h: 24.0,
                speed: Knots(0.0),
                timing_h,
            }];
        }
    }
    club
}

/// Limits of wind and sea alone.
pub const WIND_AND_SEA: &str = "mean_kn = { caution_at = 15, stop_at = 20 }
gust_kn = { caution_at = 20, stop_at = 26 }
wave_m = { caution_at = 1.5, stop_at = 2.0 }";

/// The first level's outing from 10:00 to 16:00 UTC.
pub fn outing(club: &Club) -> Outing<'_> {
    Outing {
        policy: &club.policy,
        venue: &club.venues[0],
        boat: &club.boats[0],
        level: &club.levels[0],
        legs: &[],
        leaves: at(10),
        alongside: at(16),
        sun: Sun {
            rises: Some(at(6)),
            sets: Some(at(20)),
            always_down: false,
        },
    }
}

/// A known value.
pub fn known<T>(value: T) -> Known<T> {
    Ok(Reading {
        value,
        source: SourceId::new("test"),
        reference: reference(),
        notes: Notes::default(),
    })
}

/// A missing value.
pub fn missing<T>(gap: Gap) -> Known<T> {
    Err(Missing {
        gap,
        source: Some(SourceId::new("test")),
        reference: Some(reference()),
        elsewhere: None,
    })
}

/// A fair hour: 10 kn of south-west wind gusting 13, sea 0.8 m at 6 s, 18 degrees, clear.
pub fn fair(time: DateTime<Utc>) -> HourConditions {
    HourConditions {
        time,
        wind: wind(10.0, 225.0),
        gust: known(Knots(13.0)),
        wave_height: known(Metres(0.8)),
        wave_period: known(Seconds(6.0)),
        wave_from: known(DirectionFrom::new(225.0)),
        // 0.8 m over 9.81 x 36 / (2 pi) = 56.2 m.
        steepness: known(0.0142),
        stream: None,
        air: known(Celsius(18.0)),
        dew_point: known(Celsius(12.0)),
        visibility: known(Metres(20_000.0)),
        rain_mm_per_h: known(0.0),
        cape_j_per_kg: known(0.0),
        water: known(Celsius(15.0)),
        pressure: known(Hectopascals(1015.0)),
    }
}

/// A wind.
pub fn wind(speed_kn: f64, from_deg: f64) -> Known<Wind> {
    known(Wind {
        speed: Knots(speed_kn),
        from: DirectionFrom::new(from_deg),
    })
}

/// A fair hour with another wind and gust.
pub fn blowing(time: DateTime<Utc>, mean_kn: f64, gust_kn: f64) -> HourConditions {
    HourConditions {
        wind: wind(mean_kn, 225.0),
        gust: known(Knots(gust_kn)),
        ..fair(time)
    }
}

/// Calls an outing from one source with so many members.
pub fn call_members(
    outing: &Outing<'_>,
    members: u16,
    hour: &dyn Fn(Member, DateTime<Utc>) -> HourConditions,
) -> Verdict {
    let source = SourceId::new("test");
    let members: Vec<Member> = (0..members).map(Member).collect();
    let view = MemberView {
        source: &source,
        reference: Some(reference()),
        members: &members,
        at: &shared(hour),
    };
    decide(outing, &Forecasts::one(view), reference() + TimeDelta::hours(9))
}

/// Calls an outing from one run alone.
pub fn call_one(outing: &Outing<'_>, hour: &dyn Fn(DateTime<Utc>) -> HourConditions) -> Verdict {
    call_members(outing, 1, &|_, at| hour(at))
}

/// What a closure says, as the rules ask for it.
pub fn shared<'a>(
    hour: &'a dyn Fn(Member, DateTime<Utc>) -> HourConditions,
) -> impl Fn(Member, DateTime<Utc>) -> Rc<HourConditions> + 'a {
    move |member, at| Rc::new(hour(member, at))
}
