//! Cells of unstructured meshes: found once for a mesh and a place, then kept.
//!
//! Must not know: how cells are found, what a mesh is.

use crate::blob::{from_blob, to_blob};
use crate::{Store, StoreError};
use forecast::Node;
use seaway::LatLon;
use sqlx::Row;

impl Store {
    /// Keeps the cells of a mesh that serve a place, the nearest first; none if the place is outside. What is kept stays.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn put_mesh_cells(&self, grid: &str, place: LatLon, cells: &[Node]) -> Result<(), StoreError> {
        let doing = || StoreError::while_doing(format!("keeping cells of {grid}"));
        let blob = to_blob(&cells).map_err(|error| doing()(sqlx::Error::Encode(error.into())))?;
        let _one_writer = self.writer.lock().await;
        sqlx::query("INSERT INTO mesh_cells (grid, place, cells) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING")
            .bind(grid)
            .bind(name_of(place))
            .bind(blob)
            .execute(&self.pool)
            .await
            .map(|_| ())
            .map_err(doing())
    }

    /// The cells kept for a mesh and a place; none if they were not looked for yet, or what is kept was damaged.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn mesh_cells(&self, grid: &str, place: LatLon) -> Result<Option<Vec<Node>>, StoreError> {
        let row = sqlx::query("SELECT cells FROM mesh_cells WHERE grid = $1 AND place = $2")
            .bind(grid)
            .bind(name_of(place))
            .fetch_optional(&self.pool)
            .await;
        let blob = row.and_then(|row| row.map(|row| row.try_get::<Vec<u8>, _>(0)).transpose());
        let blob = blob.map_err(StoreError::while_doing(format!("reading cells of {grid}")))?;
        // Damaged ones are found anew: a scan costs less than a wrong cell.
        Ok(blob.and_then(|blob| from_blob(&blob).ok()))
    }
}

/// A place by all its digits: another place is another row.
fn name_of(place: LatLon) -> String {
    format!("{} {}", place.lat, place.lon)
}
