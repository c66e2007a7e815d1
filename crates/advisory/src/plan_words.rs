//! The sail plan, the hours and the wind sentence of a document.

use crate::document::{EntranceView, Hour, PassageView, Plan, PlanChange, Row, Sail};
use crate::words::{compass, hour_minute, knots, local, sail};
use chrono_tz::Tz;
use club::{Boat, TableWind, Venue};
use rules::plan::Wanted;
use rules::{SailPlan, Verdict, VerdictHour};
use seaway::beaufort;
use seaway::{Knots, MetresPerSecond};

/// Rounded for the document: no digit that the forecast does not support.
pub fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (value * scale).round() / scale
}

/// One row of the table as a sail.
pub fn sail_of(boat: &Boat, row: usize) -> Option<Sail> {
    let found = boat.reef_table.rows().get(row)?;
    Some(Sail {
        row,
        reefs: found.reefs,
        headsail: found.headsail.0,
        words: sail(found.reefs, found.headsail.0),
        note: found.note.clone(),
    })
}

/// The table in true wind at 10 m, whatever wind the club's own table speaks of: hours are held against it.
pub fn table_of(boat: &Boat) -> Vec<Row> {
    // Down to the hundredth: a bound that is shown is never the kinder one.
    let bound = |wind: Knots| ((wind.0 + 1e-9) * 100.0).floor() / 100.0;
    let row = |(i, row): (usize, &club::ReefRow)| {
        let in_true_wind = boat.row_in_true_wind(row);
        Some(Row {
            mean_up_to_kn: bound(in_true_wind.mean_up_to),
            gust_up_to_kn: bound(in_true_wind.gust_up_to),
            sail: sail_of(boat, i)?,
        })
    };
    boat.reef_table
        .rows()
        .iter()
        .enumerate()
        .filter_map(row)
        .collect()
}

/// What is said of a table that speaks of another wind than the forecast.
pub fn table_words(boat: &Boat) -> Option<String> {
    match boat.table_wind {
        TableWind::True => None,
        TableWind::ApparentAtMasthead { .. } => Some(
            "Her own table speaks of the apparent wind at the masthead, close hauled; the bounds here are the true wind that makes it."
                .to_owned(),
        ),
    }
}

/// The plan in words.
pub fn plan_of(boat: &Boat, plan: &SailPlan, zone: Tz) -> Option<Plan> {
    let changes = plan.changes.iter().filter_map(|change| {
        Some(PlanChange {
            at: local(change.at, zone),
            sail: sail_of(boat, change.row)?,
            shaking_out: change.row < change.from_row,
        })
    });
    Some(Plan {
        leave_with: sail_of(boat, plan.leave_with)?,
        changes: changes.collect(),
        past_table_from: plan.past_table_from.map(|at| local(at, zone)),
    })
}

/// One hour as the document has it.
pub fn hour_of(hour: &VerdictHour, zone: Tz) -> Hour {
    let pair =
        |spread: Option<(Knots, Knots)>| spread.map(|(low, high)| (rounded(low.0, 1), rounded(high.0, 1)));
    Hour {
        at: local(hour.at, zone),
        out: hour.out,
        mean_kn: hour.wind.map(|wind| rounded(wind.speed.0, 2)),
        from_deg: hour.wind.map(|wind| rounded(wind.from.degrees(), 0) % 360.0),
        force: hour.wind.map(|wind| force(wind.speed)),
        gust_kn: hour.gust.map(|gust| rounded(gust.0, 2)),
        gust_estimated: hour.gust_estimated,
        mean_spread_kn: pair(hour.mean_spread),
        gust_spread_kn: pair(hour.gust_spread),
        spread_from_floor: hour.spread_from_floor,
        wave_m: hour.wave_height.map(|wave| rounded(wave.0, 2)),
        wave_period_s: hour.wave_period.map(|period| rounded(period.0, 1)),
        wave_from_deg: hour.wave_from.map(|from| rounded(from.degrees(), 0) % 360.0),
        visibility_m: hour.visibility.map(|visibility| rounded(visibility.0, -1)),
        rain_mm_h: hour.rain_mm_per_h.map(|rain| rounded(rain, 2)),
        row: match hour.wanted {
            Wanted::Row(row) => Some(row),
            _ => None,
        },
        past_table: hour.wanted == Wanted::PastTable,
        call: hour.call.into(),
    }
}

