//! The tree of full-size files: that every message says what its place is, and that values survive.
//!
//! Source of what a head must say: the path and index of the file, read through `grid`, whose own tests check it against
//! ecCodes. Sizes: issue text (messages of at least 400 kB, 1440 by 721 nodes).

use crate::wire::get;
use chrono::{DateTime, Utc};
use forecast::Member;
use grid::{Frame, Message, read_fields, split, values_at};
use replica::{FullSize, Replica, ReplicaSettings, Tree, VirtualTree, fixed_clock};
use shared_files::shared;
use std::fs;
use std::sync::OnceLock;

const CONTROL: &str = "/gefs.20300513/06/atmos/pgrb2sp25/gec00.t06z.pgrb2s.0p25.f000";
const MEMBER: &str = "/gefs.20300513/06/atmos/pgrb2sp25/gep02.t06z.pgrb2s.0p25.f120";

fn run() -> DateTime<Utc> {
    "2030-05-13T06:00:00Z".parse().unwrap()
}

fn holds() -> FullSize {
    FullSize {
        run: run(),
        members: 3,
        steps: vec![0, 3, 120],
        pool: None,
    }
}

/// Made once for all tests: the pool takes a moment.
fn tree() -> VirtualTree {
    static TREE: OnceLock<VirtualTree> = OnceLock::new();
    TREE.get_or_init(|| VirtualTree::full_size(holds()).unwrap())
        .clone()
}

fn start(tree: VirtualTree) -> Replica {
    Replica::start(ReplicaSettings::tree(Tree::FullSize(tree), fixed_clock(run()))).unwrap()
}

fn message(octets: &[u8]) -> Message<'_> {
    match split(octets).as_slice() {
        [Frame::Message(message)] => *message,
        other => panic!("{} frames", other.len()),
    }
}

#[test]
fn every_message_is_full_size_and_right_for_its_place() {
    let tree = tree();
    let replica = start(tree.clone());
    for (path, member, kind, step) in [(CONTROL, 0, 1, 0), (MEMBER, 2, 3, 120)] {
        assert!(tree.paths().iter().any(|known| known == path));
        let index = get(&replica, &format!("{path}.idx"), &[]).text();
        let size = wire_size(&replica, path);
        let lines: Vec<Vec<&str>> = index.lines().map(|line| line.split(':').collect()).collect();
        let names: Vec<&str> = lines.iter().map(|line| line[3]).collect();
        assert_eq!(names, ["GUST", "TMP", "UGRD", "VGRD", "PRMSL"]);
        let codes = [(2, 22, 1), (0, 0, 103), (2, 2, 103), (2, 3, 103), (3, 1, 101)];
        for (at, (line, codes)) in lines.iter().zip(codes).enumerate() {
            let start: usize = line[1].parse().unwrap();
            let end = lines.get(at + 1).map_or(size, |next| next[1].parse().unwrap());
            let part = get(
                &replica,
                path,
                &[("Range", &format!("bytes={start}-{}", end - 1))],
            );
            assert_eq!(part.status, 206);
            assert!(part.body.len() >= 400_000);
            let fields = read_fields(&message(&part.body)).unwrap();
            let field = &fields[0];
            assert_eq!((field.category, field.number, field.surface), codes);
            assert_eq!(
                (field.reference, field.member, field.ensemble_type),
                (run(), Some(Member(member)), Some(kind))
            );
            assert_eq!((field.valid - run()).num_hours(), step);
            assert_eq!(line[2], "d=2030051306");
            assert!(index.contains(if step == 0 { ":anl:" } else { ":120 hour fcst:" }));
            assert!(index.contains(if member == 0 { "ENS=low-res ctl" } else { "ENS=+2" }));
        }
    }
}

fn wire_size(replica: &Replica, path: &str) -> usize {
    crate::wire::ask(replica, "HEAD", path, &[]).length()
}

#[test]
fn only_what_the_tree_holds_is_there() {
    let tree = tree();
    assert_eq!(tree.paths().len(), 9);
    let replica = start(tree.clone());
    let sizes: usize = tree.paths().iter().map(|path| wire_size(&replica, path)).sum();
    assert_eq!(sizes as u64, tree.message_octets());
    for (part, other) in [
        ("gep02", "gep03"),
        ("gep02", "gep00"),
        ("gep02", "gep2"),
        ("f120", "f117"),
        ("/06/", "/00/"),
    ] {
        assert_eq!(
            get(&replica, &MEMBER.replace(part, other), &[]).status,
            404,
            "{other}"
        );
    }
    let tags: Vec<String> = [CONTROL, MEMBER]
        .map(|path| {
            get(&replica, path, &[("Range", "bytes=0-0")])
                .header("etag")
                .to_owned()
        })
        .into();
    assert_ne!(tags[0], tags[1]);
}

