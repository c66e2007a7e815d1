//! Cautions: what the skipper must see whatever the call. Each has its own file with its rule, its code and its hours.

pub mod berth;
pub mod building;
pub mod clip_on;
pub mod cold;
pub mod dusk;
pub mod entrance;
pub mod fog;
pub mod lee_shore;
pub mod onshore_shift;
pub mod preventer;
pub mod reef_before_leaving;
pub mod thunder;
pub mod way_home;
pub mod wind_against_stream;

use crate::outing::{OVERRUN, Outing};
use crate::plan::SailPlan;
use crate::verdict::VerdictHour;
use chrono::{DateTime, Utc};
use club::MooredSide;
use seaway::{Celsius, DirectionFrom, Knots, Metres, NauticalMiles, Wind};
use serde::Serialize;

/// Which caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CautionCode {
    /// Reef before leaving the berth.
    ReefBeforeLeaving,
    /// Blown on or off the berth on leaving.
    BerthLeaving,
    /// Sea or wind against stream in the entrance on leaving.
    EntranceLeaving,
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
    /// A shore that will be to leeward.
    OnshoreShift,
    /// Wind against the tidal stream.
    WindAgainstStream,
    /// A preventer on the boom.
    Preventer,
    /// Wind that rises or turns.
    Building,
    /// Home to windward against more wind.
    WayHome,
    /// Sea or wind against stream in the entrance on returning.
    EntranceReturning,
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
            Self::EntranceLeaving => "entrance-leaving",
            Self::ClipOn => "clip-on",
            Self::Thunder => "thunder",
            Self::Fog => "fog",
            Self::Cold => "cold",
            Self::LeeShore => "lee-shore",
            Self::OnshoreShift => "onshore-shift",
            Self::WindAgainstStream => "wind-against-stream",
            Self::Preventer => "preventer",
            Self::Building => "building",
            Self::WayHome => "way-home",
            Self::EntranceReturning => "entrance-returning",
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
    /// The shore the wind turns on to.
    TurnsOnshore {
        /// Its name.
        name: String,
        /// How far it is.
        distance: NauticalMiles,
    },
    /// The stream against the wind.
    AgainstStream {
        /// Its strongest rate against the wind in those hours.
        strongest: Knots,
        /// It makes the sea break.
        breaking: bool,
    },
    /// The entrance at its passage.
    Entrance {
        /// Its name.
        name: String,
        /// The sea that runs into it; none where it is low or runs past.
        sea: Option<Metres>,
        /// The stream against the wind; none where there is too little of either.
        against: Option<Knots>,
        /// The sea breaks on the stream.
        breaking: bool,
    },
    /// The wind on leaving and after.
    Building {
        /// On leaving.
        leaving: Wind,
        /// The strongest after it, where it has risen enough.
        rise: Option<Rise>,
        /// The furthest it turns, where that is enough.
        shift: Option<Shift>,
        /// The last hour before the wind reaches the level's caution or, where it does not, before the rise (or else the turn) is
        /// complete; none where that is not after leaving.
        back_by: Option<DateTime<Utc>>,
    },
    /// The way home to windward.
    WayHome {
        /// Straight.
        distance: NauticalMiles,
        /// In tacks.
        tacked: NauticalMiles,
        /// Wind over that of leaving.
        rise: Knots,
        /// At the policy's speed made good, with its time to spare, minutes.
        takes_min: f64,
        /// When to turn for home; none where it takes longer than the session.
        turn_by: Option<DateTime<Utc>>,
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

/// The strongest wind after leaving.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rise {
    /// Its mean.
    pub to: Knots,
    /// First hour of it.
    pub at: DateTime<Utc>,
}

/// The furthest turn of the wind since leaving.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shift {
    /// By the shorter way, degrees: veering positive, backing negative.
    pub degrees: f64,
    /// Where the wind then comes from.
    pub to: DirectionFrom,
    /// First hour of it.
    pub at: DateTime<Utc>,
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

    /// The hour of leaving: the last one at or before it.
    pub fn leaving(&self) -> Option<&VerdictHour> {
        self.hours.iter().rfind(|hour| hour.at <= self.outing.leaves)
    }

    /// The hour of leaving, those out, and the hour of overrun.
    pub fn from_leaving(&self) -> impl Iterator<Item = &VerdictHour> {
        let until = self.outing.alongside + OVERRUN;
        let first = self.leaving().map(|hour| hour.at);
        let among =
            move |hour: &&VerdictHour| first.is_some_and(|first| hour.at >= first) && hour.at <= until;
        self.hours.iter().filter(among)
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
    found.extend(entrance::leaving(view));
    found.extend(clip_on::find(view));
    found.extend(thunder::find(view));
    found.extend(fog::find(view));
    found.extend(cold::find(view));
    found.extend(lee_shore::find(view));
    found.extend(onshore_shift::find(view));
    found.extend(wind_against_stream::find(view));
    found.extend(preventer::find(view));
    found.extend(building::find(view));
    found.extend(way_home::find(view));
    found.extend(entrance::returning(view));
    found.extend(berth::returning(view));
    found.extend(dusk::find(view));
    found
}
