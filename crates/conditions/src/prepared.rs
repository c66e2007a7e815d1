//! One run interpolated to a venue's points, for every member and step, once.
//!
//! Owns: what a run offers and how each element is read at an instant. Must not know: which source serves what,
//! corrections, limits.

use crate::element::{Components, Element};
use crate::hour::Notes;
use crate::select;
use crate::space::{self, LandMask, Spot};
use crate::timeline::{self, Place, Placed, Timeline, Window};
use crate::windows;
use chrono::{DateTime, TimeDelta, Utc};
use club::model::Venue;
use forecast::{Gap, Interval, Member, Parameter, RunSlice, SourceId, Step};
use seaway::LatLon;
use std::collections::{BTreeMap, HashMap};

/// Gust maxima of longer intervals are good for early views only.
const LONGEST_GUST_INTERVAL: TimeDelta = TimeDelta::hours(3);

/// How a source gives its gusts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum GustKind {
    /// Not at all.
    None,
    /// Of an instant.
    Instant,
    /// The maximum of an interval.
    Maximum,
}

/// One run at a venue's points.
#[derive(Debug)]
pub(crate) struct PreparedRun {
    pub(crate) source: SourceId,
    pub(crate) reference: DateTime<Utc>,
    pub(crate) members: Vec<Member>,
    pub(crate) steps: Vec<Step>,
    pub(crate) timeline: Timeline,
    pub(crate) gust_kind: GustKind,
    pub(crate) points: Vec<PreparedPoint>,
    /// The land whose warmth drives the venue's sea breeze, if it has one.
    inland: Option<PreparedPoint>,
    pub(crate) land: LandMask,
    /// Whether the source's model covers a region only: its runs are old sooner.
    pub(crate) regional: bool,
}

/// One point of the venue.
#[derive(Debug)]
pub(crate) struct PreparedPoint {
    pub(crate) name: String,
    pub(crate) place: LatLon,
    pub(crate) spot: Spot,
    /// For each element the run offers: members by steps.
    series: BTreeMap<Element, Vec<Place>>,
    /// Gust maxima, by member; empty where gusts are of instants.
    gusts: Vec<Vec<Window>>,
    /// Rain rates, by member.
    rain: Vec<Vec<Window>>,
}

/// A number with its notes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Value {
    pub(crate) number: f64,
    pub(crate) notes: Notes,
}

impl PreparedRun {
    /// Interpolates a slice to every point of a venue. `all` are the slices whose land masks may serve.
    pub(crate) fn new(slice: &RunSlice, venue: &Venue, all: &[&RunSlice]) -> Self {
        let land = space::land_mask(slice, all);
        let timeline = Timeline::new(slice.steps.iter().map(|&step| slice.valid_time(step)).collect());
        let offered: Vec<Element> = Element::ALL
            .into_iter()
            .filter(|&element| offers(slice, element))
            .collect();
        let intervals = Intervals::of(slice);
        let gust_kind = match (offered.contains(&Element::Gust), intervals.any(Parameter::Gust)) {
            (false, _) => GustKind::None,
            (true, false) => GustKind::Instant,
            (true, true) => GustKind::Maximum,
        };
        let mut run = Self {
            source: slice.source.clone(),
            reference: slice.reference,
            members: slice.members.clone(),
            steps: slice.steps.clone(),
            timeline,
            gust_kind,
            points: Vec::new(),
            inland: None,
            land,
            regional: select::is_regional(slice.source.as_str()),
        };
        run.points = venue
            .points
            .iter()
            .map(|point| run.point(slice, point, &offered, &intervals))
            .collect();
        run.inland = venue
            .sea_breeze
            .filter(|_| offered.contains(&Element::Air))
            .map(|breeze| {
                let land = club::model::ForecastPoint {
                    name: String::new(),
                    at: breeze.land,
                };
                run.point(slice, &land, &[Element::Air], &intervals)
            });
        run
    }

