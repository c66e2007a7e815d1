//! Servers of the bundled feeds, and a pull from them that nothing disturbs: what killed pulls are held against.
//!
//! Owns: the servers, the arguments of a pull, the undisturbed one. Must not know: when anything is killed.

use crate::child::{Ended, Pull};
use crate::shelf::{Backend, Shelf};
use chrono::{DateTime, Utc};
use cringle_tests::{shared, time, workspace};
use replica::{Replica, ReplicaSettings, Seen, fixed_clock};
use std::path::PathBuf;

/// The runs of 00 and 06 UTC of NOAA's deterministic feeds are out, and of the others that of 00 UTC.
pub const NOW: &str = "2030-05-13T12:00:00Z";

/// The servers and what an undisturbed pull from them told, asked and left.
pub struct World {
    replicas: Vec<Replica>,
    pub now: DateTime<Utc>,
    pub sources: Vec<(String, String)>,
    pub told: Ended,
    pub requests: Vec<Seen>,
    pub dump: String,
}

impl World {
    /// NOAA's three feeds as bundled with the program; with them ECMWF's where the shared files are at hand. Four are one
    /// more than are pulled side by side.
    pub fn start() -> Self {
        let noaa = serve(workspace().join("fixtures/demo/feeds"));
        let at = |replica: &Replica, name: &str, tree: &str| {
            (name.to_owned(), format!("{}/{tree}", replica.base_url()))
        };
        let mut sources = vec![
            at(&noaa, "gfs", "noaa-gfs"),
            at(&noaa, "gefs", "noaa-gefs"),
            at(&noaa, "gfs-wave", "noaa-gfs"),
        ];
        let mut replicas = vec![noaa];
        if let Some(folder) = shared("grib-synthetic") {
            let ecmwf = serve(folder);
            sources.push(at(&ecmwf, "ecmwf-ifs", "ecmwf"));
            replicas.push(ecmwf);
        }
        Self::of(replicas, sources, time(NOW))
    }

    /// Servers with everything that is to be pulled from them at an instant.
    pub fn of(replicas: Vec<Replica>, sources: Vec<(String, String)>, now: DateTime<Utc>) -> Self {
        let shelf = Backend::Sqlite.shelf();
        let told = Pull::start(&arguments(&sources, now, &shelf, true))
            .ended()
            .whole();
        let mut world = Self {
            replicas,
            now,
            sources,
            told,
            requests: Vec::new(),
            dump: shelf.dump(),
        };
        world.requests = world.requests();
        world
    }

    /// What the servers were asked since this was last forgotten.
    pub fn requests(&self) -> Vec<Seen> {
        self.replicas.iter().flat_map(Replica::requests).collect()
    }

    pub fn forget_requests(&self) {
        self.replicas.iter().for_each(Replica::forget_requests);
    }

    /// The arguments of a pull into a place, with its cache or without.
    pub fn arguments(&self, shelf: &Shelf, cached: bool) -> Vec<String> {
        arguments(&self.sources, self.now, shelf, cached)
    }

    /// A pull that nothing disturbs.
    pub fn undisturbed(&self, shelf: &Shelf, cached: bool) -> Ended {
        Pull::start(&self.arguments(shelf, cached)).ended().whole()
    }
}

/// A folder of which everything is there.
fn serve(folder: PathBuf) -> Replica {
    Replica::start(ReplicaSettings::folder(folder, fixed_clock(time(NOW)))).expect("a server")
}

/// The arguments of a pull.
pub fn arguments(
    sources: &[(String, String)],
    now: DateTime<Utc>,
    shelf: &Shelf,
    cached: bool,
) -> Vec<String> {
    let mut arguments = vec!["--store".to_owned(), shelf.url.clone()];
    arguments.extend(["--now".to_owned(), now.to_rfc3339()]);
    for (name, address) in sources {
        arguments.extend(["--source".to_owned(), format!("{name}={address}")]);
    }
    if cached {
        arguments.extend(["--cache".to_owned(), shelf.cache().display().to_string()]);
    }
    arguments
}
