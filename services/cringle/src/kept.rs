//! What is kept of one source at one point of a venue, as a table for the terminal.
//!
//! Must not know: how a value was found, which the advisor does.

use advisor::KeptPoint;
use chrono::{DateTime, Utc};
use forecast::{Gap, Parameter};
use present::kept::{KeptCell, KeptTable};

/// What is kept of a source at a point, as a table of the hours within a span.
pub fn table(kept: &KeptPoint, (from, to): (DateTime<Utc>, DateTime<Utc>)) -> KeptTable {
    let of = |parameter: &Parameter| kept.values.iter().any(|value| value.parameter == *parameter);
    let columns: Vec<Parameter> = Parameter::ALL.into_iter().filter(of).collect();
    let mut hours: Vec<DateTime<Utc>> = kept.values.iter().map(|value| value.valid).collect();
    hours.retain(|hour| (from..=to).contains(hour));
    hours.sort();
    hours.dedup();
    let mut cells = vec![vec![KeptCell::default(); columns.len()]; hours.len()];
    for value in &kept.values {
        let row = hours.binary_search(&value.valid).ok();
        let column = columns.iter().position(|column| *column == value.parameter);
        if let (Some(row), Some(column)) = (row, column) {
            add(&mut cells[row][column], value.value);
        }
    }
    KeptTable {
        source: kept.source.to_string(),
        run: kept.run,
        members: kept.members,
        point: kept.point.clone(),
        nodes: kept.nodes.clone(),
        columns: columns
            .iter()
            .map(|parameter| (parameter.name().to_owned(), parameter.unit().to_owned()))
            .collect(),
        rows: hours.into_iter().zip(cells).collect(),
    }
}

fn add(cell: &mut KeptCell, value: Result<f64, Gap>) {
    cell.due = true;
    match value {
        Ok(value) => {
            cell.values = Some(match cell.values {
                None => (value, value),
                Some((least, most)) => (least.min(value), most.max(value)),
            });
        }
        Err(gap) => {
            let words = gap.words().to_owned();
            if !cell.missing.contains(&words) {
                cell.missing.push(words);
            }
        }
    }
}
