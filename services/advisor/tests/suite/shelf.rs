//! A place for a store that no other test uses: on SQLite a file, on PostgreSQL a schema of its own.

use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};
use store::Store;
use tempfile::TempDir;

const SERVER: &str = "CRINGLE_TEST_POSTGRES";

/// The place; it is gone when this is dropped.
pub struct Shelf {
    url: String,
    _folder: TempDir,
    schema: Option<(String, String)>,
}

impl Shelf {
    pub fn sqlite() -> Self {
        let folder = tempfile::tempdir().unwrap();
        Self {
            url: folder.path().join("store.db").display().to_string(),
            _folder: folder,
            schema: None,
        }
    }

    /// None, with words, if no address is given and tests may be skipped.
    pub fn postgres() -> Option<Self> {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let Ok(server) = std::env::var(SERVER) else {
            if std::env::var("CRINGLE_NOTHING_SKIPPED").is_ok_and(|value| value == "1") {
                panic!("needs {SERVER}, and CRINGLE_NOTHING_SKIPPED=1: see deploy/postgres-for-tests");
            }
            println!("skipped: needs {SERVER}");
            return None;
        };
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let schema = format!("advisor_{}_{number}", std::process::id());
        // A killed run of the tests may have left a schema of this name.
        on_server(
            &server,
            &format!("DROP SCHEMA IF EXISTS {schema} CASCADE; CREATE SCHEMA {schema}"),
        );
        let join = if server.contains('?') { '&' } else { '?' };
        Some(Self {
            url: format!("{server}{join}options[search_path]={schema}"),
            _folder: tempfile::tempdir().unwrap(),
            schema: Some((server, schema)),
        })
    }

    pub async fn open(&self) -> Store {
        Store::open(&self.url).await.unwrap()
    }
}

impl Drop for Shelf {
    fn drop(&mut self) {
        if let Some((server, schema)) = &self.schema {
            on_server(server, &format!("DROP SCHEMA {schema} CASCADE"));
        }
    }
}

/// SQL belongs to the store alone, and a schema is made before there is one: PostgreSQL's own client makes it.
fn on_server(server: &str, statements: &str) {
    let options = ["--quiet", "--no-psqlrc", "--set=ON_ERROR_STOP=1", "--command"];
    let mut psql = Command::new("psql");
    psql.arg(server).args(options).arg(statements);
    let done = psql.env("PGOPTIONS", "--client-min-messages=warning").status();
    assert!(
        done.expect("psql starts: it is in Debian's package postgresql-client")
            .success()
    );
}
