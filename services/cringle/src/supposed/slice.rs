//! Supposed hours as a run: the same form that a feed's messages are read into, so that one way leads from hours to conditions.
//!
//! Owns: units of the form, the run's supposed reference time. Must not know: interpolation, limits, calls.

use super::{Column, Hour, Supposed};
use chrono::{DateTime, TimeDelta, Utc};
use conditions::{HourConditions, Known};
use forecast::series::{FieldSeries, Interval, MessageRecord, Node, NodeSeries, Outcome, Process};
use forecast::{Gap, Member, Parameter, RunSlice, SourceId, Step};
use seaway::{Celsius, DirectionFrom, Knots, LatLon, Metres, MetresPerSecond, Seconds, Wind};

/// What the run's source is called.
pub const SOURCE: &str = "supposed";
/// The supposed forecast is this old at its first hour.
const LEAD_OF_FIRST_HOUR: TimeDelta = TimeDelta::hours(1);
const ZERO_CELSIUS_IN_KELVIN: f64 = 273.15;

/// The run at one place, and the warmth of the land at another.
pub fn run_slice(supposed: &Supposed, at: LatLon, land: Option<LatLon>) -> RunSlice {
    let directed = !supposed.lacks_direction();
    let times: Vec<DateTime<Utc>> = supposed.times().into_iter().collect();
    let reference = times.first().copied().unwrap_or_default() - LEAD_OF_FIRST_HOUR;
    let step = |time: DateTime<Utc>| Step(u16::try_from((time - reference).num_hours()).unwrap_or(u16::MAX));
    let members: Vec<u16> = supposed.members().into_iter().collect();
    let field = |parameter, value: &dyn Fn(&Hour) -> Option<f64>| {
        let of = |member: u16, time: DateTime<Utc>| {
            let hour = supposed.hours.get(&(member, time)).ok_or(Gap::NotThere)?;
            value(hour).map(|value| value as f32).ok_or(Gap::NotThere)
        };
        let samples = members
            .iter()
            .flat_map(|&member| times.iter().map(move |&time| (member, time)));
        FieldSeries {
            parameter,
            samples: samples.map(|(member, time)| of(member, time)).collect(),
        }
    };
    let mut fields = vec![field(Parameter::LandShare, &|_| Some(0.0))];
    for parameter in Parameter::ALL {
        if column_of(parameter).is_some_and(|column| supposed.has(column)) {
            fields.push(field(parameter, &|hour| sample(parameter, hour, directed)));
        }
    }
    if supposed.has(Column::Rain) {
        let before = |at: DateTime<Utc>| before(&times, at);
        let fallen = rain_fields(supposed, &members, &times, &before);
        fields.push(fallen);
    }
    let node = |number, at, fields| NodeSeries {
        node: Node {
            column: number,
            row: number,
            at,
        },
        fields,
    };
    let mut nodes = vec![node(0, at, fields)];
    if let Some(land) = land.filter(|_| supposed.has(Column::Land)) {
        let warmth = |hour: &Hour| Some(hour.get(Column::Land)? + ZERO_CELSIUS_IN_KELVIN);
        let fields = vec![
            field(Parameter::LandShare, &|_| Some(1.0)),
            field(Parameter::AirTemperature, &warmth),
        ];
        nodes.push(node(1, land, fields));
    }
    RunSlice {
        source: SourceId::new(SOURCE),
        reference,
        visible_at: reference,
        grid: SOURCE.to_owned(),
        members: members.iter().copied().map(Member).collect(),
        steps: times.iter().map(|&time| step(time)).collect(),
        nodes,
        messages: messages(supposed, &times, &step),
    }
}

/// The instant from which the rain of a row is counted: the row before, or an hour.
fn before(times: &[DateTime<Utc>], at: DateTime<Utc>) -> DateTime<Utc> {
    let earlier = times.iter().rev().find(|&&time| time < at);
    earlier.copied().unwrap_or(at - TimeDelta::hours(1))
}

fn rain_fields(
    supposed: &Supposed,
    members: &[u16],
    times: &[DateTime<Utc>],
    before: &dyn Fn(DateTime<Utc>) -> DateTime<Utc>,
) -> FieldSeries {
    let fallen = |member: u16, at: DateTime<Utc>| {
        let rate = supposed.hours.get(&(member, at))?.get(Column::Rain)?;
        Some((rate * (at - before(at)).num_seconds() as f64 / 3600.0) as f32)
    };
    FieldSeries {
        parameter: Parameter::Precipitation,
        samples: members
            .iter()
            .flat_map(|&member| {
                times
                    .iter()
                    .map(move |&at| fallen(member, at).ok_or(Gap::NotThere))
            })
            .collect(),
    }
}

