//! Fronts: a veer with rain. No source: common practice; the numbers are the policy's (40 degrees in 3 h, gust x 1.5).

use super::support::*;
use crate::{Correction, Element, Known, VenueConditions};
use forecast::{Gap, Member, Parameter, Process, Sample};
use seaway::Knots;

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];
const STEPS: [u16; 7] = [0, 1, 2, 3, 4, 5, 6];

/// 12 kn with gusts of 16, by hour from these directions; rain by hour, mm/h.
fn run(from: [f64; 7], rain: Option<[Sample; 7]>) -> Run {
    let run = Run::new("gfs", 2, 2, 1, &STEPS)
        .winds(&from.map(|from| (12.0, from)))
        .constant(Parameter::Gust, 16.0 * MS);
    match rain {
        None => run,
        Some(rain) => run.by_step(Parameter::Precipitation, &rain).intervals(
            Parameter::Precipitation,
            Process::Accumulation,
            |step| (step > 0).then(|| (step - 1, step)),
        ),
    }
}

fn gust_of(run: &Run, hours: f64) -> Known<Knots> {
    hour(&venue(&HERE), &[run], hours).gust
}

const DRY: [Sample; 7] = [Ok(0.0); 7];
const WET: [Sample; 7] = [Ok(1.0); 7];

