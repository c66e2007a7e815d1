//! The account of a value: run, steps, nodes, messages, corrections.

use super::support::*;
use crate::{Correction, Element, VenueConditions};
use forecast::{Gap, Member, Parameter, Process, Step};

fn traced(run: &Run, element: Element, hours: f64) -> crate::Trace {
    let slices = [run.slice.clone()];
    let mut venue = venue(&[(40.25, -9.5)]);
    venue.wind_sectors.push(sector(180.0, 360.0, 1.1));
    let conditions =
        VenueConditions::assemble(&venue, &policy(), &slices, run_time(), (at_h(0.0), at_h(6.0)));
    conditions
        .governing()
        .trace(&slices, element, Member(0), at_h(hours))
}

#[test]
fn a_wind_is_traced_to_messages_nodes_and_corrections() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).winds(&[(10.0, 270.0), (16.0, 270.0)]);
    let trace = traced(&run, Element::Wind, 1.0);
    // A third of the way: 12 kn, times 1.1 = 13.2 kn.
    near(trace.value.expect("known"), 13.2);
    assert_eq!(trace.corrections, [Correction::SectorFactor { factor: 1.1 }]);
    assert_eq!(trace.point.as_deref(), Some("point 0"));
    let told: Vec<_> = trace
        .steps
        .iter()
        .map(|step| (step.parameter, step.step))
        .collect();
    let (u, v) = (Parameter::WindU, Parameter::WindV);
    assert_eq!(told, [(u, Step(0)), (v, Step(0)), (u, Step(3)), (v, Step(3))]);
    near(trace.steps[0].weight, 2.0 / 3.0);
    near(trace.steps[2].weight, 1.0 / 3.0);
    near(trace.steps[2].value.expect("known"), 16.0 * MS);
    let message = trace.steps[2].message.as_ref().expect("a message");
    assert_eq!(
        (message.file.as_str(), message.offset, message.length),
        ("f003", 300, 100)
    );
    // 40.25 N: three quarters to each node of the southern row, halved between the columns.
    let weights: Vec<f64> = trace.steps[0].nodes.iter().map(|node| node.weight).collect();
    assert_eq!(weights, [0.375, 0.375, 0.125, 0.125]);
    // The account adds up: the weighted samples are the step's value.
    let sum: f64 = trace.steps[2]
        .nodes
        .iter()
        .map(|node| node.weight * f64::from(node.sample.expect("a sample")))
        .sum();
    near(sum, trace.steps[2].value.expect("known"));
}

#[test]
fn every_element_has_the_value_of_the_hour() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(10.0, 270.0)
        .constant(Parameter::Visibility, 4000.0)
        .constant(Parameter::Gust, 15.0 * MS);
    let gust = traced(&run, Element::Gust, 1.0);
    near(gust.value.expect("known"), 16.5);
    assert_eq!(gust.steps.len(), 2);
    near(
        traced(&run, Element::Visibility, 1.0).value.expect("known"),
        4000.0,
    );
}

#[test]
fn an_estimated_gust_is_traced_through_the_mean() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(10.0, 90.0);
    let trace = traced(&run, Element::Gust, 1.0);
    near(trace.value.expect("known"), 12.5);
    assert_eq!(trace.corrections, [Correction::EstimatedGust { factor: 1.25 }]);
    assert!(trace.steps.iter().any(|step| step.parameter == Parameter::WindU));
}

#[test]
fn rain_is_traced_to_both_accumulations() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 1, 2])
        .wind(10.0, 90.0)
        .by_step(Parameter::Precipitation, &[Err(Gap::NotInFeed), Ok(1.0), Ok(4.0)])
        .intervals(Parameter::Precipitation, Process::Accumulation, |step| {
            (step > 0).then_some((0, step))
        });
    let trace = traced(&run, Element::Rain, 1.5);
    near(trace.value.expect("known"), 3.0);
    let steps: Vec<_> = trace.steps.iter().map(|step| step.step).collect();
    assert_eq!(steps, [Step(1), Step(2)]);
}

#[test]
fn a_missing_value_is_traced_to_the_message_that_was_not_there() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .by_step(Parameter::WindU, &[Ok(5.0), Err(Gap::Damaged)])
        .constant(Parameter::WindV, 0.0);
    let trace = traced(&run, Element::Wind, 1.0);
    assert_eq!(trace.value.expect_err("missing").gap, Gap::Damaged);
    let damaged: Vec<_> = trace
        .steps
        .iter()
        .filter(|step| step.value == Err(Gap::Damaged))
        .collect();
    assert!(damaged.iter().any(|step| {
        step.message
            .as_ref()
            .is_some_and(|message| message.file == "f003" && message.parameter == Parameter::WindU)
    }));
}
