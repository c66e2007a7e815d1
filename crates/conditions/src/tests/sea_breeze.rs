//! The sea breeze to plan for. No source: common practice; the numbers are the policy's (5 degrees, 10 kn, 12:00 to 18:00, 15 and 20).

use super::support::*;
use crate::{Correction, Element, HourConditions, VenueConditions};
use chrono_tz::Tz;
use club::waters::SeaBreeze;
use forecast::{Gap, Member, Parameter, Process, Sample};
use seaway::DirectionFrom;

/// The land lies a degree inland, on a node of its own.
const LAND: (f64, f64) = (41.0, -9.0);

fn beach(zone: Tz) -> club::Venue {
    club::Venue {
        sea_breeze: Some(SeaBreeze {
            zone,
            land: place(LAND.0, LAND.1),
            onshore_from: DirectionFrom::new(180.0),
        }),
        ..venue(&[(40.0, -10.0)])
    }
}

/// Wind of so much from 300 with gusts of 11, land and sea of so many degrees Celsius, from 00 UTC on.
fn run(speed: f64, land: Sample, sea: Sample) -> Run {
    let kelvin = |sample: Sample| sample.map(|celsius| celsius + 273.15);
    Run::new("gfs", 2, 2, 1, &[0, 6, 12, 18, 24])
        .wind(speed, 300.0)
        .constant(Parameter::Gust, 11.0 * MS)
        .field(Parameter::AirTemperature, move |place, _, _| {
            if place == (1, 1) { kelvin(land) } else { Ok(288.15) }
        })
        .field(Parameter::SurfaceTemperature, move |_, _, _| kelvin(sea))
}

fn raining(run: Run, rain: Sample) -> Run {
    run.by_step(Parameter::Precipitation, &[rain; 5]).intervals(
        Parameter::Precipitation,
        Process::Accumulation,
        |step| (step > 0).then(|| (step - 6, step)),
    )
}

fn hour_of(run: &Run, hours: f64) -> HourConditions {
    hour(&beach(Tz::UTC), &[run], hours)
}

#[track_caller]
fn breezes(hour: &HourConditions) {
    let (wind, gust) = (
        hour.wind.as_ref().expect("known"),
        hour.gust.as_ref().expect("known"),
    );
    near(wind.value.speed.0, 15.0);
    near(wind.value.from.degrees(), 180.0);
    near(gust.value.0, 20.0);
    assert!(wind.notes.sea_breeze && gust.notes.sea_breeze);
}

#[track_caller]
fn stays(hour: &HourConditions, speed: f64) {
    let (wind, gust) = (
        hour.wind.as_ref().expect("known"),
        hour.gust.as_ref().expect("known"),
    );
    near(wind.value.speed.0, speed);
    near(wind.value.from.degrees(), 300.0);
    near(gust.value.0, 11.0);
    assert!(!wind.notes.sea_breeze && !gust.notes.sea_breeze);
}

#[test]
fn land_five_degrees_warmer_than_the_sea_makes_one() {
    breezes(&hour_of(&run(8.0, Ok(23.0), Ok(18.0)), 13.0));
    stays(&hour_of(&run(8.0, Ok(22.9), Ok(18.0)), 13.0), 8.0);
    // The air over the sea, 15 degrees, has no part in it.
    stays(&hour_of(&run(8.0, Ok(15.0), Ok(18.0)), 13.0), 8.0);
}

#[test]
fn only_under_ten_knots_of_other_wind() {
    breezes(&hour_of(&run(9.9, Ok(24.0), Ok(18.0)), 13.0));
    stays(&hour_of(&run(10.1, Ok(24.0), Ok(18.0)), 13.0), 10.1);
}

#[test]
fn from_noon_to_six_by_the_clock_of_the_club() {
    let run = run(8.0, Ok(24.0), Ok(18.0));
    let at = |zone, hours| hour(&beach(zone), &[&run], hours);
    stays(&at(Tz::UTC, 11.98), 8.0);
    breezes(&at(Tz::UTC, 12.0));
    // Up to the last step of the assembled span only: 12 UTC and later lie within the run.
    breezes(&at(Tz::UTC, 18.0));
    stays(&at(Tz::UTC, 18.02), 8.0);
    // Madeira keeps UTC+1 in May: noon is 11 UTC, six is 17 UTC.
    stays(&at(Tz::Atlantic__Madeira, 10.98), 8.0);
    breezes(&at(Tz::Atlantic__Madeira, 11.0));
    breezes(&at(Tz::Atlantic__Madeira, 17.0));
    stays(&at(Tz::Atlantic__Madeira, 17.02), 8.0);
}

#[test]
fn not_in_the_rain_and_never_ruled_out_by_ignorance() {
    let warm = || run(8.0, Ok(24.0), Ok(18.0));
    // 1.2 mm in six hours are 0.2 mm/h; 0.5 mm 0.083 mm/h.
    stays(&hour_of(&raining(warm(), Ok(1.2)), 13.0), 8.0);
    breezes(&hour_of(&raining(warm(), Ok(0.5)), 13.0));
    breezes(&hour_of(&raining(warm(), Err(Gap::Damaged)), 13.0));
    breezes(&hour_of(&run(8.0, Err(Gap::Damaged), Ok(18.0)), 13.0));
    breezes(&hour_of(&run(8.0, Ok(15.0), Err(Gap::NotThere)), 13.0));
    // The land's nodes were not fetched.
    let mut near_only = warm();
    near_only.slice.nodes.truncate(1);
    breezes(&hour_of(&near_only, 13.0));
    // Without a wind there is none to plan by.
    let mut windless = warm();
    windless.slice.nodes.iter_mut().for_each(|series| {
        series.fields.retain(|field| field.parameter != Parameter::WindU);
    });
    assert!(hour_of(&windless, 13.0).wind.is_err());
}

#[test]
fn what_blows_harder_than_the_breeze_stays() {
    // Gusts of 24 from squalls: the mean is the breeze's, the gust the forecast's.
    let squally = Run::new("gfs", 2, 2, 1, &[0, 6, 12, 18, 24])
        .wind(8.0, 300.0)
        .constant(Parameter::Gust, 24.0 * MS);
    let hour = hour_of(&squally, 13.0);
    near(hour.wind.expect("known").value.speed.0, 15.0);
    let gust = hour.gust.expect("known");
    near(gust.value.0, 24.0);
    assert!(!gust.notes.sea_breeze);
}

#[test]
fn the_account_tells_the_breeze() {
    let run = run(8.0, Ok(24.0), Ok(18.0));
    let slices = [run.slice.clone()];
    let conditions = VenueConditions::assemble(
        &beach(Tz::UTC),
        &policy(),
        &slices,
        run_time(),
        (at_h(0.0), at_h(24.0)),
    );
    let trace = conditions
        .governing()
        .trace(&slices, Element::Wind, Member(0), at_h(13.0));
    near(trace.value.expect("known"), 15.0);
    let [
        Correction::SeaBreeze {
            planned_kn,
            warmer_c: Some(warmer),
        },
    ] = trace.corrections[..]
    else {
        panic!("{:?}", trace.corrections);
    };
    near(planned_kn, 15.0);
    near(warmer, 6.0);
}