#[test]
fn a_veer_of_forty_degrees_in_three_hours_with_rain() {
    let steps = |to: f64| run([200.0, 200.0, 200.0, 200.0, to, to, to], Some(WET));
    // 39 degrees are not enough, 40 are; the hour three hours on compares with the wind after the veer.
    near(gust_of(&steps(239.0), 4.0).expect("known").value.0, 16.0);
    let passing = gust_of(&steps(240.1), 4.0).expect("known");
    near(passing.value.0, 24.0);
    assert_eq!(passing.notes.front, Some(1.5));
    near(gust_of(&steps(240.1), 6.0).expect("known").value.0, 24.0);
    near(gust_of(&steps(240.1), 3.0).expect("known").value.0, 16.0);
    // The mean is not touched.
    near(
        hour(&venue(&HERE), &[&steps(240.1)], 4.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        12.0,
    );
}

#[test]
fn through_north_and_three_hours_later_it_is_over() {
    let veer = run([340.0, 340.0, 30.0, 30.0, 30.0, 30.0, 30.0], Some(WET));
    near(gust_of(&veer, 2.0).expect("known").value.0, 24.0);
    near(gust_of(&veer, 4.0).expect("known").value.0, 24.0);
    near(gust_of(&veer, 5.0).expect("known").value.0, 16.0);
}

#[test]
fn it_needs_rain_above_a_tenth_of_a_millimetre() {
    let veer = [200.0, 200.0, 200.0, 200.0, 260.0, 260.0, 260.0];
    near(gust_of(&run(veer, Some(DRY)), 4.5).expect("known").value.0, 16.0);
    near(
        gust_of(&run(veer, Some([Ok(0.1); 7])), 4.5)
            .expect("known")
            .value
            .0,
        16.0,
    );
    near(
        gust_of(&run(veer, Some([Ok(0.11); 7])), 4.5)
            .expect("known")
            .value
            .0,
        24.0,
    );
    // A source that gives rain and lacks it: taken for falling. A source that never gives any: nothing is made of it.
    let lost = Some([
        Ok(0.0),
        Ok(0.0),
        Ok(0.0),
        Ok(0.0),
        Ok(0.0),
        Err(Gap::Damaged),
        Ok(0.0),
    ]);
    near(gust_of(&run(veer, lost), 4.5).expect("known").value.0, 24.0);
    near(gust_of(&run(veer, None), 4.5).expect("known").value.0, 16.0);
}

#[test]
fn south_of_the_equator_it_backs() {
    let southern = |from: [f64; 7]| {
        let mut run = run(from, Some(WET));
        for series in &mut run.slice.nodes {
            series.node.at.lat -= 80.0;
        }
        hour(&venue(&[(-39.5, -9.5)]), &[&run], 4.0)
            .gust
            .expect("known")
            .value
            .0
    };
    let (veers, backs) = (
        [200.0, 200.0, 200.0, 200.0, 260.0, 260.0, 260.0],
        [260.0, 260.0, 260.0, 260.0, 200.0, 200.0, 200.0],
    );
    near(southern(veers), 16.0);
    near(southern(backs), 24.0);
    near(gust_of(&run(backs, Some(WET)), 4.0).expect("known").value.0, 16.0);
}

#[test]
fn at_the_runs_beginning_the_first_step_is_compared_with() {
    let early = run([200.0, 250.0, 250.0, 250.0, 250.0, 250.0, 250.0], Some(WET));
    near(gust_of(&early, 1.0).expect("known").value.0, 24.0);
    near(gust_of(&early, 0.0).expect("known").value.0, 16.0);
}

#[test]
fn a_wind_before_that_is_not_known_hides_the_gust_while_it_rains() {
    let lost = |rain| {
        let run = run([200.0; 7], Some(rain));
        let mut run = run;
        for series in &mut run.slice.nodes {
            for field in &mut series.fields {
                if field.parameter == Parameter::WindU {
                    field.samples[1] = Err(Gap::Damaged);
                }
            }
        }
        gust_of(&run, 4.0)
    };
    let missing = lost(WET).expect_err("missing");
    assert_eq!(missing.gap, Gap::Damaged);
    near(missing.elsewhere.expect("without a front"), 16.0);
    near(lost(DRY).expect("known").value.0, 16.0);
}

#[test]
fn members_and_points_have_their_own_fronts() {
    // Member 1 veers by 60 degrees, member 0 by none; the rain is the finest run's, for everyone.
    let ensemble = Run::new("gefs", 2, 2, 2, &[0, 3, 6])
        .field(Parameter::WindU, |_, member, step| {
            Ok(uv_of(if member == 1 && step == 1 { 260.0 } else { 200.0 }).0)
        })
        .field(Parameter::WindV, |_, member, step| {
            Ok(uv_of(if member == 1 && step == 1 { 260.0 } else { 200.0 }).1)
        })
        .constant(Parameter::Gust, 16.0 * MS);
    let rain = run([200.0; 7], Some(WET));
    let conditions = assemble(&venue(&HERE), &[&ensemble, &rain]);
    let set = conditions.ensemble().expect("an ensemble");
    let gust = |member| set.at(Member(member), at_h(3.0)).gust.expect("known").value.0;
    near(gust(0), 16.0);
    near(gust(1), 24.0);
}

fn uv_of(from: f64) -> (f32, f32) {
    let wind = seaway::Wind {
        speed: Knots(12.0),
        from: seaway::DirectionFrom::new(from),
    };
    let (u, v) = wind.components();
    (u.0 as f32, v.0 as f32)
}

#[test]
fn the_account_tells_the_front() {
    let run = run([200.0, 200.0, 200.0, 200.0, 260.0, 260.0, 260.0], Some(WET));
    let slices = [run.slice.clone()];
    let conditions = VenueConditions::assemble(
        &venue(&HERE),
        &policy(),
        &slices,
        run_time(),
        (at_h(0.0), at_h(6.0)),
    );
    let trace = conditions
        .governing()
        .trace(&slices, Element::Gust, Member(0), at_h(4.0));
    near(trace.value.expect("known"), 24.0);
    let [Correction::Front { factor, veer_deg }] = trace.corrections[..] else {
        panic!("{:?}", trace.corrections);
    };
    near(factor, 1.5);
    near(veer_deg, 60.0);
    // An estimated gust is raised too: 12 x 1.25 x 1.5 = 22.5.
    let bare = Run::new("gfs", 2, 2, 1, &STEPS)
        .winds(&[200.0, 200.0, 200.0, 200.0, 260.0, 260.0, 260.0].map(|from| (12.0, from)))
        .by_step(Parameter::Precipitation, &WET)
        .intervals(Parameter::Precipitation, Process::Accumulation, |step| {
            (step > 0).then(|| (step - 1, step))
        });
    near(gust_of(&bare, 4.0).expect("known").value.0, 22.5);
}
