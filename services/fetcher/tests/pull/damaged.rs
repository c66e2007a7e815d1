//! Broken trees: what is broken is missing with its reason, everything else is kept, and no wrong value is.
//!
//! No source: each damage is made here; what stays is compared with a pull of the undamaged copy.

use crate::tree::{LATER, RUN, Tree, at, feed, missing, run, sample};
use forecast::{Gap, Member, Outcome, Parameter, RunSlice, Sample, Step};
use std::path::Path;

/// Octets from the start of an invented run's message: no section 2, a section 3 of 72 octets.
const SECTION_1: usize = 16;
const SECTION_4: usize = SECTION_1 + 21 + 72;

async fn undamaged() -> RunSlice {
    let tree = Tree::with("gfs", 12).await;
    tree.pull(&["gfs"], LATER).await;
    tree.slice("gfs").await
}

fn change(path: &Path, change: impl FnOnce(&mut Vec<u8>)) {
    let mut bytes = std::fs::read(path).expect("a file");
    change(&mut bytes);
    std::fs::write(path, bytes).expect("a file");
}

fn outcome(slice: &RunSlice, parameter: Parameter, step: u16) -> Outcome {
    slice
        .message(parameter, Member(0), Step(step))
        .expect("a record")
        .outcome
}

/// All samples but those of the named messages are the same as in the undamaged run.
fn only_lost(slice: &RunSlice, whole: &RunSlice, lost: &[(Parameter, u16)]) {
    assert_eq!(
        missing(slice),
        lost.iter()
            .map(|(parameter, step)| (*parameter, 0, *step))
            .collect::<Vec<_>>()
    );
    for (node, node_whole) in slice.nodes.iter().zip(&whole.nodes) {
        for (field, field_whole) in node.fields.iter().zip(&node_whole.fields) {
            for (step, (found, expected)) in slice
                .steps
                .iter()
                .zip(field.samples.iter().zip(&field_whole.samples))
            {
                match lost.contains(&(field.parameter, step.0)) {
                    true => assert!(found.is_err(), "{} at step {}", field.parameter, step.0),
                    false => assert_eq!(found, expected, "{} at step {}", field.parameter, step.0),
                }
            }
        }
    }
}

#[tokio::test]
async fn a_missing_file_is_a_gap_at_its_step_alone() {
    let tree = Tree::with("gfs", 12).await;
    let (data, index) = tree.file("gfs", 5);
    std::fs::remove_file(data).expect("a file");
    std::fs::remove_file(index).expect("a file");
    std::fs::remove_file(tree.file("gfs", 7).0).expect("a file"); // its index stays
    let report = tree.pull(&["gfs"], LATER).await;
    let slice = tree.slice("gfs").await;
    let all = Parameter::ALL.into_iter().filter(|parameter| {
        feed("gfs")
            .want
            .iter()
            .any(|want| want.parameter == *parameter && !want.static_field)
    });
    let lost: Vec<_> = all
        .flat_map(|parameter| [(parameter, 5), (parameter, 7)])
        .collect();
    only_lost(&slice, &undamaged().await, &lost);
    assert_eq!(
        outcome(&slice, Parameter::Gust, 5),
        Outcome::Missing(Gap::NotThere)
    );
    assert_eq!(
        outcome(&slice, Parameter::Gust, 7),
        Outcome::Missing(Gap::NotThere)
    );
    let reasons = run(&report).reasons();
    assert!(
        reasons
            .iter()
            .any(|(reason, count)| reason.contains("f005.idx is not there") && *count == 10),
        "{reasons:?}"
    );
    let kept = tree
        .store
        .newest_run(&slice.source, at(LATER))
        .await
        .expect("a store")
        .expect("a run");
    assert!(!kept.complete, "a part with gaps says so");
}

#[tokio::test]
async fn a_changed_octet_loses_one_message_and_never_lies() {
    let tree = Tree::with("gfs", 12).await;
    // Where in the message of the eastward wind, what is written there, and the word the report must have for it.
    let changes: [(usize, u8, &str); 8] = [
        (0, b'X', "not GRIB"),
        (7, 1, "edition 1"),
        (15, 0, "its range has"),
        (SECTION_1 + 15, 14, "run of 2030-05-14"),
        (SECTION_4 + 10, 3, "parameter 0/2/3"),
        (SECTION_4 + 21, 30, "valid at"),
        (SECTION_4 + 27, 100, "surface 103 = 100"),
        (SECTION_4 + 3, 0xff, "message"),
    ];
    for (step, (offset, value, _)) in (1_u16..).zip(changes) {
        let first = wind_offset(&tree, step);
        change(&tree.file("gfs", step).0, |bytes| bytes[first + offset] = value);
    }
    let first = wind_offset(&tree, 12);
    change(&tree.file("gfs", 12).0, |bytes| {
        bytes[first + 4..first + 6].fill(0xff)
    }); // reserved octets: harmless
    let report = tree.pull(&["gfs"], LATER).await;
    let slice = tree.slice("gfs").await;
    let lost: Vec<_> = (1..=8).map(|step| (Parameter::WindU, step)).collect();
    only_lost(&slice, &undamaged().await, &lost);
    for (step, (_, _, word)) in (1_u16..).zip(changes) {
        assert_eq!(sample(&slice, Parameter::WindU, 0, step), Err(Gap::Damaged));
        let told = run(&report)
            .missing
            .iter()
            .find(|missing| missing.step.0 == step)
            .expect("a reason");
        assert!(
            told.reason.contains(word),
            "step {step}: {} lacks {word}",
            told.reason
        );
    }
}

