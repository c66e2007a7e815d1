//! The replica as a plain file server that publishes by the clock.
//!
//! Source of what is right: RFC 9110 (ranges, conditions); that several ranges get the whole file is what object stores
//! do (../shared/design/data-sources.md, section 1.3).

use crate::wire::{ask, get, open, read_some, send};
use chrono::{DateTime, TimeDelta, Utc};
use replica::{HandClock, Publication, Replica, ReplicaSettings, fixed_clock};
use std::fs;

const PATH: &str = "/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f003";

fn at(time: &str) -> DateTime<Utc> {
    time.parse().unwrap()
}

fn tree() -> tempfile::TempDir {
    let tree = tempfile::tempdir().unwrap();
    let put = |path: &str, octets: &[u8]| {
        let file = tree.path().join(path.trim_start_matches('/'));
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, octets).unwrap();
    };
    put(PATH, b"0123456789");
    put("/p/U_10M/r/2030-05-13T00:00/s/PT003H00M.grib2", b"mesh");
    put("/big", &vec![7; 1 << 20]);
    tree
}

fn start(tree: &tempfile::TempDir) -> Replica {
    Replica::start(ReplicaSettings::folder(
        tree.path(),
        fixed_clock(at("2030-05-13T05:00:00Z")),
    ))
    .unwrap()
}

#[test]
fn a_file_comes_whole_in_parts_or_as_its_head() {
    let tree = tree();
    let replica = start(&tree);
    let whole = get(&replica, PATH, &[]);
    assert_eq!(
        (whole.status, whole.text().as_str(), whole.length()),
        (200, "0123456789", 10)
    );
    assert_eq!(whole.header("date"), "Mon, 13 May 2030 05:00:00 GMT");
    assert_eq!(whole.header("last-modified"), "Mon, 13 May 2030 00:00:00 GMT");
    let head = ask(&replica, "HEAD", PATH, &[]);
    assert_eq!((head.status, head.body.len(), head.length()), (200, 0, 10));
    assert_eq!(head.header("etag"), whole.header("etag"));

    let part = get(&replica, PATH, &[("Range", "bytes=2-4")]);
    assert_eq!(
        (part.status, part.text().as_str(), part.length()),
        (206, "234", 3)
    );
    assert_eq!(part.header("content-range"), "bytes 2-4/10");
    let tail = get(&replica, PATH, &[("Range", "bytes=7-")]);
    assert_eq!((tail.status, tail.text().as_str()), (206, "789"));
    let beyond = get(&replica, PATH, &[("Range", "bytes=10-12")]);
    assert_eq!(
        (beyond.status, beyond.header("content-range")),
        (416, "bytes */10")
    );
    let several = get(&replica, PATH, &[("Range", "bytes=0-1,4-5")]);
    assert_eq!((several.status, several.body.len()), (200, 10));
    assert_eq!(ask(&replica, "POST", PATH, &[]).status, 405);

    let seen = replica.requests();
    assert_eq!(seen.len(), 7);
    assert_eq!(
        (seen[2].header("range"), seen[2].status, seen[2].body_octets),
        (Some("bytes=2-4"), 206, 3)
    );
    assert_eq!(seen[1].body_octets, 0, "a head has no body");
}

#[test]
fn conditions_are_kept() {
    let tree = tree();
    let replica = start(&tree);
    let etag = get(&replica, PATH, &[]).header("etag").to_owned();
    let status = |headers: &[(&str, &str)]| get(&replica, PATH, headers).status;
    assert_eq!(status(&[("If-None-Match", &etag)]), 304);
    assert_eq!(status(&[("If-None-Match", "\"other\"")]), 200);
    assert_eq!(
        status(&[("If-Modified-Since", "Mon, 13 May 2030 00:00:00 GMT")]),
        304
    );
    assert_eq!(
        status(&[("If-Modified-Since", "Sun, 12 May 2030 23:59:59 GMT")]),
        200
    );
    assert_eq!(status(&[("If-Match", &etag), ("Range", "bytes=0-0")]), 206);
    assert_eq!(status(&[("If-Match", "\"other\""), ("Range", "bytes=0-0")]), 412);
    assert_eq!(status(&[("If-Range", "\"other\""), ("Range", "bytes=0-0")]), 200);
    fs::write(tree.path().join(&PATH[1..]), b"0123456780").unwrap();
    assert_eq!(status(&[("If-Match", &etag)]), 412, "the same size, other octets");
}

