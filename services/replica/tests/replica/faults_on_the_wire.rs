//! Faults of the transport, each as a client sees it on the wire.
//!
//! Source: what each fault is said to be (the doc sentence of its variant); status codes and headers as RFC 9110 and
//! RFC 6585 (429) have them. Nothing waits for time to pass: what is slow or stalled is told by what comes before the
//! client leaves.

use crate::wire::{ask, get, open, read_some};
use chrono::TimeDelta;
use replica::{Fault, Replica, ReplicaSettings, Times, fixed_clock};
use std::io::{ErrorKind, Read};
use std::net::Shutdown;
use std::time::Duration;

const PATH: &str = "/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f003";
const RANGE: [(&str, &str); 1] = [("Range", "bytes=2-5")];

struct Stage {
    replica: Replica,
    _tree: tempfile::TempDir,
}

fn stage(fault: Fault, times: Times) -> Stage {
    let tree = tempfile::tempdir().unwrap();
    let file = tree.path().join(&PATH[1..]);
    std::fs::create_dir_all(file.parent().unwrap()).unwrap();
    std::fs::write(&file, b"0123456789").unwrap();
    std::fs::write(file.with_extension("f006"), b"later").unwrap();
    let settings = ReplicaSettings::folder(tree.path(), fixed_clock("2030-05-13T05:00:00Z".parse().unwrap()));
    let replica = Replica::start(settings).unwrap();
    replica.faults().add("gfs.20300513", fault, times);
    Stage { replica, _tree: tree }
}

fn always(fault: Fault) -> Stage {
    stage(fault, Times::Always)
}

#[test]
fn statuses_in_place_of_the_file() {
    let cases = [
        (Fault::NotThere, 404, ""),
        (Fault::Forbidden, 403, ""),
        (Fault::TooManyRequests { retry_after: Some(7) }, 429, "7"),
        (Fault::TooManyRequests { retry_after: None }, 429, ""),
        (
            Fault::ServerError {
                status: 500,
                retry_after: None,
            },
            500,
            "",
        ),
        (
            Fault::ServerError {
                status: 502,
                retry_after: None,
            },
            502,
            "",
        ),
        (
            Fault::ServerError {
                status: 503,
                retry_after: Some(120),
            },
            503,
            "120",
        ),
    ];
    for (fault, status, retry_after) in cases {
        let stage = always(fault);
        let reply = get(&stage.replica, PATH, &RANGE);
        assert_eq!((reply.status, reply.header("retry-after")), (status, retry_after));
        stage.replica.faults().clear();
        assert_eq!(get(&stage.replica, PATH, &RANGE).status, 206);
    }
}

#[test]
fn redirects_and_pages() {
    for (status, to) in [(301, "/elsewhere"), (302, "http://127.0.0.2:9/x"), (307, PATH)] {
        let to = to.to_owned();
        let stage = always(Fault::Redirect {
            status,
            to: to.clone(),
        });
        let reply = get(&stage.replica, PATH, &[]);
        assert_eq!((reply.status, reply.header("location")), (status, to.as_str()));
    }
    let stage = always(Fault::BlockPage);
    let reply = get(&stage.replica, PATH, &[]);
    assert_eq!(reply.status, 302);
    let page = get(&stage.replica, reply.header("location"), &[]);
    assert_eq!(
        (page.status, page.header("content-type")),
        (200, "text/html; charset=utf-8")
    );
    let page = get(&always(Fault::HtmlPage).replica, PATH, &RANGE);
    assert_eq!(
        (page.status, page.header("content-type")),
        (200, "text/html; charset=utf-8")
    );
    assert!(page.text().starts_with("<!DOCTYPE html>") && page.length() == page.body.len());
}

#[test]
fn ranges_ignored_and_refused() {
    let ignored = get(&always(Fault::RangeIgnored).replica, PATH, &RANGE);
    assert_eq!((ignored.status, ignored.text().as_str()), (200, "0123456789"));
    assert_eq!(ignored.header("content-range"), "");
    let stage = always(Fault::RangeRefused);
    let refused = get(&stage.replica, PATH, &RANGE);
    assert_eq!(
        (refused.status, refused.header("content-range")),
        (416, "bytes */10")
    );
    assert_eq!(
        get(&stage.replica, PATH, &[]).status,
        200,
        "a request without a range"
    );
}

#[test]
fn bodies_cut_and_connections_closed() {
    let cut = get(&always(Fault::CutBody { after: 3 }).replica, PATH, &[]);
    assert_eq!((cut.status, cut.length(), cut.text().as_str()), (200, 10, "012"));
    let cut = get(&always(Fault::CutBody { after: 1 }).replica, PATH, &RANGE);
    assert_eq!((cut.status, cut.length(), cut.text().as_str()), (206, 4, "2"));
    let stage = always(Fault::ClosedUnanswered);
    assert_eq!(get(&stage.replica, PATH, &[]).status, 0);
    assert_eq!(stage.replica.requests()[0].status, 0);
}