/// The values of a field are where its grid says, and a box that crosses Greenwich gets them from both ends of the rows.
#[test]
fn a_box_across_greenwich_is_cut_from_both_ends_of_the_rows() {
    let replica = start(tree());
    let index = get(&replica, &format!("{CONTROL}.idx"), &[]).text();
    let end = index
        .lines()
        .nth(1)
        .unwrap()
        .split(':')
        .nth(1)
        .unwrap()
        .parse::<usize>()
        .unwrap();
    let whole = get(&replica, CONTROL, &[("Range", &format!("bytes=0-{}", end - 1))]).body;
    let target = "/cgi-bin/filter_gefs_atmos_0p25s.pl?dir=%2Fgefs.20300513%2F06%2Fatmos%2Fpgrb2sp25\
        &file=gec00.t06z.pgrb2s.0p25.f000&var_GUST=on&lev_surface=on\
        &subregion=&toplat=52&bottomlat=51.5&leftlon=-0.5&rightlon=0.25";
    let cut = get(&replica, target, &[]);
    assert_eq!(cut.status, 200, "{}", cut.text());
    let values = |octets: &[u8], nodes: &[(u32, u32)]| -> Vec<f32> {
        let message = message(octets);
        let field = &read_fields(&message).unwrap()[0];
        let samples = values_at(&message, field, nodes).unwrap();
        samples.into_iter().map(Result::unwrap).collect()
    };
    // Row 152 is 52 N (90 less 152 quarters); columns 1438 to 1 are 0.5 W to 0.25 E.
    let far: Vec<(u32, u32)> = (152..155)
        .flat_map(|row| [1438, 1439, 0, 1].map(|column| (column, row)))
        .collect();
    let near: Vec<(u32, u32)> = (0..3)
        .flat_map(|row| [0, 1, 2, 3].map(|column| (column, row)))
        .collect();
    let field = read_fields(&message(&cut.body)).unwrap().remove(0);
    let grid = field.grid.unwrap();
    let axes = grid.regular().unwrap();
    assert_eq!(
        (grid.columns, grid.rows, axes.first_lat, axes.first_lon),
        (4, 3, 52.0, 359.5)
    );
    // 16 bits over a range of less than 32 m/s: a step of less than a thousandth.
    for (cut, whole) in values(&cut.body, &near).iter().zip(values(&whole, &far)) {
        assert!((cut - whole).abs() < 0.001, "{cut} {whole}");
    }
}

#[test]
fn a_pool_of_ready_made_messages_is_served_in_their_own_packing() {
    let Some(gfs) = shared("grib-synthetic/noaa-gfs/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f024") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let pool = || {
        VirtualTree::full_size(FullSize {
            pool: Some(folder.path().to_owned()),
            ..holds()
        })
    };
    assert!(pool().is_err(), "an empty folder");
    fs::write(folder.path().join("page.html"), "<html></html>").unwrap();
    assert!(pool().is_err(), "no message");
    let file = fs::read(gfs).unwrap();
    fs::write(folder.path().join("messages.grib2"), &file).unwrap();
    let replica = start(pool().unwrap());
    let served = get(&replica, MEMBER, &[]).body;
    let messages = |octets: &[u8]| -> Vec<Vec<u8>> {
        let whole = |frame| match frame {
            Frame::Message(message) => message.bytes.to_vec(),
            Frame::Damage(damage) => panic!("{damage}"),
        };
        split(octets).into_iter().map(whole).collect()
    };
    let served = messages(&served);
    assert_eq!(served.len(), 5);
    let pressure = &messages(&file)[0];
    let (last, of_pool) = (message(&served[4]), message(pressure));
    let (last_field, pool_field) = (
        &read_fields(&last).unwrap()[0],
        &read_fields(&of_pool).unwrap()[0],
    );
    assert_eq!((last_field.packing_template, last_field.product_template), (3, 1));
    assert_eq!(
        (last_field.member, (last_field.valid - run()).num_hours()),
        (Some(Member(2)), 120)
    );
    let nodes = [(0, 0), (20, 20), (7, 3)];
    assert_eq!(
        values_at(&last, last_field, &nodes).unwrap(),
        values_at(&of_pool, pool_field, &nodes).unwrap()
    );
}
