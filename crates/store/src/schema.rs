//! The tables, one migration after the other. The one place where SQLite and PostgreSQL differ is the name of the
//! type for bytes.

use crate::StoreError;
use sqlx::{AnyPool, AssertSqlSafe, Row};

/// Each entry is one version; statements once released are never changed. `{bytes}` is BLOB or BYTEA.
/// Instants are whole seconds since 1970-01-01 UTC.
const MIGRATIONS: &[&[&str]] = &[&[
    "CREATE TABLE IF NOT EXISTS parts (
        source TEXT NOT NULL, reference BIGINT NOT NULL, part BIGINT NOT NULL,
        grid TEXT NOT NULL, complete BIGINT NOT NULL, last_step BIGINT NOT NULL, visible_at BIGINT NOT NULL,
        manifest {bytes} NOT NULL,
        PRIMARY KEY (source, reference, part))",
    "CREATE TABLE IF NOT EXISTS series (
        source TEXT NOT NULL, reference BIGINT NOT NULL, part BIGINT NOT NULL,
        grid TEXT NOT NULL, node_column BIGINT NOT NULL, node_row BIGINT NOT NULL,
        lat DOUBLE PRECISION NOT NULL, lon DOUBLE PRECISION NOT NULL,
        samples {bytes} NOT NULL,
        PRIMARY KEY (source, reference, part, grid, node_column, node_row))",
    "CREATE TABLE IF NOT EXISTS club_versions (
        slug TEXT NOT NULL, number BIGINT NOT NULL, version TEXT NOT NULL, text TEXT NOT NULL,
        seen_at BIGINT NOT NULL,
        PRIMARY KEY (slug, number))",
    "CREATE INDEX IF NOT EXISTS club_versions_by_hash ON club_versions (slug, version)",
    "CREATE TABLE IF NOT EXISTS advisories (
        id TEXT NOT NULL PRIMARY KEY, club TEXT NOT NULL, occurrence TEXT NOT NULL, revision BIGINT NOT NULL,
        input_hash TEXT NOT NULL, inputs {bytes} NOT NULL, document {bytes} NOT NULL, issued_at BIGINT NOT NULL,
        UNIQUE (club, occurrence, input_hash), UNIQUE (club, occurrence, revision))",
]];

/// The name of the type for bytes. SQLite alone is compiled in; PostgreSQL says BYTEA.
const BYTES: &str = "BLOB";

/// Brings the schema to the newest version this program knows; a second run changes nothing.
pub(crate) async fn bring_up_to_date(pool: &AnyPool) -> Result<(), StoreError> {
    let known = MIGRATIONS.len() as i64;
    let failed = || StoreError::while_doing("bringing the schema up to date");
    sqlx::query("CREATE TABLE IF NOT EXISTS schema_version (version BIGINT NOT NULL PRIMARY KEY)")
        .execute(pool)
        .await
        .map_err(failed())?;
    let row = sqlx::query("SELECT COALESCE(MAX(version), 0) FROM schema_version")
        .fetch_one(pool)
        .await
        .map_err(failed())?;
    let found: i64 = row.try_get(0).map_err(failed())?;
    if found > known {
        return Err(StoreError::TooNew { found, known });
    }
    for (version, statements) in (1_i64..).zip(MIGRATIONS).filter(|(version, _)| *version > found) {
        apply(pool, version, statements)
            .await
            .map_err(StoreError::while_doing(format!(
                "bringing the schema to version {version}"
            )))?;
    }
    Ok(())
}

async fn apply(pool: &AnyPool, version: i64, statements: &[&str]) -> Result<(), sqlx::Error> {
    let mut transaction = pool.begin().await?;
    for statement in statements {
        let portable = statement.replace("{bytes}", BYTES);
        sqlx::query(AssertSqlSafe(portable))
            .execute(&mut *transaction)
            .await?;
    }
    // Another process may have brought the schema to this version meanwhile.
    sqlx::query("INSERT INTO schema_version (version) VALUES ($1) ON CONFLICT DO NOTHING")
        .bind(version)
        .execute(&mut *transaction)
        .await?;
    transaction.commit().await
}

#[cfg(test)]
mod tests {
    use crate::{Store, StoreError};

    #[tokio::test]
    async fn a_newer_schema_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("s.db");
        let store = Store::open(path.to_str().unwrap()).await.unwrap();
        sqlx::query("INSERT INTO schema_version (version) VALUES (999)")
            .execute(&store.pool)
            .await
            .unwrap();
        store.close().await;
        let error = Store::open(path.to_str().unwrap()).await.unwrap_err();
        assert!(matches!(error, StoreError::TooNew { found: 999, .. }), "{error}");
    }
}
