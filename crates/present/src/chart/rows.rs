//! A wind's place in the reef table: 0 is no wind, 1 the upper edge of the first row, and so on.
//!
//! Mean and gust are each carried in by their own limits, so that the higher of the two picks the row.

use advisory::document::Row;

/// Which limit of a row a value is held against.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measure {
    Mean,
    Gust,
}

impl Measure {
    fn upper(self, row: &Row) -> f64 {
        match self {
            Self::Mean => row.mean_up_to_kn,
            Self::Gust => row.gust_up_to_kn,
        }
    }
}

/// The place of a speed in knots. On an edge the lower row holds; past the table it lies between the number of rows
/// and one more.
pub(crate) fn place(table: &[Row], measure: Measure, knots: f64) -> f64 {
    let mut lower = 0.0;
    let mut last_height = 1.0;
    for (index, row) in table.iter().enumerate() {
        let upper = measure.upper(row);
        if knots <= upper && upper > lower {
            return index as f64 + ((knots - lower) / (upper - lower)).max(0.0);
        }
        if upper > lower {
            last_height = upper - lower;
            lower = upper;
        }
    }
    table.len() as f64 + ((knots - lower) / last_height).clamp(0.0, 1.0)
}

/// The place that picks the row: the higher of mean and gust.
pub(crate) fn picked(table: &[Row], mean_kn: f64, gust_kn: f64) -> f64 {
    place(table, Measure::Mean, mean_kn).max(place(table, Measure::Gust, gust_kn))
}

#[cfg(test)]
mod tests {
    use super::*;
    use advisory::document::Sail;

    fn table() -> Vec<Row> {
        [(11.0, 15.0), (15.0, 20.0), (20.0, 26.0), (25.0, 32.0)]
            .into_iter()
            .enumerate()
            .map(|(row, (mean_up_to_kn, gust_up_to_kn))| Row {
                mean_up_to_kn,
                gust_up_to_kn,
                sail: Sail {
                    row,
                    reefs: row as u8,
                    headsail: 1.0,
                    words: String::new(),
                    note: None,
                },
            })
            .collect()
    }

    // Source: the drawing rule of the design text, y = i + (v - lower) / (upper - lower), worked by hand.
    #[test]
    fn each_measure_is_carried_in_by_its_own_limits() {
        let rows = [
            (Measure::Mean, 0.0, 0.0),
            (Measure::Mean, 5.5, 0.5),
            (Measure::Mean, 11.0, 1.0),
            (Measure::Mean, 13.0, 1.5),
            (Measure::Gust, 17.5, 1.5),
            (Measure::Gust, 32.0, 4.0),
            (Measure::Gust, 35.0, 4.5),
            (Measure::Gust, 60.0, 5.0),
            (Measure::Mean, -1.0, 0.0),
        ];
        for (measure, knots, expected) in rows {
            let found = place(&table(), measure, knots);
            assert!(
                (found - expected).abs() < 1e-9,
                "{knots} kn: {found}, expected {expected}"
            );
        }
    }

    #[test]
    fn the_higher_of_the_two_picks_the_row() {
        assert!(
            picked(&table(), 10.0, 21.0) > 2.0,
            "gusts of 21 are past the second row"
        );
        assert!(
            picked(&table(), 16.0, 16.0) > 2.0,
            "a mean of 16 is past the second row"
        );
        assert!(
            picked(&table(), 15.0, 20.0) <= 2.0,
            "both on the edge: the lower row holds"
        );
    }
}
