//! Faults inside indexes and messages, shown against the files of the shared tree.
//!
//! Source of the files: ../shared/grib-synthetic, written by ecCodes. Octets of sections: WMO FM 92 GRIB2, templates.

use crate::wire::{get, open};
use replica::{Fault, Replica, ReplicaSettings, Times, fixed_clock};
use shared_files::shared;

const GFS: &str = "/gfs.20300513/06/atmos/gfs.t06z.pgrb2.0p25.f030";
const ENFO: &str = "/20300513/00z/ifs/0p25/enfo/20300513000000-24h-enfo-ef.grib2";
const U_10M: &str = "/weather/nwp/v1/m/icon-eu/p/U_10M/r/2030-05-13T00%3A00/s/PT003H00M.grib2";

fn start(tree: &str) -> Option<Replica> {
    let root = shared("grib-synthetic")?.join(tree);
    let clock = fixed_clock("2030-05-14T00:00:00Z".parse().unwrap());
    Some(Replica::start(ReplicaSettings::folder(root, clock)).unwrap())
}

fn lines(replica: &Replica, path: &str) -> Vec<String> {
    let reply = get(replica, path, &[]);
    assert_eq!(reply.status, 200, "{path}");
    reply.text().lines().map(str::to_owned).collect()
}

/// Lines of an index before and under a fault.
fn both(replica: &Replica, path: &str, fault: Fault) -> (Vec<String>, Vec<String>) {
    replica.faults().clear();
    let right = lines(replica, path);
    replica.faults().add(path, fault, Times::Always);
    let wrong = lines(replica, path);
    assert_eq!(right.len(), wrong.len());
    (right, wrong)
}

fn offset(line: &str) -> i64 {
    line.split(':').nth(1).unwrap().parse().unwrap()
}

/// A number of a JSON line, found without the code under test.
fn number(line: &str, key: &str) -> i64 {
    let after = line.split(&format!("\"{key}\": ")).nth(1).unwrap();
    let digits: String = after.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().unwrap()
}

#[test]
fn noaa_indexes_that_disagree_with_their_file() {
    let Some(replica) = start("noaa-gfs") else { return };
    let path = format!("{GFS}.idx");
    let (right, wrong) = both(&replica, &path, Fault::IndexOffsetsShifted { by: 40 });
    for (right, wrong) in right.iter().zip(&wrong) {
        assert_eq!(offset(wrong), offset(right) + 40);
        assert_eq!(
            wrong.split(':').skip(2).collect::<Vec<_>>(),
            right.split(':').skip(2).collect::<Vec<_>>()
        );
    }
    let (right, wrong) = both(&replica, &path, Fault::IndexLengthsWrong { by: -3 });
    for at in 1..right.len() {
        let length = |lines: &[String]| offset(&lines[at]) - offset(&lines[at - 1]);
        assert_eq!(length(&wrong), length(&right) - 3);
    }
    let (right, wrong) = both(&replica, &path, Fault::IndexOfOtherRun { hours_before: 6 });
    assert!(right.iter().all(|line| line.contains(":d=2030051306:")));
    assert!(wrong.iter().all(|line| line.contains(":d=2030051300:")));
    let (line_with, at_line_with) = ("UGRD:10 m above".to_owned(), "VGRD:10 m above".to_owned());
    let (right, wrong) = both(
        &replica,
        &path,
        Fault::IndexPointsAt {
            line_with,
            at_line_with,
        },
    );
    let of = |lines: &[String], text: &str| offset(lines.iter().find(|line| line.contains(text)).unwrap());
    assert_eq!(of(&wrong, "UGRD:10 m above"), of(&right, "VGRD:10 m above"));
    assert_eq!(
        wrong
            .iter()
            .zip(&right)
            .filter(|(wrong, right)| wrong != right)
            .count(),
        1
    );
}

