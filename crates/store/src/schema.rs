//! The tables, one migration after the other.

use crate::StoreError;
use crate::backend::Backend;
use sqlx::{Any, AnyPool, AssertSqlSafe, Executor, Row};

/// Each entry is one version; statements once released are never changed. `{bytes}` and `{text}` are the database's own
/// names of these types. Instants are whole seconds since 1970-01-01 UTC.
const MIGRATIONS: &[&[&str]] = &[
    &[
        "CREATE TABLE IF NOT EXISTS parts (
            source {text} NOT NULL, reference BIGINT NOT NULL, part BIGINT NOT NULL,
            grid {text} NOT NULL, complete BIGINT NOT NULL, last_step BIGINT NOT NULL, visible_at BIGINT NOT NULL,
            manifest {bytes} NOT NULL,
            PRIMARY KEY (source, reference, part))",
        "CREATE TABLE IF NOT EXISTS series (
            source {text} NOT NULL, reference BIGINT NOT NULL, part BIGINT NOT NULL,
            grid {text} NOT NULL, node_column BIGINT NOT NULL, node_row BIGINT NOT NULL,
            lat DOUBLE PRECISION NOT NULL, lon DOUBLE PRECISION NOT NULL,
            samples {bytes} NOT NULL,
            PRIMARY KEY (source, reference, part, grid, node_column, node_row))",
        "CREATE TABLE IF NOT EXISTS club_versions (
            slug {text} NOT NULL, number BIGINT NOT NULL, version {text} NOT NULL, text {text} NOT NULL,
            seen_at BIGINT NOT NULL,
            PRIMARY KEY (slug, number))",
        "CREATE INDEX IF NOT EXISTS club_versions_by_hash ON club_versions (slug, version)",
        "CREATE TABLE IF NOT EXISTS advisories (
            id {text} NOT NULL PRIMARY KEY, club {text} NOT NULL, occurrence {text} NOT NULL,
            revision BIGINT NOT NULL, input_hash {text} NOT NULL, inputs {bytes} NOT NULL,
            document {bytes} NOT NULL, issued_at BIGINT NOT NULL,
            UNIQUE (club, occurrence, input_hash), UNIQUE (club, occurrence, revision))",
    ],
    &[
        // Parts of version 1 carry no checksum: damage to them could pass for a value. They are fetched again.
        "DELETE FROM series",
        "DELETE FROM parts",
        "CREATE TABLE fetch_notes (
            source {text} NOT NULL, number BIGINT NOT NULL, reference BIGINT, noted_at BIGINT NOT NULL,
            words {text} NOT NULL, severity BIGINT NOT NULL,
            PRIMARY KEY (source, number))",
    ],
    &["CREATE TABLE mesh_cells (
            grid {text} NOT NULL, place {text} NOT NULL, cells {bytes} NOT NULL,
            PRIMARY KEY (grid, place))"],
    &["CREATE TABLE decisions (
            club {text} NOT NULL, occurrence {text} NOT NULL, number BIGINT NOT NULL,
            document {bytes} NOT NULL, decided_at BIGINT NOT NULL,
            PRIMARY KEY (club, occurrence, number))"],
    &["CREATE TABLE tokens (
            id {text} NOT NULL PRIMARY KEY, hash {text} NOT NULL UNIQUE, club {text} NOT NULL, scopes {text} NOT NULL,
            label {text} NOT NULL, made_at BIGINT NOT NULL, expires_at BIGINT, revoked_at BIGINT)"],
    &[
        "CREATE TABLE subscriptions (
            id {text} NOT NULL PRIMARY KEY, club {text} NOT NULL, address {text} NOT NULL, address_key {text} NOT NULL,
            choices {text} NOT NULL, asked_choices {text}, asked_at BIGINT NOT NULL, confirmed_at BIGINT,
            refusals BIGINT NOT NULL,
            UNIQUE (club, address_key))",
        "CREATE TABLE subscription_links (
            hash {text} NOT NULL PRIMARY KEY, subscription {text} NOT NULL, purpose {text} NOT NULL,
            expires_at BIGINT NOT NULL)",
        "CREATE INDEX subscription_links_by_subscription ON subscription_links (subscription)",
        "CREATE TABLE mailings (
            club {text} NOT NULL, name {text} NOT NULL, body {bytes} NOT NULL, made_at BIGINT NOT NULL,
            ends_at BIGINT NOT NULL,
            PRIMARY KEY (club, name))",
        "CREATE TABLE outbox (
            club {text} NOT NULL, mailing {text} NOT NULL, subscription {text} NOT NULL, state {text} NOT NULL,
            attempts BIGINT NOT NULL, due_at BIGINT NOT NULL, claim {text}, claimed_until BIGINT,
            fault {text}, words {text}, noted_at BIGINT NOT NULL,
            PRIMARY KEY (club, mailing, subscription))",
        "CREATE INDEX outbox_by_state ON outbox (state, due_at)",
        "CREATE INDEX outbox_by_subscription ON outbox (subscription)",
        "CREATE TABLE told_of_sessions (
            club {text} NOT NULL, occurrence {text} NOT NULL, version BIGINT NOT NULL, document {bytes} NOT NULL,
            noted_at BIGINT NOT NULL,
            PRIMARY KEY (club, occurrence))",
    ],
];

/// Brings the schema to the newest version this program knows; a second run changes nothing. Of several processes that
/// open a store at once, one does the work and the others wait.
pub(crate) async fn bring_up_to_date(pool: &AnyPool, backend: Backend) -> Result<(), StoreError> {
    let known = MIGRATIONS.len() as i64;
    // An error may only mean that the table is absent. If it means more, the next statements fail too, and say so.
    let found = version(pool).await.unwrap_or(0);
    if found > known {
        return Err(StoreError::TooNew { found, known });
    }
    if found < known {
        migrate(pool, backend)
            .await
            .map_err(StoreError::while_doing(format!(
                "bringing the schema to version {known}"
            )))?;
    }
    Ok(())
}

async fn migrate(pool: &AnyPool, backend: Backend) -> Result<(), sqlx::Error> {
    let mut transaction = backend.begin_alone(pool).await?;
    transaction
        .execute("CREATE TABLE IF NOT EXISTS schema_version (version BIGINT NOT NULL PRIMARY KEY)")
        .await?;
    // Read again: another process may have been at work meanwhile.
    let found = version(&mut *transaction).await?;
    for (version, statements) in (1_i64..).zip(MIGRATIONS).filter(|(version, _)| *version > found) {
        for statement in *statements {
            let portable = statement
                .replace("{bytes}", backend.bytes())
                .replace("{text}", backend.text());
            transaction.execute(AssertSqlSafe(portable)).await?;
        }
        sqlx::query("INSERT INTO schema_version (version) VALUES ($1)")
            .bind(version)
            .execute(&mut *transaction)
            .await?;
    }
    transaction.commit().await
}

async fn version<'c>(executor: impl Executor<'c, Database = Any>) -> Result<i64, sqlx::Error> {
    sqlx::query("SELECT COALESCE(MAX(version), 0) FROM schema_version")
        .fetch_one(executor)
        .await?
        .try_get(0)
}
