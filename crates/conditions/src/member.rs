//! The members of one wind source: what each says at an instant, all elements together.
//!
//! Owns: how elements of several sources make one hour, and the worst of several points. Must not know: limits, calls.

use crate::corrections::{self, Corrected};
use crate::element::Element;
use crate::hour::{HourConditions, Known, Missing, Notes, Reading};
use crate::prepared::{self, GustKind, PreparedRun, Value};
use crate::select;
use crate::venue::Span;
use chrono::{DateTime, DurationRound, TimeDelta, Utc};
use club::{Policy, Venue};
use forecast::{Gap, Member, SourceId};
use seaway::{Celsius, DirectionFrom, Hectopascals, Knots, Metres, MetresPerSecond, Seconds, Wind};
use std::sync::Arc;

/// A run, or why the source has none to use.
pub(crate) type Run = Result<Arc<PreparedRun>, Missing>;

/// What all member sets of a venue share.
#[derive(Debug)]
pub(crate) struct Context {
    pub(crate) venue: Venue,
    pub(crate) policy: Policy,
    pub(crate) now: DateTime<Utc>,
    pub(crate) span: Span,
    pub(crate) waves: Vec<Run>,
    pub(crate) weather: Vec<Run>,
}

/// The members of one wind source, each with all elements.
#[derive(Clone, Debug)]
pub struct MemberSet {
    /// The source of wind and gust.
    pub source: SourceId,
    /// The reference time of its run; none where no wind run is at hand.
    pub reference: Option<DateTime<Utc>>,
    /// Its members, ascending.
    pub members: Vec<Member>,
    pub(crate) wind: Run,
    pub(crate) context: Arc<Context>,
}

/// A value at the point of the venue where it is worst.
#[derive(Clone, Debug)]
pub(crate) struct AtPoint<T> {
    pub(crate) point: usize,
    pub(crate) value: T,
}

impl MemberSet {
    pub(crate) fn of_run(run: Arc<PreparedRun>, context: Arc<Context>) -> Self {
        Self {
            source: run.source.clone(),
            reference: Some(run.reference),
            members: run.members.clone(),
            wind: Ok(run),
            context,
        }
    }

    pub(crate) fn without_wind(why: Missing, context: Arc<Context>) -> Self {
        let source = why.source.clone().unwrap_or_else(|| SourceId::new("none"));
        Self {
            source,
            reference: None,
            members: vec![Member(0)],
            wind: Err(why),
            context,
        }
    }

    /// What one member says at an instant.
    pub fn at(&self, member: Member, time: DateTime<Utc>) -> HourConditions {
        HourConditions {
            time,
            wind: self
                .wind(member, time)
                .map(|(run, at)| reading(&run, at.value.value, at.value.notes)),
            gust: self
                .gust(member, time)
                .map(|(run, at)| reading(&run, at.value.value, at.value.notes)),
            wave_height: self.known(Element::WaveHeight, member, time, Metres),
            wave_period: self.known(Element::WavePeriod, member, time, Seconds),
            wave_from: self.known(Element::WaveFrom, member, time, DirectionFrom::new),
            steepness: self.steepness(member, time),
            stream: None,
            air: self.known(Element::Air, member, time, Celsius),
            dew_point: self.known(Element::DewPoint, member, time, Celsius),
            visibility: self.known(Element::Visibility, member, time, Metres),
            rain_mm_per_h: self.known(Element::Rain, member, time, |rate| rate),
            cape_j_per_kg: self.known(Element::Cape, member, time, |energy| energy),
            water: self.known(Element::Water, member, time, Celsius),
            pressure: self.known(Element::Pressure, member, time, Hectopascals),
        }
    }

    /// The whole hours of the span that lie between the first and the last step of the wind's run.
    pub fn hours_of_run(&self) -> Vec<DateTime<Utc>> {
        let Some((first, last)) = self.wind.as_ref().ok().and_then(|run| run.span()) else {
            return Vec::new();
        };
        let hour = TimeDelta::hours(1);
        let (from, to) = (first.max(self.context.span.0), last.min(self.context.span.1));
        let Ok(whole) = from.duration_trunc(hour) else {
            return Vec::new();
        };
        let start = if whole < from { whole + hour } else { whole };
        std::iter::successors(Some(start), |time| Some(*time + hour))
            .take_while(|time| *time <= to)
            .collect()
    }

    /// Whether the set is an ensemble: more than one member.
    pub fn is_ensemble(&self) -> bool {
        self.members.len() > 1
    }