#[test]
fn an_older_index_has_its_own_tag_and_date() {
    let Some(replica) = start("noaa-gfs") else { return };
    let path = format!("{GFS}.idx");
    let (right, wrong) = both(&replica, &path, Fault::IndexOlder);
    assert!(offset(wrong.last().unwrap()) < offset(right.last().unwrap()));
    let (older, file) = (get(&replica, &path, &[]), get(&replica, GFS, &[]));
    assert_eq!(older.header("last-modified"), "Mon, 13 May 2030 05:50:00 GMT");
    assert_eq!(file.header("last-modified"), "Mon, 13 May 2030 06:00:00 GMT");
    replica.faults().clear();
    let newer = get(&replica, &path, &[("If-None-Match", older.header("etag"))]);
    assert_eq!(newer.status, 200, "the new index is another version");
}

#[test]
fn ecmwf_indexes_that_disagree_with_their_file() {
    let Some(replica) = start("ecmwf") else { return };
    let path = ENFO.replace(".grib2", ".index");
    let (right, wrong) = both(&replica, &path, Fault::IndexOffsetsShifted { by: 1 });
    for (right, wrong) in right.iter().zip(&wrong) {
        assert_eq!(number(wrong, "_offset"), number(right, "_offset") + 1);
        assert_eq!(number(wrong, "_length"), number(right, "_length"));
        assert_eq!(wrong.split('"').count(), right.split('"').count());
    }
    let (right, wrong) = both(&replica, &path, Fault::IndexLengthsWrong { by: 9 });
    for (right, wrong) in right.iter().zip(&wrong) {
        assert_eq!(number(wrong, "_length"), number(right, "_length") + 9);
    }
    let (_, wrong) = both(&replica, &path, Fault::IndexOfOtherRun { hours_before: 12 });
    assert!(
        wrong
            .iter()
            .all(|line| line.contains("\"date\": \"20300512\"") && line.contains("\"time\": \"1200\""))
    );
    let (_, wrong) = both(&replica, &path, Fault::IndexOlder);
    let mut extents: Vec<_> = wrong
        .iter()
        .map(|line| (number(line, "_offset"), number(line, "_length")))
        .collect();
    extents.sort_unstable();
    assert!(
        extents.windows(2).all(|pair| pair[0].0 + pair[0].1 == pair[1].0),
        "an older file is whole"
    );
}

/// Octets 20 to 35 of section 3 are the UUID in template 3.101; section 3 follows section 1 (21 octets) here.
#[test]
fn a_mesh_gets_another_uuid_and_nothing_else() {
    let Some(replica) = start("dwd") else { return };
    let right = get(&replica, U_10M, &[]).body;
    replica
        .faults()
        .add("/U_10M/", Fault::MeshUuidChanged, Times::Always);
    let wrong = get(&replica, U_10M, &[]).body;
    let uuid = 16 + 21 + 19..16 + 21 + 35;
    assert_ne!(right[uuid.clone()], wrong[uuid.clone()]);
    assert_eq!(right[..uuid.start], wrong[..uuid.start]);
    assert_eq!(right[uuid.end..], wrong[uuid.end..]);
    let range = format!("bytes={}-{}", uuid.start, uuid.end - 1);
    assert_eq!(get(&replica, U_10M, &[("Range", &range)]).body, wrong[uuid]);
    let clat = U_10M.replace("U_10M", "CLAT").replace("PT003", "PT000");
    replica.faults().add("/CLAT/", Fault::RangeIgnored, Times::Always);
    let number = |message: &[u8]| message[16 + 21 + 19..16 + 21 + 35].to_vec();
    assert_eq!(number(&get(&replica, &clat, &[]).body), number(&right));
}

#[test]
fn octets_of_every_message_are_flipped() {
    let Some(replica) = start("noaa-gfs") else { return };
    let right = get(&replica, GFS, &[]).body;
    replica
        .faults()
        .add(GFS, Fault::FlippedOctets { octet: 200, count: 2 }, Times::Always);
    let wrong = get(&replica, GFS, &[]).body;
    let index = lines(&replica, &format!("{GFS}.idx"));
    let mut expected = right.clone();
    for line in &index {
        let message = offset(line) as usize;
        expected[message + 200] ^= 0xff;
        expected[message + 201] ^= 0xff;
    }
    assert_eq!(wrong, expected);
}