    fn point(
        &self,
        slice: &RunSlice,
        point: &club::model::ForecastPoint,
        offered: &[Element],
        intervals: &Intervals,
    ) -> PreparedPoint {
        let spot = space::locate(point.at, slice);
        let count = self.members.len() * self.steps.len();
        let series: BTreeMap<Element, Vec<Place>> = offered
            .iter()
            .map(|&element| {
                let at = |flat| space::blend(slice, &spot, &self.land, element, flat).map(Placed::from);
                (element, (0..count).map(at).collect())
            })
            .collect();
        let by_member = |element, parameter, make: fn(&[windows::Step]) -> Vec<Window>| {
            let Some(places) = series.get(&element) else {
                return Vec::new();
            };
            (0..self.members.len())
                .map(|member| make(&self.steps_of(places, intervals, parameter, member)))
                .collect()
        };
        let gusts = if self.gust_kind == GustKind::Maximum {
            by_member(Element::Gust, Parameter::Gust, windows::of_maxima)
        } else {
            Vec::new()
        };
        let rain = by_member(Element::Rain, Parameter::Precipitation, windows::of_accumulations);
        PreparedPoint {
            name: point.name.clone(),
            place: point.at,
            spot,
            series,
            gusts,
            rain,
        }
    }

    fn steps_of(
        &self,
        places: &[Place],
        intervals: &Intervals,
        parameter: Parameter,
        member: usize,
    ) -> Vec<windows::Step> {
        let count = self.steps.len();
        (0..count)
            .map(|step| windows::Step {
                time: self.timeline.times()[step],
                interval: intervals.get(parameter, self.members[member], self.steps[step]),
                value: places[member * count + step],
            })
            .collect()
    }

    /// Whether the run offers an element at all.
    pub(crate) fn offers(&self, element: Element) -> bool {
        self.points
            .iter()
            .any(|point| point.series.contains_key(&element))
    }

    /// The row of a member; a run with one member serves everyone.
    pub(crate) fn row(&self, member: Member) -> Option<usize> {
        if self.members.len() == 1 {
            Some(0)
        } else {
            self.members.iter().position(|&known| known == member)
        }
    }

