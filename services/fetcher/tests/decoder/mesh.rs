//! Unstructured meshes through the decoding child: cells near places, values of cells, and meshes that do not belong together.
//!
//! Source: ../shared/grib-synthetic/expected_unstructured.csv, nearest cell by great circle and fields before packing;
//! tolerances as its README.md has them. The messages were written with ecCodes 2.50.

use super::{messages, place, request, shared_file as real_file, worker};
use fetcher::decoder::{Ask, DecodeFailure, DecodedField, DecodedValues, Decoder, Limits};
use forecast::mesh::CELLS_AROUND;
use forecast::{Node, Sample};
use seaway::LatLon;
use shared_files::shared;
use std::collections::HashMap;
use std::path::PathBuf;

type Row = HashMap<String, String>;

/// Every point of story.toml; the last two lie off the mesh, which ends at 45.2 N and 41.8 N.
const POINTS: [(&str, f64, f64); 7] = [
    ("home-pool", 43.5, -15.5),
    ("north-west-mark", 45.25, -17.25),
    ("outer-bank", 42.63, -14.09),
    ("middle-ground", 44.91, -15.28),
    ("island-lee", 45.1, -14.15),
    ("south-edge", 41.0, -13.4),
    ("island-hill", 45.5, -13.5),
];

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap()
}

struct Tree(PathBuf);

impl Tree {
    fn open() -> Option<Self> {
        Some(Self(shared("grib-synthetic")?))
    }

    fn expected(&self) -> Vec<Row> {
        let mut reader = csv::Reader::from_path(self.0.join("expected_unstructured.csv")).unwrap();
        reader.deserialize().collect::<Result<_, _>>().unwrap()
    }

    /// The one message of a parameter in a run, given as its hour.
    fn message(&self, parameter: &str, hour: &str, step: &str) -> Vec<u8> {
        let folder = "dwd/weather/nwp/v1/m/icon-eu/p";
        let file = format!("{folder}/{parameter}/r/2030-05-13T{hour}:00/s/PT{step:0>3}H00M.grib2");
        std::fs::read(self.0.join(file)).unwrap()
    }

    fn nearest(&self, longitude: &[u8]) -> Ask {
        Ask::NearestCells {
            longitude: longitude.to_vec().into(),
            places: POINTS.map(|(_, lat, lon)| place(lat, lon)).to_vec(),
            around: CELLS_AROUND,
        }
    }

    async fn cells(&self, decoder: &mut Decoder, hour: &str) -> (String, Vec<Vec<Node>>) {
        let ask = self.nearest(&self.message("CLON", hour, "0"));
        let field = only_field(decoder, &self.message("CLAT", hour, "0"), ask).await;
        match field.outcome {
            Ok(DecodedValues::NearestCells(cells)) => (field.grid.unwrap(), cells),
            other => panic!("{other:?}"),
        }
    }
}

async fn only_field(decoder: &mut Decoder, message: &[u8], ask: Ask) -> DecodedField {
    let mut fields = decoder.decode(request(message, 1, ask)).await.unwrap();
    assert_eq!(fields.len(), 1);
    fields.remove(0)
}

async fn refusal(decoder: &mut Decoder, message: &[u8], ask: Ask) -> String {
    let field = only_field(decoder, message, ask).await;
    field.outcome.unwrap_err().to_string()
}

