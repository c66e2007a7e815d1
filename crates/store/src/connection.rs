//! Opening a database: its address, its connections, and the settings of SQLite.

use crate::{StoreError, schema};
use sqlx::any::{AnyPoolOptions, install_default_drivers};
use sqlx::{AnyPool, Executor};
use std::sync::Arc;
use tokio::sync::Mutex;

/// Readers beside the one writer; each holds a page cache of about 2 MB.
const CONNECTIONS: u32 = 4;

/// WAL lets readers go on while a part is written; NORMAL loses at most the last transactions on a power cut and never
/// corrupts (SQLite documentation, "PRAGMA synchronous"). The waiting time covers another process writing a part.
const SQLITE_SETTINGS: &str =
    "PRAGMA busy_timeout = 10000; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL;";

/// The shelf. Cheap to clone; all clones share the connections.
#[derive(Clone, Debug)]
pub struct Store {
    pub(crate) pool: AnyPool,
    /// SQLite has one writer: writers of this process queue here and not in the database.
    pub(crate) writer: Arc<Mutex<()>>,
}

impl Store {
    /// Opens, and where needed makes, the database at a path or `sqlite://` address, and brings its schema up to date.
    ///
    /// # Errors
    /// [`StoreError::Address`] for an address this build cannot open, [`StoreError::TooNew`] for a newer schema,
    /// [`StoreError::Database`] otherwise.
    pub async fn open(url_or_path: &str) -> Result<Self, StoreError> {
        Self::connect(&address(url_or_path)?, CONNECTIONS).await
    }

    /// A database in memory that ends with the last clone: for tests and one-off runs.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn open_in_memory() -> Result<Self, StoreError> {
        // Each connection to memory has a database of its own: there must be exactly one, and it must stay open.
        Self::connect("sqlite::memory:", 1).await
    }

    async fn connect(url: &str, connections: u32) -> Result<Self, StoreError> {
        install_default_drivers();
        let pool = AnyPoolOptions::new()
            .max_connections(connections)
            .min_connections(1)
            .idle_timeout(None)
            .max_lifetime(None)
            .after_connect(|connection, _| {
                Box::pin(async move { connection.execute(SQLITE_SETTINGS).await.map(drop) })
            })
            .connect(url)
            .await
            .map_err(StoreError::while_doing(format!("opening {url}")))?;
        schema::bring_up_to_date(&pool).await?;
        Ok(Self {
            pool,
            writer: Arc::default(),
        })
    }

    /// Closes the connections after their present work, so that the file may be moved.
    pub async fn close(&self) {
        self.pool.close().await;
    }
}

/// The address the driver wants: a plain path becomes a `sqlite://` address that makes the file where it is absent.
fn address(url_or_path: &str) -> Result<String, StoreError> {
    let refuse = |reason: &str| StoreError::Address {
        address: url_or_path.to_owned(),
        reason: reason.to_owned(),
    };
    if url_or_path.trim().is_empty() {
        return Err(refuse("it is empty"));
    }
    let path = match url_or_path.split_once("://") {
        Some(("sqlite", path)) => path,
        Some((scheme, _)) => return Err(refuse(&format!("this build opens SQLite files, not {scheme}"))),
        None => url_or_path,
    };
    if path.contains('?') {
        return Ok(format!("sqlite://{path}"));
    }
    let escaped = path.replace('%', "%25").replace('#', "%23");
    Ok(format!("sqlite://{escaped}?mode=rwc"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_becomes_an_address_and_another_database_is_refused() {
        // Source of the form: sqlx documentation of SqliteConnectOptions (mode=rwc makes the file).
        assert_eq!(address("a/b.db").unwrap(), "sqlite://a/b.db?mode=rwc");
        assert_eq!(address("sqlite:///x.db").unwrap(), "sqlite:///x.db?mode=rwc");
        assert_eq!(address("50%.db").unwrap(), "sqlite://50%25.db?mode=rwc");
        assert!(
            address("postgres://host/db")
                .unwrap_err()
                .to_string()
                .contains("not postgres")
        );
        assert!(address(" ").is_err());
    }

    #[tokio::test]
    async fn a_folder_that_does_not_exist_is_an_error_that_names_the_address() {
        let error = Store::open("/no/such/folder/store.db").await.unwrap_err();
        assert!(error.to_string().contains("/no/such/folder/store.db"), "{error}");
    }
}
