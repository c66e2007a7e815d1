//! One field at one place as a line: the keys of the JSON, the words of the text.

use chrono::{DateTime, SecondsFormat, Utc};
use fetcher::decoder::{NodeValue, PlaceValue};
use grid::{FieldHeader, names};
use seaway::LatLon;
use serde::Serialize;

/// What is printed of one field at one place. The keys are part of the command's interface.
#[derive(Serialize)]
pub struct Line<'a> {
    file: &'a str,
    message: u32,
    field: u32,
    discipline: u8,
    category: u8,
    number: u8,
    name: Option<String>,
    units: Option<&'static str>,
    level_type: u8,
    level: Option<f64>,
    reference_time: String,
    /// The start of the interval; for a value of one instant, that instant.
    from: String,
    /// The end of the interval; for a value of one instant, that instant.
    to: String,
    member: Option<u16>,
    at: Degrees,
    /// Null outside the grid.
    nearest: Option<Valued>,
    #[serde(skip_serializing_if = "Option::is_none")]
    nearest_valid: Option<Valued>,
    bilinear: Option<f32>,
    /// Of a component along the grid's x or y: degrees from true east to x at the nearest node, counter-clockwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    grid_x_from_east_deg: Option<f64>,
}

#[derive(Serialize)]
struct Degrees {
    lat: f64,
    lon: f64,
}

#[derive(Serialize)]
struct Valued {
    lat: f64,
    lon: f64,
    value: Option<f32>,
}

impl From<LatLon> for Degrees {
    fn from(place: LatLon) -> Self {
        Self {
            lat: millionths(place.lat),
            lon: millionths(place.lon),
        }
    }
}

impl From<NodeValue> for Valued {
    fn from(of: NodeValue) -> Self {
        let Degrees { lat, lon } = of.node.at.into();
        Self {
            lat,
            lon,
            value: of.sample.ok(),
        }
    }
}

/// Coordinates as finely as GRIB stores them.
fn millionths(degrees: f64) -> f64 {
    (degrees * 1.0e6).round() / 1.0e6
}

fn utc(instant: DateTime<Utc>) -> String {
    instant.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// By how much the components at a node have to be turned, where the message gives them along a grid that is turned.
fn turn_of(header: &FieldHeader, nearest: &NodeValue) -> Option<f64> {
    let is_component = names::is_vector_component(header.discipline, header.category, header.number);
    let grid = header.grid.as_ref().filter(|grid| grid.turns_vectors());
    grid.filter(|_| is_component)?
        .rotation_at(nearest.node.column, nearest.node.row)
}

impl<'a> Line<'a> {
    /// From a field and its values at a place.
    pub fn new(file: &'a str, header: &FieldHeader, place: &PlaceValue) -> Self {
        let quantity = names::quantity(header.discipline, header.category, header.number);
        let not_itself = names::not_the_quantity_itself(header.product_template);
        let name = quantity.map(|(name, _)| match not_itself {
            Some(kind) => format!("{name}, {kind} (template 4.{})", header.product_template),
            None => name.to_owned(),
        });
        Self {
            file,
            message: header.message,
            field: header.field,
            discipline: header.discipline,
            category: header.category,
            number: header.number,
            name,
            // A probability or a percentile is not in the quantity's unit, or not a value of it.
            units: quantity
                .map(|(_, units)| units)
                .filter(|_| !matches!(header.product_template, 5 | 9)),
            level_type: header.surface,
            level: header.level,
            reference_time: utc(header.reference),
            from: utc(header.interval.map_or(header.valid, |interval| interval.start)),
            to: utc(header.valid),
            member: header.member.map(|member| member.0),
            at: place.at.into(),
            nearest: place.nearest.map(Valued::from),
            nearest_valid: place.nearest_valid.map(Valued::from),
            bilinear: place.bilinear.ok(),
            grid_x_from_east_deg: place.nearest.and_then(|nearest| turn_of(header, &nearest)),
        }
    }

    /// As one line of JSON.
    pub fn json(&self) -> String {
        // Nothing in it can fail to serialise; were it so, an empty line would be no object and be noticed.
        serde_json::to_string(self).unwrap_or_default()
    }

    /// As one line for people.
    pub fn text(&self) -> String {
        let quantity = match &self.name {
            Some(name) => name.clone(),
            None => format!("quantity {}/{}/{}", self.discipline, self.category, self.number),
        };
        let units = self.units.map(|units| format!(" {units}")).unwrap_or_default();
        let level = self.level.map(|level| format!(" at {level}")).unwrap_or_default();
        let member = self
            .member
            .map(|member| format!(", member {member}"))
            .unwrap_or_default();
        let time = if self.from == self.to {
            self.to.clone()
        } else {
            format!("{} to {}", self.from, self.to)
        };
        format!(
            "{} message {}.{}: {quantity}, level type {}{level}{member}, run {}, {time}, {:.4} {:.4}: {}",
            self.file,
            self.message,
            self.field,
            self.level_type,
            self.reference_time,
            self.at.lat,
            self.at.lon,
            self.values_in_words(&units)
        )
    }

    fn values_in_words(&self, units: &str) -> String {
        let Some(nearest) = &self.nearest else {
            return "outside the grid".to_owned();
        };
        let value = |value: Option<f32>| match value {
            Some(value) => format!("{value}{units}"),
            None => "missing".to_owned(),
        };
        let at_node = |of: &Valued| format!("{} at node {:.4} {:.4}", value(of.value), of.lat, of.lon);
        let mut words = format!("{} between the nodes, {}", value(self.bilinear), at_node(nearest));
        if let Some(valid) = &self.nearest_valid {
            words += &format!(", nearest value {}", at_node(valid));
        }
        if let Some(degrees) = self.grid_x_from_east_deg {
            words += &format!(", along the grid, whose x lies {degrees:.2} degrees anticlockwise of east");
        }
        words
    }
}
