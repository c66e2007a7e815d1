//! The sea of an instant: the wave model's or what the local wind raises over the venue's fetch, and what a stream makes of it.
//!
//! Owns: which of the two seas counts, and how the stream is laid on it. Must not know: the formulas (`seaway::wave_current`,
//! `seaway::wave_growth`), limits.

use crate::asked::Asked;
use crate::corrections::Corrected;
use crate::element::Element;
use crate::elements::Found;
use crate::fetch::Raised;
use crate::hour::{Known, Missing, Stream};
use crate::member;
use crate::prepared::PreparedRun;
use crate::trace::Correction;
use crate::winds::Winds;
use crate::worst::AtPoint;
use forecast::Gap;
use seaway::wave_current::{SeaOnStream, height_when_breaking, sea_on_stream, stream_along_waves};
use seaway::waves::BREAKING_STEEPNESS;
use seaway::{DirectionFrom, Metres, MetresPerSecond, Seconds};

/// Less stream than this along the waves changes nothing, m/s: a stream square to them leaves what rounding leaves.
const LEAST_ALONG: f64 = 0.002;

/// One sea: height, period and direction belong together.
pub(crate) struct Sea {
    /// Significant height, m.
    pub(crate) height: Found<f64>,
    /// Period, s. A steady stream changes the length of waves and not the period they pass a fixed place with.
    pub(crate) period: Found<f64>,
    /// Where it comes from, degrees.
    pub(crate) from: Found<f64>,
    /// Height over length.
    pub(crate) steepness: Known<f64>,
}

/// What a stream makes of a sea.
struct OnStream {
    height: f64,
    steepness: f64,
    breaking: bool,
}

impl Asked<'_> {
    /// The sea.
    pub(crate) fn sea(&self, winds: &Winds) -> Sea {
        let mut sea = match (&self.set.context.venue.fetch, &winds.raised) {
            (Some(fetch), Some(raised)) if fetch.alone => Sea::raised(raised, None),
            (Some(_), Some(raised)) => larger(self.modelled(), raised),
            _ => self.modelled(),
        };
        match &self.stream {
            None => sea.steepness = sea.still_steepness(),
            Some(Ok(stream)) => sea.run_into(stream.value, winds.from),
            Some(Err(missing)) => sea.hide(missing),
        }
        sea
    }

    /// The wave model's.
    fn modelled(&self) -> Sea {
        let element = |element| self.set.element(element, self.member, self.time);
        Sea {
            height: element(Element::WaveHeight),
            period: element(Element::WavePeriod),
            from: element(Element::WaveFrom),
            steepness: Err(nothing_yet()),
        }
    }
}

/// The larger of the model's sea and the one the local wind raises. While one of them is missing the larger cannot be told; the
/// sea is at least as high as the other.
fn larger(model: Sea, raised: &Found<Raised>) -> Sea {
    match (&model.height, raised) {
        (Ok((_, model_at)), Ok((_, raised_at))) => {
            let by_model = model_at.value.value;
            if raised_at.value.value.sea.height.0 > by_model {
                Sea::raised(raised, Some(by_model))
            } else {
                model
            }
        }
        (Ok((_, at)), Err(missing)) => Sea::missing(missing, Some(at.value.value)),
        (Err(missing), Ok((_, at))) => Sea::missing(missing, Some(at.value.value.sea.height.0)),
        (Err(missing), Err(too)) => Sea::missing(missing, too.elsewhere),
    }
}

impl Sea {
    /// The sea that the local wind raises, in place of the model's.
    fn raised(found: &Found<Raised>, model_m: Option<f64>) -> Self {
        let of = |number: fn(&Raised) -> f64| match found {
            Ok((run, at)) => {
                let raised = &at.value.value;
                let mut value = Corrected::not_yet(number(raised), at.value.notes);
                value.corrections.push(Correction::ByFetch {
                    wind_kn: raised.wind.speed.0,
                    from_deg: raised.from.degrees(),
                    model_m,
                });
                let point = at.point;
                Ok((run.clone(), AtPoint { point, value }))
            }
            Err(missing) => Err(missing.clone()),
        };
        Self {
            height: of(|raised| raised.sea.height.0),
            period: of(|raised| raised.sea.period.0).map_err(without_elsewhere),
            from: of(|raised| raised.from.degrees()).map_err(without_elsewhere),
            steepness: Err(nothing_yet()),
        }
    }

    /// No sea, but one that is at least so high.
    fn missing(why: &Missing, at_least: Option<f64>) -> Self {
        let nothing = without_elsewhere(why.clone());
        Self {
            height: Err(Missing {
                elsewhere: larger_known(why.elsewhere, at_least),
                ..why.clone()
            }),
            period: Err(nothing.clone()),
            from: Err(nothing.clone()),
            steepness: Err(nothing),
        }
    }

