//! The subset service against the whole messages it is cut from.
//!
//! Source of the values: the messages of ../shared/grib-synthetic, written by ecCodes, read through `grid`, whose own
//! tests check it against ecCodes. The tolerance is the step of the packing, which section 5 states, and a float's own.

use crate::wire::{Reply, get};
use forecast::Gap;
use grid::{FieldHeader, Frame, Message, read_fields, split, values_at};
use replica::{Fault, Replica, ReplicaSettings, Times, fixed_clock};
use seaway::quantity::signed_difference;
use shared_files::shared;
use std::collections::HashMap;

const ATMOS: &str =
    "/cgi-bin/filter_gfs_0p25.pl?dir=%2Fgfs.20300513%2F00%2Fatmos&file=gfs.t00z.pgrb2.0p25.f024";
const WAVES: &str = "/cgi-bin/filter_gfswave.pl?dir=%2Fgfs.20300513%2F00%2Fwave%2Fgridded&\
    file=gfswave.t00z.global.0p25.f024.grib2";
const BOX: &str = "&subregion=&toplat=44&bottomlat=42.6&leftlon=-15&rightlon=-13";

fn start() -> Option<Replica> {
    let root = shared("grib-synthetic")?.join("noaa-gfs");
    let clock = fixed_clock("2030-05-14T00:00:00Z".parse().unwrap());
    Some(Replica::start(ReplicaSettings::folder(root, clock)).unwrap())
}

fn messages(octets: &[u8]) -> Vec<Message<'_>> {
    let message = |frame| match frame {
        Frame::Message(message) => message,
        Frame::Damage(damage) => panic!("{damage}"),
    };
    split(octets).into_iter().map(message).collect()
}

/// Values by place, in millionths of a degree; none where masked.
fn values(message: &Message<'_>) -> (FieldHeader, HashMap<(i64, i64), Option<f32>>) {
    let field = read_fields(message).unwrap().remove(0);
    let grid = field.grid.clone().unwrap();
    let nodes: Vec<(u32, u32)> = (0..grid.rows)
        .flat_map(|row| (0..grid.columns).map(move |column| (column, row)))
        .collect();
    let samples = values_at(message, &field, &nodes).unwrap();
    let place = |&(column, row): &(u32, u32)| {
        let at = grid.node_at(column, row).at;
        let millionths = |degrees: f64| (degrees * 1.0e6).round() as i64;
        (millionths(at.lat), millionths(signed_difference(0.0, at.lon)))
    };
    let value = |sample| match sample {
        Ok(value) => Some(value),
        Err(Gap::Masked) => None,
        Err(gap) => panic!("{gap:?}"),
    };
    let by_place = nodes
        .iter()
        .map(place)
        .zip(samples.into_iter().map(value))
        .collect();
    (field, by_place)
}

/// 2 to the binary scale of section 5 (template 5.0, octets 16-17), found by walking the sections.
fn packing_step(message: &Message<'_>) -> f32 {
    let (octets, mut at) = (message.bytes, 16);
    while octets[at + 4] != 5 {
        at += u32::from_be_bytes(octets[at..at + 4].try_into().unwrap()) as usize;
    }
    assert_eq!(octets[at + 9..at + 11], [0, 0], "simple packing");
    let scale = i16::from_be_bytes([octets[at + 15] & 0x7f, octets[at + 16]]);
    let scale = if octets[at + 15] & 0x80 != 0 {
        -scale
    } else {
        scale
    };
    f32::from(scale).exp2()
}

/// Checks every node of a cut message against the whole one; gives back how many nodes there are and how many are masked.
fn agrees(cut: &Message<'_>, whole: &Message<'_>) -> (usize, usize) {
    let ((cut_header, cut_values), (whole_header, whole_values)) = (values(cut), values(whole));
    let of = |header: &FieldHeader| FieldHeader {
        message: 1,
        grid: None,
        packing_template: 0,
        ..header.clone()
    };
    assert_eq!(of(&cut_header), of(&whole_header));
    let step = packing_step(cut);
    for (place, value) in &cut_values {
        match (value, whole_values[place]) {
            (Some(cut), Some(whole)) => {
                assert!(
                    (cut - whole).abs() <= step + whole.abs() * f32::EPSILON,
                    "{place:?}: {cut} {whole} {step}"
                )
            }
            (cut, whole) => assert_eq!(*cut, whole, "{place:?}"),
        }
    }
    let masked = cut_values.values().filter(|value| value.is_none()).count();
    (cut_values.len(), masked)
}

/// The messages of these records of the whole file, by variable and level.
fn whole(replica: &Replica, path: &str, wanted: &[&str]) -> Vec<Vec<u8>> {
    let (file, index) = (
        get(replica, path, &[]).body,
        get(replica, &format!("{path}.idx"), &[]).text(),
    );
    let lines: Vec<&str> = index.lines().collect();
    let all = messages(&file);
    assert_eq!(all.len(), lines.len());
    let of = lines
        .iter()
        .zip(all)
        .filter(|(line, _)| wanted.iter().any(|wanted| line.contains(wanted)));
    of.map(|(_, message)| message.bytes.to_vec()).collect()
}

