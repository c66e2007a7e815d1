//! A place for a store and a cache that no other test uses: on SQLite a file, on PostgreSQL a schema of its own.
//!
//! Must not know: what is kept there.
#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "without a place no test means anything, and a test that is skipped says so"
)]

use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};
use store::Store;
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// Names the server for tests; see `deploy/postgres-for-tests`.
const SERVER: &str = "CRINGLE_TEST_POSTGRES";

/// The place; it is gone when this is dropped.
#[derive(Debug)]
pub struct Shelf {
    /// The address to give to [`Store::open`].
    pub url: String,
    folder: TempDir,
    schema: Option<(String, String)>,
}

/// Where stores are kept.
#[derive(Clone, Debug)]
pub enum Backend {
    /// In a file.
    Sqlite,
    /// In the PostgreSQL at this address.
    Postgres(String),
}

impl Backend {
    /// PostgreSQL at the address that the environment gives; none, with words, if tests may be skipped.
    ///
    /// # Panics
    /// When there is no address and nothing may be skipped.
    pub fn postgres() -> Option<Self> {
        if let Ok(server) = std::env::var(SERVER) {
            return Some(Self::Postgres(server));
        }
        if std::env::var("CRINGLE_NOTHING_SKIPPED").is_ok_and(|value| value == "1") {
            panic!("needs {SERVER}, and CRINGLE_NOTHING_SKIPPED=1: see deploy/postgres-for-tests");
        }
        println!("skipped: needs {SERVER}");
        None
    }

    /// As it is spoken of.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Sqlite => "SQLite",
            Self::Postgres(_) => "PostgreSQL",
        }
    }

    /// A new place.
    ///
    /// # Panics
    /// When it cannot be made.
    pub fn shelf(&self) -> Shelf {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let folder = tempfile::tempdir().expect("a folder");
        let Self::Postgres(server) = self else {
            let url = folder.path().join("store.db").display().to_string();
            return Shelf {
                url,
                folder,
                schema: None,
            };
        };
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let schema = format!("tests_{}_{number}", std::process::id());
        // A killed run of the tests may have left a schema of this name.
        let made = format!("DROP SCHEMA IF EXISTS {schema} CASCADE; CREATE SCHEMA {schema}");
        assert!(on_server(server, &made), "psql makes a schema");
        let join = if server.contains('?') { '&' } else { '?' };
        Shelf {
            url: format!("{server}{join}options[search_path]={schema}"),
            folder,
            schema: Some((server.clone(), schema)),
        }
    }
}

impl Shelf {
    /// The folder of raw messages at hand.
    pub fn cache(&self) -> std::path::PathBuf {
        self.folder.path().join("cache")
    }

    /// Asks the store something. It is opened for this alone, as a program that starts anew would.
    ///
    /// # Panics
    /// When it does not open.
    pub fn asked<T>(&self, ask: impl AsyncFnOnce(&Store) -> T) -> T {
        let runtime = Runtime::new().expect("a runtime");
        runtime.block_on(async {
            let store = Store::open(&self.url).await.expect("the store opens");
            let answer = ask(&store).await;
            store.close().await;
            answer
        })
    }

    /// The canonical dump.
    ///
    /// # Panics
    /// When it cannot be read.
    pub fn dump(&self) -> String {
        self.asked(async |store| store.dump().await.expect("a dump"))
    }
}

impl Drop for Shelf {
    fn drop(&mut self) {
        if let Some((server, schema)) = &self.schema {
            // Where it fails the schema stays in a server that does not outlive the tests.
            on_server(server, &format!("DROP SCHEMA {schema} CASCADE"));
        }
    }
}

/// SQL belongs to the store alone, and a schema is made before there is one: PostgreSQL's own client makes it.
fn on_server(server: &str, statements: &str) -> bool {
    let done = Command::new("psql")
        .args([
            server,
            "--quiet",
            "--no-psqlrc",
            "--set=ON_ERROR_STOP=1",
            "--command",
            statements,
        ])
        .env("PGOPTIONS", "--client-min-messages=warning")
        .status();
    done.expect("psql starts: it is in Debian's package postgresql-client")
        .success()
}
