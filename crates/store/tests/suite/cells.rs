//! Cells of meshes. No source: these are this project's own rules.

use crate::shelf::Shelf;
use forecast::Node;
use seaway::LatLon;

on_both_backends!(cells_are_kept_for_their_mesh_and_place, cells_kept_first_stay,);

const HERE: LatLon = LatLon {
    lat: 43.5,
    lon: -15.5,
};

fn cell(column: u32) -> Node {
    Node {
        column,
        row: 0,
        at: LatLon {
            lat: 43.0 + f64::from(column),
            lon: -15.1,
        },
    }
}

async fn cells_are_kept_for_their_mesh_and_place(shelf: Shelf) {
    let store = shelf.open().await;
    assert_eq!(store.mesh_cells("mesh-a", HERE).await.unwrap(), None);
    let cells = vec![cell(7), cell(3)];
    store.put_mesh_cells("mesh-a", HERE, &cells).await.unwrap();
    let outside = LatLon { lat: 10.0, ..HERE };
    store.put_mesh_cells("mesh-a", outside, &[]).await.unwrap();
    assert_eq!(store.mesh_cells("mesh-a", HERE).await.unwrap(), Some(cells));
    assert_eq!(store.mesh_cells("mesh-a", outside).await.unwrap(), Some(vec![]));
    assert_eq!(store.mesh_cells("mesh-b", HERE).await.unwrap(), None);
    let near = LatLon {
        lat: 43.500_001,
        ..HERE
    };
    assert_eq!(store.mesh_cells("mesh-a", near).await.unwrap(), None);
}

async fn cells_kept_first_stay(shelf: Shelf) {
    let store = shelf.open().await;
    store.put_mesh_cells("mesh-a", HERE, &[cell(1)]).await.unwrap();
    store.put_mesh_cells("mesh-a", HERE, &[cell(2)]).await.unwrap();
    assert_eq!(
        store.mesh_cells("mesh-a", HERE).await.unwrap(),
        Some(vec![cell(1)])
    );
}
