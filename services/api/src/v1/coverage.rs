//! Kept values as CoverageJSON (OGC 21-069r2): a collection of point series, one for each source, point and member.
//!
//! Owns: that form. Must not know: which values are wanted.

use super::conditions::{hours, quantities_and_members, rounded};
use advisor::KeptPoint;
use chrono::{DateTime, SecondsFormat, Utc};
use forecast::{Member, Parameter};
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// A CoverageJSON document of the type CoverageCollection.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Collection {
    /// `CoverageCollection`.
    #[serde(rename = "type")]
    kind: &'static str,
    /// `PointSeries`.
    domain_type: &'static str,
    /// The quantities by name, with unit (UCUM) and words.
    #[schema(value_type = std::collections::BTreeMap<String, Object>)]
    parameters: BTreeMap<&'static str, Value>,
    /// The systems of the axes: longitude and latitude (CRS84), time.
    #[schema(value_type = Vec<Object>)]
    referencing: Value,
    /// A coverage for each source, point and member; its `id` names them.
    #[schema(value_type = Vec<Object>)]
    coverages: Vec<Value>,
}

/// What is kept within a span.
pub(super) fn collection(kept: &[KeptPoint], span: (DateTime<Utc>, DateTime<Utc>)) -> Collection {
    let mut parameters = BTreeMap::new();
    let mut coverages = Vec::new();
    for point in kept {
        let times = hours(point, span);
        // A domain has at least one value on each axis.
        if times.is_empty() {
            continue;
        }
        let (quantities, members) = quantities_and_members(point);
        parameters.extend(quantities.iter().map(|one| (one.name(), described(*one))));
        coverages.extend(members.into_iter().map(|member| coverage(point, member, &times)));
    }
    Collection {
        kind: "CoverageCollection",
        domain_type: "PointSeries",
        parameters,
        referencing: json!([
            { "coordinates": ["x", "y"], "system": { "type": "GeographicCRS", "id": "http://www.opengis.net/def/crs/OGC/1.3/CRS84" } },
            { "coordinates": ["t"], "system": { "type": "TemporalRS", "calendar": "Gregorian" } },
        ]),
        coverages,
    }
}

fn coverage(point: &KeptPoint, member: Member, times: &[DateTime<Utc>]) -> Value {
    let mut ranges: BTreeMap<&'static str, Vec<Option<f64>>> = BTreeMap::new();
    for value in point.values.iter().filter(|value| value.member == member) {
        let series = ranges
            .entry(value.parameter.name())
            .or_insert_with(|| vec![None; times.len()]);
        if let Ok(place) = times.binary_search(&value.valid) {
            series[place] = value.value.ok().map(rounded);
        }
    }
    let range = |values: Vec<Option<f64>>| json!({ "type": "NdArray", "dataType": "float", "axisNames": ["t"], "shape": [values.len()], "values": values });
    let ranges: BTreeMap<&'static str, Value> = ranges
        .into_iter()
        .map(|(name, values)| (name, range(values)))
        .collect();
    let instant = |at: &DateTime<Utc>| at.to_rfc3339_opts(SecondsFormat::Secs, true);
    let times: Vec<String> = times.iter().map(instant).collect();
    let (source, run) = (&point.source, instant(&point.run));
    json!({
        "type": "Coverage",
        "id": format!("{source};run={run};point={};member={}", point.point, member.0),
        "domain": {
            "type": "Domain",
            "axes": { "x": { "values": [point.at.lon] }, "y": { "values": [point.at.lat] }, "t": { "values": times } },
        },
        "ranges": ranges,
    })
}

fn described(parameter: Parameter) -> Value {
    json!({
        "type": "Parameter",
        "description": { "en": words(parameter) },
        "unit": { "symbol": { "value": ucum(parameter), "type": "http://www.opengis.net/def/uom/UCUM/" } },
        "observedProperty": { "label": { "en": words(parameter) } },
    })
}

/// The unit as UCUM writes it.
fn ucum(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::WaveDirection => "deg",
        other => other.unit(),
    }
}

fn words(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::WindU => "Wind at 10 m towards east",
        Parameter::WindV => "Wind at 10 m towards north",
        Parameter::Gust => "Gust at 10 m",
        Parameter::Pressure => "Air pressure at mean sea level",
        Parameter::AirTemperature => "Air temperature at 2 m",
        Parameter::DewPoint => "Dew point at 2 m",
        Parameter::Visibility => "Visibility",
        Parameter::Cape => "Convective available potential energy",
        Parameter::Precipitation => "Precipitation of the interval that ends with the hour",
        Parameter::SurfaceTemperature => "Temperature of the surface",
        Parameter::LandShare => "Share of land",
        Parameter::WaveHeight => "Significant height of wind waves and swell",
        Parameter::WavePeriod => "Period of the primary waves",
        Parameter::WaveDirection => "Direction from which the primary waves come",
        Parameter::StreamU => "Stream towards east",
        Parameter::StreamV => "Stream towards north",
    }
}
