//! What is safe after a kill, and that the next pull leaves it alone.
//!
//! Guaranteed, and shown here:
//! - The store holds whole parts only, each the same as after an undisturbed pull. A part that was told of as written is
//!   among them.
//! - The next pull asks for no octet of a part that is kept: neither of its files nor of their indexes. (It may ask by HEAD
//!   which steps have appeared.)
//! - With a cache, a message that lies there is not read again: the next pull puts there what is missing and nothing else,
//!   and asks for no octet of a part all of whose messages lie there (told of as read). Between two messages of one file
//!   that are both to be read, octets up to the bound of joined ranges are sent whatever they are; so the octets asked for
//!   never exceed an undisturbed pull's, and they may include a message at hand.
//! - In flight, and so lost, are messages that were received and not yet decoded and compared: they are not yet told of.

use crate::child::Ended;
use crate::shelf::Shelf;
use crate::world::World;
use cringle_tests::short_runs::short_feed;
use cringle_tests::{files_below, time};
use forecast::SourceId;
use replica::Seen;
use std::collections::{BTreeMap, BTreeSet};

/// A part as the lines of a pull name it: source, run, part.
pub type Part = String;

/// What was safe when a pull was killed.
pub struct Safe {
    kept: BTreeSet<Part>,
    at_hand: BTreeSet<Part>,
    in_cache: usize,
}

impl Safe {
    /// What a pull left, however it ended.
    pub fn after(pull: &Ended, world: &World, shelf: &Shelf) -> Self {
        let kept = kept_parts(world, shelf);
        for part in pull.about("PartWritten") {
            assert!(kept.contains(part), "{part} was told of as written");
        }
        let blocks = parts_of_dump(&world.dump);
        for (part, lines) in parts_of_dump(&shelf.dump()) {
            let whole = blocks.get(part).map_or(&[][..], Vec::as_slice);
            same_lines(&lines, whole, part);
        }
        Self {
            kept,
            at_hand: pull.about("PartRead").map(str::to_owned).collect(),
            in_cache: messages_in_cache(shelf),
        }
    }

    /// After a further kill: what was at hand stays at hand.
    pub fn and(self, later: Self) -> Self {
        Self {
            at_hand: &self.at_hand | &later.at_hand,
            ..later
        }
    }

    /// That nothing safe was asked for since requests were last forgotten.
    pub fn is_left_alone(&self, world: &World, cached: bool) {
        let asked = world.requests();
        nothing_asked_for_of(&self.kept, &asked, world, false);
        if cached {
            nothing_asked_for_of(&self.at_hand, &asked, world, true);
        }
    }

    /// The share of all parts that are not yet kept.
    pub fn share_left(&self, world: &World) -> f64 {
        let all = world.told.count("PartWritten");
        1.0 - self.kept.len() as f64 / all as f64
    }
}

/// Sums over several kills.
#[derive(Default)]
pub struct Tally {
    pub kills: usize,
    pub restarts: usize,
    /// Kills between a part's being read and its being told of as written: inside or beside a transaction of the store.
    pub while_writing: usize,
    /// Sources with a living decoding child when their pull was killed.
    pub decoding: usize,
    asked: usize,
    octets: u64,
}

impl Tally {
    /// Takes in a kill and looks at what it left.
    pub fn killed(&mut self, killed: &Ended, world: &World, shelf: &Shelf) -> Safe {
        self.kills += 1;
        self.decoding += killed.sources_decoding();
        let written: BTreeSet<&str> = killed.about("PartWritten").collect();
        let all_written = killed.about("PartRead").all(|part| written.contains(part));
        self.while_writing += usize::from(!all_written);
        Safe::after(killed, world, shelf)
    }

    /// Lets a pull go to its end after a kill, and looks at what it asked for and left.
    pub fn restarted(&mut self, safe: &Safe, world: &World, shelf: &Shelf, cached: bool) {
        self.restarts += 1;
        world.forget_requests();
        let last = world.undisturbed(shelf, cached);
        let asked = world.requests();
        same_dump(&shelf.dump(), &world.dump);
        safe.is_left_alone(world, cached);
        assert!(octets(&asked) <= octets(&world.requests));
        if cached {
            let put = last.count("MessageCached");
            assert_eq!(
                safe.in_cache + put,
                world.told.count("MessageCached"),
                "each message is put into the cache once"
            );
        }
        self.asked += ranges(&asked).count();
        self.octets += octets(&asked);
    }

