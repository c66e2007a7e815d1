//! One member, one outing: from instants to a call.
//!
//! Owns: an instant's call, with or without its findings, and the outing's. Must not know: how a value is measured,
//! probabilities. Calls and findings come of the same measuring, so that what is counted is what is told.

use crate::call::Call;
use crate::criteria::{Criterion, Finding, Stage, Unknown, judge, origins_of, why_missing};
use crate::numbers::HourNumbers;
use crate::outing::Outing;
use crate::yardstick::{Held, Measure, Yardstick};
use chrono::{DateTime, Utc};
use club::Quantity;
use conditions::{HourConditions, Notes};
use seaway::Knots;
use serde::Serialize;
use std::rc::Rc;

/// One instant assessed.
#[derive(Clone, Debug, Serialize)]
pub struct HourAssessment {
    /// The instant.
    pub at: DateTime<Utc>,
    /// Its call.
    pub call: Call,
    /// Three marginal criteria made it a no-go.
    pub accumulated: bool,
    /// What was judged.
    pub findings: Vec<Finding>,
    /// What could not be.
    pub unknown: Vec<Unknown>,
    /// Mean wind judged; none if it is not known.
    pub mean: Option<Knots>,
}

/// One member's outing assessed.
#[derive(Clone, Debug, Serialize)]
pub struct Assessment {
    /// The worst of its instants and of the daylight, the hour of overrun softened.
    pub call: Call,
    /// The instants out.
    pub hours: Vec<HourAssessment>,
    /// The hour of overrun.
    pub overrun: Vec<HourAssessment>,
    /// The daylight, if the level limits it.
    pub daylight: Option<Finding>,
    /// Most of the time there is too little wind to sail.
    pub light: bool,
}

impl Assessment {
    /// Every finding of the outing, the overrun's softened to cautions.
    pub fn findings(&self) -> impl Iterator<Item = Finding> + '_ {
        let out = self.hours.iter().flat_map(|hour| hour.findings.iter().cloned());
        let over = self
            .overrun
            .iter()
            .flat_map(|hour| hour.findings.iter().cloned())
            .map(|mut finding| {
                finding.call = finding.call.softened();
                finding
            });
        out.chain(over).chain(self.daylight.clone())
    }
}

/// An outing laid out for judging: what it is measured by, its instants, its daylight. Made once for all members.
pub struct Judge<'a> {
    /// The outing.
    pub outing: Outing<'a>,
    yardstick: Yardstick<'a>,
    instants: Vec<(DateTime<Utc>, Stage)>,
    /// How many of the instants are out; the others are of the overrun.
    out: usize,
    daylight: Option<Finding>,
}

impl<'a> Judge<'a> {
    /// Lays out an outing.
    pub fn new(outing: &Outing<'a>) -> Self {
        let mut instants = outing.staged();
        let out = instants.len();
        instants.extend(outing.overrun().into_iter().map(|at| (at, Stage::UNDER_WAY)));
        Self {
            outing: *outing,
            yardstick: Yardstick::new(outing),
            instants,
            out,
            daylight: daylight(outing),
        }
    }

    /// The instants that a call is made from, those of the overrun last.
    pub fn instants(&self) -> impl ExactSizeIterator<Item = DateTime<Utc>> + '_ {
        self.instants.iter().map(|(at, _)| *at)
    }

    /// Assesses one member by what it says at each instant, in the order of [`Judge::instants`].
    pub fn assess(&self, conditions: &[Rc<HourConditions>]) -> Assessment {
        let mut looks = self
            .instants
            .iter()
            .zip(conditions)
            .map(|(&(at, stage), hour)| self.hour(hour, at, stage));
        let hours: Vec<_> = looks.by_ref().take(self.out).collect();
        let overrun: Vec<_> = looks.collect();
        let worst = hours.iter().map(|hour| hour.call).fold(Call::Go, Call::worst);
        let over = overrun.iter().map(|hour| hour.call.softened());
        Assessment {
            call: over.fold(worst, Call::worst).worst(self.dark()),
            light: self.is_light(&hours),
            hours,
            overrun,
            daylight: self.daylight.clone(),
        }
    }

    /// The call of one member by its numbers and lift at each instant, in the order of [`Judge::instants`].
    pub fn call<'n>(&self, numbers: impl Iterator<Item = (&'n HourNumbers, f64)>) -> Call {
        let mut worst = self.dark();
        for (index, (&(at, stage), (hour, lift))) in self.instants.iter().zip(numbers).enumerate() {
            let call = self.call_at(at, hour, stage, lift);
            worst = worst.worst(if index < self.out { call } else { call.softened() });
        }
        worst
    }

    /// The call of one instant.
    pub fn call_at(&self, at: DateTime<Utc>, hour: &HourNumbers, stage: Stage, lift: f64) -> Call {
        let mut fold = Fold::default();
        let lifted = hour.lifted(lift);
        self.yardstick.measure(at, &lifted, stage, lift, |held| {
            fold.take(&held);
        });
        fold.call(self.outing.level.accumulate)
    }

    /// One instant with its findings.
    fn hour(&self, conditions: &HourConditions, at: DateTime<Utc>, stage: Stage) -> HourAssessment {
        let numbers = HourNumbers::from(conditions);
        let (mut findings, mut unknown) = (Vec::new(), Vec::new());
        let mut fold = Fold::default();
        self.yardstick.measure(at, &numbers, stage, 0.0, |held| {
            let call = fold.take(&held);
            let criterion = held.criterion;
            let origins = origins_of(criterion, conditions);
            let value = match held.measure {
                Measure::Value(value) => Some(value),
                Measure::Missing(elsewhere) => {
                    let missing = why_missing(&origins);
                    unknown.push(Unknown {
                        criterion,
                        missing,
                        at,
                    });
                    // A limit that is not broken elsewhere says nothing: then only the unknown counts.
                    elsewhere.known().filter(|_| call == Call::NoGo)
                }
            };
            let known = origins.iter().flatten().find_map(|origin| origin.clone().ok());
            let elsewhere = || {
                let missing = why_missing(&origins);
                Some((missing.source?, missing.reference?, Notes::default()))
            };
            let (from, notes) = match known.or_else(elsewhere) {
                Some((source, run, notes)) => (Some((source, run)), notes),
                None => (None, Notes::default()),
            };
            findings.extend(value.map(|value| Finding {
                criterion,
                call,
                value,
                limit: held.limit,
                at,
                origin: from,
                notes,
                tightened: held.tightened,
            }));
        });
        HourAssessment {
            at,
            call: fold.call(self.outing.level.accumulate),
            accumulated: fold.accumulates(self.outing.level.accumulate),
            findings,
            unknown,
            mean: numbers.mean.known().map(Knots),
        }
    }

    fn dark(&self) -> Call {
        self.daylight.as_ref().map_or(Call::Go, |finding| finding.call)
    }

    fn is_light(&self, hours: &[HourAssessment]) -> bool {
        let light_below = self.outing.level.light_below;
        let light = hours
            .iter()
            .filter(|hour| hour.mean.is_some_and(|mean| mean < light_below))
            .count();
        2 * light > hours.len()
    }
}