/// The column a parameter is taken from, but for rain, which needs the row before.
fn column_of(parameter: Parameter) -> Option<Column> {
    match parameter {
        Parameter::WindU | Parameter::WindV => Some(Column::Mean),
        Parameter::Gust => Some(Column::Gust),
        Parameter::AirTemperature => Some(Column::Air),
        Parameter::DewPoint => Some(Column::Dew),
        Parameter::Visibility => Some(Column::Visibility),
        Parameter::Cape => Some(Column::Cape),
        Parameter::SurfaceTemperature => Some(Column::Sea),
        Parameter::WaveHeight => Some(Column::Wave),
        Parameter::WavePeriod => Some(Column::WavePeriod),
        Parameter::WaveDirection => Some(Column::WaveFrom),
        Parameter::StreamU | Parameter::StreamV => Some(Column::Stream),
        Parameter::Precipitation | Parameter::Pressure | Parameter::LandShare => None,
    }
}

/// A value in the unit of messages.
///
/// Without a direction in every row the wind stands as one from north: the whole of a stream then runs against it, and the sea comes
/// with it.
fn sample(parameter: Parameter, hour: &Hour, directed: bool) -> Option<f64> {
    let value = hour.get(column_of(parameter)?)?;
    Some(match parameter {
        Parameter::WaveDirection if !directed => 0.0,
        Parameter::StreamU | Parameter::StreamV => {
            let set = if directed {
                hour.get(Column::StreamTo)?
            } else {
                0.0
            };
            let (sin, cos) = set.to_radians().sin_cos();
            let towards = if parameter == Parameter::StreamU { sin } else { cos };
            MetresPerSecond::from(Knots(value)).0 * towards
        }
        Parameter::WindU => wind(value, hour).0.0,
        Parameter::WindV => wind(value, hour).1.0,
        Parameter::Gust => MetresPerSecond::from(Knots(value)).0,
        Parameter::AirTemperature | Parameter::DewPoint | Parameter::SurfaceTemperature => {
            value + ZERO_CELSIUS_IN_KELVIN
        }
        _ => value,
    })
}

/// Components of the mean. Where no direction is given north stands for it: `judged` then judges nothing by direction.
fn wind(mean_kn: f64, hour: &Hour) -> (MetresPerSecond, MetresPerSecond) {
    let from = DirectionFrom::new(hour.get(Column::From).unwrap_or(0.0));
    Wind {
        speed: Knots(mean_kn),
        from,
    }
    .components()
}

/// One record for each step, and one for each value of an interval.
fn messages(
    supposed: &Supposed,
    times: &[DateTime<Utc>],
    step: &dyn Fn(DateTime<Utc>) -> Step,
) -> Vec<MessageRecord> {
    let record = |parameter, member, at, line, interval| MessageRecord {
        parameter,
        member: Member(member),
        step: step(at),
        file: String::new(),
        offset: line,
        length: 0,
        interval,
        outcome: Outcome::Read,
    };
    let mut records: Vec<MessageRecord> = Vec::new();
    for (&(member, at), hour) in &supposed.hours {
        records.push(record(Parameter::WindU, member, at, hour.line, None));
        if let Some(hours) = hour.get(Column::GustOver) {
            let interval = Interval {
                start: at - TimeDelta::seconds((hours * 3600.0).round() as i64),
                end: at,
                process: Process::Maximum,
            };
            records.push(record(Parameter::Gust, member, at, hour.line, Some(interval)));
        }
        if supposed.has(Column::Rain) {
            let interval = Interval {
                start: before(times, at),
                end: at,
                process: Process::Accumulation,
            };
            records.push(record(
                Parameter::Precipitation,
                member,
                at,
                hour.line,
                Some(interval),
            ));
        }
    }
    records
}

/// The form keeps 32 bits and metres a second, as messages do, and 18 kn would come back as 18.0000003. Limits are met exactly by
/// what is typed in knots, so values are settled on a ten-thousandth again.
pub fn settled(mut hour: HourConditions) -> HourConditions {
    const FINE: f64 = 10_000.0;
    settle(&mut hour.wind, |wind| Wind {
        speed: Knots(to(wind.speed.0, FINE)),
        ..wind
    });
    settle(&mut hour.gust, |gust| Knots(to(gust.0, FINE)));
    settle(&mut hour.wave_height, |wave| Metres(to(wave.0, FINE)));
    settle(&mut hour.wave_period, |period| Seconds(to(period.0, FINE)));
    settle(&mut hour.air, |air| Celsius(to(air.0, FINE)));
    settle(&mut hour.dew_point, |dew| Celsius(to(dew.0, FINE)));
    settle(&mut hour.water, |water| Celsius(to(water.0, FINE)));
    settle(&mut hour.visibility, |visibility| Metres(to(visibility.0, 10.0)));
    settle(&mut hour.rain_mm_per_h, |rain| to(rain, FINE));
    settle(&mut hour.cape_j_per_kg, |cape| to(cape, 100.0));
    hour
}

fn settle<T: Copy>(known: &mut Known<T>, with: impl Fn(T) -> T) {
    if let Ok(reading) = known {
        reading.value = with(reading.value);
    }
}

fn to(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}
