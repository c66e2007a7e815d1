//! A place for a store that no other test uses: a file in a folder of its own, or a schema of its own in the database
//! that the environment names.

use sqlx::any::install_default_drivers;
use sqlx::{AnyPool, AssertSqlSafe};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use store::Store;
use tempfile::TempDir;

const ADDRESS: &str = "CRINGLE_TEST_POSTGRES";

/// The place; its folder lives as long as any clone.
#[derive(Clone)]
pub struct Shelf {
    /// The address to give to [`Store::open`].
    pub url: String,
    schema: Option<String>,
    _folder: Option<Arc<TempDir>>,
}

impl Shelf {
    pub fn sqlite() -> Self {
        let folder = tempfile::tempdir().unwrap();
        Self {
            url: folder.path().join("store.db").to_str().unwrap().to_owned(),
            schema: None,
            _folder: Some(Arc::new(folder)),
        }
    }

    /// None, with words, if no address is given and tests may be skipped.
    pub async fn postgres() -> Option<Self> {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let server = postgres_address()?;
        let schema = format!(
            "t_{}_{}",
            std::process::id(),
            MADE.fetch_add(1, Ordering::Relaxed)
        );
        // A killed run of the tests may have left a schema of this name.
        let made = format!("DROP SCHEMA IF EXISTS {schema} CASCADE; CREATE SCHEMA {schema}");
        on_server(&server, &made).await;
        let join = if server.contains('?') { '&' } else { '?' };
        Some(Self {
            url: format!("{server}{join}options[search_path]={schema}"),
            schema: Some(schema),
            _folder: None,
        })
    }

    pub async fn open(&self) -> Store {
        Store::open(&self.url).await.unwrap()
    }

    /// Its file, if it has one.
    pub fn file(&self) -> Option<&str> {
        self.schema.is_none().then_some(self.url.as_str())
    }

    /// Connections beside the store, to harm what it keeps.
    pub async fn raw(&self) -> AnyPool {
        install_default_drivers();
        let url = match &self.schema {
            Some(_) => self.url.clone(),
            None => format!("sqlite://{}", self.url),
        };
        AnyPool::connect(&url).await.unwrap()
    }

    pub async fn remove(self) {
        if let (Some(schema), Some(server)) = (&self.schema, postgres_address()) {
            on_server(&server, &format!("DROP SCHEMA {schema} CASCADE")).await;
        }
    }
}

/// The address of the server for tests.
#[expect(
    clippy::disallowed_methods,
    reason = "the environment says where the tests' server is"
)]
pub fn postgres_address() -> Option<String> {
    if let Ok(address) = std::env::var(ADDRESS) {
        return Some(address);
    }
    if std::env::var("CRINGLE_NOTHING_SKIPPED").is_ok_and(|value| value == "1") {
        panic!("needs {ADDRESS}, and CRINGLE_NOTHING_SKIPPED=1: see deploy/postgres-for-tests");
    }
    eprintln!("skipped: needs {ADDRESS}");
    None
}

async fn on_server(server: &str, statements: &str) {
    install_default_drivers();
    let pool = AnyPool::connect(server).await.unwrap();
    sqlx::raw_sql(AssertSqlSafe(statements))
        .execute(&pool)
        .await
        .unwrap();
    pool.close().await;
}