fn wind_offset(tree: &Tree, step: u16) -> usize {
    let text = std::fs::read_to_string(tree.file("gfs", step).1).expect("an index");
    let line = text
        .lines()
        .find(|line| line.contains(":UGRD:10 m above ground:"))
        .expect("a line");
    line.split(':')
        .nth(1)
        .expect("an offset")
        .parse()
        .expect("an offset")
}

#[tokio::test]
async fn a_page_instead_of_a_file_or_an_index_gives_no_value() {
    let page = b"<!DOCTYPE html><html><body>Access denied</body></html>\n";
    let tree = Tree::with("gfs", 12).await;
    std::fs::write(tree.file("gfs", 3).0, page).expect("a file");
    std::fs::write(tree.file("gfs", 4).0, page.repeat(500)).expect("a file");
    std::fs::write(tree.file("gfs", 6).1, page).expect("a file");
    let report = tree.pull(&["gfs"], LATER).await;
    let slice = tree.slice("gfs").await;
    for want in feed("gfs").want.iter().filter(|want| !want.static_field) {
        let values: Vec<Sample> = [3, 4, 6]
            .map(|step| sample(&slice, want.parameter, 0, step))
            .to_vec();
        assert!(values[0].is_err(), "{}", want.parameter);
        assert_eq!(values[1], Err(Gap::Damaged), "{}", want.parameter);
        assert_eq!(values[2], Err(Gap::NotThere), "{}", want.parameter);
    }
    assert!(sample(&slice, Parameter::WindU, 0, 5).is_ok());
    let reasons = format!("{:?}", run(&report).reasons());
    assert!(
        reasons.contains("<!DOCTYP") || reasons.contains("not GRIB"),
        "{reasons}"
    );
    assert!(reasons.contains("f006.idx: line 1 is no index line"), "{reasons}");
}

#[tokio::test]
async fn an_index_or_a_file_of_another_run_gives_no_value() {
    let tree = Tree::with("gfs", 12).await;
    let other = |step: u16, suffix: &str| {
        let bundled = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../fixtures/demo/feeds/noaa-gfs/gfs.20300513/06/atmos"
        );
        Path::new(bundled).join(format!("gfs.t06z.pgrb2.0p25.f{step:03}{suffix}"))
    };
    std::fs::copy(other(4, ".idx"), tree.file("gfs", 4).1).expect("a file");
    std::fs::copy(other(8, ""), tree.file("gfs", 8).0).expect("a file");
    // A file of another run whose index claims to be of this one.
    let claims = std::fs::read_to_string(other(8, ".idx"))
        .expect("an index")
        .replace("2030051306", "2030051300");
    std::fs::write(tree.file("gfs", 8).1, claims).expect("a file");
    let report = tree.pull(&["gfs"], LATER).await;
    let slice = tree.slice("gfs").await;
    for want in feed("gfs").want.iter().filter(|want| !want.static_field) {
        assert_eq!(
            sample(&slice, want.parameter, 0, 4),
            Err(Gap::NotThere),
            "{}",
            want.parameter
        );
        assert!(
            sample(&slice, want.parameter, 0, 8).is_err(),
            "{}",
            want.parameter
        );
    }
    let reasons = format!("{:?}", run(&report).reasons());
    assert!(
        reasons.contains("of another run: d=2030051306, not d=2030051300"),
        "{reasons}"
    );
    assert!(
        reasons.contains("run of 2030-05-13 06:00:00 UTC, not 2030-05-13 00:00:00 UTC"),
        "{reasons}"
    );
}

#[tokio::test]
async fn a_members_file_under_another_members_name_gives_no_value() {
    let tree = Tree::with("gefs", 12).await;
    let path = |member| tree.path(&feed("gefs").file(at(RUN), Member(member), Step(6)).path);
    std::fs::copy(path(8), path(7)).expect("a file");
    let report = tree.pull(&["gefs"], LATER).await;
    let slice = tree.slice("gefs").await;
    for want in &feed("gefs").want {
        assert!(
            sample(&slice, want.parameter, 7, 6).is_err(),
            "{}",
            want.parameter
        );
        assert!(sample(&slice, want.parameter, 8, 6).is_ok(), "{}", want.parameter);
    }
    assert!(
        run(&report)
            .missing
            .iter()
            .all(|missing| missing.member == Member(7) && missing.gap == Gap::Damaged)
    );
}
