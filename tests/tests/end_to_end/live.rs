//! `cringle demo --live`: runs that appear while it goes on.

use crate::service::Service;
use cringle_tests::program;
use std::process::Command;

#[test]
fn a_run_that_appears_is_fetched_part_by_part_and_advised_on() {
    let cache = tempfile::tempdir().expect("a folder");
    let mut command = Command::new(program());
    command
        .args(["demo", "--live", "--listen", "127.0.0.1:0"])
        .env("XDG_CACHE_HOME", cache.path());
    let mut service = Service::of(command);
    // The run of 00 UTC is whole from the beginning; that of 06 UTC appears by and by.
    let first = service.line("fetched: ");
    assert!(
        first.contains("gfs 10 parts, gfs-wave 10 parts, gefs 10 parts"),
        "{first}"
    );
    let board_at_first = service.get("/").1;
    let later = service.line("gfs 1 part,");
    assert!(!later.contains("failed"), "{later}");
    // Its first parts reach no session's end and change nothing; once it serves, it is advised on.
    while service.line("advised: ").contains(" 0 new advisories") {}
    let board = service.get("/").1;
    assert!(board.contains("/sessions/") && board != board_at_first);
    let (code, rest) = service.terminate();
    assert_eq!(
        (code, rest.last().map(String::as_str)),
        (Some(0), Some("Stopped."))
    );
}