/// The entrance at its passages; none where the venue has none.
pub fn entrance_of(
    venue: &Venue,
    passages: Option<&(VerdictHour, VerdictHour)>,
    zone: Tz,
) -> Option<EntranceView> {
    let (out, home) = passages?;
    let passage = |hour: &VerdictHour| PassageView {
        at: local(hour.at, zone),
        wave_m: hour.wave_height.map(|wave| rounded(wave.0, 2)),
        wave_period_s: hour.wave_period.map(|period| rounded(period.0, 1)),
    };
    Some(EntranceView {
        name: venue.entrance.as_ref()?.name.clone(),
        out: passage(out),
        home: passage(home),
    })
}

/// Beaufort force by the WMO bounds in metres a second.
pub fn force(speed: Knots) -> u8 {
    beaufort::force(MetresPerSecond::from(speed))
}

/// "Wind south-west force 4, rising to 5: 12 kn, then 17 with gusts of 25 by 17:00."
pub fn wind_words(verdict: &Verdict, zone: Tz) -> String {
    let out: Vec<&VerdictHour> = verdict
        .hours
        .iter()
        .filter(|hour| hour.out && hour.wind.is_some())
        .collect();
    let (Some(first), Some(last)) = (out.first(), out.last()) else {
        return "The wind is not known.".to_owned();
    };
    let (Some(start), Some(end)) = (first.wind, last.wind) else {
        return "The wind is not known.".to_owned();
    };
    let strongest = out
        .iter()
        .max_by(|a, b| gust_of(a).total_cmp(&gust_of(b)))
        .unwrap_or(first);
    let gusts = strongest.gust.map_or_else(String::new, |gust| {
        let estimated = if strongest.gust_estimated {
            " (estimated)"
        } else {
            ""
        };
        format!(
            ", gusts {} kn{estimated} at {}",
            knots(gust),
            hour_minute(local(strongest.at, zone))
        )
    });
    let (from, to) = (compass(start.from), compass(end.from));
    let turning = if from == to {
        String::new()
    } else {
        format!(" going {to}")
    };
    let (low, high) = (force(start.speed), force(end.speed));
    let rising = match low.cmp(&high) {
        std::cmp::Ordering::Less => format!(", rising to {high}"),
        std::cmp::Ordering::Greater => format!(", easing to {high}"),
        std::cmp::Ordering::Equal => String::new(),
    };
    let means = if knots(start.speed) == knots(end.speed) {
        format!("{} kn", knots(start.speed))
    } else {
        format!("{} kn, then {}", knots(start.speed), knots(end.speed))
    };
    format!("Wind {from}{turning} force {low}{rising}: {means}{gusts}.")
}

fn gust_of(hour: &VerdictHour) -> f64 {
    hour.gust.map_or(f64::NEG_INFINITY, |gust| gust.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn petrel() -> Boat {
        let text = include_str!("../../../fixtures/suppose/club-waters.toml");
        let club = club::parse(text).expect("the club of the cases reads").club;
        let petrel = club.boats.into_iter().find(|boat| boat.id == "petrel");
        petrel.expect("it has a boat with a table of masthead wind")
    }

    // Log law over the open sea, z0 = 0.0002 m (US EPA, Table 6-10): ln(15/0.0002) / ln(10/0.0002) = 1.03747. Close hauled at
    // 45 degrees with 6 kn, A^2 + 36 + 12 A cos 45 = 32^2 gives A = 27.475 kn aloft: 26.482 at 10 m, down to the hundredth 26.48.
    #[test]
    fn a_table_of_masthead_wind_is_shown_in_true_wind() {
        let boat = petrel();
        let shown = table_of(&boat);
        assert_eq!(shown[2].mean_up_to_kn, 26.48);
        assert!(
            shown
                .iter()
                .zip(boat.reef_table.rows())
                .all(|(shown, own)| shown.gust_up_to_kn < own.gust_up_to.0)
        );
        assert!(table_words(&boat).is_some_and(|words| words.contains("apparent wind at the masthead")));
    }

    #[test]
    fn the_row_that_an_hour_is_drawn_in_is_the_row_that_is_carried() {
        let boat = petrel();
        let shown = table_of(&boat);
        // Hundredths, as hours are shown in, from calm to past the table.
        for hundredths in 0..4500 {
            let mean = f64::from(hundredths) / 100.0;
            let gust = mean * 1.3;
            let drawn = shown
                .iter()
                .position(|row| mean <= row.mean_up_to_kn && gust <= row.gust_up_to_kn);
            let carried = boat.row_for(Knots(mean), Knots(gust));
            // The gust has more digits than the bound: within a hundredth of it the picture may be the stricter one.
            let stricter = |row: Option<usize>| row.unwrap_or(shown.len());
            let near = shown
                .iter()
                .any(|row| (0.0..0.01).contains(&(gust - row.gust_up_to_kn)));
            assert!(
                drawn == carried || near && stricter(drawn) > stricter(carried),
                "{mean} kn"
            );
        }
    }
}
