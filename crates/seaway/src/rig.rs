//! The rig: areas and centres of effort of the sails, as triangles.
//!
//! Owns: the rig triangle, a main reefed down its luff, a headsail rolled round its stay, both together. Must not know:
//! hulls, heel, wind, reef tables. Lengths aft are from the headsail's tack, heights from the deck.
//! A main's roach and a headsail's overlap of the mast are not counted: the areas are those of the 100 % triangles.

use crate::quantity::{Metres, SquareMetres};

/// The four measures of a rig, and where its boom is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RigTriangle {
    /// I: height of the foretriangle, from the deck to where the stay meets the mast.
    pub i: Metres,
    /// J: its base, from the stay to the mast along the deck.
    pub j: Metres,
    /// P: the main's luff.
    pub p: Metres,
    /// E: the main's foot.
    pub e: Metres,
    /// From the deck to the foot of the main.
    pub boom_above_deck: Metres,
}

/// A sail, or several as one: its area and its centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Area.
    pub area: SquareMetres,
    /// Its centre's distance aft of the headsail's tack.
    pub aft: Metres,
    /// Its centre's height above the deck.
    pub above_deck: Metres,
}

impl RigTriangle {
    /// Area of the full main, P E / 2. Source: the definition of the rig triangles in yacht-ratio pages; ISO 8666 not read.
    pub fn main_area(&self) -> SquareMetres {
        SquareMetres(self.p.0 * self.e.0 / 2.0)
    }

    /// Area of the foretriangle, I J / 2. Source: as for the main.
    pub fn foretriangle_area(&self) -> SquareMetres {
        SquareMetres(self.i.0 * self.j.0 / 2.0)
    }

    /// The main with this fraction of its luff taken by reefs, 0 (full) to 1 (none left; outside, the nearer of the two).
    ///
    /// A reef draws the sail down to the boom: what is left is a similar triangle with the same tack.
    pub fn main(&self, luff_taken: f64) -> Effort {
        let left = 1.0 - luff_taken.clamp(0.0, 1.0);
        Effort {
            area: SquareMetres(self.main_area().0 * area_left(luff_taken)),
            aft: Metres(self.j.0 + self.e.0 * left / 3.0),
            above_deck: Metres(self.boom_above_deck.0 + self.p.0 * left / 3.0),
        }
    }

    /// The headsail with this fraction of its area set, 0 (rolled away) to 1 (all of the foretriangle; outside, the nearer).
    ///
    /// Rolling takes strips parallel to the luff: what is left is a similar triangle, shrunk towards the point of the stay
    /// that is nearest to the clew. Source: geometry.
    pub fn headsail(&self, fraction: f64) -> Effort {
        let fraction = fraction.clamp(0.0, 1.0);
        let shrunk = fraction.sqrt();
        let (i, j) = (self.i.0, self.j.0);
        // The stay runs from (0, 0) to (j, i); the clew is at (j, 0) by the mast.
        let along = j * j / (i * i + j * j);
        let (nearest_aft, nearest_up) = (along * j, along * i);
        Effort {
            area: SquareMetres(self.foretriangle_area().0 * fraction),
            aft: Metres(nearest_aft + shrunk * (2.0 * j / 3.0 - nearest_aft)),
            above_deck: Metres(nearest_up + shrunk * (i / 3.0 - nearest_up)),
        }
    }

    /// Both sails as one: the centre weighted by area. None if nothing is set.
    pub fn both(&self, luff_taken: f64, headsail: f64) -> Option<Effort> {
        let (main, headsail) = (self.main(luff_taken), self.headsail(headsail));
        let area = main.area.0 + headsail.area.0;
        let weighted = |of_main: Metres, of_headsail: Metres| {
            Metres((main.area.0 * of_main.0 + headsail.area.0 * of_headsail.0) / area)
        };
        (area > 0.0).then(|| Effort {
            area: SquareMetres(area),
            aft: weighted(main.aft, headsail.aft),
            above_deck: weighted(main.above_deck, headsail.above_deck),
        })
    }
}

/// Fraction of a main's area left when reefs have taken this fraction of its luff: (1 - taken) squared.
///
/// Source: similar triangles; real mains have roach and curved leeches.
pub fn area_left(luff_taken: f64) -> f64 {
    (1.0 - luff_taken.clamp(0.0, 1.0)).powi(2)
}

/// Fraction of the luff that one reef takes where the boat does not say. No source: a sailmaker's figure, common practice.
pub const LUFF_TAKEN_BY_A_REEF: f64 = 0.12;

/// A shift of the centre of effort that leaves a boat balanced, as a fraction of the waterline. No source: common practice,
/// within half the range of leads that designers use (4 to 17 % of the waterline).
pub const BALANCED_WITHIN_WATERLINES: f64 = 0.05;
