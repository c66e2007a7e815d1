//! The canonical text of a store. No source: these are this project's own rules.

use crate::samples::{after, part, part_of_run};
use crate::shelf::Shelf;
use forecast::{Gap, Outcome, Parameter};
use store::{NewPart, Store};

on_both_backends!(
    equal_stores_give_equal_dumps_whatever_the_order_and_time_of_writing,
    any_difference_shows,
    series_without_their_part_show,
    both_databases_give_the_same_text,
);

const BOTH: [Parameter; 2] = [Parameter::WindU, Parameter::Gust];

fn parts() -> Vec<NewPart> {
    vec![
        part(0, &[0, 3], &BOTH),
        part(1, &[6, 9], &BOTH),
        part_of_run("gfs", 6),
        part_of_run("gfs", 0),
    ]
}

async fn dump_of(store: &Store, parts: &[NewPart]) -> String {
    for part in parts {
        assert!(store.write_part(part).await.unwrap());
    }
    store.dump().await.unwrap()
}

async fn in_memory(parts: &[NewPart]) -> String {
    dump_of(&Store::open_in_memory().await.unwrap(), parts).await
}

async fn equal_stores_give_equal_dumps_whatever_the_order_and_time_of_writing(shelf: Shelf) {
    let mut others = parts();
    others.reverse();
    for part in &mut others {
        part.visible_at = after(100);
        part.nodes.reverse();
        part.messages.reverse();
        for node in &mut part.nodes {
            node.fields.reverse();
        }
    }
    let store = shelf.open().await;
    let dump = dump_of(&store, &others).await;
    assert_eq!(dump, in_memory(&parts()).await);
    store.prune_run(&parts()[2].source, after(6)).await.unwrap();
    assert_ne!(store.dump().await.unwrap(), dump);
    store.write_part(&parts()[2]).await.unwrap();
    assert_eq!(store.dump().await.unwrap(), dump, "fetched again");
}

async fn any_difference_shows(shelf: Shelf) {
    let store = shelf.open().await;
    let whole = dump_of(&store, &parts()).await;
    let changes: [fn(&mut NewPart); 9] = [
        |part| part.complete = false,
        |part| part.grid.push('b'),
        |part| part.nodes[1].fields[0].samples[2] = Ok(0.0),
        |part| part.nodes[1].fields[0].samples[2] = Err(Gap::Masked),
        |part| part.nodes[1].node.at.lat += 1e-9,
        |part| part.messages[3].length += 1,
        |part| part.messages[3].outcome = Outcome::Missing(Gap::Damaged),
        |part| part.nodes.truncate(2),
        |part| part.reference += chrono::TimeDelta::seconds(1),
    ];
    for (number, change) in changes.iter().enumerate() {
        let mut others = parts();
        change(&mut others[1]);
        assert_ne!(in_memory(&others).await, whole, "change {number}");
    }
    let mut without = parts();
    without.pop();
    assert_ne!(in_memory(&without).await, whole);
}

// What a kill in the middle of a write would leave if a part were not one transaction.
async fn series_without_their_part_show(shelf: Shelf) {
    let store = shelf.open().await;
    let whole = dump_of(&store, &parts()).await;
    let raw = shelf.raw().await;
    sqlx::query("DELETE FROM parts WHERE part = 1")
        .execute(&raw)
        .await
        .unwrap();
    let orphaned = store.dump().await.unwrap();
    assert_ne!(orphaned, whole);
    assert!(
        orphaned.contains("series of part 1 of run 2030-05-13T00:00:00+00:00 of gefs"),
        "{orphaned}"
    );
}

async fn both_databases_give_the_same_text(shelf: Shelf) {
    let lines = dump_of(&shelf.open().await, &parts()).await;
    let first: Vec<&str> = lines.lines().take(2).collect();
    assert_eq!(
        first,
        [
            "part 0 of run 2030-05-13T00:00:00+00:00 of gefs: grid \"grid-a\", complete true, last step 3, \
             members [0, 1, 7], steps [0, 3]",
            "  gust member 00000 step 00000: read, an instant, \"m0.f000\" at 5 length 9",
        ]
    );
    assert_eq!(
        lines.lines().filter(|line| line.starts_with("series")).count(),
        2 * 3 * 2 + 2 * 3
    );
}
