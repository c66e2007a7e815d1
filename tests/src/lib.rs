//! What the end-to-end tests share: the built program, a scene to run it in, and damage to do to its feeds.
//!
//! Owns: copies of the bundled feeds in folders of their own, and running the program on them as a user would.
//! Must not know: how anything is computed. Values reach the program from GRIB2 messages only.

pub mod chance;
pub mod crew;
pub mod dying;
pub mod shelf;
pub mod short_runs;
pub mod sink;

use advisory::Advisory;
use chrono::{DateTime, Utc};
pub use shared_files::shared;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// The workspace's root.
pub fn workspace() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .map(Path::to_path_buf)
        .unwrap_or_default()
}

/// The built program, which `cargo test --workspace` puts beside the tests.
///
/// # Panics
/// When it has not been built.
#[expect(
    clippy::panic,
    reason = "without the program no end-to-end test means anything"
)]
pub fn program() -> PathBuf {
    let beside = std::env::current_exe()
        .ok()
        .and_then(|test| Some(test.parent()?.parent()?.join("cringle")));
    match beside {
        Some(path) if path.exists() => path,
        _ => panic!(
            "the program is not built: run `cargo test --workspace`, or `cargo build -p cringle` first"
        ),
    }
}

/// A club, a copy of the bundled feeds, a store and a moment, in a folder of its own.
#[derive(Debug)]
pub struct Scene {
    folder: TempDir,
    /// The moment the program works at, RFC 3339.
    pub now: String,
}

/// A boat and a level far from every limit, for clubs whose values count and not their calls.
pub const PLAIN_BOAT_AND_LEVEL: &str = r#"[[boats]]
id = "plain"
name = "Plain"
reef_table = [{ mean_up_to_kn = 60, gust_up_to_kn = 80, reefs = 0, headsail = 1.0 }]
[[levels]]
id = "any"
name = "Any"
[levels.limits]
mean_kn = { caution_at = 50, stop_at = 60 }
"#;

/// Files of the bundled feeds.
pub const GFS_06: &str = "noaa-gfs/gfs.20300513/06";
/// The complete run six hours before it.
pub const GFS_00: &str = "noaa-gfs/gfs.20300513/00";
/// The ensemble.
pub const GEFS_00: &str = "noaa-gefs/gefs.20300513/00/atmos/pgrb2sp25";

#[expect(
    clippy::expect_used,
    reason = "a scene that cannot be set up is a failed test"
)]
impl Scene {
    /// A scene with this club at the demo's moment.
    ///
    /// # Panics
    /// When the folder cannot be filled.
    pub fn new(club: &str) -> Self {
        let scene = Self {
            folder: tempfile::tempdir().expect("a folder"),
            now: "2030-05-13T15:00:00Z".to_owned(),
        };
        link_tree(&workspace().join("fixtures/demo/feeds"), &scene.feeds());
        std::fs::write(scene.club(), club).expect("the club file");
        scene
    }

    /// The scene of the case worked by hand.
    pub fn by_hand() -> Self {
        let club =
            std::fs::read_to_string(workspace().join("fixtures/hand/club.toml")).expect("the hand club");
        Self::new(&club)
    }

    /// Where the feeds lie.
    pub fn feeds(&self) -> PathBuf {
        self.folder.path().join("feeds")
    }
    /// The club file.
    pub fn club(&self) -> PathBuf {
        self.folder.path().join("club.toml")
    }
    /// The store.
    pub fn store(&self) -> PathBuf {
        self.folder.path().join("store.db")
    }

    /// Takes a file of the feeds away.
    ///
    /// # Panics
    /// When it is not there.
    pub fn remove(&self, file: &str) {
        std::fs::remove_file(self.feeds().join(file)).expect("a file of the feeds");
    }

