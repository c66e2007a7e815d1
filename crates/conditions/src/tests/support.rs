//! Slices built by hand: the one place where values do not come from GRIB.

use crate::{HourConditions, Known, VenueConditions};
use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use club::{ForecastPoint, Policy, Shore, Venue, WindSector};
use forecast::{
    FieldSeries, Gap, Interval, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, Process,
    RunSlice, Sample, SourceId, Step,
};
use seaway::{Bearing, DirectionFrom, Knots, LatLon, NauticalMiles};

/// Metres a second in a knot.
pub const MS: f64 = 1852.0 / 3600.0;

/// The run's reference time in most tests: 2030-05-13 00 UTC.
pub fn run_time() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2030, 5, 13, 0, 0, 0)
        .single()
        .expect("a valid time")
}

/// An instant after the run's reference time.
pub fn at_h(hours: f64) -> DateTime<Utc> {
    run_time() + TimeDelta::seconds((hours * 3600.0) as i64)
}

pub fn place(lat: f64, lon: f64) -> LatLon {
    LatLon::new(lat, lon).expect("a place")
}

pub fn venue(points: &[(f64, f64)]) -> Venue {
    Venue {
        id: "v".into(),
        name: "Venue".into(),
        points: points
            .iter()
            .enumerate()
            .map(|(index, &(lat, lon))| ForecastPoint {
                name: format!("point {index}"),
                at: place(lat, lon),
            })
            .collect(),
        shores: Vec::new(),
        berth: None,
        entrance: None,
        wind_sectors: Vec::new(),
        limit_sectors: Vec::new(),
        fetch: None,
        high_waters: Vec::new(),
        stream: None,
        sea_breeze: None,
    }
}

pub fn sector(from: f64, to: f64, factor: f64) -> WindSector {
    WindSector {
        from: DirectionFrom::new(from),
        to: DirectionFrom::new(to),
        factor,
        learned: None,
    }
}

pub fn shore(bearing: f64, width_deg: f64) -> Shore {
    Shore {
        name: "shore".into(),
        bearing: Bearing::new(bearing),
        width_deg,
        distance: NauticalMiles(1.0),
    }
}

pub fn policy() -> Policy {
    Policy::default()
}

/// A run on nodes one degree apart, filled parameter by parameter.
pub struct Run {
    pub slice: RunSlice,
}

impl Run {
    /// `rows` x `columns` nodes from 40 N, 10 W towards north and east, one degree apart.
    pub fn new(source: &str, rows: u32, columns: u32, members: u16, steps: &[u16]) -> Self {
        let nodes = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (row, column)))
            .map(|(row, column)| NodeSeries {
                node: Node {
                    column,
                    row,
                    at: place(40.0 + f64::from(row), -10.0 + f64::from(column)),
                },
                fields: Vec::new(),
            })
            .collect();
        Self {
            slice: RunSlice {
                source: SourceId::new(source),
                reference: run_time(),
                visible_at: run_time(),
                grid: "grid".into(),
                members: (0..members).map(Member).collect(),
                steps: steps.iter().map(|&step| Step(step)).collect(),
                nodes,
                messages: Vec::new(),
            },
        }
    }

    /// A parameter by (row, column), member and step index.
    pub fn field(mut self, parameter: Parameter, value: impl Fn((u32, u32), usize, usize) -> Sample) -> Self {
        let (members, steps) = (self.slice.members.len(), self.slice.steps.len());
        for series in &mut self.slice.nodes {
            let place = (series.node.row, series.node.column);
            let samples = (0..members * steps)
                .map(|flat| value(place, flat / steps, flat % steps))
                .collect();
            series.fields.push(FieldSeries { parameter, samples });
        }
        for (index, &member) in self.slice.members.iter().enumerate() {
            for (step_index, &step) in self.slice.steps.iter().enumerate() {
                let outcome = match value((0, 0), index, step_index) {
                    Err(gap) if gap != Gap::Masked => Outcome::Missing(gap),
                    _ => Outcome::Read,
                };
                self.slice.messages.push(MessageRecord {
                    parameter,
                    member,
                    step,
                    file: format!("f{:03}", step.0),
                    offset: 100 * u64::from(step.0),
                    length: 100,
                    interval: None,
                    outcome,
                });
            }
        }
        self
    }

    /// The same everywhere, by step index.
    pub fn by_step(self, parameter: Parameter, values: &[Sample]) -> Self {
        self.field(parameter, |_, _, step| values[step])
    }

    /// The same everywhere and always.
    pub fn constant(self, parameter: Parameter, value: f64) -> Self {
        self.field(parameter, |_, _, _| Ok(value as f32))
    }

    /// A steady wind, knots and degrees from, everywhere.
    pub fn wind(self, speed_kn: f64, from_deg: f64) -> Self {
        let (u, v) = uv(speed_kn, from_deg);
        self.constant(Parameter::WindU, f64::from(u))
            .constant(Parameter::WindV, f64::from(v))
    }

    /// A wind by step index, knots and degrees from.
    pub fn winds(self, winds: &[(f64, f64)]) -> Self {
        let components: Vec<_> = winds.iter().map(|&(speed, from)| uv(speed, from)).collect();
        let u: Vec<Sample> = components.iter().map(|c| Ok(c.0)).collect();
        let v: Vec<Sample> = components.iter().map(|c| Ok(c.1)).collect();
        self.by_step(Parameter::WindU, &u).by_step(Parameter::WindV, &v)
    }

    /// The interval of a parameter's messages, hours after the run, by step; None leaves it an instant.
    pub fn intervals(
        mut self,
        parameter: Parameter,
        process: Process,
        hours: impl Fn(u16) -> Option<(u16, u16)>,
    ) -> Self {
        for message in self
            .slice
            .messages
            .iter_mut()
            .filter(|message| message.parameter == parameter)
        {
            message.interval = hours(message.step.0).map(|(start, end)| Interval {
                start: at_h(f64::from(start)),
                end: at_h(f64::from(end)),
                process,
            });
        }
        self
    }

    /// The same run, issued some hours earlier or later.
    pub fn issued(mut self, hours_later: i64) -> Self {
        self.slice.reference += TimeDelta::hours(hours_later);
        self
    }
}

fn uv(speed_kn: f64, from_deg: f64) -> (f32, f32) {
    let wind = seaway::Wind {
        speed: Knots(speed_kn),
        from: DirectionFrom::new(from_deg),
    };
    let (u, v) = wind.components();
    (u.0 as f32, v.0 as f32)
}

/// Conditions at the run's own time over its first five days.
pub fn assemble(venue: &Venue, runs: &[&Run]) -> VenueConditions {
    let slices: Vec<RunSlice> = runs.iter().map(|run| run.slice.clone()).collect();
    VenueConditions::assemble(venue, &policy(), &slices, run_time(), (at_h(0.0), at_h(12.0)))
}

/// Member 0 of the governing set.
pub fn hour(venue: &Venue, runs: &[&Run], hours: f64) -> HourConditions {
    assemble(venue, runs).governing().at(Member(0), at_h(hours))
}

#[track_caller]
pub fn near(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() < 1e-3,
        "found {found}, expected {expected}"
    );
}

#[track_caller]
pub fn gap<T: std::fmt::Debug>(known: &Known<T>) -> Gap {
    known.as_ref().expect_err("should be missing").gap
}
