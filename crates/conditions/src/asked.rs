//! One member at one instant, with what several rules ask about it, each found out once.
//!
//! Owns: the rain, the stream and the sea breeze of that instant. Must not know: winds, waves, limits.

use crate::Notes;
use crate::element::Element;
use crate::elements::Found;
use crate::hour::{Known, Missing, Reading, Stream};
use crate::member::MemberSet;
use crate::sea_breeze::{self, Breeze};
use crate::stream;
use crate::worst::Worst;
use chrono::{DateTime, Utc};
use forecast::{Gap, Member};
use std::cell::OnceCell;

/// Rain above which it rains: 0.1 mm/h (no source: common practice), and what 32 bits, as messages keep values, add to it.
const RAINS_ABOVE_MM_PER_H: f64 = 0.1 + 1e-6;

/// One member at one instant.
pub(crate) struct Asked<'a> {
    pub(crate) set: &'a MemberSet,
    pub(crate) member: Member,
    pub(crate) time: DateTime<Utc>,
    /// The stream; none where nobody gives one.
    pub(crate) stream: Option<Known<Stream>>,
    rain: OnceCell<Found<f64>>,
    breeze: OnceCell<Option<Breeze>>,
}

impl<'a> Asked<'a> {
    pub(crate) fn new(set: &'a MemberSet, member: Member, time: DateTime<Utc>) -> Self {
        Self {
            set,
            member,
            time,
            stream: stream_of(set, member, time),
            rain: OnceCell::new(),
            breeze: OnceCell::new(),
        }
    }

    /// The rain of the hour.
    pub(crate) fn rain(&self) -> &Found<f64> {
        self.rain
            .get_or_init(|| self.set.element(Element::Rain, self.member, self.time))
    }

    /// Whether it may rain: rain that should be known and is not is taken for falling. Where no source gives rain at all nothing
    /// is made of it.
    pub(crate) fn may_rain(&self) -> bool {
        match self.rain() {
            Ok((_, at)) => at.value.value > RAINS_ABOVE_MM_PER_H,
            Err(missing) => missing.source.is_some() && missing.gap != Gap::NotInFeed,
        }
    }

    /// Whether it rains for sure.
    fn rains(&self) -> bool {
        match self.rain() {
            Ok((_, at)) => at.value.value > RAINS_ABOVE_MM_PER_H,
            Err(missing) => missing.elsewhere.is_some_and(|rate| rate > RAINS_ABOVE_MM_PER_H),
        }
    }

    /// The sea breeze to plan for, if the wind leaves room for it.
    pub(crate) fn breeze(&self) -> Option<Breeze> {
        *self.breeze.get_or_init(|| self.find_breeze())
    }

    fn find_breeze(&self) -> Option<Breeze> {
        let context = &self.set.context;
        let here = context.venue.sea_breeze?;
        if !sea_breeze::is_its_time(&context.policy, here.zone, self.time) || self.rains() {
            return None;
        }
        let land = self.set.air_inland(self.member, self.time);
        let sea = self.set.element(Element::Water, self.member, self.time);
        let sea = sea.ok().map(|(_, at)| at.value.value);
        let warmer_c = sea_breeze::warmth(&context.policy, land, sea).ok()?;
        Some(Breeze {
            onshore_from: here.onshore_from,
            warmer_c,
        })
    }
}

/// The stream: a run's own where one gives it, else that of the club's table.
fn stream_of(set: &MemberSet, member: Member, time: DateTime<Utc>) -> Option<Known<Stream>> {
    let context = &set.context;
    if let Some(run) = context.streams.as_ref() {
        let mut strongest = Worst::new();
        match set.usable(run, member, time) {
            Ok(row) => (0..run.points.len()).for_each(|point| {
                let stream = run.components(Element::Stream, point, row, time);
                strongest.take(point, stream.map(stream::of_metres_per_second), |stream| {
                    stream.rate.0
                });
            }),
            Err(gap) => strongest.take(0, Err(gap), |stream: &Stream| stream.rate.0),
        }
        return Some(match strongest.found() {
            Ok(at) => Ok(Reading {
                value: at.value,
                source: run.source.clone(),
                reference: run.reference,
                notes: Notes::default(),
            }),
            Err(hidden) => Err(hidden.missing(run, |stream| stream.rate.0)),
        });
    }
    let table = context.venue.stream.as_ref()?;
    let found = stream::from_table(table, &context.venue.high_waters, time);
    Some(
        found
            .map(|(value, high_water)| Reading {
                value,
                source: context.stream_table.clone(),
                reference: high_water,
                notes: Notes::default(),
            })
            .map_err(|gap| Missing {
                gap,
                source: None,
                reference: None,
                elsewhere: None,
            }),
    )
}