    /// First and last instant.
    pub(crate) fn span(&self) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
        Some((*self.timeline.times().first()?, *self.timeline.times().last()?))
    }

    fn series(&self, point: usize, element: Element, row: usize) -> Result<&[Place], Gap> {
        self.series_of(&self.points[point], element, row)
    }

    fn series_of<'a>(&self, at: &'a PreparedPoint, element: Element, row: usize) -> Result<&'a [Place], Gap> {
        let series = at.series.get(&element).ok_or(Gap::NotInFeed)?;
        Ok(&series[row * self.steps.len()..(row + 1) * self.steps.len()])
    }

    /// The air over the land that drives the sea breeze, degrees Celsius.
    pub(crate) fn air_inland(&self, row: usize, time: DateTime<Utc>) -> Result<f64, Gap> {
        let inland = self.inland.as_ref().ok_or(Gap::NotInFeed)?;
        let series = self.series_of(inland, Element::Air, row)?;
        let placed = timeline::at_moment(Element::Air, series, self.timeline.find(time)?)?;
        Ok(Element::Air.number(placed.value))
    }

    /// The components of an element at one point, in the unit of the messages.
    pub(crate) fn components(
        &self,
        element: Element,
        point: usize,
        row: usize,
        time: DateTime<Utc>,
    ) -> Result<Components, Gap> {
        let series = self.series(point, element, row)?;
        Ok(timeline::at_moment(element, series, self.timeline.find(time)?)?.value)
    }

    /// The mean wind at one point: components as a value to take the direction from, and the speed limits see, m/s.
    pub(crate) fn wind(&self, point: usize, row: usize, time: DateTime<Utc>) -> Result<(Placed, f64), Gap> {
        let series = self.series(point, Element::Wind, row)?;
        timeline::wind_at_moment(series, self.timeline.find(time)?)
    }

    /// The gust as the source gives it at one point, m/s. Not to be asked of a source without gust.
    pub(crate) fn gust(&self, point: usize, row: usize, time: DateTime<Utc>) -> Result<Value, Gap> {
        match self.gust_kind {
            GustKind::None => Err(Gap::NotInFeed),
            GustKind::Instant => {
                let series = self.series(point, Element::Gust, row)?;
                Ok(value(
                    Element::Gust,
                    timeline::at_moment(Element::Gust, series, self.timeline.find(time)?)?,
                ))
            }
            GustKind::Maximum => {
                let window = self.gust_window(point, row, time)?;
                let mut gust = value(Element::Gust, window.value?);
                gust.notes.long_gust_interval = window.end - window.start > LONGEST_GUST_INTERVAL;
                Ok(gust)
            }
        }
    }

    /// The gust maximum that counts at an instant.
    pub(crate) fn gust_window(&self, point: usize, row: usize, time: DateTime<Utc>) -> Result<&Window, Gap> {
        self.window(&self.points[point].gusts, row, time)
    }

    /// The rain rate that counts at an instant.
    pub(crate) fn rain_window(&self, point: usize, row: usize, time: DateTime<Utc>) -> Result<&Window, Gap> {
        self.window(&self.points[point].rain, row, time)
    }

    fn window<'a>(
        &self,
        by_member: &'a [Vec<Window>],
        row: usize,
        time: DateTime<Utc>,
    ) -> Result<&'a Window, Gap> {
        let (first, last) = self.span().ok_or(Gap::NotThere)?;
        if time > last {
            return Err(Gap::BeyondRun);
        }
        if time < first {
            return Err(Gap::NotThere);
        }
        timeline::largest_of_windows(by_member.get(row).ok_or(Gap::NotInFeed)?, time)
    }

    /// Any element but wind and gust at one point, in its own unit.
    pub(crate) fn scalar(
        &self,
        element: Element,
        point: usize,
        row: usize,
        time: DateTime<Utc>,
    ) -> Result<Value, Gap> {
        let series = self.series(point, element, row)?;
        if element == Element::Rain {
            return Ok(value(element, self.rain_window(point, row, time)?.value?));
        }
        Ok(value(
            element,
            timeline::at_moment(element, series, self.timeline.find(time)?)?,
        ))
    }
}

/// A placed value in its element's unit, with the notes it carries.
pub(crate) fn value(element: Element, placed: Placed) -> Value {
    Value {
        number: element.number(placed.value),
        notes: notes(placed),
    }
}

pub(crate) fn notes(placed: Placed) -> Notes {
    Notes {
        offshore: placed.offshore,
        no_land_mask: placed.no_land_mask,
        ..Notes::default()
    }
}

/// Whether a run gives every parameter of an element somewhere, be it only a damaged one.
fn offers(slice: &RunSlice, element: Element) -> bool {
    element.parameters().iter().all(|&parameter| {
        slice.nodes.iter().flat_map(|series| &series.fields).any(|field| {
            field.parameter == parameter && field.samples.iter().any(|sample| *sample != Err(Gap::NotInFeed))
        })
    })
}

/// The intervals of a run's messages.
struct Intervals(HashMap<(Parameter, Member, Step), Interval>);

impl Intervals {
    fn of(slice: &RunSlice) -> Self {
        let entries = slice.messages.iter().filter_map(|message| {
            Some((
                (message.parameter, message.member, message.step),
                message.interval?,
            ))
        });
        Self(entries.collect())
    }

    fn any(&self, parameter: Parameter) -> bool {
        self.0
            .iter()
            .any(|(key, interval)| key.0 == parameter && interval.start < interval.end)
    }

    fn get(&self, parameter: Parameter, member: Member, step: Step) -> Option<Interval> {
        self.0.get(&(parameter, member, step)).copied()
    }
}
