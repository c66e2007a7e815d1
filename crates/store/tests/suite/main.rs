//! One suite of tests for both databases: SQLite always, PostgreSQL where its address is given. See `shelf`.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that cannot go on fails, and one that is skipped says so"
)]

/// Makes two tests of each named `async fn(Shelf)`: one on SQLite, one on PostgreSQL.
macro_rules! on_both_backends {
    ($($name:ident),+ $(,)?) => {
        mod on_sqlite {
            $(#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn $name() {
                super::$name($crate::shelf::Shelf::sqlite()).await;
            })+
        }
        mod on_postgres {
            $(#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn $name() {
                if let Some(shelf) = $crate::shelf::Shelf::postgres().await {
                    super::$name(shelf.clone()).await;
                    shelf.remove().await;
                }
            })+
        }
    };
}

mod advisories;
mod cells;
mod clubs;
mod decisions;
mod dumps;
mod hostile;
mod mail;
mod notes;
mod pruning;
mod samples;
mod schema;
mod series;
mod shelf;
mod tokens;
mod two_processes;
