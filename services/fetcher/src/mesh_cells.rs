//! The cells of a run's unstructured mesh that serve the places: found by one scan for each mesh and place, then kept.
//!
//! Owns: which coordinate files are read when. Must not know: wanted messages, parts; how cells are found is the decoder's.

use crate::batch::{Reader, Reading};
use crate::decoder::{Ask, DecodeRequest, DecodedField, DecodedValues, Decoder};
use crate::error::FetchError;
use bytes::Bytes;
use feeds::CoordinateMessage;
use forecast::Node;
use forecast::mesh::CELLS_AROUND;
use seaway::LatLon;
use store::Store;

/// What is needed to find cells.
pub struct CellFinder<'a> {
    /// Where the coordinate files are read.
    pub reader: &'a Reader<'a>,
    /// Where cells are kept.
    pub store: &'a Store,
    /// The places.
    pub places: &'a [LatLon],
}

impl CellFinder<'_> {
    /// What to ask of each message of a run: the cells that serve the places, on the mesh of the run's own coordinates. The
    /// longitudes are read only if a place's cells are not kept for this mesh.
    ///
    /// # Errors
    /// [`FetchError::Unreachable`] if the coordinates cannot be had or used now: without them no value has a place.
    pub async fn ask(
        &self,
        [latitude, longitude]: &[CoordinateMessage; 2],
        decoder: &mut Decoder,
    ) -> Result<Ask, FetchError> {
        let latitudes = self.message(latitude).await?;
        let about = self
            .decoded(latitude, &latitudes, Ask::At { places: Vec::new() }, decoder)
            .await?;
        let differs = latitude.expected.difference(&about.found());
        if let Some(difference) = differs {
            return Err(unusable(latitude, &difference));
        }
        let Some(grid) = about.grid else {
            return Err(unusable(latitude, "it lies on no grid that is read"));
        };
        let mut nodes = Vec::new();
        let mut new_places = Vec::new();
        for place in self.places {
            match self.store.mesh_cells(&grid, *place).await? {
                Some(cells) => nodes.extend(cells),
                None => new_places.push(*place),
            }
        }
        if !new_places.is_empty() {
            let longitudes = self.message(longitude).await?;
            let found = self
                .scan((latitude, &latitudes), &longitudes, &new_places, decoder)
                .await?;
            for (place, cells) in new_places.into_iter().zip(found) {
                self.store.put_mesh_cells(&grid, place, &cells).await?;
                nodes.extend(cells);
            }
        }
        nodes.sort_by_key(|node: &Node| node.column);
        nodes.dedup_by_key(|node| node.column);
        Ok(Ask::Nodes { grid, nodes })
    }

    async fn scan(
        &self,
        (latitude, latitudes): (&CoordinateMessage, &Bytes),
        longitudes: &Bytes,
        places: &[LatLon],
        decoder: &mut Decoder,
    ) -> Result<Vec<Vec<Node>>, FetchError> {
        let ask = Ask::NearestCells {
            longitude: longitudes.clone(),
            places: places.to_vec(),
            around: CELLS_AROUND,
        };
        let scanned = self.decoded(latitude, latitudes, ask, decoder).await?;
        match scanned.outcome {
            Ok(DecodedValues::NearestCells(cells)) if cells.len() == places.len() => Ok(cells),
            Ok(_) => Err(unusable(
                latitude,
                "the decoder's answer is not the one asked for",
            )),
            Err(damage) => Err(unusable(latitude, &damage.to_string())),
        }
    }

    async fn decoded(
        &self,
        of: &CoordinateMessage,
        message: &Bytes,
        ask: Ask,
        decoder: &mut Decoder,
    ) -> Result<DecodedField, FetchError> {
        let request = DecodeRequest {
            message: message.clone(),
            number: 1,
            ask,
        };
        let fields = decoder.decode(request).await;
        let fields = fields.map_err(|failure| unusable(of, &failure.to_string()))?;
        (fields.into_iter().next()).ok_or_else(|| unusable(of, "the message holds no field"))
    }

    async fn message(&self, of: &CoordinateMessage) -> Result<Bytes, FetchError> {
        let reading = Reading {
            file: of.file.clone(),
            range: of.range,
            serves: Vec::new(),
        };
        let (mut read, ended) = self.reader.read(vec![reading]).await;
        ended?;
        let messages = read.pop().map(|(_, messages)| messages);
        match messages {
            Some(Ok(raw)) => Ok(raw.messages[0].clone()),
            Some(Err((_, reason))) => Err(unusable(of, &reason)),
            None => Err(unusable(of, "it was not read")),
        }
    }
}

fn unusable(of: &CoordinateMessage, reason: &str) -> FetchError {
    let file = &of.file;
    FetchError::Unreachable(format!(
        "the mesh's coordinates in {file} cannot be used: {reason}"
    ))
}
