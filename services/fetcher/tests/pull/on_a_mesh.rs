//! Pulls of a native mesh over HTTP: cells and values against the shared set's expected ones, which its papers found with
//! ecCodes and a search of their own.

use crate::feeds_at::{pull_from, pull_with, replica_of};
use crate::tree::{at, plan, rows, shared};
use fetcher::FetchPlan;
use forecast::{Gap, NodeSeries, Parameter, RunSlice, SourceId};
use replica::{Fault, Replica, Times};
use seaway::LatLon;
use std::collections::HashMap;
use store::Store;

const NOON: &str = "2030-05-13T12:00:00Z";
const FEED: &str = "icon-eu-native";

fn expected() -> Option<Vec<HashMap<String, String>>> {
    Some(rows(shared("grib-synthetic/expected_unstructured.csv")?))
}

fn number<T: std::str::FromStr>(row: &HashMap<String, String>, column: &str) -> T {
    let Ok(number) = row[column].parse() else {
        panic!("{column} is {}", row[column]);
    };
    number
}

fn place(row: &HashMap<String, String>) -> LatLon {
    LatLon {
        lat: number(row, "lat"),
        lon: number(row, "lon"),
    }
}

fn plan_for(replica: &Replica, places: Vec<LatLon>) -> FetchPlan {
    FetchPlan {
        places,
        ..plan(&[(FEED, &replica.base_url())], NOON)
    }
}

async fn slice(store: &Store, run: &str, near: &[LatLon]) -> RunSlice {
    let run = at(&format!(
        "{}-{}-{}T{}:00:00Z",
        &run[..4],
        &run[4..6],
        &run[6..8],
        &run[8..10]
    ));
    let read = store
        .read_slice(&SourceId::new(FEED), run, at("2030-05-20T00:00:00Z"), near, None)
        .await;
    read.expect("a store").expect("a run")
}

fn value(slice: &RunSlice, node: &NodeSeries, parameter: Parameter, step: u16) -> forecast::Sample {
    let field = node
        .fields
        .iter()
        .find(|field| field.parameter == parameter)
        .expect("a field");
    let step = slice.steps.iter().position(|of| of.0 == step).expect("a step");
    field.samples[step]
}

#[tokio::test]
async fn both_runs_have_the_values_of_their_own_cells() {
    let Some(expected) = expected() else { return };
    let replica = replica_of(&shared("grib-synthetic/dwd").expect("a tree"), NOON);
    let mut places: Vec<LatLon> = expected.iter().map(place).collect();
    let far_out = LatLon {
        lat: 43.5,
        lon: -30.0,
    };
    places.push(far_out);
    let store = Store::open_in_memory().await.expect("a store");
    let report = pull_with(&plan_for(&replica, places.clone()), &store, None).await;
    assert_eq!(report.sources[0].failure, None);
    let mut grids = Vec::new();
    for row in &expected {
        let slice = slice(&store, &row["run"], &places).await;
        assert!(slice.grid.contains(&row["grid_uuid"]), "{}", slice.grid);
        let cell: u32 = number(row, "cell_index_from_0");
        let node = slice
            .nodes
            .iter()
            .find(|node| node.node.column == cell)
            .expect("the cell");
        let step: u16 = number(row, "step_h");
        for (parameter, column) in [(Parameter::WindU, "u_ms"), (Parameter::WindV, "v_ms")] {
            let found = f64::from(value(&slice, node, parameter, step).expect("a value"));
            let wanted: f64 = number(row, column);
            assert!(
                (found - wanted).abs() < 0.0103,
                "{column} of cell {cell}: {found}, not {wanted}"
            );
        }
        assert_eq!(value(&slice, node, Parameter::Pressure, step), Err(Gap::NotThere));
        grids.push(slice.grid);
    }
    grids.dedup();
    assert_eq!((expected.len(), grids.len()), (20, 2));

    // No source: the project's rule that cells are found once for a mesh and a place.
    let longitudes = || {
        replica
            .requests()
            .iter()
            .filter(|seen| seen.path.contains("/CLON/"))
            .count()
    };
    let scanned = longitudes();
    store
        .prune_run(&SourceId::new(FEED), at("2030-05-13T00:00:00Z"))
        .await
        .expect("a store");
    let report = pull_with(&plan_for(&replica, places.clone()), &store, None).await;
    assert!(
        report.sources[0]
            .runs
            .iter()
            .any(|run| !run.parts_written.is_empty())
    );
    assert_eq!(longitudes(), scanned, "the mesh's cells are kept");
    let again = slice(&store, "2030051300", &[far_out]).await;
    assert_eq!(again.nodes, [], "no cell serves a place outside");
}

#[tokio::test]
async fn fields_of_another_mesh_than_the_coordinates_are_refused_in_words() {
    let Some(tree) = shared("grib-synthetic/dwd") else {
        return;
    };
    let replica = replica_of(&tree, NOON);
    replica
        .faults()
        .add("/U_10M/", Fault::MeshUuidChanged, Times::Always);
    let pulled = pull_from(&replica, &[FEED], NOON).await;
    let missing = pulled.missing();
    let of_mesh = missing
        .iter()
        .filter(|(gap, reason)| *gap == Gap::Damaged && reason.contains("mesh-"));
    // Steps 0, 3 and 6 of one run and step 0 of the other.
    assert_eq!(of_mesh.count(), 4, "{missing:?}");
    for run in ["2030051300", "2030051306"] {
        let near = [crate::tree::HOME_POOL];
        let slice = slice(&pulled.store, run, &near).await;
        for node in &slice.nodes {
            assert_eq!(value(&slice, node, Parameter::WindU, 0), Err(Gap::Damaged));
            assert!(value(&slice, node, Parameter::WindV, 0).is_ok());
        }
    }
}

#[tokio::test]
async fn without_its_coordinates_nothing_of_a_run_is_kept() {
    let Some(tree) = shared("grib-synthetic/dwd") else {
        return;
    };
    for (path, fault) in [
        ("/CLAT/", Fault::NotThere),
        ("/CLON/", Fault::NotThere),
        ("/CLON/", Fault::MeshUuidChanged),
        ("/CLAT/", Fault::HtmlPage),
        (
            "/CLON/",
            Fault::FileReplacedBy {
                path: "weather/nwp/v1/m/icon-eu/p/CLAT/r/2030-05-13T00:00/s/PT000H00M.grib2".into(),
            },
        ),
    ] {
        let replica = replica_of(&tree, NOON);
        replica.faults().add(path, fault.clone(), Times::Always);
        let pulled = pull_from(&replica, &[FEED], NOON).await;
        let source = &pulled.report.sources[0];
        let failure = source.failure.clone().expect("a reason");
        assert!(
            failure.contains("CLAT") || failure.contains("CLON"),
            "{fault:?}: {failure}"
        );
        assert!(
            source.runs.iter().all(|run| run.parts_written.is_empty()),
            "{fault:?}"
        );
        // Once they are there, the run is read.
        replica.faults().clear();
        let plan = plan(&[(FEED, &replica.base_url())], NOON);
        let report = pull_with(&plan, &pulled.store, None).await;
        assert_eq!(report.sources[0].failure, None, "{fault:?}");
        assert!(!report.sources[0].runs[0].parts_written.is_empty(), "{fault:?}");
    }
}