#[test]
fn a_file_is_still_being_written() {
    let Some(replica) = start("noaa-gfs") else { return };
    let whole = get(&replica, GFS, &[]);
    replica
        .faults()
        .add("f030", Fault::FileTruncated { after: 1000 }, Times::Always);
    let part = get(&replica, GFS, &[("Range", "bytes=900-1099")]);
    assert_eq!(
        (part.status, part.header("content-range")),
        (206, "bytes 900-999/1000")
    );
    assert_eq!(part.body, whole.body[900..1000]);
    assert_eq!(get(&replica, GFS, &[("Range", "bytes=1000-")]).status, 416);
    assert_eq!(
        get(&replica, GFS, &[("If-Match", whole.header("etag"))]).status,
        412
    );
    assert!(
        lines(&replica, &format!("{GFS}.idx")).len() > 10,
        "the index is whole"
    );
}

#[test]
fn another_step_is_served_under_an_index_that_fits_it() {
    let Some(replica) = start("noaa-gfs") else { return };
    let other = GFS.replace("f030", "f033");
    let file = get(&replica, &other, &[]).body;
    let labels = lines(&replica, &format!("{GFS}.idx"));
    let offsets = lines(&replica, &format!("{other}.idx"));
    replica.faults().add(
        "f030",
        Fault::FileReplacedBy { path: other.clone() },
        Times::Always,
    );
    assert_eq!(get(&replica, GFS, &[]).body, file);
    let index = lines(&replica, &format!("{GFS}.idx"));
    assert_eq!(index.len(), labels.len());
    for ((line, label), theirs) in index.iter().zip(&labels).zip(&offsets) {
        assert_eq!(offset(line), offset(theirs));
        assert_eq!(
            line.split(':').skip(2).collect::<Vec<_>>(),
            label.split(':').skip(2).collect::<Vec<_>>()
        );
    }
}

#[test]
fn another_members_message_is_named_by_the_index() {
    let Some(replica) = start("ecmwf") else { return };
    let path = ENFO.replace(".grib2", ".index");
    let lines_of = |lines: &[String], member: &str| -> Vec<String> {
        let of = lines
            .iter()
            .filter(|line| line.contains(&format!("\"number\": \"{member}\"")));
        of.cloned().collect()
    };
    let all = lines(&replica, &path);
    let (line_with, at_line_with) = (lines_of(&all, "7")[0].clone(), lines_of(&all, "8")[0].clone());
    let (_, wrong) = both(
        &replica,
        &path,
        Fault::IndexPointsAt {
            line_with,
            at_line_with: at_line_with.clone(),
        },
    );
    assert_eq!(
        number(&lines_of(&wrong, "7")[0], "_offset"),
        number(&at_line_with, "_offset")
    );
    assert_eq!(
        number(&lines_of(&wrong, "7")[0], "_length"),
        number(&at_line_with, "_length")
    );
}

#[test]
fn the_whole_tree_is_served_as_it_lies() {
    let Some(replica) = start("noaa-gfs") else { return };
    let root = shared("grib-synthetic/noaa-gfs").unwrap();
    let mut stream = open(&replica, "GET", GFS, &[], false);
    let expected = std::fs::read(root.join(&GFS[1..])).unwrap();
    assert_eq!(crate::wire::read_some(&mut stream, expected.len()).body, expected);
    for line in lines(&replica, &format!("{GFS}.idx")) {
        let range = format!("bytes={}-{}", offset(&line), offset(&line) + 3);
        crate::wire::send(&mut stream, "GET", GFS, &[("Range", &range)], false);
        assert_eq!(crate::wire::read_some(&mut stream, 4).text(), "GRIB");
    }
    let wanted = crate::wire::ask(&replica, "HEAD", GFS, &[]);
    assert_eq!(wanted.length(), expected.len());
}
