//! Parts: one transaction writes a block of steps with all members and parameters; readers see it whole or not at all.

use crate::blob::to_blob;
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use forecast::{Member, MessageRecord, NodeSeries, Outcome, SourceId, Step};
use serde::{Deserialize, Serialize};

/// A part to be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct NewPart {
    /// The feed.
    pub source: SourceId,
    /// The run's reference time.
    pub reference: DateTime<Utc>,
    /// Number of the block of steps, from 0.
    pub part: u16,
    /// Hash of the grid definition; empty if no message of the part could be read.
    pub grid: String,
    /// The members, ascending.
    pub members: Vec<Member>,
    /// The steps, ascending.
    pub steps: Vec<Step>,
    /// The nodes with their values, each series `members * steps` long.
    pub nodes: Vec<NodeSeries>,
    /// What became of each wanted message.
    pub messages: Vec<MessageRecord>,
    /// False if the part ended with gaps.
    pub complete: bool,
    /// When readers may see it.
    pub visible_at: DateTime<Utc>,
}

/// What a part holds, beside its series.
#[derive(Serialize, Deserialize)]
pub(crate) struct Manifest {
    pub(crate) members: Vec<Member>,
    pub(crate) steps: Vec<Step>,
    pub(crate) messages: Vec<MessageRecord>,
}

impl Manifest {
    /// Whether members and steps are there and ascending, as they are written: all reading leans on it.
    pub(crate) fn is_in_order(&self) -> bool {
        let ascending = self.members.is_sorted_by(|a, b| a < b) && self.steps.is_sorted_by(|a, b| a < b);
        ascending && !self.members.is_empty() && !self.steps.is_empty()
    }
}

impl NewPart {
    fn refused(&self, reason: String) -> StoreError {
        StoreError::Refused {
            source_id: self.source.clone(),
            run: self.reference.to_rfc3339(),
            part: self.part,
            reason,
        }
    }

    fn doing(&self, what: &str) -> String {
        format!(
            "{what} part {} of run {} of {}",
            self.part,
            self.reference.to_rfc3339(),
            self.source
        )
    }

    /// Checks that the part agrees with itself, so that reading it back cannot mix up members or steps.
    fn check(&self) -> Result<(), StoreError> {
        if self.members.is_empty() || self.steps.is_empty() {
            return Err(self.refused("it has no members or no steps".into()));
        }
        if !self.members.is_sorted_by(|a, b| a < b) || !self.steps.is_sorted_by(|a, b| a < b) {
            return Err(self.refused("its members or steps are not ascending".into()));
        }
        let wanted = self.members.len() * self.steps.len();
        for node in &self.nodes {
            if let Some(field) = node.fields.iter().find(|field| field.samples.len() != wanted) {
                let found = field.samples.len();
                return Err(self.refused(format!("{} has {found} samples, not {wanted}", field.parameter)));
            }
        }
        Ok(())
    }

    /// The last step with anything read; the first step of the part if nothing was.
    fn last_step_read(&self) -> Step {
        let read = self
            .messages
            .iter()
            .filter(|message| message.outcome == Outcome::Read);
        read.map(|message| message.step).max().unwrap_or(self.steps[0])
    }
}

impl Store {
    /// Keeps a part in one transaction. Returns false, and changes nothing, if the part is already kept.
    ///
    /// # Errors
    /// [`StoreError::Refused`] if the part does not agree with itself, [`StoreError::Database`] otherwise.
    pub async fn write_part(&self, part: &NewPart) -> Result<bool, StoreError> {
        part.check()?;
        let manifest = Manifest {
            members: part.members.clone(),
            steps: part.steps.clone(),
            messages: part.messages.clone(),
        };
        let manifest = encode(part, &manifest)?;
        let mut blobs = Vec::with_capacity(part.nodes.len());
        for node in &part.nodes {
            blobs.push(encode(part, &node.fields)?);
        }
        let _one_writer = self.writer.lock().await;
        self.insert_part(part, manifest, blobs)
            .await
            .map_err(StoreError::while_doing(part.doing("keeping")))
    }

    async fn insert_part(
        &self,
        part: &NewPart,
        manifest: Vec<u8>,
        blobs: Vec<Vec<u8>>,
    ) -> Result<bool, sqlx::Error> {
        let mut transaction = self.pool.begin().await?;
        // The first statement writes, so that SQLite takes the write lock at once and waits for it if need be.
        let inserted = sqlx::query(
            "INSERT INTO parts (source, reference, part, grid, complete, last_step, visible_at, manifest)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT DO NOTHING",
        )
        .bind(part.source.as_str())
        .bind(part.reference.timestamp())
        .bind(i64::from(part.part))
        .bind(part.grid.as_str())
        .bind(i64::from(part.complete))
        .bind(i64::from(part.last_step_read().0))
        .bind(part.visible_at.timestamp())
        .bind(manifest)
        .execute(&mut *transaction)
        .await?
        .rows_affected();
        if inserted == 0 {
            transaction.rollback().await?;
            return Ok(false);
        }
        for (node, samples) in part.nodes.iter().zip(blobs) {
            sqlx::query(
                "INSERT INTO series (source, reference, part, grid, node_column, node_row, lat, lon, samples)
                 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
            )
            .bind(part.source.as_str())
            .bind(part.reference.timestamp())
            .bind(i64::from(part.part))
            .bind(part.grid.as_str())
            .bind(i64::from(node.node.column))
            .bind(i64::from(node.node.row))
            .bind(node.node.at.lat)
            .bind(node.node.at.lon)
            .bind(samples)
            .execute(&mut *transaction)
            .await?;
        }
        transaction.commit().await?;
        Ok(true)
    }
}

fn encode<T: Serialize>(part: &NewPart, value: &T) -> Result<Vec<u8>, StoreError> {
    to_blob(value).map_err(|source| StoreError::Unreadable {
        what: part.doing("a series or manifest of"),
        source,
    })
}
