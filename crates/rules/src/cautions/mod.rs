//! Cautions: what the skipper must see whatever the call. Each has its own file with its rule, its code and its hours.

pub mod berth;
pub mod clip_on;
pub mod cold;
pub mod dusk;
pub mod fog;
pub mod lee_shore;
pub mod preventer;
pub mod reef_before_leaving;
pub mod thunder;

use crate::outing::Outing;
use crate::plan::SailPlan;
use crate::verdict::VerdictHour;
use chrono::{DateTime, Utc};
use club::MooredSide;
use seaway::{Celsius, Knots, Metres, NauticalMiles};
use serde::Serialize;

/// Which caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CautionCode {
    /// Reef before leaving the berth.
    ReefBeforeLeaving,
    /// Blown on or off the berth on leaving.
    BerthLeaving,
    /// Everyone who leaves the cockpit clips on.
    ClipOn,
    /// Thunder.
    Thunder,
    /// Fog or poor visibility.
    Fog,
    /// Cold wind or water.
    Cold,
    /// A shore to leeward.
    LeeShore,
    /// A preventer on the boom.
    Preventer,
    /// Blown on or off the berth on returning.
    BerthReturning,
    /// Alongside near sunset or after it.
    Dusk,
}

impl CautionCode {
    /// Its code in documents.
    pub fn code(self) -> &'static str {
        match self {
            Self::ReefBeforeLeaving => "reef-before-leaving",
            Self::BerthLeaving => "berth-leaving",
            Self::ClipOn => "clip-on",
            Self::Thunder => "thunder",
            Self::Fog => "fog",
            Self::Cold => "cold",
            Self::LeeShore => "lee-shore",
            Self::Preventer => "preventer",
            Self::BerthReturning => "berth-returning",
            Self::Dusk => "dusk",
        }
    }
}

/// The numbers a caution is told with.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub enum CautionDetail {
    /// Row to leave with.
    Reef {
        /// Row of the boat's table.
        row: usize,
    },
    /// Wind at the berth.
    Berth {
        /// Component across the boat; positive blows her on to the pontoon, negative off it.
        towards_pontoon: Knots,
        /// Side of the fairway, going out, that is to windward; none when the wind blows along it.
        windward_side: Option<MooredSide>,
    },
    /// What makes the sea lively.
    Lively {
        /// Highest gust of those hours.
        gust: Option<Knots>,
        /// Highest wave of those hours.
        wave: Option<Metres>,
    },
    /// The air.
    Thunder {
        /// Highest CAPE of those hours, J/kg.
        cape_j_per_kg: f64,
    },
    /// The sight.
    Fog {
        /// Lowest visibility; none where only humid air speaks for fog.
        visibility: Option<Metres>,
    },
    /// The cold.
    Cold {
        /// What the air feels like in the wind, at its coldest; none if only the water is cold.
        feels_like: Option<Celsius>,
        /// The water, at its coldest; none if only the air is cold.
        water: Option<Celsius>,
    },
    /// The shore.
    Shore {
        /// Its name.
        name: String,
        /// How far it is.
        distance: NauticalMiles,
    },
    /// The deepest leg.
    Deep {
        /// True wind angle of that leg, degrees; none where no legs are given and any course may be that deep.
        true_wind_angle: Option<f64>,
        /// Learners are kept off a dead run.
        keep_off_dead_run: bool,
    },
    /// The light.
    Dusk {
        /// Sunset.
        sunset: DateTime<Utc>,
        /// Minutes from being alongside to sunset; negative after it.
        minutes_left: f64,
    },
}

/// A caution that holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CautionFound {
    /// Which.
    pub code: CautionCode,
    /// First instant it holds.
    pub from: DateTime<Utc>,
    /// Last instant it holds.
    pub to: DateTime<Utc>,
    /// Its numbers.
    pub detail: CautionDetail,
}

/// What cautions are found from.
#[derive(Clone, Copy)]
pub struct CautionView<'a> {
    /// The outing.
    pub outing: &'a Outing<'a>,
    /// Its hours; those the boat is out count.
    pub hours: &'a [VerdictHour],
    /// Passing the entrance, leaving and returning.
    pub passages: Option<&'a (VerdictHour, VerdictHour)>,
    /// Its sail plan.
    pub plan: Option<&'a SailPlan>,
}

impl CautionView<'_> {
    /// The hours the boat is out.
    pub fn out(&self) -> impl Iterator<Item = &VerdictHour> {
        self.hours.iter().filter(|hour| hour.out)
    }

    /// First and last instant out at which something holds.
    pub fn span(&self, holds: impl Fn(&VerdictHour) -> bool) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
        let mut at = self.out().filter(|hour| holds(hour)).map(|hour| hour.at);
        let first = at.next()?;
        Some((first, at.last().unwrap_or(first)))
    }
}

/// The gust that cautions look at: the ninetieth percentile where a spread is known, for a caution costs little.
pub fn cautious_gust(hour: &VerdictHour) -> Option<Knots> {
    hour.gust_spread.map(|(_, high)| high).or(hour.gust)
}

/// Every caution that holds, by code.
pub fn find_cautions(view: CautionView<'_>) -> Vec<CautionFound> {
    let mut found = Vec::new();
    found.extend(reef_before_leaving::find(view));
    found.extend(berth::leaving(view));
    found.extend(clip_on::find(view));
    found.extend(thunder::find(view));
    found.extend(fog::find(view));
    found.extend(cold::find(view));
    found.extend(lee_shore::find(view));
    found.extend(preventer::find(view));
    found.extend(berth::returning(view));
    found.extend(dusk::find(view));
    found
}
