//! Kills inside a write of the store: the system cuts a write at a bound on the file's length and ends the process there
//! (setrlimit, RLIMIT_FSIZE in POSIX), so that half a page or half a transaction lies in the file. SQLite only: PostgreSQL's
//! files are its server's. No source for the bounds: steps drawn from a seed.

use crate::chance::Chance;
use crate::child::{Pull, SIGXFSZ};
use crate::safe::Tally;
use crate::shelf::Backend;
use crate::world::World;

/// SQLite's shared memory beside its log has this length from the start.
const FIRST_BOUND: usize = 32_768;
/// The bounds lie within so many octets above that: less than the log of a whole pull.
const SPREAD: usize = 120_000;
/// So many writes are cut, each in a store of its own.
const CUTS: usize = 8;

#[test]
fn a_write_of_the_store_cut_in_its_middle_leaves_no_half_part() {
    let world = World::start();
    let (mut chance, mut tally) = (Chance::new(1852), Tally::default());
    for _ in 0..CUTS {
        let shelf = Backend::Sqlite.shelf();
        shelf.asked(async |_| ());
        let bound = FIRST_BOUND + chance.up_to(SPREAD);
        let mut arguments = world.arguments(&shelf, false);
        arguments.extend(["--file-limit".to_owned(), bound.to_string()]);
        let ended = Pull::start(&arguments).ended();
        assert_eq!(ended.signal(), Some(SIGXFSZ), "{bound}: {:?}", ended.told.last());
        let safe = tally.killed(&ended, &world, &shelf);
        tally.restarted(&safe, &world, &shelf, false);
    }
    println!("writes cut: {}", tally.words(&world));
}
