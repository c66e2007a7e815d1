//! Real files of six producers against values that ecCodes 2.50.0 and numpy computed.
//!
//! Source: ../shared/grib-real, expected.csv and wind.csv (its README says how they were made).

use crate::common::{close, messages, shared, value_at};
use forecast::{Gap, Process};
use grid::{Damage, Fault, FieldHeader};
use seaway::LatLon;
use std::collections::{BTreeMap, HashMap};
use std::path::Path;

type Row = HashMap<String, String>;

fn rows(path: &Path) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.deserialize().collect::<Result<_, _>>().unwrap()
}

fn number(row: &Row, column: &str) -> f64 {
    row[column]
        .parse()
        .unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

fn place(row: &Row) -> LatLon {
    LatLon::new(number(row, "lat"), number(row, "lon")).unwrap()
}

fn by_file(rows: Vec<Row>) -> BTreeMap<String, Vec<Row>> {
    let mut files = BTreeMap::<_, Vec<Row>>::new();
    for row in rows {
        files.entry(row["file"].clone()).or_default().push(row);
    }
    files
}

fn instant(at: chrono::DateTime<chrono::Utc>) -> String {
    at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn check_header(field: &FieldHeader, row: &Row) {
    let text = |value: Option<String>| value.unwrap_or_default();
    let found = [
        ("discipline", field.discipline.to_string()),
        ("category", field.category.to_string()),
        ("number", field.number.to_string()),
        ("level_type_code", field.surface.to_string()),
        ("pdt", format!("4.{}", field.product_template)),
        ("packing", format!("5.{}", field.packing_template)),
        ("ref_time", instant(field.reference)),
        ("valid_time", instant(field.valid)),
        (
            "forecast_start",
            instant(field.interval.map_or(field.valid, |interval| interval.start)),
        ),
        (
            "interval_start",
            text(field.interval.map(|interval| instant(interval.start))),
        ),
        (
            "interval_end",
            text(field.interval.map(|interval| instant(interval.end))),
        ),
        ("ens_type", text(field.ensemble_type.map(|kind| kind.to_string()))),
        ("member", text(field.member.map(|member| member.0.to_string()))),
        (
            "stat_process",
            text(field.interval.map(|interval| process_code(interval.process))),
        ),
    ];
    for (column, found) in found {
        assert_eq!(found, row[column], "{column} of {row:?}");
    }
    let level = Some(&row["level"])
        .filter(|level| !level.is_empty())
        .map(|level| level.parse().unwrap());
    assert_eq!(field.level, level, "level of {row:?}");
}

fn process_code(process: Process) -> String {
    let code = match process {
        Process::Mean => 0,
        Process::Accumulation => 1,
        Process::Maximum => 2,
        Process::Minimum => 3,
        Process::Other(code) => code,
    };
    code.to_string()
}

fn refusal(row: &Row) -> Option<Fault> {
    let unsupported = |table, template| Some(Fault::Unsupported { table, template });
    match (row["grid_type"].as_str(), row["packing"].as_str()) {
        ("regular_ll", _) => None,
        ("rotated_ll", _) => unsupported(3, 1),
        ("mercator", _) => unsupported(3, 10),
        ("polar_stereographic", _) => unsupported(3, 20),
        ("lambert", _) => unsupported(3, 30),
        ("regular_gg" | "reduced_gg", _) => unsupported(3, 40),
        (other, _) => panic!("unknown grid {other}"),
    }
}

#[test]
fn every_row_of_a_regular_grid_has_its_value_and_every_other_is_refused_by_name() {
    let Some(folder) = shared("grib-real") else { return };
    let (mut compared, mut refused, mut outside) = (0, 0, 0);
    for (file, rows) in by_file(rows(&folder.join("expected.csv"))) {
        let bytes = std::fs::read(folder.join(&file)).unwrap();
        let messages = messages(&bytes);
        for row in &rows {
            let message = &messages[number(row, "message") as usize - 1];
            let fields = grid::read_fields(message).unwrap();
            let field = &fields[number(row, "field") as usize - 1];
            check_header(field, row);
            let found = value_at(message, field, place(row));
            if let Some(fault) = refusal(row) {
                assert_refused_by_name(field, &fault, &file);
                refused += 1;
                continue;
            }
            let (nearest, bilinear) = found.unwrap_or_else(|damage| panic!("{damage} for {row:?}"));
            if row["inside"] == "0" {
                assert_eq!(
                    (nearest, bilinear),
                    (Err(Gap::OutsideGrid), Err(Gap::OutsideGrid)),
                    "{row:?}"
                );
                outside += 1;
                continue;
            }
            check_node(field, row);
            for (found, kind, tolerance) in [
                (nearest, "nearest", "tolerance"),
                (bilinear, "bilinear", "bilinear_tolerance"),
            ] {
                if row[&format!("{kind}_valid")] == "1" {
                    let expected = number(row, &format!("{kind}_value"));
                    assert!(
                        close(found, expected, number(row, tolerance)),
                        "{kind} {found:?} for {row:?}"
                    );
                } else {
                    assert_eq!(found, Err(Gap::Masked), "{kind} for {row:?}");
                }
            }
            compared += 1;
        }
    }
    println!("{compared} rows compared, {outside} outside their grid, {refused} refused by name");
    assert!(compared > 1500 && refused > 400 && outside > 40);
}

fn assert_refused_by_name(field: &FieldHeader, fault: &Fault, file: &str) {
    let damage: &Damage = field.refusal.as_ref().unwrap();
    assert_eq!(&damage.what, fault);
    let Fault::Unsupported { table, template } = fault else {
        unreachable!()
    };
    let words = format!(
        "unsupported: template {table}.{template} in message {} of {file}",
        field.message
    );
    assert!(
        damage.in_file(file).starts_with(&words),
        "{}",
        damage.in_file(file)
    );
}

fn check_node(field: &FieldHeader, row: &Row) {
    let node = field
        .grid
        .as_ref()
        .and_then(|grid| grid.nearest(place(row)))
        .unwrap();
    let lon_off = seaway::quantity::signed_difference(node.at.lon, number(row, "node_lon"));
    let lat_off = node.at.lat - number(row, "node_lat");
    // Coordinates are stored in millionths of a degree; steps of a sixth of a degree are rounded.
    assert!(
        lat_off.abs() < 1.0e-4 && lon_off.abs() < 1.0e-4,
        "{node:?} for {row:?}"
    );
}

#[test]
fn every_wind_of_a_regular_grid_has_its_components() {
    let Some(folder) = shared("grib-real") else { return };
    let mut compared = 0;
    for (file, rows) in by_file(rows(&folder.join("wind.csv"))) {
        let bytes = std::fs::read(folder.join(&file)).unwrap();
        let messages = messages(&bytes);
        for row in rows.iter().filter(|row| row["grid_type"] == "regular_ll") {
            for component in ["u", "v"] {
                let message = &messages[number(row, &format!("{component}_message")) as usize - 1];
                let fields = grid::read_fields(message).unwrap();
                let field = &fields[number(row, &format!("{component}_field")) as usize - 1];
                let (nearest, bilinear) = value_at(message, field, place(row)).unwrap();
                for (found, kind) in [(nearest, "nearest"), (bilinear, "bilinear")] {
                    let expected = &row[&format!("{component}_{kind}")];
                    match expected.parse() {
                        // The largest tolerance of expected.csv for wind components.
                        Ok(expected) => {
                            assert!(close(found, expected, 1.0e-2), "{kind} {found:?} for {row:?}")
                        }
                        Err(_) => assert_eq!(found, Err(Gap::Masked), "{kind} for {row:?}"),
                    }
                    compared += 1;
                }
            }
        }
    }
    println!("{compared} components compared");
    assert!(compared > 200);
}
