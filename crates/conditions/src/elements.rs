//! Which source gives an element, and its value at the worst point.
//!
//! Owns: the order of sources for each element. Must not know: corrections, limits.

use crate::corrections::Corrected;
use crate::element::Element;
use crate::hour::Missing;
use crate::member::{MemberSet, Run};
use crate::prepared::PreparedRun;
use crate::worst::{AtPoint, Hidden, worst};
use chrono::{DateTime, Utc};
use forecast::{Gap, Member};
use std::sync::Arc;

/// A value at the worst point with its run, or why there is none.
pub(crate) type Found<T> = Result<(Arc<PreparedRun>, AtPoint<Corrected<T>>), Missing>;

impl MemberSet {
    /// Any element but wind and gust, at the worst point, from the first source that has it.
    ///
    /// What the ensemble gives itself is the member's own, and its gap stays a gap. What it lacks comes from the policy's
    /// sources for the element, in their order.
    pub(crate) fn element(&self, element: Element, member: Member, time: DateTime<Utc>) -> Found<f64> {
        if let Some(own) = self.own(element) {
            let at = self
                .scalar(own, element, member, time)
                .map_err(|hidden| hidden.missing(own, |value| value.value))?;
            return Ok((own.clone(), at));
        }
        let mut why = Missing {
            gap: Gap::NoRun,
            source: None,
            reference: None,
            elsewhere: None,
        };
        for run in self.sources_of(element) {
            let found = match run {
                Ok(run) => self
                    .scalar(run, element, member, time)
                    .map_err(|hidden| hidden.missing(run, |value| value.value)),
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

    /// The air over the land that drives the sea breeze, degrees Celsius, from the first source that has it.
    pub(crate) fn air_inland(&self, member: Member, time: DateTime<Utc>) -> Option<f64> {
        let air = |run: &PreparedRun| {
            let row = self.usable(run, member, time).ok()?;
            run.air_inland(row, time).ok()
        };
        match self.own(Element::Air) {
            Some(own) => air(own),
            None => self
                .sources_of(Element::Air)
                .iter()
                .find_map(|run| air(run.as_ref().ok()?)),
        }
    }

    /// The ensemble's own run, where it gives an element.
    fn own(&self, element: Element) -> Option<&Arc<PreparedRun>> {
        let own = self.wind.as_ref().ok().filter(|_| self.is_ensemble())?;
        own.offers(element).then_some(own)
    }

    fn sources_of(&self, element: Element) -> &[Run] {
        if element.is_of_waves() {
            &self.context.waves
        } else {
            &self.context.weather
        }
    }

    fn scalar(
        &self,
        run: &PreparedRun,
        element: Element,
        member: Member,
        time: DateTime<Utc>,
    ) -> Result<AtPoint<Corrected<f64>>, Hidden<Corrected<f64>>> {
        let row = self.usable(run, member, time)?;
        if !run.offers(element) {
            return Err(Gap::NotInFeed.into());
        }
        let value_at = |point| {
            let value = run.scalar(element, point, row, time)?;
            Ok(Corrected::not_yet(value.number, value.notes))
        };
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
            element.badness([value.value, 0.0])
        })
    }
}