fn check(cut: &Reply, whole: &[Vec<u8>]) -> Vec<(usize, usize)> {
    assert_eq!(cut.status, 200, "{}", cut.text());
    let cut = messages(&cut.body);
    assert_eq!(cut.len(), whole.len());
    let pairs = cut.iter().zip(whole);
    pairs
        .map(|(cut, whole)| agrees(cut, &messages(whole)[0]))
        .collect()
}

#[test]
fn variables_and_levels_are_multiplied_and_the_box_is_cut() {
    let Some(replica) = start() else { return };
    let asked =
        "&var_UGRD=on&var_VGRD=on&var_TMP=on&lev_10_m_above_ground=on&lev_2_m_above_ground=on&lev_surface=on";
    let cut = get(&replica, &format!("{ATMOS}{asked}{BOX}"), &[]);
    let path = "/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f024";
    let whole = whole(
        &replica,
        path,
        &[
            "TMP:surface",
            "TMP:2 m above",
            "UGRD:10 m above",
            "VGRD:10 m above",
        ],
    );
    // 6 rows of 42.75 to 44, 9 columns of 15 W to 13 W.
    assert_eq!(check(&cut, &whole), [(54, 0); 4]);
    assert!(cut.length() < 4 * 400, "{} octets", cut.length());
    assert_eq!(cut.header("etag"), "");
}

#[test]
fn masks_and_intervals_survive() {
    let Some(replica) = start() else { return };
    let asked = "&var_HTSGW=on&var_DIRPW=on&lev_surface=on&subregion=&toplat=90&bottomlat=-90&leftlon=-180&rightlon=180";
    let cut = get(&replica, &format!("{WAVES}{asked}"), &[]);
    let path = "/gfs.20300513/00/wave/gridded/gfswave.t00z.global.0p25.f024.grib2";
    let found = check(
        &cut,
        &whole(&replica, path, &[":HTSGW:surface", ":DIRPW:surface"]),
    );
    assert!(
        found
            .iter()
            .all(|&(nodes, masked)| nodes == 441 && masked > 0 && masked < 441),
        "{found:?}"
    );
    let cut = get(&replica, &format!("{ATMOS}&var_APCP=on&all_lev=on{BOX}"), &[]);
    let path = "/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f024";
    check(&cut, &whole(&replica, path, &["APCP"]));
}

#[test]
fn constant_fields_and_whole_grids() {
    let Some(replica) = start() else { return };
    let path = "/gfs.20300513/00/atmos/gfs.t00z.pgrb2.0p25.f024";
    let decoy = whole(&replica, path, &["UGRD:10 mb"]);
    let cut = get(&replica, &format!("{ATMOS}&var_UGRD=on&lev_10_mb=on{BOX}"), &[]);
    check(&cut, &decoy);
    let uncut = get(&replica, &format!("{ATMOS}&var_UGRD=on&lev_10_mb=on"), &[]);
    assert_eq!(
        uncut.body, decoy[0],
        "without a region the message is the producer's own"
    );
}

#[test]
fn what_is_not_there_and_what_is_no_question() {
    let Some(replica) = start() else { return };
    let status = |target: &str| get(&replica, target, &[]).status;
    let wind = "&var_UGRD=on&lev_10_m_above_ground=on";
    assert_eq!(
        status(&format!("{}{wind}{BOX}", ATMOS.replace("f024", "f121"))),
        404
    );
    assert_eq!(
        status(&format!(
            "{}{wind}{BOX}",
            ATMOS.replace("%2Fgfs.2030", "%2F..%2Fgfs.2030")
        )),
        404
    );
    assert_eq!(status("/cgi-bin/filter_gfs_0p25.pl?file=x"), 400);
    assert_eq!(status("/cgi-bin/filter_gfs_0p25.pl"), 400);
    assert_eq!(status(&format!("{ATMOS}{wind}&subregion=&toplat=44")), 400);
    let elsewhere = "&subregion=&toplat=10&bottomlat=0&leftlon=0&rightlon=10";
    let empty = get(&replica, &format!("{ATMOS}{wind}{elsewhere}"), &[]);
    assert_eq!((empty.status, empty.length()), (200, 0));
    assert_eq!(
        get(&replica, &format!("{ATMOS}&var_NONE=on&lev_surface=on{BOX}"), &[]).length(),
        0
    );
}

#[test]
fn faults_befall_the_service_by_the_file_asked_for() {
    let Some(replica) = start() else { return };
    let target = format!("{ATMOS}&var_UGRD=on&lev_10_m_above_ground=on{BOX}");
    let right = get(&replica, &target, &[]).body;
    replica.faults().add(
        "f024",
        Fault::FlippedOctets { octet: 3, count: 1 },
        Times::First(1),
    );
    replica
        .faults()
        .add("filter_", Fault::StopsGrowing { after_step: 23 }, Times::First(1));
    replica
        .faults()
        .add("filter_", Fault::StopsGrowing { after_step: 24 }, Times::Always);
    let mut flipped = right.clone();
    flipped[3] ^= 0xff;
    assert_eq!(get(&replica, &target, &[]).body, flipped);
    assert_eq!(get(&replica, &target, &[]).status, 404);
    assert_eq!(
        get(&replica, &target, &[("Range", "bytes=0-3")]).body,
        right,
        "the service knows no ranges"
    );
}