    /// The height cannot be told, and is at least what it is without what hides it.
    fn hide(&mut self, why: &Missing) {
        let known = match &self.height {
            Ok((_, at)) => Some(at.value.value),
            Err(missing) => missing.elsewhere,
        };
        self.height = Err(Missing {
            elsewhere: known,
            ..why.clone()
        });
        self.steepness = Err(without_elsewhere(why.clone()));
    }

    /// Height over length on still water; flat water is not steep.
    fn still_steepness(&self) -> Known<f64> {
        let (run, height) = self.height.as_ref().map_err(hidden_steepness)?;
        let value = match height.value.value {
            0.0 => Some(0.0),
            height_m => {
                let period = self.period.as_ref().map_err(hidden_steepness)?.1.value.value;
                seaway::waves::steepness(Metres(height_m), Seconds(period))
            }
        };
        // Waves without a period are no sea.
        let value = value.ok_or_else(|| damaged(run))?;
        Ok(member::reading(run, value, height.value.notes))
    }

    /// What a stream makes of it. One that the sea runs with lowers it in theory and not here: the stream may turn earlier than the
    /// table says, and what is kinder on paper is no reason to go.
    fn run_into(&mut self, stream: Stream, wind_from: Option<DirectionFrom>) {
        self.steepness = self.still_steepness();
        let Ok((run, height)) = &self.height else { return };
        let still_m = height.value.value;
        if still_m == 0.0 || stream.rate.0 == 0.0 {
            return;
        }
        // Where nobody tells where the waves come from they are taken to come with the wind.
        let from = match &self.from {
            Ok((_, at)) => Some(DirectionFrom::new(at.value.value)),
            Err(_) => wind_from,
        };
        let along = from.map(|from| stream_along_waves(stream.rate, stream.set, from));
        if along.is_some_and(|along| along.0 > -LEAST_ALONG) {
            return;
        }
        let found = match (along, &self.period, &self.from) {
            (Some(along), Ok((_, period)), _) => {
                let period = Seconds(period.value.value);
                on_stream(Metres(still_m), period, along).ok_or_else(|| damaged(run))
            }
            (Some(_), Err(missing), _) | (None, _, Err(missing)) => Err(missing.clone()),
            (None, _, Ok(_)) => Err(damaged(run)),
        };
        match found {
            Ok(found) => self.raise(still_m, &found),
            Err(missing) => self.hide(&without_elsewhere(missing)),
        }
    }

    fn raise(&mut self, still_m: f64, found: &OnStream) {
        let Ok((run, height)) = &mut self.height else {
            return;
        };
        let ratio = found.height / still_m;
        let corrected = &mut height.value;
        corrected.value = found.height;
        corrected.notes.sea_on_stream = Some(ratio);
        corrected.notes.breaking = found.breaking;
        corrected.corrections.push(if found.breaking {
            Correction::Breaking { ratio }
        } else {
            Correction::SeaOnStream { ratio }
        });
        self.steepness = Ok(member::reading(run, found.steepness, corrected.notes));
    }
}

/// The sea on a stream that runs against it: never lower nor less steep than on still water. Where the waves break or are blocked
/// they stand as high as they can before they do, so that a stronger stream never makes a kinder sea.
fn on_stream(still: Metres, period: Seconds, along: MetresPerSecond) -> Option<OnStream> {
    let still_steepness = seaway::waves::steepness(still, period)?;
    let (height, steepness, breaking) = match sea_on_stream(still, period, along)? {
        SeaOnStream::Runs { height, length } => (height, height.0 / length.0, false),
        SeaOnStream::Breaks | SeaOnStream::Blocked => {
            (height_when_breaking(still, period)?, BREAKING_STEEPNESS, true)
        }
    };
    Some(OnStream {
        height: height.max(still).0,
        steepness: steepness.max(still_steepness),
        breaking,
    })
}

fn larger_known(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    one.into_iter().chain(other).reduce(f64::max)
}

fn without_elsewhere(missing: Missing) -> Missing {
    Missing {
        elsewhere: None,
        ..missing
    }
}

/// A steepness is missing as its ingredient is; what is known of that elsewhere is no steepness.
fn hidden_steepness(missing: &Missing) -> Missing {
    without_elsewhere(missing.clone())
}

fn damaged(run: &PreparedRun) -> Missing {
    crate::worst::missing(run, Gap::Damaged)
}

fn nothing_yet() -> Missing {
    Missing {
        gap: Gap::NotThere,
        source: None,
        reference: None,
        elsewhere: None,
    }
}