    /// Takes a folder of the feeds away.
    ///
    /// # Panics
    /// When it is not there.
    pub fn remove_folder(&self, folder: &str) {
        std::fs::remove_dir_all(self.feeds().join(folder)).expect("a folder of the feeds");
    }

    /// Flips bits inside the messages of one index variable and level, in every file below a folder of the feeds.
    /// Returns how many messages were damaged.
    ///
    /// # Panics
    /// When a file cannot be rewritten.
    pub fn damage(&self, folder: &str, field: &str) -> usize {
        let mut damaged = 0;
        for index in files_below(&self.feeds().join(folder))
            .into_iter()
            .filter(|file| is_index(file))
        {
            let text = std::fs::read_to_string(&index).expect("an index");
            let file = index.with_extension("");
            let mut bytes = std::fs::read(&file).expect("the file beside its index");
            let offsets: Vec<usize> = text
                .lines()
                .filter(|line| line.contains(field))
                .filter_map(|line| line.split(':').nth(1)?.parse().ok())
                .collect();
            for offset in &offsets {
                // The data representation template's number (section 5) is somewhere behind: spoil the whole head of sections 3 to 5.
                let end = (offset + 200).min(bytes.len());
                for byte in &mut bytes[offset + 40..end] {
                    *byte ^= 0x55;
                }
            }
            damaged += offsets.len();
            // The tree is linked, not copied: a changed file is a new file.
            std::fs::remove_file(&file).expect("the linked file");
            std::fs::write(&file, bytes).expect("the damaged file");
        }
        damaged
    }

    /// Runs the program with these arguments and the scene's own.
    ///
    /// # Panics
    /// When it cannot be started.
    pub fn run(&self, arguments: &[&str]) -> Output {
        Command::new(program())
            .args(arguments)
            .arg("--club")
            .arg(self.club())
            .arg("--feeds")
            .arg(self.feeds())
            .arg("--store")
            .arg(self.store())
            .args(["--now", &self.now])
            .output()
            .expect("the program starts")
    }

    /// Runs the program and gives what it printed; it must have succeeded.
    ///
    /// # Panics
    /// When it failed.
    pub fn printed(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert!(
            output.status.success(),
            "{arguments:?} failed: {}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).expect("text")
    }

    /// The advisories of the coming sessions.
    ///
    /// # Panics
    /// When the program fails or prints something else.
    pub fn advise(&self) -> Vec<Advisory> {
        serde_json::from_str(&self.printed(&["advise", "--json"])).expect("a list of advisories")
    }

    /// The advisory of one session.
    ///
    /// # Panics
    /// When there is none.
    pub fn advisory(&self, session: &str) -> Advisory {
        let mut all = self.advise();
        let found = all
            .iter()
            .position(|advisory| advisory.session.id.starts_with(session))
            .expect("the session");
        all.swap_remove(found)
    }
}

fn is_index(file: &Path) -> bool {
    file.extension().is_some_and(|extension| extension == "idx")
}

/// Every file below a folder.
pub fn files_below(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = entries
        .flatten()
        .flat_map(|entry| {
            let path = entry.path();
            if path.is_dir() {
                files_below(&path)
            } else {
                vec![path]
            }
        })
        .collect();
    files.sort();
    files
}

/// The same tree by hard links, or copies where links cannot be made.
#[expect(
    clippy::expect_used,
    reason = "a scene that cannot be set up is a failed test"
)]
fn link_tree(from: &Path, to: &Path) {
    for file in files_below(from) {
        let target = to.join(file.strip_prefix(from).expect("below"));
        std::fs::create_dir_all(target.parent().expect("a parent")).expect("a folder");
        if std::fs::hard_link(&file, &target).is_err() {
            std::fs::copy(&file, &target).expect("a copy");
        }
    }
}

/// A time.
///
/// # Panics
/// When it is none.
#[expect(clippy::expect_used, reason = "times in tests are written by hand")]
pub fn time(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text)
        .expect("a time")
        .with_timezone(&Utc)
}
