//! A reader beside pulls that are killed while their runs are still appearing: it sees whole parts or nothing. No source:
//! the project's own rule. It shares nothing with them but the database.

use crate::chance::Chance;
use crate::child::{Moment, Pull};
use crate::safe::same_dump;
use crate::shelf::{Backend, Shelf};
use crate::world::World;
use chrono::{DateTime, TimeDelta, Utc};
use cringle_tests::short_runs::{HOME_POOL, short_feed};
use cringle_tests::{time, workspace};
use forecast::{RunSlice, SourceId, Step};
use replica::{HandClock, Publication, Replica, ReplicaSettings};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use store::Store;
use tokio::runtime::Runtime;

const RUN: &str = "2030-05-13T00:00:00Z";
/// Step 0 appears at 03:30 and each further hour of step 5 minutes later: the first part is there at the first of these, a
/// piece of the second at the second, all of it at the last.
const MOMENTS: [&str; 3] = [
    "2030-05-13T04:03:00Z",
    "2030-05-13T04:20:00Z",
    "2030-05-13T04:35:00Z",
];
const SOURCES: [(&str, &str); 2] = [("gfs", "noaa-gfs"), ("gefs", "noaa-gefs")];

#[test]
fn a_reader_sees_whole_parts_only_while_pulls_of_a_run_still_appearing_are_killed() {
    reads_while_killed(&Backend::Sqlite);
}

#[test]
fn a_reader_sees_whole_parts_only_while_pulls_of_a_run_still_appearing_are_killed_on_postgresql() {
    if let Some(backend) = Backend::postgres() {
        reads_while_killed(&backend);
    }
}

fn reads_while_killed(backend: &Backend) {
    let clock = HandClock::new(time(MOMENTS[2]));
    let mut world = appearing(&clock);
    let shelf = backend.shelf();
    shelf.asked(async |_| ());
    let done = AtomicBool::new(false);
    let (kills, mut seen, reads) = thread::scope(|scope| {
        let reader = scope.spawn(|| read_until(&done, &shelf));
        let (kills, seen) = pulls(&mut world, &clock, &shelf);
        done.store(true, Ordering::Relaxed);
        let (by_reader, reads) = reader.join().expect("nothing unreadable was read");
        (kills, [seen, by_reader].concat(), reads)
    });
    same_dump(&shelf.dump(), &world.dump);
    assert!(kills >= 3, "{kills} kills");
    seen.sort_by_key(|slice| (slice.source.clone(), slice.steps.len()));
    for (name, _) in SOURCES {
        let of_source: Vec<&RunSlice> = seen
            .iter()
            .filter(|slice| slice.source.as_str() == name)
            .collect();
        let lengths = (of_source.first(), of_source.last());
        assert!(lengths.0.map(|slice| slice.steps.len()) < lengths.1.map(|slice| slice.steps.len()));
    }
    shelf.asked(async |store| {
        for slice in &seen {
            is_whole(slice, store).await;
        }
    });
    println!(
        "a reader beside {kills} kills on {}: {reads} reads, whole each time",
        backend.name()
    );
}

/// Two feeds whose run of 00 UTC appears step by step, all of it at the clock's present time.
fn appearing(clock: &HandClock) -> World {
    let folder = workspace().join("fixtures/demo/feeds");
    let settings = ReplicaSettings {
        publication: Publication::StepByStep {
            first_delay: TimeDelta::minutes(210),
            per_step: TimeDelta::minutes(5),
        },
        ..ReplicaSettings::folder(folder, clock.clock())
    };
    let replica = Replica::start(settings).expect("a server");
    let address = |tree| format!("{}/{tree}", replica.base_url());
    let sources = SOURCES.map(|(name, tree)| (name.to_owned(), address(tree)));
    World::of(vec![replica], sources.to_vec(), clock.now())
}

/// At each moment some pulls that are killed and one that is not. Returns how many were killed, and what was seen between.
fn pulls(world: &mut World, clock: &HandClock, shelf: &Shelf) -> (usize, Vec<RunSlice>) {
    let (mut chance, mut kills, mut seen) = (Chance::new(1013), 0, Vec::new());
    for moment in MOMENTS {
        world.now = time(moment);
        clock.set(world.now);
        for _ in 0..4 {
            let lines = Moment::Lines(chance.up_to(world.told.told.len() / 3));
            let killed = Pull::start(&world.arguments(shelf, true)).killed_at(lines, world);
            shelf.asked(async |store| look(store, &mut seen).await);
            if killed.signal().is_none() {
                killed.whole();
                break;
            }
            kills += 1;
        }
        world.undisturbed(shelf, true);
        shelf.asked(async |store| look(store, &mut seen).await);
    }
    (kills, seen)
}

/// Reads again and again. Returns what was seen, each different state once, and how often it was read.
fn read_until(done: &AtomicBool, shelf: &Shelf) -> (Vec<RunSlice>, usize) {
    let (mut seen, mut reads) = (Vec::new(), 0);
    Runtime::new().expect("a runtime").block_on(async {
        let store = Store::open(&shelf.url).await.expect("the store opens");
        while !done.load(Ordering::Relaxed) {
            look(&store, &mut seen).await;
            reads += 1;
        }
        store.close().await;
    });
    (seen, reads)
}

/// Reads the run of each source as it now stands.
async fn look(store: &Store, seen: &mut Vec<RunSlice>) {
    for (name, _) in SOURCES {
        if let Some(slice) = slice_of(store, name, None).await
            && !seen.contains(&slice)
        {
            seen.push(slice);
        }
    }
}

async fn slice_of(store: &Store, name: &str, steps: Option<(Step, Step)>) -> Option<RunSlice> {
    let (source, until): (_, DateTime<Utc>) = (SourceId::new(name), time("2030-05-20T00:00:00Z"));
    let read = store
        .read_slice(&source, time(RUN), until, &[HOME_POOL], steps)
        .await;
    read.expect("a readable store")
}

/// That a slice is that of whole parts, and says of them what the store says in the end.
async fn is_whole(slice: &RunSlice, store: &Store) {
    let name = slice.source.as_str();
    let (feed, last) = (short_feed(name), *slice.steps.last().expect("a step"));
    let parts = 0..=feed.part_of(last);
    let steps: Vec<Step> = parts
        .flat_map(|part| feed.steps_of_run_part(time(RUN), part))
        .collect();
    assert_eq!(slice.steps, steps, "{name}: whole parts");
    let in_the_end = slice_of(store, name, Some((slice.steps[0], last))).await;
    let in_the_end = in_the_end.expect("the run");
    assert_eq!(
        (&slice.grid, &slice.members),
        (&in_the_end.grid, &in_the_end.members),
        "{name}"
    );
    assert_eq!(slice.steps, in_the_end.steps, "{name}");
    assert_eq!(slice.nodes, in_the_end.nodes, "{name} to step {last:?}");
}
