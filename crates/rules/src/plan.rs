//! The sail plan: what to leave with, and what changes when.

use crate::assess::carried_row;
use crate::outing::Outing;
use chrono::{DateTime, Utc};
use seaway::Knots;
use serde::Serialize;

/// What one instant asks for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub enum Wanted {
    /// This row of the table.
    Row(usize),
    /// The wind is past the table.
    PastTable,
    /// The wind is not known.
    Unknown,
}

/// A change of sail.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlanChange {
    /// From this instant.
    pub at: DateTime<Utc>,
    /// To this row.
    pub row: usize,
    /// From this row.
    pub from_row: usize,
}

/// The plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SailPlan {
    /// Row to leave the berth with.
    pub leave_with: usize,
    /// Row the wind on leaving itself asks for, the level's extra reefs included: what `reef_ahead` made stricter shows against it.
    pub wanted_on_leaving: usize,
    /// What changes, in order of time.
    pub changes: Vec<PlanChange>,
    /// From when the wind is past the table.
    pub past_table_from: Option<DateTime<Utc>>,
}

/// What an instant asks for, from its winds: the most reefed that any of them asks for.
pub fn wanted(outing: &Outing<'_>, winds: &[(Knots, Knots)]) -> Wanted {
    if winds.is_empty() {
        return Wanted::Unknown;
    }
    let rows: Option<Vec<usize>> = winds
        .iter()
        .map(|&(mean, gust)| carried_row(outing, mean, gust))
        .collect();
    rows.and_then(|rows| rows.into_iter().max())
        .map_or(Wanted::PastTable, Wanted::Row)
}

/// Makes the plan from what each instant asks for.
///
/// Leave with the most reefed row of the first `reef_ahead` hours, rising wind or not. Reef when an hour asks for more;
/// shake out only when every hour after asks for less. None where the wind on leaving is not known or past the table.
pub fn make_plan(outing: &Outing<'_>, asked: &[(DateTime<Utc>, Wanted)]) -> Option<SailPlan> {
    let past_table_from = asked
        .iter()
        .find(|(_, wanted)| *wanted == Wanted::PastTable)
        .map(|(at, _)| *at);
    let rows: Vec<(DateTime<Utc>, usize)> = asked
        .iter()
        .take_while(|(at, _)| past_table_from.is_none_or(|past| *at < past))
        .filter_map(|&(at, wanted)| match wanted {
            Wanted::Row(row) => Some((at, row)),
            _ => None,
        })
        .collect();
    let &(first, wanted_on_leaving) = rows.first()?;
    if first != outing.leaves {
        return None;
    }
    let ahead = outing.leaves + outing.level.reef_ahead;
    let most_ahead = rows
        .iter()
        .filter(|(at, _)| *at <= ahead)
        .map(|(_, row)| *row)
        .max()?;
    // Past the table while still looking ahead: nothing is too reefed to leave with.
    let leave_with = match past_table_from {
        Some(past) if past <= ahead => outing.boat.reef_table.rows().len() - 1,
        _ => most_ahead,
    };
    let mut carried = leave_with;
    let mut changes = Vec::new();
    for (i, &(at, row)) in rows.iter().enumerate() {
        let most_after = rows[i..].iter().map(|(_, row)| *row).max().unwrap_or(row);
        let next = if row > carried {
            row
        } else if at > ahead && most_after < carried && past_table_from.is_none() {
            most_after
        } else {
            continue;
        };
        changes.push(PlanChange {
            at,
            row: next,
            from_row: carried,
        });
        carried = next;
    }
    // A change at the moment of being alongside is no use to anyone.
    changes.retain(|change| change.at < outing.alongside);
    Some(SailPlan {
        leave_with,
        wanted_on_leaving,
        changes,
        past_table_from,
    })
}
