//! The account of one value, computed again from the slice it came from.
//!
//! Owns: gathering what [`crate::Trace`] tells. Must not know: how it is printed. It asks the same functions that made the
//! value, so that the account cannot tell another story.

use crate::asked::Asked;
use crate::element::Element;
use crate::elements::Found;
use crate::hour::{Missing, Notes};
use crate::member::MemberSet;
use crate::prepared::{GustKind, PreparedRun};
use crate::space;
use crate::trace::{Correction, Trace, TracedNode, TracedStep};
use chrono::{DateTime, Utc};
use forecast::{Gap, Member, RunSlice};
use std::sync::Arc;

/// What is accounted for: the run, the point that counted, the number, the notes, the corrections.
struct Told {
    run: Arc<PreparedRun>,
    point: usize,
    number: f64,
    notes: Notes,
    corrections: Vec<Correction>,
}

impl Told {
    fn of<T>(found: Found<T>, number: impl Fn(&T) -> f64) -> Result<Self, Missing> {
        found.map(|(run, at)| Self {
            run,
            point: at.point,
            number: number(&at.value.value),
            notes: at.value.notes,
            corrections: at.value.corrections.all().collect(),
        })
    }

    /// The element whose messages the value was made from: a sea that the wind raises is the wind's.
    fn made_from(&self, element: Element) -> Element {
        let by_fetch = |done: &Correction| matches!(done, Correction::ByFetch { .. });
        if self.corrections.iter().any(by_fetch) {
            Element::Wind
        } else {
            element
        }
    }
}

impl MemberSet {
    /// How the value of one element came about for one member and instant. The slices are those the conditions were
    /// assembled from; a slice that is no longer among them leaves the steps empty, never the value.
    pub fn trace(&self, slices: &[RunSlice], element: Element, member: Member, time: DateTime<Utc>) -> Trace {
        let found = self.told(element, member, time);
        // A missing value is accounted for too, at the venue's first point: which message was the one that was not there.
        let (at, of) = match &found {
            Ok(found) => (Some((found.run.clone(), found.point)), found.made_from(element)),
            Err(missing) => (self.run_of(missing).map(|run| (run, 0)), element),
        };
        let steps = at.as_ref().map_or_else(Vec::new, |(run, point)| {
            steps(slices, run, *point, of, member, time)
        });
        let (notes, corrections) = match &found {
            Ok(found) => (found.notes, found.corrections.clone()),
            Err(_) => (Notes::default(), Vec::new()),
        };
        Trace {
            element,
            time,
            run: at.map(|(run, _)| (run.source.clone(), run.reference)),
            member,
            point: found
                .as_ref()
                .ok()
                .map(|found| found.run.points[found.point].name.clone()),
            steps,
            corrections,
            value: found.map(|found| found.number),
            notes,
        }
    }

    fn told(&self, element: Element, member: Member, time: DateTime<Utc>) -> Result<Told, Missing> {
        let asked = Asked::new(self, member, time);
        let number = |number: &f64| *number;
        match element {
            Element::Wind => Told::of(asked.winds().mean, |wind| wind.speed.0),
            Element::Gust => Told::of(asked.winds().gust, |gust| gust.0),
            Element::WaveHeight => Told::of(asked.sea(&asked.winds()).height, number),
            Element::WavePeriod => Told::of(asked.sea(&asked.winds()).period, number),
            Element::WaveFrom => Told::of(asked.sea(&asked.winds()).from, number),
            _ => Told::of(self.element(element, member, time), number),
        }
    }

    fn run_of(&self, missing: &Missing) -> Option<Arc<PreparedRun>> {
        let context = &self.context;
        std::iter::once(&self.wind)
            .chain(&context.waves)
            .chain(&context.weather)
            .filter_map(|run| run.as_ref().ok())
            .find(|run| {
                Some(&run.source) == missing.source.as_ref() && Some(run.reference) == missing.reference
            })
            .cloned()
    }
}

fn steps(
    slices: &[RunSlice],
    run: &PreparedRun,
    point: usize,
    element: Element,
    member: Member,
    time: DateTime<Utc>,
) -> Vec<TracedStep> {
    let slice = slices
        .iter()
        .find(|slice| slice.source == run.source && slice.reference == run.reference);
    let (Some(slice), Some(row)) = (slice, run.row(member)) else {
        return Vec::new();
    };
    // A source without gust gives its gust through the mean.
    let told = if element == Element::Gust && run.gust_kind == GustKind::None {
        Element::Wind
    } else {
        element
    };
    let used = used_steps(run, point, told, row, time).unwrap_or_default();
    used.iter()
        .flat_map(|&(step, weight)| {
            let account = Account {
                slice,
                run,
                point,
                element: told,
                row,
                step,
                weight,
            };
            (0..told.parameters().len()).map(move |part| account.step(part))
        })
        .collect()
}

/// The steps whose messages count at an instant, with their weights.
fn used_steps(
    run: &PreparedRun,
    point: usize,
    element: Element,
    row: usize,
    time: DateTime<Utc>,
) -> Result<Vec<(usize, f64)>, Gap> {
    let window = match element {
        Element::Rain => Some(run.rain_window(point, row, time)),
        Element::Gust if run.gust_kind == GustKind::Maximum => Some(run.gust_window(point, row, time)),
        _ => None,
    };
    match window {
        Some(Ok(window)) => Ok(window.steps.iter().map(|&step| (step, 1.0)).collect()),
        _ => {
            let moment = run.timeline.find(time)?;
            let linear = element.in_time() == crate::element::InTime::Linear && element != Element::Rain;
            let weight_of = |weight| if linear { weight } else { 1.0 };
            Ok(moment
                .steps()
                .map(|(step, weight)| (step, weight_of(weight)))
                .collect())
        }
    }
}

#[derive(Clone, Copy)]
struct Account<'a> {
    slice: &'a RunSlice,
    run: &'a PreparedRun,
    point: usize,
    element: Element,
    row: usize,
    step: usize,
    weight: f64,
}

impl Account<'_> {
    fn step(&self, part: usize) -> TracedStep {
        let parameter = self.element.parameters()[part];
        let (run, slice) = (self.run, self.slice);
        let (member, step) = (run.members[self.row], run.steps[self.step]);
        let flat = self.row * run.steps.len() + self.step;
        let spot = &run.points[self.point].spot;
        let blend = space::blend(slice, spot, &run.land, self.element, flat);
        let nodes = match &blend {
            Ok(blend) => blend.nodes.clone(),
            Err(_) => spot.corners.clone().unwrap_or_default(),
        };
        TracedStep {
            parameter,
            step,
            valid: run.timeline.times()[self.step],
            weight: self.weight,
            value: blend.map(|blend| match self.element {
                Element::WaveFrom => self.element.number(blend.value),
                _ => blend.value[part],
            }),
            turned_to_true_north: slice.has_turned_vectors() && parameter.is_component(),
            nodes: nodes
                .into_iter()
                .map(|(node, weight)| TracedNode {
                    node: slice.nodes[node].node,
                    weight,
                    sample: space::sample(slice, node, parameter, flat),
                })
                .collect(),
            message: slice.message(parameter, member, step).cloned(),
        }
    }
}
