//! Where SQLite and PostgreSQL differ: names of types, settings of a connection, and how a transaction begins. All
//! other statements of this crate are the same on both.

use sqlx::{Any, AnyPool, Transaction};

/// Which database is behind the connections.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Backend {
    Sqlite,
    Postgres,
}

/// Seconds a statement waits for another process that is writing, on either database.
pub(crate) const WAIT_SECONDS: u64 = 10;

impl Backend {
    /// The type for bytes.
    pub(crate) fn bytes(self) -> &'static str {
        match self {
            Self::Sqlite => "BLOB",
            Self::Postgres => "BYTEA",
        }
    }

    /// The type for text that sorts by its bytes, whatever language the database was made for.
    pub(crate) fn text(self) -> &'static str {
        match self {
            Self::Sqlite => "TEXT",
            Self::Postgres => "TEXT COLLATE \"C\"",
        }
    }

    /// Settings of the file, once. WAL lets readers go on while a part is written (SQLite documentation, "Write-Ahead
    /// Logging").
    pub(crate) fn settings_of_database(self) -> Option<&'static str> {
        match self {
            Self::Sqlite => Some("PRAGMA journal_mode = WAL"),
            Self::Postgres => None,
        }
    }

    /// Settings of each connection. NORMAL with WAL loses at most the last transactions on a power cut and never
    /// corrupts (SQLite documentation, "PRAGMA synchronous"). What is moved within a page, as an address is by a change of its
    /// row, leaves no octets behind (the same, "PRAGMA secure_delete"; FAST writes nothing more for that). ON CONFLICT DO
    /// NOTHING is a no-op only at READ COMMITTED; at a stricter level PostgreSQL fails it (PostgreSQL documentation,
    /// "Transaction Isolation").
    pub(crate) fn settings_of_connection(self) -> String {
        let milliseconds = WAIT_SECONDS * 1000;
        match self {
            Self::Sqlite => format!(
                "PRAGMA busy_timeout = {milliseconds}; PRAGMA synchronous = NORMAL; PRAGMA secure_delete = FAST"
            ),
            Self::Postgres => format!(
                "SET lock_timeout = {milliseconds}; SET default_transaction_isolation = 'read committed'"
            ),
        }
    }

    /// Begins a transaction that sees one state of the database throughout, whatever others write meanwhile.
    pub(crate) async fn begin_snapshot(
        self,
        pool: &AnyPool,
    ) -> Result<Transaction<'static, Any>, sqlx::Error> {
        pool.begin_with(match self {
            Self::Sqlite => "BEGIN",
            Self::Postgres => "BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY",
        })
        .await
    }

    /// Whether even pages that come free are written over with zeros from now on, on this connection (SQLite documentation, "PRAGMA
    /// secure_delete"). PostgreSQL takes the room of what was deleted when it vacuums.
    pub(crate) fn settings_of_secrecy(self, on: bool) -> Option<&'static str> {
        match (self, on) {
            (Self::Sqlite, true) => Some("PRAGMA secure_delete = ON"),
            (Self::Sqlite, false) => Some("PRAGMA secure_delete = FAST"),
            (Self::Postgres, _) => None,
        }
    }

    /// Takes the log into the file and empties it, as far as no reader needs it (SQLite documentation, "PRAGMA wal_checkpoint").
    pub(crate) fn settings_of_clearing(self) -> Option<&'static str> {
        match self {
            Self::Sqlite => Some("PRAGMA wal_checkpoint(TRUNCATE)"),
            Self::Postgres => None,
        }
    }

    /// Begins a transaction that writes. SQLite takes the writer's lock at once: one that has read before it writes would be
    /// refused it without waiting (SQLite documentation, "Transaction", section 2.2).
    pub(crate) async fn begin_write(self, pool: &AnyPool) -> Result<Transaction<'static, Any>, sqlx::Error> {
        pool.begin_with(match self {
            Self::Sqlite => "BEGIN IMMEDIATE",
            Self::Postgres => "BEGIN",
        })
        .await
    }

    /// Begins a transaction that no other of its kind runs beside: for changes of the schema.
    pub(crate) async fn begin_alone(self, pool: &AnyPool) -> Result<Transaction<'static, Any>, sqlx::Error> {
        match self {
            Self::Sqlite => pool.begin_with("BEGIN IMMEDIATE").await,
            Self::Postgres => {
                let mut transaction = pool.begin().await?;
                // The number only has to be the same in every version of this program; it is CRINGLE in ASCII.
                sqlx::query("SELECT pg_advisory_xact_lock(18949298238999621)")
                    .execute(&mut *transaction)
                    .await?;
                Ok(transaction)
            }
        }
    }
}