    /// The figures in words.
    pub fn words(&self, world: &World) -> String {
        let whole = self.restarts * ranges(&world.requests).count();
        let whole_octets = self.restarts as u64 * octets(&world.requests);
        format!(
            "{} kills ({} while a part was written, {} with decoding children at work, none of which was left), {} restarts to \
             the end: {} of {whole} requests for ranges spared, {} of {whole_octets} octets",
            self.kills,
            self.while_writing,
            self.decoding,
            self.restarts,
            whole.saturating_sub(self.asked),
            whole_octets.saturating_sub(self.octets)
        )
    }
}

/// That a store is as after an undisturbed pull.
pub fn same_dump(found: &str, undisturbed: &str) {
    let lines = |text| str::lines(text).collect::<Vec<_>>();
    same_lines(&lines(found), &lines(undisturbed), "the store");
}

/// Fails with the first line that differs: a whole dump would hide it.
fn same_lines(found: &[&str], wanted: &[&str], what: &str) {
    let length = found.len().max(wanted.len());
    let differs = (0..length).find(|place| found.get(*place) != wanted.get(*place));
    if let Some(place) = differs {
        let (found, wanted) = (found.get(place), wanted.get(place));
        panic!("{what} is not as after an undisturbed pull: {found:?} where {wanted:?} is wanted");
    }
}

/// The parts that the store says it keeps.
fn kept_parts(world: &World, shelf: &Shelf) -> BTreeSet<Part> {
    let mut kept = BTreeSet::new();
    for (name, _) in &world.sources {
        let source = SourceId::new(name);
        let runs = shelf.asked(async |store| store.runs(&source, world.now).await.expect("the runs"));
        for run in runs {
            let reference = run.reference.to_rfc3339();
            kept.extend(run.parts.iter().map(|part| format!("{name} {reference} {part}")));
        }
    }
    kept
}

/// Messages in the cache. What is being written has a name with `#` until it is whole, and is never read by another.
fn messages_in_cache(shelf: &Shelf) -> usize {
    let files = files_below(&shelf.cache()).into_iter();
    files
        .filter(|file| !file.display().to_string().contains('#'))
        .count()
}

/// The lines of a dump by part, whatever comes of one.
fn parts_of_dump(dump: &str) -> BTreeMap<&str, Vec<&str>> {
    let mut parts: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut part = "";
    for line in dump.lines() {
        let name = line.strip_prefix("series of ").unwrap_or(line);
        if !name.starts_with(' ') {
            part = name.split_once(": ").expect("the name of a part").0;
        }
        parts.entry(part).or_default().push(line);
    }
    parts
}

/// That no file of these parts was asked for, nor an index of them; or, of parts whose messages are at hand, no range.
fn nothing_asked_for_of(parts: &BTreeSet<Part>, asked: &[Seen], world: &World, ranges_only: bool) {
    let mut spared = BTreeSet::new();
    for part in parts {
        let [name, run, number] = part.split(' ').collect::<Vec<_>>()[..] else {
            panic!("{part} names no part");
        };
        let address = &world
            .sources
            .iter()
            .find(|(known, _)| known == name)
            .expect("a source")
            .1;
        let tree = address.rsplit('/').next().expect("its tree");
        let number = number.parse().expect("a number");
        for file in short_feed(name).files_of_part(time(run), number) {
            spared.insert(format!("/{tree}/{}", file.path));
            if !ranges_only {
                spared.insert(format!("/{tree}/{}", file.index_path));
            }
        }
    }
    for seen in asked.iter().filter(|seen| seen.method == "GET") {
        assert!(!spared.contains(&seen.path), "{} is safe already", seen.path);
    }
}

fn ranges(seen: &[Seen]) -> impl Iterator<Item = &Seen> {
    seen.iter().filter(|seen| seen.header("range").is_some())
}

/// Octets of all ranges.
fn octets(seen: &[Seen]) -> u64 {
    ranges(seen).map(|seen| seen.body_octets).sum()
}
