//! What the tests of the invented trees share: rows of the expected files, fields by their numbers, comparisons counted.
//!
//! Source: ../shared/grib-synthetic, its README for the tolerances.

use crate::common::{messages, value_at};
use forecast::{Gap, Sample};
use grid::{FieldHeader, Message};
use seaway::{LatLon, MetresPerSecond, Wind};
use std::collections::{BTreeMap, HashMap};
use std::path::Path;

pub type Row = HashMap<String, String>;

pub const HEIGHT: (u8, Option<f64>) = (103, Some(10.0));
pub const TWO_METRES: (u8, Option<f64>) = (103, Some(2.0));
pub const KELVIN: f64 = 273.15;

pub fn rows(path: &Path) -> Vec<Row> {
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

pub fn place(row: &Row, lat: &str, lon: &str) -> LatLon {
    LatLon::new(row[lat].parse().unwrap(), row[lon].parse().unwrap()).unwrap()
}

/// A file, its messages' fields read once.
pub struct File {
    bytes: Vec<u8>,
}

impl File {
    pub fn read(path: &Path) -> Self {
        Self {
            bytes: std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display())),
        }
    }

    pub fn fields(&self) -> Vec<(Message<'_>, FieldHeader)> {
        let mut all = Vec::new();
        for message in messages(&self.bytes) {
            all.extend(
                grid::read_fields(&message)
                    .unwrap()
                    .into_iter()
                    .map(|field| (message, field)),
            );
        }
        all
    }
}

pub struct Fields<'a>(pub Vec<(Message<'a>, FieldHeader)>);

impl<'a> Fields<'a> {
    /// The one field of these numbers; its level too where one is given.
    pub fn find(
        &self,
        numbers: (u8, u8, u8),
        level: (u8, Option<f64>),
    ) -> Option<&(Message<'a>, FieldHeader)> {
        self.0.iter().find(|(_, field)| {
            (field.discipline, field.category, field.number) == numbers
                && field.surface == level.0
                && (level.1.is_none() || field.level == level.1)
                && field.second_surface == 255
        })
    }

    pub fn both(&self, numbers: (u8, u8, u8), level: (u8, Option<f64>), at: LatLon) -> (Sample, Sample) {
        let (message, field) = self
            .find(numbers, level)
            .unwrap_or_else(|| panic!("no field {numbers:?}"));
        value_at(message, field, at).unwrap()
    }

    pub fn bilinear(&self, numbers: (u8, u8, u8), level: (u8, Option<f64>), at: LatLon) -> Sample {
        self.both(numbers, level, at).1
    }

    pub fn nearest(&self, numbers: (u8, u8, u8), level: (u8, Option<f64>), at: LatLon) -> Sample {
        self.both(numbers, level, at).0
    }

    /// Directions are interpolated as unit vectors.
    pub fn direction(&self, numbers: (u8, u8, u8), level: (u8, Option<f64>), at: LatLon) -> Sample {
        let (message, field) = self.find(numbers, level).unwrap();
        let cell = field.grid.as_ref().unwrap().cell(at).unwrap();
        let corners = cell.corners.map(|corner| (corner.column, corner.row));
        let samples = grid::values_at(message, field, &corners).unwrap();
        let part = |of: fn(f64) -> f64| {
            let parts: Vec<Sample> = samples
                .iter()
                .map(|sample| sample.map(|from| of(f64::from(from).to_radians()) as f32))
                .collect();
            grid::bilinear(&cell, &parts)
        };
        let (sin, cos) = (part(f64::sin)?, part(f64::cos)?);
        Ok(sin.atan2(cos).to_degrees().rem_euclid(360.0))
    }

    pub fn wind(&self, at: LatLon) -> Wind {
        let part = |number| f64::from(self.bilinear((0, 2, number), HEIGHT, at).unwrap());
        Wind::from_components(MetresPerSecond(part(2)), MetresPerSecond(part(3)))
    }
}

/// Counts what was compared, column by column.
#[derive(Default)]
pub struct Comparison(pub BTreeMap<String, usize>);

impl Comparison {
    pub fn check(
        &mut self,
        row: &Row,
        column: &str,
        found: Sample,
        scale: impl Fn(f64) -> f64,
        tolerance: f64,
    ) {
        let found = found.map(|found| scale(f64::from(found)));
        let Ok(expected) = row[column].parse::<f64>() else {
            assert_eq!(found, Err(Gap::Masked), "{column} of {row:?}");
            *self.0.entry(format!("{column}, missing")).or_default() += 1;
            return;
        };
        let found = found.unwrap_or_else(|gap| panic!("{column} {gap:?} of {row:?}"));
        let off = if column.ends_with("_deg") {
            seaway::quantity::signed_difference(found, expected).abs()
        } else {
            (found - expected).abs()
        };
        // Expected values are printed rounded: half of their last digit comes on top.
        let digits = row[column]
            .split_once('.')
            .map_or(0, |(_, digits)| digits.len() as i32);
        assert!(
            off <= tolerance + 0.5 * 10_f64.powi(-digits),
            "{column} is {found}, off by {off}, for {row:?}"
        );
        *self.0.entry(column.to_owned()).or_default() += 1;
    }

    pub fn wind(&mut self, row: &Row, wind: Wind) {
        self.check(row, "grid_speed_kn", Ok(wind.speed.0 as f32), |kn| kn, 0.02);
        self.check(
            row,
            "grid_direction_from_deg",
            Ok(wind.from.degrees() as f32),
            |deg| deg,
            0.1,
        );
    }

    pub fn print(&self, title: &str) {
        let total: usize = self.0.values().sum();
        println!("{title}: {total} values compared");
        for (column, count) in &self.0 {
            println!("  {column}: {count}");
        }
    }
}

pub fn knots(speed: f64) -> f64 {
    seaway::Knots::from(MetresPerSecond(speed)).0
}

pub fn same(value: f64) -> f64 {
    value
}

pub fn celsius(kelvin: f64) -> f64 {
    kelvin - KELVIN
}
