//! A kill at every named commit point, at its first occurrence and at one in the middle. No source: the project's own rule.

use crate::child::{Pull, SIGKILL};
use crate::safe::Tally;
use crate::shelf::Backend;
use crate::world::World;

/// Everything that a pull tells of.
const EVENTS: [&str; 9] = [
    "SourceBegins",
    "RunBegins",
    "PartPlanned",
    "OctetsReceived",
    "MessagesDone",
    "MessageCached",
    "PartRead",
    "PartWritten",
    "SourceEnds",
];

#[test]
fn after_a_kill_at_any_commit_point_the_next_pull_ends_as_if_nothing_had_been() {
    every_point_once(&Backend::Sqlite);
}

#[test]
fn after_a_kill_at_any_commit_point_the_next_pull_ends_as_if_nothing_had_been_on_postgresql() {
    if let Some(backend) = Backend::postgres() {
        every_point_once(&backend);
    }
}

fn every_point_once(backend: &Backend) {
    let world = World::start();
    let mut tally = Tally::default();
    for event in EVENTS {
        let often = world.told.count(event);
        assert!(often > 1, "{event} is told of {often} times");
        for count in [1, often / 2 + 1] {
            kill_at(event, count, backend, &world, &mut tally);
        }
    }
    println!(
        "every commit point on {}: {}",
        backend.name(),
        tally.words(&world)
    );
    assert_eq!(tally.kills, 2 * EVENTS.len());
}

fn kill_at(event: &str, count: usize, backend: &Backend, world: &World, tally: &mut Tally) {
    let shelf = backend.shelf();
    let mut arguments = world.arguments(&shelf, true);
    arguments.extend(["--die-at", event, "--count", &count.to_string()].map(str::to_owned));
    let killed = Pull::start(&arguments).ended();
    assert_eq!(
        killed.signal(),
        Some(SIGKILL),
        "{event} {count}: {:?}",
        killed.told.last()
    );
    assert_eq!(killed.count(event), count, "it ends at that event");
    let last = killed.told.last().expect("a line");
    assert!(last.starts_with(event), "{last} is the last line");
    let safe = tally.killed(&killed, world, &shelf);
    tally.restarted(&safe, world, &shelf, true);
}
