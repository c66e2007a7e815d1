//! A canonical text of what is kept of forecasts: two stores that keep the same parts and series give the same text, in
//! whatever order these were written, and when.

use crate::blob::from_blob;
use crate::run::{instant, small};
use crate::slice::{manifest_of, node_of};
use crate::{Store, StoreError};
use forecast::hash::sha256_hex;
use forecast::{FieldSeries, MessageRecord, Node, Outcome, Sample};
use sqlx::any::AnyRow;
use sqlx::{AnyConnection, Row};
use std::fmt::Display;
use std::fmt::Write as _;

/// The part a row belongs to.
struct Key {
    source: String,
    reference: i64,
    part: i64,
}

impl Store {
    /// Every part with its messages, then every series with its counts of values and gaps and a hash of them, sorted, one
    /// a line. `visible_at` is left out: it is when, not what.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`] or [`StoreError::Inconsistent`] if what is kept was damaged,
    /// [`StoreError::Database`] otherwise.
    pub async fn dump(&self) -> Result<String, StoreError> {
        let failed = || StoreError::while_doing("dumping the store");
        let mut snapshot = self.snapshot().await.map_err(failed())?;
        let mut text = String::new();
        let rows = sqlx::query(
            "SELECT source, reference, part, grid, complete, last_step, manifest FROM parts
             ORDER BY source ASC, reference ASC, part ASC",
        )
        .fetch_all(&mut *snapshot)
        .await
        .map_err(failed())?;
        for row in &rows {
            dump_part(row, &mut text)?;
        }
        // Asked of the series and not of the parts: series without their part have to show.
        let rows = sqlx::query(
            "SELECT DISTINCT source, reference, part FROM series ORDER BY source ASC, reference ASC, part ASC",
        )
        .fetch_all(&mut *snapshot)
        .await
        .map_err(failed())?;
        for row in &rows {
            let key = key_of(row).map_err(failed())?;
            dump_series_of_part(&mut snapshot, &key, &mut text).await?;
        }
        Ok(text)
    }
}

fn dump_part(row: &AnyRow, text: &mut String) -> Result<(), StoreError> {
    let failed = || StoreError::while_doing("dumping a part");
    let key = key_of(row).map_err(failed())?;
    let name = name_of(&key).map_err(failed())?;
    let (grid, complete, last_step, bytes) = head_of(row).map_err(failed())?;
    let manifest = manifest_of(&bytes, &name)?;
    let members: Vec<u16> = manifest.members.iter().map(|member| member.0).collect();
    let steps: Vec<u16> = manifest.steps.iter().map(|step| step.0).collect();
    add_line(
        text,
        format_args!(
            "{name}: grid {grid:?}, complete {complete}, last step {last_step}, members {members:?}, steps {steps:?}"
        ),
    );
    let mut messages: Vec<String> = manifest.messages.iter().map(message_line).collect();
    messages.sort_unstable();
    for line in messages {
        add_line(text, line);
    }
    Ok(())
}

/// Grid, completeness, last step and manifest.
fn head_of(row: &AnyRow) -> Result<(String, bool, u16, Vec<u8>), sqlx::Error> {
    let complete = row.try_get::<i64, _>(4)? != 0;
    Ok((
        row.try_get(3)?,
        complete,
        small(row.try_get(5)?)?,
        row.try_get(6)?,
    ))
}

fn message_line(record: &MessageRecord) -> String {
    let outcome = match record.outcome {
        Outcome::Read => "read",
        Outcome::Missing(gap) => gap.words(),
    };
    let interval = record.interval.map_or("an instant".to_owned(), |interval| {
        format!(
            "{:?} {} to {}",
            interval.process,
            interval.start.to_rfc3339(),
            interval.end.to_rfc3339()
        )
    });
    format!(
        "  {} member {:05} step {:05}: {outcome}, {interval}, {:?} at {} length {}",
        record.parameter, record.member.0, record.step.0, record.file, record.offset, record.length
    )
}

async fn dump_series_of_part(
    snapshot: &mut AnyConnection,
    key: &Key,
    text: &mut String,
) -> Result<(), StoreError> {
    let name = name_of(key).map_err(StoreError::while_doing("dumping series"))?;
    let failed = || StoreError::while_doing(format!("dumping the series of {name}"));
    let rows = sqlx::query(
        "SELECT node_column, node_row, lat, lon, samples, grid FROM series
         WHERE source = $1 AND reference = $2 AND part = $3 ORDER BY grid ASC, node_row ASC, node_column ASC",
    )
    .bind(key.source.as_str())
    .bind(key.reference)
    .bind(key.part)
    .fetch_all(&mut *snapshot)
    .await
    .map_err(failed())?;
    for row in &rows {
        let node = node_of(row).map_err(failed())?;
        let bytes: Vec<u8> = row.try_get(4).map_err(failed())?;
        let grid: String = row.try_get(5).map_err(failed())?;
        let mut fields: Vec<FieldSeries> = from_blob(&bytes).map_err(|source| StoreError::Unreadable {
            what: format!("a series of {name}"),
            source,
        })?;
        fields.sort_by_key(|field| field.parameter);
        for field in &fields {
            add_line(text, series_line(&name, &grid, &node, field));
        }
    }
    Ok(())
}

fn series_line(name: &str, grid: &str, node: &Node, field: &FieldSeries) -> String {
    let values = field.samples.iter().filter(|sample| sample.is_ok()).count();
    let bytes: Vec<u8> = field.samples.iter().flat_map(sample_bytes).collect();
    format!(
        "series of {name}: grid {grid:?} column {} row {} at {:?} {:?}, {}: {values} values, {} gaps, {}",
        node.column,
        node.row,
        node.at.lat,
        node.at.lon,
        field.parameter,
        field.samples.len() - values,
        sha256_hex(&bytes)
    )
}

/// A value by its bits, a gap by its reason.
fn sample_bytes(sample: &Sample) -> Vec<u8> {
    match sample {
        Ok(value) => [&[0], &value.to_le_bytes()[..]].concat(),
        Err(gap) => [&[1], gap.words().as_bytes(), &[0]].concat(),
    }
}

fn key_of(row: &AnyRow) -> Result<Key, sqlx::Error> {
    Ok(Key {
        source: row.try_get(0)?,
        reference: row.try_get(1)?,
        part: row.try_get(2)?,
    })
}

fn name_of(key: &Key) -> Result<String, sqlx::Error> {
    let reference = instant(key.reference)?.to_rfc3339();
    Ok(format!("part {} of run {reference} of {}", key.part, key.source))
}

fn add_line(text: &mut String, line: impl Display) {
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{line}");
}