#[test]
fn a_run_grows_by_the_clock() {
    let tree = tree();
    let clock = HandClock::new(at("2030-05-13T03:35:59Z"));
    let mut settings = ReplicaSettings::folder(tree.path(), clock.clock());
    settings.publication = Publication::StepByStep {
        first_delay: TimeDelta::minutes(210),
        per_step: TimeDelta::minutes(2),
    };
    let replica = Replica::start(settings).unwrap();
    assert_eq!(get(&replica, PATH, &[]).status, 404);
    assert_eq!(
        get(&replica, "/big", &[("Range", "bytes=0-0")]).status,
        206,
        "of no run"
    );
    clock.set(at("2030-05-13T03:36:00Z"));
    let appeared = get(&replica, PATH, &[]);
    assert_eq!(appeared.status, 200);
    assert_eq!(appeared.header("last-modified"), "Mon, 13 May 2030 03:36:00 GMT");
}

#[test]
fn paths_are_decoded_and_never_lead_out_of_the_root() {
    let tree = tree();
    let outside = tempfile::tempdir().unwrap();
    fs::write(outside.path().join("secret"), b"secret").unwrap();
    std::os::unix::fs::symlink(outside.path(), tree.path().join("link")).unwrap();
    let replica = start(&tree);
    let mesh = get(&replica, "/p/U_10M/r/2030-05-13T00%3A00/s/PT003H00M.grib2", &[]);
    assert_eq!((mesh.status, mesh.text().as_str()), (200, "mesh"));
    let name = outside.path().file_name().unwrap().to_str().unwrap();
    let ways_out = [
        format!("/../{name}/secret"),
        format!("/%2e%2e/{name}/secret"),
        format!("/big/..%2f..%2f{name}%2fsecret"),
        "/link/secret".to_owned(),
        format!("/{}/secret", outside.path().display()),
        "/gfs.20300513".to_owned(),
        "/".to_owned(),
        "/big%00".to_owned(),
        "/%ff".to_owned(),
    ];
    for way in ways_out {
        let status = get(&replica, &way, &[]).status;
        assert!(matches!(status, 404 | 400), "{way}: {status}");
    }
}

#[test]
fn a_connection_serves_one_request_after_another() {
    let tree = tree();
    let replica = start(&tree);
    let mut stream = open(&replica, "GET", PATH, &[("Range", "bytes=0-3")], false);
    assert_eq!(read_some(&mut stream, 4).text(), "0123");
    send(&mut stream, "GET", "/nothing", &[], false);
    let missing = read_some(&mut stream, "no such file\n".len());
    assert_eq!(missing.status, 404);
    send(&mut stream, "GET", PATH, &[("Range", "bytes=4-6")], false);
    assert_eq!(read_some(&mut stream, 3).text(), "456");
}

#[test]
fn a_pace_changes_no_octet() {
    let tree = tree();
    let mut settings = ReplicaSettings::folder(tree.path(), fixed_clock(at("2030-05-13T05:00:00Z")));
    (settings.pace, settings.line) = (Some(100 << 20), Some(200 << 20));
    let replica = Replica::start(settings).unwrap();
    assert_eq!(get(&replica, "/big", &[]).body, vec![7; 1 << 20]);
    assert_eq!(replica.requests()[0].body_octets, 1 << 20);
}

/// Source: ../shared/design/data-sources.md, section 3 (over 120 requests a minute a 302 leads to a block page).
#[test]
fn too_many_requests_are_sent_to_a_block_page() {
    let tree = tree();
    let clock = HandClock::new(at("2030-05-13T05:00:00Z"));
    let mut settings = ReplicaSettings::folder(tree.path(), clock.clock());
    settings.requests_per_minute = Some(2);
    let replica = Replica::start(settings).unwrap();
    assert_eq!(get(&replica, PATH, &[]).status, 200);
    assert_eq!(get(&replica, PATH, &[]).status, 200);
    let blocked = get(&replica, PATH, &[]);
    assert_eq!(blocked.status, 302);
    assert!(
        get(&replica, blocked.header("location"), &[])
            .text()
            .contains("<html>")
    );
    clock.set(at("2030-05-13T05:01:00Z"));
    assert_eq!(get(&replica, PATH, &[]).status, 200);
}

#[test]
fn a_stopped_replica_closes_its_connections_and_frees_its_port() {
    let tree = tree();
    let replica = start(&tree);
    let (port, mut stream) = (replica.address().port(), open(&replica, "GET", PATH, &[], false));
    read_some(&mut stream, 10);
    replica.stop();
    assert_eq!(std::io::Read::read(&mut stream, &mut [0]).unwrap_or(0), 0);
    let again = Replica::start_at(
        port,
        ReplicaSettings::folder(tree.path(), fixed_clock(DateTime::UNIX_EPOCH)),
    );
    assert_eq!(again.unwrap().address().port(), port);
    let nowhere = ReplicaSettings::folder(tree.path().join("nowhere"), fixed_clock(DateTime::UNIX_EPOCH));
    assert!(Replica::start(nowhere).is_err());
}