async fn samples(decoder: &mut Decoder, message: &[u8], grid: &str, nodes: &[Node]) -> Vec<Sample> {
    let ask = Ask::Nodes {
        grid: grid.to_owned(),
        nodes: nodes.to_vec(),
    };
    match only_field(decoder, message, ask).await.outcome {
        Ok(DecodedValues::Around { nodes: own, samples }) => {
            assert_eq!(own, nodes);
            samples
        }
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn every_expected_cell_and_wind_of_both_runs_is_found() {
    let Some(tree) = Tree::open() else { return };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let rows = tree.expected();
    let mut compared = 0;
    for hour in ["00", "06"] {
        let (grid, cells) = tree.cells(&mut decoder, hour).await;
        for row in rows.iter().filter(|row| row["run"] == format!("20300513{hour}")) {
            assert!(grid.contains(&row["grid_uuid"]), "{grid}");
            let point = POINTS.iter().position(|point| point.0 == row["point"]).unwrap();
            let nearest = cells[point][0];
            assert_eq!(
                (f64::from(nearest.column), nearest.row),
                (number(row, "cell_index_from_0"), 0)
            );
            // Packed with 24 bits over three to four degrees.
            assert!((nearest.at.lat - number(row, "cell_lat")).abs() < 6.0e-6);
            assert!((nearest.at.lon - number(row, "cell_lon")).abs() < 6.0e-6);
            let here = place(number(row, "lat"), number(row, "lon"));
            assert!((here.distance(nearest.at).0 * 1.852 - number(row, "distance_km")).abs() < 0.003);
            let mut wind = Vec::new();
            for (parameter, column) in [("U_10M", "u_ms"), ("V_10M", "v_ms")] {
                let message = tree.message(parameter, hour, &row["step_h"]);
                let found = f64::from(samples(&mut decoder, &message, &grid, &[nearest]).await[0].unwrap());
                assert!((found - number(row, column)).abs() < 0.004, "{found} in {row:?}");
                wind.push(found);
            }
            let speed_kn = wind[0].hypot(wind[1]) / (1852.0 / 3600.0);
            assert!(
                (speed_kn - number(row, "speed_kn")).abs() < 0.02,
                "{speed_kn} in {row:?}"
            );
            compared += 1;
        }
        // What expected.py leaves out lies farther than 15 km from any cell of some 11 km.
        assert!(cells[5].is_empty() && cells[6].is_empty(), "{cells:?}");
        assert!(cells[..5].iter().all(|around| around.len() == CELLS_AROUND));
    }
    assert_eq!((compared, rows.len()), (20, 20));
}

#[tokio::test]
async fn cells_of_one_mesh_are_never_looked_up_in_another() {
    let Some(tree) = Tree::open() else { return };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let (grid, cells) = tree.cells(&mut decoder, "00").await;
    let later = tree.message("U_10M", "06", "0");
    let ask = Ask::Nodes {
        grid: grid.clone(),
        nodes: cells[0].clone(),
    };
    assert_eq!(
        refusal(&mut decoder, &later, ask.clone()).await,
        "message 1, section 3: the message lies on mesh-cee507cee672955e9f3d55d35d021265-990062-0-1152, \
         its coordinates are of mesh-f5e69620b1a173c1f18995343c915789-990062-0-1152 (at octet 0 of the file)"
    );
    let latitude = tree.message("CLAT", "00", "0");
    let ask_across = tree.nearest(&tree.message("CLON", "06", "0"));
    let words = refusal(&mut decoder, &latitude, ask_across).await;
    assert!(words.contains("its coordinates are of mesh-cee507"), "{words}");
    let Some(regular) = real_file("gfs-2p50-20111008-f072-multifield.grib2") else {
        return;
    };
    let words = refusal(&mut decoder, &messages(&regular)[0], ask).await;
    assert!(words.contains("its coordinates are of mesh-f5e696"), "{words}");
}

#[tokio::test]
async fn what_are_no_coordinates_is_said() {
    let Some(tree) = Tree::open() else { return };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let [latitude, longitude, wind] = ["CLAT", "CLON", "U_10M"].map(|name| tree.message(name, "00", "0"));
    let at = Ask::At {
        places: vec![LatLon {
            lat: 43.5,
            lon: -15.5,
        }],
    };
    let cut = &longitude[..longitude.len() - 9];
    for (message, ask, expected) in [
        (
            &wind,
            at,
            "unstructured mesh, UUID f5e69620b1a173c1f18995343c915789, 1152 cells",
        ),
        (&wind, tree.nearest(&longitude), "0/2/2 where 0/191/1 is wanted"),
        (
            &longitude,
            tree.nearest(&latitude),
            "0/191/2 where 0/191/1 is wanted",
        ),
        (
            &latitude,
            tree.nearest(&latitude),
            "longitudes: message 1: 0/191/1 where 0/191/2 is wanted",
        ),
        (
            &latitude,
            tree.nearest(cut),
            "longitudes: message 1, section 7: truncated",
        ),
        (
            &latitude,
            tree.nearest(b""),
            "longitudes: message 1: the file is empty",
        ),
    ] {
        let words = refusal(&mut decoder, message, ask).await;
        assert!(words.contains(expected), "{words} should say {expected}");
    }
}

/// The same message with so many cells, all at one latitude or longitude: zero bits a value.
fn with_constant_cells(message: &[u8], cells: u32) -> Vec<u8> {
    let mut octets = message.to_vec();
    // Section 1 has 21 octets, section 3 has 35, section 4 has 34.
    let (three, five) = (16 + 21, 16 + 21 + 35 + 34);
    octets[three + 6..three + 10].copy_from_slice(&cells.to_be_bytes());
    octets[five + 5..five + 9].copy_from_slice(&cells.to_be_bytes());
    octets[five + 19] = 0;
    octets
}

#[tokio::test]
async fn a_mesh_that_grows_beyond_the_limits_costs_one_message() {
    let Some(tree) = Tree::open() else { return };
    let mut decoder = Decoder::new(worker(), Limits::default());
    let [latitude, longitude] = ["CLAT", "CLON"].map(|name| tree.message(name, "00", "0"));
    let large = |cells| {
        let ask = tree.nearest(&with_constant_cells(&longitude, cells));
        request(&with_constant_cells(&latitude, cells), 1, ask)
    };
    let failure = decoder.decode(large(1 << 25)).await.unwrap_err();
    assert!(matches!(failure, DecodeFailure::Stopped { .. }), "{failure}");
    // Half a thousandth of it, all at one spot: read, and no place is inside.
    let fields = decoder.decode(large(1 << 14)).await.unwrap();
    assert_eq!(
        fields[0].outcome,
        Ok(DecodedValues::NearestCells(vec![Vec::new(); POINTS.len()]))
    );
    let (_, cells) = tree.cells(&mut decoder, "00").await;
    assert_eq!(cells[0].len(), CELLS_AROUND, "the decoder goes on");
}
