//! Opening a database: its connections, their settings, and the wait for other processes that open it too.

use crate::address::Address;
use crate::backend::{Backend, WAIT_SECONDS};
use crate::error::is_busy;
use crate::{StoreError, schema};
use sqlx::any::{AnyPoolOptions, install_default_drivers};
use sqlx::{Any, AnyConnection, AnyPool, AssertSqlSafe, Connection, Executor, Transaction};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Mutex;

/// Readers beside the one writer; each holds a page cache of about 2 MB.
const CONNECTIONS: u32 = 4;

/// Pause before a new database is tried again that another process is making at this moment.
const PAUSE: Duration = Duration::from_millis(20);

/// The shelf. Cheap to clone; all clones share the connections.
#[derive(Clone, Debug)]
pub struct Store {
    pub(crate) pool: AnyPool,
    pub(crate) backend: Backend,
    /// SQLite has one writer: writers of this process queue here and not in the database.
    pub(crate) writer: Arc<Mutex<()>>,
}

impl Store {
    /// Opens a store and brings its schema up to date. A path or `sqlite://` address is a file, made where it is absent;
    /// a `postgres://` address is an existing database, whose tables are made in the first schema of its search path.
    ///
    /// # Errors
    /// [`StoreError::Address`] for an address this build cannot open, [`StoreError::TooNew`] for a newer schema,
    /// [`StoreError::Database`] otherwise. None of them shows a password.
    pub async fn open(url_or_path: &str) -> Result<Self, StoreError> {
        install_default_drivers();
        let address = Address::parse(url_or_path)?;
        prepare(&address)
            .await
            .map_err(StoreError::while_doing(format!("opening {}", address.shown)))?;
        Self::connect(&address, CONNECTIONS).await
    }

    /// A database in memory that ends with the last clone: for tests and one-off runs.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn open_in_memory() -> Result<Self, StoreError> {
        install_default_drivers();
        // Each connection to memory has a database of its own: there must be exactly one, and it must stay open.
        Self::connect(&Address::in_memory(), 1).await
    }

    async fn connect(address: &Address, connections: u32) -> Result<Self, StoreError> {
        let backend = address.backend;
        let pool = AnyPoolOptions::new()
            .max_connections(connections)
            .min_connections(1)
            .idle_timeout(None)
            .max_lifetime(None)
            .after_connect(move |connection, _| {
                let settings = AssertSqlSafe(backend.settings_of_connection());
                Box::pin(async move { connection.execute(settings).await.map(drop) })
            })
            .connect(&address.url)
            .await
            .map_err(StoreError::while_doing(format!("opening {}", address.shown)))?;
        schema::bring_up_to_date(&pool, backend).await?;
        Ok(Self {
            pool,
            backend,
            writer: Arc::default(),
        })
    }

    /// A transaction that sees one state throughout.
    pub(crate) async fn snapshot(&self) -> Result<Transaction<'static, Any>, sqlx::Error> {
        self.backend.begin_snapshot(&self.pool).await
    }

    /// Closes the connections after their present work, so that the file may be moved.
    pub async fn close(&self) {
        self.pool.close().await;
    }
}

/// Connects once outside the pool: the pool tries a failing connection again until its time is up and then forgets why
/// it failed. Waits for a process that makes the same new database at this moment: while SQLite's journal is switched
/// to WAL its own waiting does not apply.
async fn prepare(address: &Address) -> Result<(), sqlx::Error> {
    let mut tries = Duration::from_secs(WAIT_SECONDS).as_millis() / PAUSE.as_millis();
    loop {
        match connect_once(address).await {
            Err(error) if is_busy(&error) && tries > 0 => tries -= 1,
            outcome => return outcome,
        }
        tokio::time::sleep(PAUSE).await;
    }
}

async fn connect_once(address: &Address) -> Result<(), sqlx::Error> {
    let mut connection = AnyConnection::connect(&address.url).await?;
    let settings = AssertSqlSafe(address.backend.settings_of_connection());
    connection.execute(settings).await?;
    if let Some(settings) = address.backend.settings_of_database() {
        connection.execute(settings).await?;
    }
    connection.close().await
}
