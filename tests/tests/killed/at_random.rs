//! Kills at moments drawn from a seed, several in a row on one store, then a pull that nothing disturbs. No source: the
//! project's own rule.
//!
//! `CRINGLE_KILLS=50` makes it so many kills on each database, `CRINGLE_KILL_SEED` other ones. The process is killed from
//! outside while it goes on: such a kill falls wherever it is at work, in a body, a decode, a transaction of the store.

use crate::chance::{Chance, from_environment};
use crate::child::{Ended, Moment, Pull, SIGKILL};
use crate::safe::{Safe, Tally};
use crate::shelf::{Backend, Shelf};
use crate::world::World;

#[test]
fn after_kills_at_random_the_last_pull_ends_as_if_nothing_had_been() {
    kills_at_random(&Backend::Sqlite);
}

#[test]
fn after_kills_at_random_the_last_pull_ends_as_if_nothing_had_been_on_postgresql() {
    if let Some(backend) = Backend::postgres() {
        kills_at_random(&backend);
    }
}

fn kills_at_random(backend: &Backend) {
    let kills = usize::try_from(from_environment("CRINGLE_KILLS", 10)).expect("a number of kills");
    let seed = from_environment("CRINGLE_KILL_SEED", 2030);
    println!("random kills on {}: {kills} from seed {seed}", backend.name());
    let world = World::start();
    let (mut chance, mut tally) = (Chance::new(seed), Tally::default());
    let mut stores = 0;
    while tally.kills < kills {
        stores += 1;
        assert!(stores <= 3 * kills, "pulls are killed, not always too late");
        one_store(backend, &world, &mut chance, &mut tally, kills);
    }
    println!("random kills on {}: {}", backend.name(), tally.words(&world));
    assert!(tally.decoding > 0, "decoding children were left alone");
}

/// Kills in a row, then a pull to the end.
fn one_store(backend: &Backend, world: &World, chance: &mut Chance, tally: &mut Tally, kills: usize) {
    let (shelf, cached) = (backend.shelf(), chance.up_to(4) > 1);
    let in_a_row = chance.up_to(3);
    let mut safe: Option<Safe> = None;
    for _ in 0..in_a_row.min(kills - tally.kills) {
        world.forget_requests();
        let ended = kill_once(world, &shelf, cached, safe.as_ref(), chance);
        if let Some(safe) = &safe {
            safe.is_left_alone(world, cached);
        }
        let was_too_late = ended.signal().is_none();
        if was_too_late && safe.is_none() {
            // Nothing was killed in this store.
            ended.whole();
            return;
        }
        let found = if was_too_late {
            Safe::after(&ended.whole(), world, &shelf)
        } else {
            assert_eq!(ended.signal(), Some(SIGKILL));
            tally.killed(&ended, world, &shelf)
        };
        safe = Some(match safe {
            Some(before) => before.and(found),
            None => found,
        });
        if was_too_late {
            break;
        }
    }
    if let Some(safe) = safe {
        tally.restarted(&safe, world, &shelf, cached);
    }
}

/// One kill at a moment drawn from what is left to do.
fn kill_once(world: &World, shelf: &Shelf, cached: bool, safe: Option<&Safe>, chance: &mut Chance) -> Ended {
    let left = safe.map_or(1.0, |safe| safe.share_left(world));
    let of = |whole: usize| (whole as f64 * left).ceil() as usize;
    let moment = match chance.up_to(4) {
        1 => Moment::Requests(chance.up_to(of(world.requests.len()))),
        2 => Moment::PartsRead(chance.up_to(of(world.told.count("PartRead")))),
        _ => Moment::Lines(chance.up_to(of(world.told.told.len()))),
    };
    Pull::start(&world.arguments(shelf, cached)).killed_at(moment, world)
}