/// What the criteria of one instant come to.
#[derive(Clone, Copy)]
struct Fold {
    worst: Call,
    unknown: bool,
    /// Some criterion of the wind is marginal: wind and gust, the level's or the table's, count once.
    wind: bool,
    /// How many others are.
    others: u8,
}

impl Default for Fold {
    fn default() -> Self {
        Self {
            worst: Call::Go,
            unknown: false,
            wind: false,
            others: 0,
        }
    }
}

impl Fold {
    /// Takes a criterion in; what it makes of the instant alone. A limit that is broken where something is known is
    /// broken, whatever is missing elsewhere.
    fn take(&mut self, held: &Held) -> Call {
        let lower_is_worse = held.criterion.lower_is_worse();
        let call = match held.measure {
            Measure::Value(value) => judge(value, held.limit, lower_is_worse),
            Measure::Missing(elsewhere) => {
                self.unknown = true;
                let known = elsewhere
                    .known()
                    .map(|value| judge(value, held.limit, lower_is_worse));
                known.filter(|call| *call == Call::NoGo).unwrap_or(Call::Go)
            }
        };
        if call == Call::Marginal {
            if held.criterion.is_of_wind() {
                self.wind = true;
            } else {
                self.others += 1;
            }
        }
        self.worst = self.worst.worst(call);
        call
    }

    /// Three marginal criteria are a no-go for a level that says so.
    fn accumulates(self, accumulate: bool) -> bool {
        accumulate && self.worst == Call::Marginal && self.others + u8::from(self.wind) >= 3
    }

    fn call(self, accumulate: bool) -> Call {
        let judged = if self.accumulates(accumulate) {
            Call::NoGo
        } else {
            self.worst
        };
        if self.unknown {
            judged.worst(Call::NoCall)
        } else {
            judged
        }
    }
}

/// Row to carry for a wind: the table's, moved on by the level's extra reefs as far as the table goes.
pub fn carried_row(outing: &Outing<'_>, mean: Knots, gust: Knots) -> Option<usize> {
    let row = outing.boat.row_for(mean, gust)?;
    let last = outing.boat.reef_table.rows().len() - 1;
    Some((row + usize::from(outing.level.extra_reefs)).min(last))
}

/// Minutes of daylight left on being alongside; on leaving before sunrise, minutes until it (negative).
fn daylight(outing: &Outing<'_>) -> Option<Finding> {
    let limit = *outing.level.limits.get(&Quantity::DaylightMargin)?;
    let minutes = |span: chrono::TimeDelta| span.num_seconds() as f64 / 60.0;
    let value = match (outing.sun.rises, outing.sun.sets) {
        (Some(rises), _) if outing.leaves < rises => minutes(outing.leaves - rises),
        (_, Some(sets)) => minutes(sets - outing.alongside),
        // No sunset that day: dark all day, or light all day.
        (_, None) if outing.sun.always_down => f64::NEG_INFINITY,
        (_, None) => return None,
    };
    let value = value.max(-24.0 * 60.0);
    let criterion = Criterion::Limit(Quantity::DaylightMargin);
    let call = judge(value, limit, true);
    Some(Finding {
        criterion,
        call,
        value,
        limit,
        at: outing.alongside,
        origin: None,
        notes: Notes::default(),
        tightened: 1.0,
    })
}