    /// The wind's run and the member's row in it, if the run may be used for the instant.
    fn wind_run(&self, member: Member, time: DateTime<Utc>) -> Result<(Arc<PreparedRun>, usize), Missing> {
        let run = self.wind.as_ref().map_err(Clone::clone)?;
        let row = self.usable(run, member, time).map_err(|gap| missing(run, gap))?;
        Ok((run.clone(), row))
    }

    fn usable(&self, run: &PreparedRun, member: Member, time: DateTime<Utc>) -> Result<usize, Gap> {
        let context = &self.context;
        if select::too_old(&context.policy, run.reference, context.now, time) {
            return Err(Gap::RunTooOld);
        }
        run.row(member).ok_or(Gap::NotThere)
    }

    /// The mean wind at the windiest point.
    pub(crate) fn wind(
        &self,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<(Arc<PreparedRun>, AtPoint<Corrected<Wind>>), Missing> {
        let (run, row) = self.wind_run(member, time)?;
        let windiest = worst(
            run.points.len(),
            |point| self.wind_at(&run, point, row, time),
            |(_, mean)| mean.value.speed.0,
        );
        let AtPoint {
            point,
            value: (_, mean),
        } = windiest.map_err(|hidden| hidden.missing(&run, |(_, mean)| mean.value.speed.0))?;
        Ok((run, AtPoint { point, value: mean }))
    }

    /// The gust at the gustiest point.
    pub(crate) fn gust(
        &self,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<(Arc<PreparedRun>, AtPoint<Corrected<Knots>>), Missing> {
        let (run, row) = self.wind_run(member, time)?;
        let gustiest = worst(
            run.points.len(),
            |point| self.gust_at(&run, point, row, time),
            |gust| gust.value.0,
        );
        let at = gustiest.map_err(|hidden| hidden.missing(&run, |gust| gust.value.0))?;
        Ok((run, at))
    }

    /// The wind at one point before and after its correction.
    fn wind_at(
        &self,
        run: &PreparedRun,
        point: usize,
        row: usize,
        time: DateTime<Utc>,
    ) -> Result<(Wind, Corrected<Wind>), Gap> {
        let (placed, speed) = run.wind(point, row, time)?;
        let [east, north] = placed.value;
        let from = Wind::from_components(MetresPerSecond(east), MetresPerSecond(north)).from;
        let wind = Wind {
            speed: Knots::from(MetresPerSecond(speed)),
            from,
        };
        Ok((
            wind,
            corrections::mean_wind(&self.context.venue, wind, prepared::notes(placed)),
        ))
    }

    fn gust_at(
        &self,
        run: &PreparedRun,
        point: usize,
        row: usize,
        time: DateTime<Utc>,
    ) -> Result<Corrected<Knots>, Gap> {
        let wind = self.wind_at(run, point, row, time);
        if run.gust_kind == GustKind::None {
            let (uncorrected, mean) = wind?;
            return Ok(corrections::estimated_gust(
                &self.context.venue,
                &self.context.policy,
                uncorrected,
                &mean,
            ));
        }
        let gust = run.gust(point, row, time)?;
        // A gust is worth knowing where the mean is missing: it may break a limit by itself.
        Ok(corrections::given_gust(
            corrections::in_knots(gust),
            gust.notes,
            wind.ok().as_ref().map(|wind| &wind.1),
        ))
    }

    /// Height over length; flat water is not steep.
    fn steepness(&self, member: Member, time: DateTime<Utc>) -> Known<f64> {
        let height = self.known(Element::WaveHeight, member, time, Metres)?;
        let period = self.known(Element::WavePeriod, member, time, Seconds)?;
        let flat = (height.value.0 == 0.0).then_some(0.0);
        let value = seaway::waves::steepness(height.value, period.value).or(flat);
        // Waves without a period are no sea.
        let damaged = || Missing {
            gap: Gap::Damaged,
            source: Some(height.source.clone()),
            reference: Some(height.reference),
            elsewhere: None,
        };
        Ok(Reading {
            value: value.ok_or_else(damaged)?,
            source: height.source.clone(),
            reference: height.reference,
            notes: height.notes,
        })
    }

    fn known<T>(
        &self,
        element: Element,
        member: Member,
        time: DateTime<Utc>,
        unit: impl Fn(f64) -> T,
    ) -> Known<T> {
        let (run, at) = self.element(element, member, time)?;
        Ok(reading(&run, unit(at.value.number), at.value.notes))
    }

    /// Any element but wind and gust, at the worst point, from the first source that has it.
    ///
    /// What the ensemble gives itself is the member's own, and its gap stays a gap. What it lacks comes from the policy's
    /// sources for the element, in their order.
    pub(crate) fn element(
        &self,
        element: Element,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<(Arc<PreparedRun>, AtPoint<Value>), Missing> {
        if let Ok(own) = &self.wind
            && self.is_ensemble()
            && own.offers(element)
        {
            let at = self
                .scalar(own, element, member, time)
                .map_err(|hidden| hidden.missing(own, |value| value.number))?;
            return Ok((own.clone(), at));
        }
        let sources = if element.is_of_waves() {
            &self.context.waves
        } else {
            &self.context.weather
        };
        let mut why = Missing {
            gap: Gap::NoRun,
            source: None,
            reference: None,
            elsewhere: None,
        };
        for run in sources {
            let found = match run {
                Ok(run) => self
                    .scalar(run, element, member, time)
                    .map_err(|hidden| hidden.missing(run, |value| value.number)),
                Err(missing) => Err(missing.clone()),
            };
            match (found, run) {
                (Ok(mut at), Ok(run)) => {
                    at.value.notes.no_spread = self.is_ensemble() && run.members.len() == 1;
                    return Ok((run.clone(), at));
                }
                // The first source's reason is told, unless it is only that it never has the element.
                (Err(gap), _) if why.source.is_none() || why.gap == Gap::NotInFeed => why = gap,
                _ => {}
            }
        }
        Err(why)
    }

    fn scalar(
        &self,
        run: &PreparedRun,
        element: Element,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<AtPoint<Value>, Hidden<Value>> {
        let row = self.usable(run, member, time)?;
        if !run.offers(element) {
            return Err(Gap::NotInFeed.into());
        }
        let value_at = |point| run.scalar(element, point, row, time);
        if matches!(element, Element::WavePeriod | Element::WaveFrom) {
            // Height, period and direction are of one sea: that of the roughest point.
            let height = |point| run.scalar(Element::WaveHeight, point, row, time);
            let point = worst(run.points.len(), height, |height| height.number).map_or(0, |at| at.point);
            return Ok(AtPoint {
                point,
                value: value_at(point)?,
            });
        }
        worst(run.points.len(), value_at, |value| {
            element.badness([value.number, 0.0])
        })
    }
}

/// Why the worst of several points cannot be told, and the worst of those that are known.
struct Hidden<T> {
    gap: Gap,
    known: Option<Box<AtPoint<T>>>,
}

impl<T> From<Gap> for Hidden<T> {
    fn from(gap: Gap) -> Self {
        Self { gap, known: None }
    }
}

impl<T> Hidden<T> {
    fn missing(self, run: &PreparedRun, number: impl Fn(&T) -> f64) -> Missing {
        Missing {
            elsewhere: self.known.map(|at| number(&at.value)),
            ..missing(run, self.gap)
        }
    }
}

/// The worst of several points. While one of them is missing the worst cannot be told, and the value is missing; the
/// worst of the others is told beside it.
fn worst<T>(
    points: usize,
    value_at: impl Fn(usize) -> Result<T, Gap>,
    badness: impl Fn(&T) -> f64,
) -> Result<AtPoint<T>, Hidden<T>> {
    let (mut known, mut gap): (Option<AtPoint<T>>, Option<Gap>) = (None, None);
    for point in 0..points {
        match value_at(point) {
            Ok(value) => {
                let is_worse = |known: &AtPoint<T>| badness(&value) > badness(&known.value);
                if known.as_ref().is_none_or(is_worse) {
                    known = Some(AtPoint { point, value });
                }
            }
            Err(found) => {
                gap.get_or_insert(found);
            }
        }
    }
    match (known, gap) {
        (Some(known), None) => Ok(known),
        (known, gap) => Err(Hidden {
            gap: gap.unwrap_or(Gap::OutsideGrid),
            known: known.map(Box::new),
        }),
    }
}

fn missing(run: &PreparedRun, gap: Gap) -> Missing {
    Missing {
        gap,
        source: Some(run.source.clone()),
        reference: Some(run.reference),
        elsewhere: None,
    }
}

fn reading<T>(run: &PreparedRun, value: T, notes: Notes) -> Reading<T> {
    Reading {
        value,
        source: run.source.clone(),
        reference: run.reference,
        notes,
    }
}