#[test]
fn lengths_overstated_and_understated() {
    let over = get(&always(Fault::LengthOverstated { by: 5 }).replica, PATH, &RANGE);
    assert_eq!((over.length(), over.text().as_str()), (9, "2345"));
    let stage = always(Fault::LengthUnderstated { by: 3 });
    let mut stream = open(&stage.replica, "GET", PATH, &RANGE, false);
    let mut octets = Vec::new();
    stream.read_to_end(&mut octets).unwrap();
    let under = crate::wire::reply(&octets);
    assert_eq!((under.length(), under.text().as_str()), (1, "2345"));
}

/// The pause is a day long, so that what comes is what came before it.
#[test]
fn a_slow_body_comes_piece_by_piece() {
    let every = Duration::from_secs(86_400);
    let stage = always(Fault::SlowBody { octets: 4, every });
    let mut stream = open(&stage.replica, "GET", PATH, &[], true);
    let reply = read_some(&mut stream, 4);
    assert_eq!((reply.length(), reply.text().as_str()), (10, "0123"));
    nothing_more_until_the_client_leaves(stream);
    let (octets, every) = (3, Duration::ZERO);
    let whole = get(&always(Fault::SlowBody { octets, every }).replica, PATH, &[]);
    assert_eq!(whole.text(), "0123456789");
}

#[test]
fn a_stalled_body_stops_for_ever() {
    let stage = always(Fault::StalledBody { after: 6 });
    let mut stream = open(&stage.replica, "GET", PATH, &[], true);
    let reply = read_some(&mut stream, 6);
    assert_eq!((reply.length(), reply.text().as_str()), (10, "012345"));
    nothing_more_until_the_client_leaves(stream);
    let whole = ask(&stage.replica, "HEAD", PATH, &[]);
    assert_eq!(
        (whole.status, whole.length()),
        (200, 10),
        "a head has no body to stall"
    );
}

fn nothing_more_until_the_client_leaves(mut stream: std::net::TcpStream) {
    stream.set_nonblocking(true).unwrap();
    let more = stream.read(&mut [0]).unwrap_err();
    assert_eq!(more.kind(), ErrorKind::WouldBlock);
    stream.set_nonblocking(false).unwrap();
    stream.shutdown(Shutdown::Write).unwrap();
    assert_eq!(
        stream.read(&mut [0]).unwrap(),
        0,
        "the server leaves when the client does"
    );
}

#[test]
fn a_clock_two_hours_off() {
    for (hours, date, modified) in [
        (
            2,
            "Mon, 13 May 2030 07:00:00 GMT",
            "Mon, 13 May 2030 02:00:00 GMT",
        ),
        (
            -2,
            "Mon, 13 May 2030 03:00:00 GMT",
            "Sun, 12 May 2030 22:00:00 GMT",
        ),
    ] {
        let by = TimeDelta::hours(hours);
        let reply = get(&always(Fault::ClockOff { by }).replica, PATH, &[]);
        assert_eq!(
            (reply.header("date"), reply.header("last-modified")),
            (date, modified)
        );
    }
}

#[test]
fn a_cycle_that_stops_growing() {
    let stage = always(Fault::StopsGrowing { after_step: 3 });
    assert_eq!(get(&stage.replica, PATH, &[]).status, 200);
    assert_eq!(
        get(&stage.replica, &PATH.replace("f003", "f006"), &[]).status,
        404
    );
}

#[test]
fn faults_come_as_often_as_asked_and_the_first_that_is_due_wins() {
    let statuses =
        |stage: &Stage| -> Vec<u16> { (0..6).map(|_| get(&stage.replica, PATH, &[]).status).collect() };
    let first = stage(Fault::Forbidden, Times::First(2));
    assert_eq!(statuses(&first), [403, 403, 200, 200, 200, 200]);
    let every = stage(Fault::Forbidden, Times::Every(3));
    assert_eq!(statuses(&every), [200, 200, 403, 200, 200, 403]);
    let both = stage(Fault::Forbidden, Times::First(1));
    let unavailable = Fault::ServerError {
        status: 503,
        retry_after: None,
    };
    both.replica.faults().add("f003", unavailable, Times::First(1));
    assert_eq!(statuses(&both), [403, 503, 200, 200, 200, 200]);
    both.replica
        .faults()
        .add("elsewhere", Fault::NotThere, Times::Always);
    assert_eq!(get(&both.replica, PATH, &[]).status, 200);
}
