//! Wind, gust and the sea they raise, for one member at one instant.
//!
//! Owns: in which order the corrections are laid on a wind, and the worst of several points. Must not know: the corrections
//! themselves, wave models, limits.

use crate::asked::Asked;
use crate::corrections::{self, Corrected};
use crate::elements::Found;
use crate::fetch::{self, Raised};
use crate::front;
use crate::hour::{Known, Missing, Stream};
use crate::member::MemberSet;
use crate::prepared::{self, GustKind, PreparedRun};
use crate::stream::opposing;
use crate::worst::{Short, Worst, missing};
use chrono::{DateTime, Utc};
use forecast::{Gap, Member};
use seaway::{DirectionFrom, Knots, MetresPerSecond, Wind};
use std::sync::Arc;

/// What the winds of an instant are.
pub(crate) struct Winds {
    /// The mean wind at the windiest point.
    pub(crate) mean: Found<Wind>,
    /// The gust at the gustiest point.
    pub(crate) gust: Found<Knots>,
    /// The highest sea over the venue's fetch; none where it has no fetch.
    pub(crate) raised: Option<Found<Raised>>,
    /// Where the wind at the first point comes from, whatever a stream does to its speed.
    pub(crate) from: Option<DirectionFrom>,
}

/// The wind at one point.
struct PointWind {
    /// As the source gives it.
    uncorrected: Wind,
    /// After the sector factor.
    sheltered: Corrected<Wind>,
    /// After the sea breeze too.
    mean: Corrected<Wind>,
}

impl MemberSet {
    /// The wind's run and the member's row in it, if the run may be used for the instant.
    fn wind_run(&self, member: Member, time: DateTime<Utc>) -> Result<(&Arc<PreparedRun>, usize), Missing> {
        let run = self.wind.as_ref().map_err(Clone::clone)?;
        let row = self.usable(run, member, time).map_err(|gap| missing(run, gap))?;
        Ok((run, row))
    }
}

impl Asked<'_> {
    /// Wind and gust of the instant, each at its worst point.
    pub(crate) fn winds(&self) -> Winds {
        let fetch = self.set.context.venue.fetch.as_ref();
        let (run, row) = match self.set.wind_run(self.member, self.time) {
            Ok(found) => found,
            Err(missing) => {
                return Winds {
                    gust: Err(missing.clone()),
                    raised: fetch.map(|_| Err(missing.clone())),
                    mean: Err(missing),
                    from: None,
                };
            }
        };
        let (mut means, mut gusts, mut seas) = (Worst::new(), Worst::new(), Worst::new());
        let mut from = None;
        for point in 0..run.points.len() {
            let wind = self.wind_at(run, point, row);
            gusts.take(point, self.gust_at(run, point, row, &wind), |gust| gust.value.0);
            if let Some(fetch) = fetch {
                let sea = wind
                    .as_ref()
                    .map_err(|gap| *gap)
                    .and_then(|wind| fetch::raised(fetch, wind.mean.value));
                seas.take(point, sea, |sea| sea.sea.height.0);
            }
            from = from.or(wind.as_ref().ok().map(|wind| wind.mean.value.from));
            let mean = wind.map_err(Short::from).and_then(|wind| {
                let from = wind.mean.value;
                on_stream(wind.mean, from, self.stream.as_ref(), |wind| &mut wind.speed)
            });
            means.take(point, mean, |mean| mean.value.speed.0);
        }
        let of_run = |at| (run.clone(), at);
        Winds {
            mean: means
                .found()
                .map(of_run)
                .map_err(|hidden| hidden.missing(run, |mean| mean.value.speed.0)),
            gust: gusts
                .found()
                .map(|at| (run.clone(), at))
                .map_err(|hidden| hidden.missing(run, |gust| gust.value.0)),
            raised: fetch.map(|_| match seas.found() {
                Ok(at) => Ok((run.clone(), fetch::at_point(at))),
                Err(hidden) => Err(hidden.missing(run, |sea| sea.sea.height.0)),
            }),
            from,
        }
    }

    fn wind_at(&self, run: &PreparedRun, point: usize, row: usize) -> Result<PointWind, Gap> {
        let context = &self.set.context;
        let (placed, speed) = run.wind(point, row, self.time)?;
        let [east, north] = placed.value;
        let uncorrected = Wind {
            speed: Knots::from(MetresPerSecond(speed)),
            from: Wind::from_components(MetresPerSecond(east), MetresPerSecond(north)).from,
        };
        let sheltered = corrections::mean_wind(&context.venue, uncorrected, prepared::notes(placed));
        let breeze = self
            .breeze()
            .filter(|breeze| breeze.rises_in(&context.policy, uncorrected));
        Ok(PointWind {
            uncorrected,
            mean: match breeze {
                Some(breeze) => corrections::breeze_mean(&context.policy, breeze, sheltered),
                None => sheltered,
            },
            sheltered,
        })
    }

    fn gust_at(
        &self,
        run: &PreparedRun,
        point: usize,
        row: usize,
        wind: &Result<PointWind, Gap>,
    ) -> Result<Corrected<Knots>, Short<Corrected<Knots>>> {
        let context = &self.set.context;
        let (venue, policy) = (&context.venue, &context.policy);
        let known = wind.as_ref().ok();
        let mut gust = if run.gust_kind == GustKind::None {
            let wind = wind.as_ref().map_err(|gap| *gap)?;
            corrections::estimated_gust(venue, policy, wind.uncorrected, &wind.sheltered)
        } else {
            let gust = run.gust(point, row, self.time)?;
            let sheltered = known.map(|wind| &wind.sheltered);
            corrections::given_gust(corrections::in_knots(gust), gust.notes, sheltered)
        };
        let Some(wind) = known else {
            // A gust is worth knowing where the mean is missing: it may break a limit by itself. How much of a stream runs against
            // it cannot be told.
            let gap = wind.as_ref().err().copied().filter(|_| self.stream.is_some());
            return gap.map_or(Ok(gust), |gap| Err(Short::at_least(gust, gap)));
        };
        let front = front::veer(policy, run, (point, row), self.time, wind.uncorrected.from);
        let mut hidden = None;
        match front {
            Ok(Some(veer)) if self.may_rain() => gust = corrections::front_gust(policy, gust, veer),
            // The wind before is not known, and it rains: a front cannot be ruled out.
            Err(gap) if self.may_rain() => hidden = Some(gap),
            _ => {}
        }
        if let Some(breeze) = self
            .breeze()
            .filter(|breeze| breeze.rises_in(policy, wind.uncorrected))
        {
            gust = corrections::breeze_gust(policy, breeze, wind.mean.value, gust);
        }
        let gust = on_stream(gust, wind.mean.value, self.stream.as_ref(), |gust| gust)?;
        hidden.map_or(Ok(gust), |gap| Err(Short::at_least(gust, gap)))
    }
}

/// A wind or gust with what a stream against the wind adds; not known where the stream is not, but known to be at least what it
/// is without.
fn on_stream<T>(
    value: Corrected<T>,
    wind: Wind,
    stream: Option<&Known<Stream>>,
    speed: impl Fn(&mut T) -> &mut Knots,
) -> Result<Corrected<T>, Short<Corrected<T>>> {
    match stream {
        None => Ok(value),
        Some(Err(missing)) => Err(Short::at_least(value, missing.gap)),
        Some(Ok(stream)) => Ok(match opposing(stream.value, wind) {
            Some(against) => corrections::add_opposing(value, against, speed),
            None => value,
        }),
    }
}
