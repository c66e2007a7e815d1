//! A boat's dimensions and what follows from them: the effort of each row's sails, heel, and a table to propose.
//!
//! Owns: the boat's measures, her sails as a reef table speaks of them, the verdicts on heel and balance. Must not know: the
//! file, forecasts, calls. Nothing here changes a call: it is for whoever writes or checks the table.

use crate::boat::{Headsail, ReefRow};
use seaway::beaufort::BEAUFORT;
use seaway::heel::{SINE_HOLDS_UP_TO_DEG, Stiffness, close_hauled_heel_deg};
use seaway::rig::{BALANCED_WITHIN_WATERLINES, Effort, RigTriangle};
use seaway::{Kilograms, Knots, Metres};

/// Heel in degrees that a crew calls comfortable, where the boat does not say. No source: common practice.
pub const COMFORTABLE_HEEL_DEG: f64 = 20.0;
/// Degrees past the comfortable heel from which a boat is hard pressed. No source: common practice.
const HARD_PRESSED_PAST_DEG: f64 = 5.0;
/// The lateral centre's depth as a fraction of the draught. No source: common practice; it has more than one definition.
const LATERAL_CENTRE_OF_DRAUGHT: f64 = 0.4;
/// Gust over mean of a proposed row: 20 kn gusting 26. No source: common practice.
const PROPOSED_GUST_OVER_MEAN: f64 = 1.3;
/// What a proposed table sets, row by row: reefs and fraction of the headsail, reduced together. No source: common practice.
const PROPOSED_SAILS: [(u8, f64); 4] = [(0, 1.0), (1, 0.8), (2, 0.5), (3, 0.3)];

/// A boat's measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoatDimensions {
    /// I, J, P, E and the boom's height.
    pub rig: RigTriangle,
    /// Length of the waterline.
    pub waterline: Metres,
    /// Mass of the boat as she sails.
    pub displacement: Kilograms,
    /// From GM or from the righting moment at one degree.
    pub stiffness: Stiffness,
    /// Height of the deck above the water.
    pub freeboard: Metres,
    /// Depth of the keel below the water.
    pub draught: Metres,
    /// Fraction of the main's luff that each reef takes.
    pub luff_taken_by_a_reef: f64,
    /// How many reefs the main has: a proposed table asks for no more.
    pub reefs_in_main: u8,
    /// Heel in degrees that her crews call comfortable.
    pub comfortable_heel_deg: f64,
    /// Which of these the club left to their defaults.
    pub by_default: ByDefault,
}

/// Which of a boat's measures the club did not give, so that their defaults stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ByDefault {
    /// The boom's height above the deck.
    pub boom_above_deck: bool,
    /// The freeboard.
    pub freeboard: bool,
    /// The draught.
    pub draught: bool,
    /// The part of the luff that a reef takes.
    pub luff_taken_by_a_reef: bool,
    /// The number of reefs.
    pub reefs_in_main: bool,
    /// The comfortable heel.
    pub comfortable_heel: bool,
}

/// What one row's sails do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowPhysics {
    /// Area and centre of the sails.
    pub effort: Effort,
    /// Centre of effort against full sail, positive aft.
    pub shift_aft: Metres,
    /// What that shift does.
    pub balance: Balance,
    /// Heel close hauled at the row's mean limit.
    pub heel_at_mean: Heel,
    /// Heel close hauled at the row's gust limit.
    pub heel_in_gusts: Heel,
}

/// A heel and what a crew calls it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heel {
    /// Up to the comfortable heel, degrees.
    Comfortable(f64),
    /// A little past it, degrees.
    WellHeeled(f64),
    /// Further past it, degrees.
    HardPressed(f64),
    /// Past what the formula can say.
    BeyondTheFormula,
}

/// What a shift of the centre of effort does to the helm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Balance {
    /// It stays within the usual.
    Balanced,
    /// Too far aft: she rounds up.
    MoreWeatherHelm,
    /// Too far forward: she bears away.
    LessWeatherHelm,
}

impl BoatDimensions {
    /// Area and centre of what a row sets. None where it sets nothing.
    pub fn effort(&self, reefs: u8, headsail: Headsail) -> Option<Effort> {
        self.rig
            .both(f64::from(reefs) * self.luff_taken_by_a_reef, headsail.0)
    }

    /// From the lateral centre up to a centre of effort.
    fn heeling_arm(&self, effort: &Effort) -> Metres {
        Metres(effort.above_deck.0 + self.freeboard.0 + LATERAL_CENTRE_OF_DRAUGHT * self.draught.0)
    }

    /// The steady heel close hauled under these sails in a true wind.
    pub fn heel(&self, effort: &Effort, wind: Knots) -> Heel {
        let heel = close_hauled_heel_deg(wind, effort.area, self.heeling_arm(effort), self.stiffness);
        match heel {
            Some(heel) if heel > SINE_HOLDS_UP_TO_DEG => Heel::BeyondTheFormula,
            Some(heel) if heel > self.comfortable_heel_deg + HARD_PRESSED_PAST_DEG => Heel::HardPressed(heel),
            Some(heel) if heel > self.comfortable_heel_deg => Heel::WellHeeled(heel),
            Some(heel) => Heel::Comfortable(heel),
            None => Heel::BeyondTheFormula,
        }
    }

    /// What a row's sails do. None where it sets nothing.
    pub fn of_row(&self, row: &ReefRow) -> Option<RowPhysics> {
        let effort = self.effort(row.reefs, row.headsail)?;
        let full = self.rig.both(0.0, 1.0)?;
        let shift = effort.aft.0 - full.aft.0;
        let bound = BALANCED_WITHIN_WATERLINES * self.waterline.0;
        Some(RowPhysics {
            effort,
            shift_aft: Metres(shift),
            balance: match shift {
                shift if shift > bound => Balance::MoreWeatherHelm,
                shift if shift < -bound => Balance::LessWeatherHelm,
                _ => Balance::Balanced,
            },
            heel_at_mean: self.heel(&effort, row.mean_up_to),
            heel_in_gusts: self.heel(&effort, row.gust_up_to),
        })
    }

    /// A reef table for the comfortable heel: each row up to the highest whole knot that heels her no further, short of the
    /// gale that storm sails are for. It is a proposal, to be confirmed with the boat. Empty where no wind is light enough.
    pub fn proposed_rows(&self) -> Vec<ReefRow> {
        let mut rows: Vec<ReefRow> = Vec::new();
        for (reefs, headsail) in PROPOSED_SAILS {
            let (reefs, headsail) = (reefs.min(self.reefs_in_main), Headsail(headsail));
            let Some(mean) = self.highest_comfortable_wind(reefs, headsail) else {
                continue;
            };
            if rows.last().is_some_and(|above| mean <= above.mean_up_to.0) {
                continue;
            }
            rows.push(ReefRow {
                mean_up_to: Knots(mean),
                gust_up_to: Knots((mean * PROPOSED_GUST_OVER_MEAN).floor()),
                reefs,
                headsail,
                note: None,
                foot_mark: None,
            });
        }
        rows
    }

    fn highest_comfortable_wind(&self, reefs: u8, headsail: Headsail) -> Option<f64> {
        let effort = self.effort(reefs, headsail)?;
        let gale = BEAUFORT[8].knots.0;
        (1..gale)
            .rev()
            .map(f64::from)
            .find(|wind| matches!(self.heel(&effort, Knots(*wind)), Heel::Comfortable(_)))
    }
}
