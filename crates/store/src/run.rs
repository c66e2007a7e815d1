//! Which runs of a feed are kept, as of an instant.

use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use forecast::{SourceId, Step};
use sqlx::Row;
use sqlx::any::AnyRow;

/// One kept run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunSummary {
    /// The feed.
    pub source: SourceId,
    /// The run's reference time.
    pub reference: DateTime<Utc>,
    /// The parts present, ascending.
    pub parts: Vec<u16>,
    /// False if any part present ended with gaps. Parts not yet present are not counted.
    pub complete: bool,
    /// The last step of which anything was read.
    pub last_step: Step,
    /// When the newest part present became visible.
    pub visible_at: DateTime<Utc>,
}

impl Store {
    /// The runs of a feed that were visible at `as_of`, newest first.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn runs(&self, source: &SourceId, as_of: DateTime<Utc>) -> Result<Vec<RunSummary>, StoreError> {
        let doing = || format!("listing the runs of {source}");
        let rows = sqlx::query(
            "SELECT reference, part, complete, last_step, visible_at FROM parts
             WHERE source = $1 AND visible_at <= $2 ORDER BY reference DESC, part ASC",
        )
        .bind(source.as_str())
        .bind(as_of.timestamp())
        .fetch_all(&self.pool)
        .await
        .map_err(StoreError::while_doing(doing()))?;
        let mut runs: Vec<RunSummary> = Vec::new();
        for row in &rows {
            let part = summary_of_part(source, row).map_err(StoreError::while_doing(doing()))?;
            match runs.last_mut().filter(|run| run.reference == part.reference) {
                Some(run) => add_part(run, part),
                None => runs.push(part),
            }
        }
        Ok(runs)
    }

    /// The newest run of a feed that was visible at `as_of`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn newest_run(
        &self,
        source: &SourceId,
        as_of: DateTime<Utc>,
    ) -> Result<Option<RunSummary>, StoreError> {
        Ok(self.runs(source, as_of).await?.into_iter().next())
    }
}

/// How many parts are visible, since when the newest of them is, and how many versions of club files are kept: together
/// they change whenever there is something new to advise by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NewestVisible {
    /// Parts visible.
    pub parts: i64,
    /// Since when the newest is; none if there is none.
    pub since: Option<DateTime<Utc>>,
    /// Versions of club files, of all clubs.
    pub club_versions: i64,
}

impl Store {
    /// What is visible at `as_of`, without reading any of it: cheap enough to be asked every few seconds.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn newest_visible(&self, as_of: DateTime<Utc>) -> Result<NewestVisible, StoreError> {
        let row = sqlx::query(
            "SELECT COUNT(*), MAX(visible_at), (SELECT COUNT(*) FROM club_versions) FROM parts WHERE visible_at <= $1",
        )
            .bind(as_of.timestamp())
            .fetch_one(&self.pool)
            .await;
        let newest = |row: AnyRow| -> Result<NewestVisible, sqlx::Error> {
            Ok(NewestVisible {
                parts: row.try_get(0)?,
                since: row.try_get::<Option<i64>, _>(1)?.map(instant).transpose()?,
                club_versions: row.try_get(2)?,
            })
        };
        row.and_then(newest)
            .map_err(StoreError::while_doing("looking for what is newly visible"))
    }
}

fn summary_of_part(source: &SourceId, row: &AnyRow) -> Result<RunSummary, sqlx::Error> {
    Ok(RunSummary {
        source: source.clone(),
        reference: instant(row.try_get(0)?)?,
        parts: vec![small(row.try_get(1)?)?],
        complete: row.try_get::<i64, _>(2)? != 0,
        last_step: Step(small(row.try_get(3)?)?),
        visible_at: instant(row.try_get(4)?)?,
    })
}

fn add_part(run: &mut RunSummary, part: RunSummary) {
    run.parts.extend(part.parts);
    run.complete &= part.complete;
    run.last_step = run.last_step.max(part.last_step);
    run.visible_at = run.visible_at.max(part.visible_at);
}

/// An instant from whole seconds since 1970.
pub(crate) fn instant(seconds: i64) -> Result<DateTime<Utc>, sqlx::Error> {
    DateTime::from_timestamp(seconds, 0).ok_or_else(|| sqlx::Error::Decode("an instant out of range".into()))
}

/// A number of a part, step or the like.
pub(crate) fn small(number: i64) -> Result<u16, sqlx::Error> {
    u16::try_from(number).map_err(|error| sqlx::Error::Decode(error.into()))
}
