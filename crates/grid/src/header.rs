//! What a message says about its fields, without decoding a value.

use crate::definition::GridDefinition;
use crate::layout::Layout;
use crate::mesh::MeshDefinition;
use crate::packing;
use crate::product::{read_instant, read_product};
use crate::sections::{self, FieldSections};
use crate::{Damage, Message};
use chrono::{DateTime, Utc};
use forecast::{Interval, Member};
use serde::{Deserialize, Serialize};

/// What one field of a message is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FieldHeader {
    /// Number of the message in its file, from 1.
    pub message: u32,
    /// Number of the field in its message, from 1.
    pub field: u32,
    /// Discipline (code table 0.0).
    pub discipline: u8,
    /// Parameter category (code table 4.1).
    pub category: u8,
    /// Parameter number (code table 4.2).
    pub number: u8,
    /// Type of the first fixed surface (code table 4.5).
    pub surface: u8,
    /// Value of the first fixed surface in the unit of its type; none where the message gives none.
    pub level: Option<f64>,
    /// Type of the second fixed surface; 255 for none.
    pub second_surface: u8,
    /// Value of the second fixed surface.
    pub second_level: Option<f64>,
    /// Reference time of section 1.
    pub reference: DateTime<Utc>,
    /// The instant the values are for; the end of the interval where there is one.
    pub valid: DateTime<Utc>,
    /// The interval the values are for (templates 4.8 to 4.12).
    pub interval: Option<Interval>,
    /// Type of ensemble forecast (code table 4.6), with a member.
    pub ensemble_type: Option<u8>,
    /// Number of the member (templates 4.1 and 4.11). Derived fields and probabilities have none.
    pub member: Option<Member>,
    /// Product definition template: 0 and 8 one run, 1 and 11 a member; others are no value of one forecast.
    pub product_template: u16,
    /// Data representation template.
    pub packing_template: u16,
    /// Grid definition template.
    pub grid_template: u16,
    /// The grid, where it is one of columns and rows.
    pub grid: Option<GridDefinition>,
    /// The mesh, where the grid is an unstructured one.
    pub mesh: Option<MeshDefinition>,
    /// Why no values can be had of this field although its header reads: an unsupported grid or packing.
    pub refusal: Option<Damage>,
}

impl FieldHeader {
    /// The identity of the grid or mesh, as [`GridDefinition::hash`] and [`MeshDefinition::hash`] give it; none where the
    /// grid is not read.
    pub fn grid_hash(&self) -> Option<String> {
        let mesh = || self.mesh.as_ref().map(MeshDefinition::hash);
        self.grid.as_ref().map(GridDefinition::hash).or_else(mesh)
    }
}

/// Reads the headers of all fields of a message.
///
/// # Errors
/// A damaged section, an impossible grid or date, or a product template that is not read here.
pub fn read_fields(message: &Message<'_>) -> Result<Vec<FieldHeader>, Damage> {
    sections::fields(message)?
        .iter()
        .map(|field| read_field(message, field))
        .collect()
}

fn read_field(message: &Message<'_>, field: &FieldSections<'_>) -> Result<FieldHeader, Damage> {
    let reference = read_instant(&field.identification, 13)?;
    let product = read_product(&field.product, reference)?;
    let (grid, mesh, no_grid) = match Layout::read(&field.grid) {
        Ok(Layout::Grid(grid)) => (Some(grid), None, None),
        Ok(Layout::Mesh(mesh)) => (None, Some(mesh), None),
        Err(damage) if damage.what.is_unsupported() => (None, None, Some(damage)),
        Err(damage) => return Err(damage),
    };
    let refusal = no_grid.or_else(|| packing::refusal(&field.representation));
    Ok(FieldHeader {
        message: message.number,
        field: field.field,
        discipline: message.bytes[6],
        category: product.category,
        number: product.number,
        surface: product.surface,
        level: product.level,
        second_surface: product.second_surface,
        second_level: product.second_level,
        reference,
        valid: product.valid,
        interval: product.interval,
        ensemble_type: product.ensemble_type,
        member: product.member,
        product_template: product.template,
        packing_template: field.representation.u16(10)?,
        grid_template: field.grid.u16(13)?,
        grid,
        mesh,
        refusal,
    })
}
