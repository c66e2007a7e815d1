//! Forgetting runs: by name, or by a policy. Club versions and advisories are records and are never forgotten.

use crate::run::instant;
use crate::{Store, StoreError};
use chrono::{DateTime, TimeDelta, Utc};
use forecast::SourceId;
use sqlx::any::AnyRow;
use sqlx::{AnyConnection, Row};

/// Which runs stay. A run stays if either rule keeps it; the newest of each source stays whatever they say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PrunePolicy {
    /// This many of the newest runs of each source stay.
    pub keep_runs: u16,
    /// Runs whose reference time is at most this long ago stay. Also how long notes of fetching stay.
    pub keep_for: TimeDelta,
}

/// What a pruning has forgotten.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pruned {
    /// Runs.
    pub runs: u64,
    /// Parts of these runs.
    pub parts: u64,
    /// Notes of fetching.
    pub notes: u64,
}

impl Store {
    /// Forgets the runs that no rule of the policy keeps, one transaction each, and old notes of fetching except the last
    /// of each source. Runs from after `now`, or not yet visible then, neither count nor go.
    ///
    /// # Errors
    /// [`StoreError::Database`]. What was forgotten before stays forgotten; a rerun goes on.
    pub async fn prune(&self, policy: PrunePolicy, now: DateTime<Utc>) -> Result<Pruned, StoreError> {
        let mut pruned = Pruned::default();
        for (source, reference) in self.runs_to_prune(policy, now).await? {
            let parts = self.forget_run(&source, reference).await?;
            pruned.parts += parts;
            pruned.runs += u64::from(parts > 0);
        }
        // Without an instant so long ago, no note is that old.
        if let Some(before) = now.checked_sub_signed(policy.keep_for) {
            pruned.notes = self.forget_notes(before).await?;
        }
        Ok(pruned)
    }

    /// Forgets a run with all its parts. Issued advisories keep their own inputs and are untouched.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn prune_run(&self, source: &SourceId, reference: DateTime<Utc>) -> Result<(), StoreError> {
        self.forget_run(source, reference).await.map(drop)
    }

    async fn runs_to_prune(
        &self,
        policy: PrunePolicy,
        now: DateTime<Utc>,
    ) -> Result<Vec<(SourceId, DateTime<Utc>)>, StoreError> {
        let rows = sqlx::query(
            "SELECT DISTINCT source, reference FROM parts WHERE visible_at <= $1 AND reference <= $1
             ORDER BY source ASC, reference DESC",
        )
        .bind(now.timestamp())
        .fetch_all(&self.pool)
        .await;
        let runs: Vec<(SourceId, DateTime<Utc>)> = rows
            .and_then(|rows| rows.iter().map(run_of).collect())
            .map_err(StoreError::while_doing("looking for runs to prune"))?;
        let kept_by_rank = usize::from(policy.keep_runs.max(1));
        let of_one_source = runs.chunk_by(|one, next| one.0 == next.0);
        let beyond_rank = of_one_source.flat_map(|runs| runs.iter().skip(kept_by_rank));
        Ok(beyond_rank
            .filter(|(_, reference)| now - *reference > policy.keep_for)
            .cloned()
            .collect())
    }

    /// Forgets the parts of a run. Returns how many there were.
    async fn forget_run(&self, source: &SourceId, reference: DateTime<Utc>) -> Result<u64, StoreError> {
        let _one_writer = self.writer.lock().await;
        let work = async {
            let parts = self.parts_of(source, reference).await?;
            let mut transaction = self.pool.begin().await?;
            let mut forgotten = 0;
            for part in parts {
                forgotten += forget_part(&mut transaction, source, reference, part).await?;
            }
            transaction.commit().await?;
            Ok(forgotten)
        };
        let doing = format!("pruning run {} of {source}", reference.to_rfc3339());
        work.await.map_err(StoreError::while_doing(doing))
    }

    async fn parts_of(&self, source: &SourceId, reference: DateTime<Utc>) -> Result<Vec<i64>, sqlx::Error> {
        let rows =
            sqlx::query("SELECT part FROM parts WHERE source = $1 AND reference = $2 ORDER BY part ASC")
                .bind(source.as_str())
                .bind(reference.timestamp())
                .fetch_all(&self.pool)
                .await?;
        rows.iter().map(|row| row.try_get(0)).collect()
    }

    async fn forget_notes(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let _one_writer = self.writer.lock().await;
        let deleted = sqlx::query(
            "DELETE FROM fetch_notes WHERE noted_at < $1 AND EXISTS (
                 SELECT 1 FROM fetch_notes AS later WHERE later.source = fetch_notes.source
                 AND (later.noted_at > fetch_notes.noted_at
                     OR (later.noted_at = fetch_notes.noted_at AND later.number > fetch_notes.number)))",
        )
        .bind(before.timestamp())
        .execute(&self.pool)
        .await
        .map_err(StoreError::while_doing("pruning notes of fetching"))?;
        Ok(deleted.rows_affected())
    }
}

/// Forgets one part. Returns 1, or 0 if another process has forgotten it already.
async fn forget_part(
    transaction: &mut AnyConnection,
    source: &SourceId,
    reference: DateTime<Utc>,
    part: i64,
) -> Result<u64, sqlx::Error> {
    let delete = |statement: &'static str| {
        sqlx::query(statement)
            .bind(source.as_str())
            .bind(reference.timestamp())
            .bind(part)
    };
    // The part first: until its deletion is through, no other process can write the part again, so that the series
    // deleted next are those of the old one.
    let forgotten = delete("DELETE FROM parts WHERE source = $1 AND reference = $2 AND part = $3");
    let forgotten = forgotten.execute(&mut *transaction).await?.rows_affected();
    if forgotten > 0 {
        let series = delete("DELETE FROM series WHERE source = $1 AND reference = $2 AND part = $3");
        series.execute(&mut *transaction).await?;
    }
    Ok(forgotten)
}

fn run_of(row: &AnyRow) -> Result<(SourceId, DateTime<Utc>), sqlx::Error> {
    Ok((
        SourceId::new(row.try_get::<String, _>(0)?),
        instant(row.try_get(1)?)?,
    ))
}
