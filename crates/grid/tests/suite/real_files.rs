//! Real files of six producers against values that ecCodes 2.50.0 and numpy computed.
//!
//! Source: ../shared/grib-real, expected.csv and wind.csv (its README says how they were made).

use crate::common::{close, messages, shared, value_at};
use forecast::{Gap, Process, Sample};
use grid::{FieldHeader, Message};
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

#[test]
fn every_row_of_every_grid_has_its_value() {
    let Some(folder) = shared("grib-real") else { return };
    let (mut compared, mut outside) = (BTreeMap::<String, u32>::new(), 0);
    for (file, rows) in by_file(rows(&folder.join("expected.csv"))) {
        let bytes = std::fs::read(folder.join(&file)).unwrap();
        let messages = messages(&bytes);
        for row in &rows {
            let message = &messages[number(row, "message") as usize - 1];
            let fields = grid::read_fields(message).unwrap();
            let field = &fields[number(row, "field") as usize - 1];
            check_header(field, row);
            let found = value_at(message, field, place(row));
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
            check_value(nearest, "nearest", "tolerance", row);
            if row["grid_type"] == "regular_ll" {
                check_value(bilinear, "bilinear", "bilinear_tolerance", row);
            }
            *compared.entry(row["grid_type"].clone()).or_default() += 1;
        }
    }
    println!("{compared:?} rows compared, {outside} outside their grid");
    // As many as expected.csv has.
    let of_grids = [
        ("lambert", 208),
        ("mercator", 16),
        ("polar_stereographic", 13),
        ("reduced_gg", 39),
        ("regular_gg", 52),
        ("regular_ll", 1733),
        ("rotated_ll", 91),
    ];
    assert_eq!(
        compared,
        of_grids.map(|(grid, rows)| (grid.to_owned(), rows)).into()
    );
    assert_eq!(outside, 77);
}

fn check_value(found: Sample, kind: &str, tolerance: &str, row: &Row) {
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

fn check_node(field: &FieldHeader, row: &Row) {
    let node = field
        .grid
        .as_ref()
        .and_then(|grid| grid.nearest(place(row)))
        .unwrap_or_else(|| panic!("outside its grid: {row:?}"));
    let lon_off = seaway::quantity::signed_difference(node.at.lon, number(row, "node_lon"));
    let lat_off = node.at.lat - number(row, "node_lat");
    // Coordinates are stored in millionths of a degree, and so are expected ones; steps of a sixth of a degree are rounded.
    // ecCodes turns the rotated grid less exactly: PROJ agrees with us to 1e-12 (see `projections`).
    let bound = match row["grid_type"].as_str() {
        "regular_ll" => 1.0e-4,
        "rotated_ll" => 3.0e-6,
        _ => 1.0e-6,
    };
    assert!(
        lat_off.abs() < bound && lon_off.abs() < bound,
        "{node:?} for {row:?}"
    );
}

/// A component of the row's wind: the message, the field and the values at the row's place.
struct Component<'a> {
    message: Message<'a>,
    field: FieldHeader,
}

impl<'a> Component<'a> {
    fn of(row: &Row, name: &str, messages: &[Message<'a>]) -> Self {
        let message = messages[number(row, &format!("{name}_message")) as usize - 1];
        let field = grid::read_fields(&message)
            .unwrap()
            .remove(number(row, &format!("{name}_field")) as usize - 1);
        Self { message, field }
    }

    fn at(&self, nodes: &[(u32, u32)]) -> Vec<Sample> {
        grid::values_at(&self.message, &self.field, nodes).unwrap()
    }
}

#[test]
fn every_wind_has_its_components_and_they_are_turned_to_true_east_and_north() {
    let Some(folder) = shared("grib-real") else { return };
    let (mut compared, mut turned) = (0, 0);
    for (file, rows) in by_file(rows(&folder.join("wind.csv"))) {
        let bytes = std::fs::read(folder.join(&file)).unwrap();
        let messages = messages(&bytes);
        for row in &rows {
            let (u, v) = (
                Component::of(row, "u", &messages),
                Component::of(row, "v", &messages),
            );
            let grid = u.field.grid.as_ref().unwrap();
            assert_eq!(
                row["uv_relative_to_grid"] == "1",
                grid.vectors_follow_grid(),
                "{row:?}"
            );
            let node = grid.nearest(place(row)).unwrap();
            let name = (node.column, node.row);
            let (along_x, along_y) = (u.at(&[name])[0], v.at(&[name])[0]);
            check_component(along_x, "u_nearest", row);
            check_component(along_y, "v_nearest", row);
            let [east, north] = grid.true_components(name, along_x, along_y);
            check_component(east, "u_earth_nearest", row);
            check_component(north, "v_earth_nearest", row);
            let rotation = grid.rotation_at(node.column, node.row).unwrap();
            let told = if grid.vectors_follow_grid() { rotation } else { 0.0 };
            // Given to four decimals; not given where the wind is masked.
            if let Ok(expected) = row["rotation_deg"].parse::<f64>() {
                assert!((told - expected).abs() < 1.0e-4, "{told} for {row:?}");
            }
            turned += u32::from(told != 0.0);
            if row["grid_type"] == "regular_ll" {
                let cell = grid.cell(place(row)).unwrap();
                let corners = cell.corners.map(|corner| (corner.column, corner.row));
                check_component(grid::bilinear(&cell, &u.at(&corners)), "u_bilinear", row);
                check_component(grid::bilinear(&cell, &v.at(&corners)), "v_bilinear", row);
            }
            compared += 1;
        }
    }
    println!("{compared} winds compared, {turned} of them turned");
    assert!(compared > 100 && turned > 30);
}

fn check_component(found: Sample, column: &str, row: &Row) {
    match row[column].parse() {
        // The largest tolerance of expected.csv for wind components.
        Ok(expected) => assert!(close(found, expected, 1.0e-2), "{column} {found:?} for {row:?}"),
        Err(_) => assert_eq!(found, Err(Gap::Masked), "{column} for {row:?}"),
    }
}
