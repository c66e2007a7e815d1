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
/// The bound is raised by at most this much from one pull to the next: a few pages of the log at a time.
const STEP: usize = 20_000;
/// So many writes are cut: fewer than the whole pull is long.
const CUTS: usize = 4;

#[test]
fn a_write_of_the_store_cut_in_its_middle_leaves_no_half_part() {
    let world = World::start();
    let shelf = Backend::Sqlite.shelf();
    shelf.asked(async |_| ());
    let (mut chance, mut tally) = (Chance::new(1852), Tally::default());
    let mut bound = FIRST_BOUND;
    let mut safe = None;
    while tally.kills < CUTS {
        bound += chance.up_to(STEP);
        let mut arguments = world.arguments(&shelf, false);
        arguments.extend(["--file-limit".to_owned(), bound.to_string()]);
        let ended = Pull::start(&arguments).ended();
        assert_eq!(ended.signal(), Some(SIGXFSZ), "{:?}", ended.told.last());
        safe = Some(tally.killed(&ended, &world, &shelf));
    }
    tally.restarted(&safe.expect("a write was cut"), &world, &shelf, false);
    println!("writes cut up to {bound} octets: {}", tally.words(&world));
}
