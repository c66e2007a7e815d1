//! A yacht: her reef table, and the wind it speaks of.
//!
//! Owns: those types, and which row a wind asks for. Must not know: levels, forecasts.

use seaway::apparent::{WindOffBow, apparent_off_bow};
use seaway::profile::{FORECAST_HEIGHT, OPEN_SEA_ROUGHNESS, log_law_ratio};
use seaway::{Knots, Metres};
use serde::{Deserialize, Serialize};

/// A yacht with its reef table.
#[derive(Clone, Debug)]
pub struct Boat {
    /// Key in the file.
    pub id: String,
    /// As shown.
    pub name: String,
    /// What she carries by wind.
    pub reef_table: ReefTable,
    /// Which wind her table speaks of.
    pub table_wind: TableWind,
    /// The closest she sails to the true wind in flat water, degrees (45, no source: common practice).
    pub closest_deg: f64,
    /// Her measures, if the club gave them: they check the table and change no call.
    pub dimensions: Option<crate::dimensions::BoatDimensions>,
}

impl Boat {
    /// A true wind at 10 m as the wind her table speaks of, knots. Apparent wind is that of close hauled, whatever the
    /// leg: a boat overpowered on a run finds out when she rounds up.
    pub fn in_table(&self, wind: Knots) -> Knots {
        let TableWind::ApparentAtMasthead { height, boat_speed } = self.table_wind else {
            return wind;
        };
        let ratio = log_law_ratio(FORECAST_HEIGHT, height, OPEN_SEA_ROUGHNESS).unwrap_or(1.0);
        let aloft = WindOffBow {
            speed: Knots(wind.0 * ratio),
            angle_deg: self.closest_deg,
        };
        apparent_off_bow(aloft, boat_speed).speed
    }

    /// The true wind at 10 m that her table would call this wind: `in_table` the other way round. Calm where even that
    /// is more in her table, as her own speed is aloft.
    pub fn out_of_table(&self, wind: Knots) -> Knots {
        if self.table_wind == TableWind::True {
            return wind;
        }
        // Apparent wind close hauled rises with the true wind, and even a low masthead has more than half of that at 10 m;
        // sixty halvings leave no rest.
        let (mut low, mut high) = (0.0, 2.0 * wind.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.in_table(Knots(middle)) <= wind {
                low = middle;
            } else {
                high = middle;
            }
        }
        Knots(low)
    }

    /// A row of her table with its bounds as true wind at 10 m, which is what forecasts, charts and printed tables speak of.
    pub fn row_in_true_wind(&self, row: &ReefRow) -> ReefRow {
        ReefRow {
            mean_up_to: self.out_of_table(row.mean_up_to),
            gust_up_to: self.out_of_table(row.gust_up_to),
            ..row.clone()
        }
    }

    /// Index of the row of her table for a true wind at 10 m; none past the table: she does not sail.
    pub fn row_for(&self, mean: Knots, gust: Knots) -> Option<usize> {
        self.reef_table.row_for(self.in_table(mean), self.in_table(gust))
    }
}

/// Fraction of the headsail's area that is set, 0 (furled) to 1 (full).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Headsail(pub f64);

/// One row of a reef table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReefRow {
    /// Highest mean wind the row is for.
    pub mean_up_to: Knots,
    /// Highest gust the row is for.
    pub gust_up_to: Knots,
    /// Reefs in the main.
    pub reefs: u8,
    /// Fraction of the headsail.
    pub headsail: Headsail,
    /// What the club adds, if anything.
    pub note: Option<String>,
    /// The mark on the headsail's foot it is furled to, if the boat has marks.
    pub foot_mark: Option<String>,
}

/// Rows in order of rising wind; a table that exists rises: winds strictly, sail never grows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReefTable {
    pub(crate) rows: Vec<ReefRow>,
}

impl ReefTable {
    /// The rows, lightest wind first; there is at least one.
    pub fn rows(&self) -> &[ReefRow] {
        &self.rows
    }

    /// Index of the first row whose two limits both hold, of the wind the table speaks of; none past the table.
    pub fn row_for(&self, mean: Knots, gust: Knots) -> Option<usize> {
        self.rows
            .iter()
            .position(|row| mean <= row.mean_up_to && gust <= row.gust_up_to)
    }
}

/// Which wind a reef table speaks of.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum TableWind {
    /// True wind at 10 m, as forecasts give it.
    #[default]
    True,
    /// Apparent wind at the masthead, close hauled.
    ApparentAtMasthead {
        /// Height of the masthead's instrument above the water.
        height: Metres,
        /// Her speed close hauled under reduced sail.
        boat_speed: Knots,
    },
}
