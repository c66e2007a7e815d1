//! The sail plan, the hours and the wind sentence of a document.

use crate::document::{Hour, Plan, PlanChange, Row, Sail};
use crate::words::{compass, hour_minute, knots, local, sail};
use chrono_tz::Tz;
use club::Boat;
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

/// The table.
pub fn table_of(boat: &Boat) -> Vec<Row> {
    let row = |(i, row): (usize, &club::ReefRow)| {
        Some(Row {
            mean_up_to_kn: row.mean_up_to.0,
            gust_up_to_kn: row.gust_up_to.0,
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
