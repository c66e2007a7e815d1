//! Feeds of settings on grids that do not follow parallels and meridians, from a replica into a store: which node serves a
//! place, and that winds along the grid are kept as true ones.
//!
//! Sources: `fixtures/turned`, whose winds were known before ecCodes encoded them (its generator says how); real files of
//! the shared set with nodes and turned winds of `wind.csv`, which its papers found with ecCodes and the projections' formulas.

use crate::feeds_at::{pull_with, replica_of};
use crate::tree::{at, plan, rows, shared};
use feeds::{Catalogue, Feed};
use fetcher::{FetchPlan, PullReport};
use forecast::{Gap, NodeSeries, Parameter, RunSlice, Sample, SourceId};
use seaway::LatLon;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use store::Store;

type Row = HashMap<String, String>;

const RUN: &str = "2030-05-14T06:00:00Z";
const LATER: &str = "2030-05-14T12:00:00Z";

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

fn place(row: &Row) -> LatLon {
    let (lat, lon) = (number(row, "lat"), number(row, "lon"));
    LatLon { lat, lon }
}

fn fixture() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/turned")
}

fn feed_of(settings: &str, name: &str) -> Feed {
    let catalogue = Catalogue::embedded().expect("a catalogue");
    let with_settings = catalogue.with_overrides_text(settings).expect("settings");
    with_settings.feed(&SourceId::new(name)).expect("a feed").clone()
}

fn own(name: &str) -> Feed {
    let settings = std::fs::read_to_string(fixture().join("sources.toml")).expect("the settings");
    feed_of(&settings, name)
}

struct Kept {
    slice: RunSlice,
    report: PullReport,
}

/// Pulls one run of a feed over HTTP from a replica of a tree.
async fn kept(tree: &Path, feed: Feed, places: &[LatLon], run: &str, now: &str) -> Kept {
    let (replica, name) = (replica_of(tree, now), feed.name.clone());
    let plan = FetchPlan {
        feeds: vec![(feed, replica.base_url())],
        places: places.to_vec(),
        runs: 1,
        ..plan(&[], now)
    };
    let store = Store::open_in_memory().await.expect("a store");
    let report = pull_with(&plan, &store, None).await;
    assert_eq!(report.sources[0].failure, None);
    let read = store.read_slice(&name, at(run), at(now), places, None).await;
    let slice = read.expect("a store").expect("a run");
    Kept { slice, report }
}

impl Kept {
    fn sample(&self, node: &NodeSeries, parameter: Parameter, step: u16) -> Sample {
        let field = node.fields.iter().find(|field| field.parameter == parameter);
        let step = self
            .slice
            .steps
            .iter()
            .position(|of| of.0 == step)
            .expect("a step");
        let member = self.slice.members.len() - 1;
        field.expect("a field").samples[member * self.slice.steps.len() + step]
    }

    fn nearest(&self, to: LatLon) -> &NodeSeries {
        let distance = |node: &&NodeSeries| to.distance(node.node.at).0;
        let nodes = self.slice.nodes.iter();
        nodes
            .min_by(|a, b| distance(a).total_cmp(&distance(b)))
            .expect("a node")
    }

    fn missing(&self) -> Vec<(Gap, Parameter, u16, String)> {
        let runs = self.report.sources[0].runs.iter();
        runs.flat_map(|run| &run.missing)
            .map(|of| (of.gap, of.parameter, of.step.0, of.reason.clone()))
            .collect()
    }
}

fn assert_close(found: Sample, wanted: f64, tolerance: f64, what: &str) {
    let found = f64::from(found.expect(what));
    assert!(
        (found - wanted).abs() < tolerance,
        "{what}: {found}, not {wanted}"
    );
}

#[tokio::test]
async fn winds_along_a_turned_grid_are_kept_as_the_true_winds_they_were_made_of() {
    let expected = rows(fixture().join("expected.csv"));
    for grid in ["lambert", "polar", "rotated"] {
        let of_grid: Vec<&Row> = expected.iter().filter(|row| row["grid"] == grid).collect();
        assert_eq!(of_grid.len(), 16);
        let places: Vec<LatLon> = of_grid.iter().map(|row| place(row)).collect();
        let feed = own(&format!("own-{grid}"));
        let kept = kept(&fixture(), feed, &places, RUN, LATER).await;
        assert_eq!(kept.missing(), []);
        assert!(kept.slice.has_turned_vectors(), "{}", kept.slice.grid);
        for row in of_grid {
            let (node, step) = (kept.nearest(place(row)), number(row, "step_h") as u16);
            let name = [f64::from(node.node.column), f64::from(node.node.row)];
            assert_eq!(name, [number(row, "column"), number(row, "row")]);
            let what = format!("{grid}, {}, step {step}", row["place"]);
            let sample = |parameter| kept.sample(node, parameter, step);
            // Twenty bits a value; the angle was measured over one row of the grid, to a thousandth of a degree.
            assert_close(sample(Parameter::WindU), number(row, "u_ms"), 1e-3, &what);
            assert_close(sample(Parameter::WindV), number(row, "v_ms"), 1e-3, &what);
            let gust = 1.3 * number(row, "speed_ms");
            assert_close(sample(Parameter::Gust), gust, 1e-3, &what);
        }
    }
}

/// A copy of a tree of the fixture whose files went through a change first.
fn changed(grid: &str, change: impl Fn(&str, Vec<u8>) -> Vec<u8>) -> tempfile::TempDir {
    let copy = tempfile::tempdir().expect("a folder");
    std::fs::create_dir(copy.path().join(grid)).expect("made");
    for entry in std::fs::read_dir(fixture().join(grid)).expect("the tree") {
        let entry = entry.expect("a file");
        let name = entry.file_name().into_string().expect("a name");
        let octets = std::fs::read(entry.path()).expect("octets");
        std::fs::write(copy.path().join(grid).join(&name), change(&name, octets)).expect("written");
    }
    copy
}

const HOME: LatLon = crate::tree::HOME_POOL;

/// No source: the project's rule that what is missing has a reason and is never a guess.
#[tokio::test]
async fn one_component_without_the_other_is_a_gap_with_the_others_reason() {
    let tree = changed("lambert", |name, octets| match name {
        "2030051406.f003.grib2.idx" => {
            let text = String::from_utf8(octets).expect("text");
            // The line stays, so that the range before it ends there.
            text.replace(":VGRD:", ":VVEL:").into_bytes()
        }
        "2030051406.f006.grib2" => {
            let mut octets = octets;
            // The first message, u, is then of edition 9.
            octets[7] = 9;
            octets
        }
        _ => octets,
    });
    let kept = kept(tree.path(), own("own-lambert"), &[HOME], RUN, LATER).await;
    for (step, gap) in [(3, Gap::NotInFeed), (6, Gap::Damaged)] {
        for node in &kept.slice.nodes {
            for parameter in [Parameter::WindU, Parameter::WindV] {
                assert_eq!(kept.sample(node, parameter, step), Err(gap));
            }
            assert!(kept.sample(node, Parameter::Gust, step).is_ok());
        }
    }
    let missing = kept.missing();
    assert_eq!(missing.len(), 4, "{missing:?}");
    for (lone, other, step) in [
        (Parameter::WindU, "without wind-v", 3),
        (Parameter::WindV, "without wind-u", 6),
    ] {
        let of = missing.iter().find(|of| (of.1, of.2) == (lone, step));
        let words = &of.expect("a reason").3;
        assert!(words.contains(other) && words.contains("true north"), "{words}");
        let record = kept
            .slice
            .message(lone, forecast::Member(0), forecast::Step(step));
        let gap = missing.iter().find(|of| of.2 == step).expect("a gap").0;
        let outcome = record.expect("a record").outcome;
        assert_eq!(outcome, forecast::Outcome::Missing(gap));
    }
}

// Source: WMO code table 3.1: 41 is the rotated Gaussian grid, which nobody asked to have read.
#[tokio::test]
async fn a_grid_that_is_not_read_is_refused_by_name() {
    let tree = changed("rotated", |name, mut octets| {
        if name.ends_with(".grib2") {
            let messages: Vec<u64> = grid::split(&octets)
                .into_iter()
                .map(|frame| match frame {
                    grid::Frame::Message(message) => message.offset,
                    grid::Frame::Damage(damage) => panic!("{damage}"),
                })
                .collect();
            for first in messages {
                // Sections 0 and 1 take 16 and 21 octets, octet 14 of section 3 is the template's number.
                octets[first as usize + 16 + 21 + 13] = 41;
            }
        }
        octets
    });
    let kept = kept(tree.path(), own("own-rotated"), &[HOME], RUN, LATER).await;
    let missing = kept.missing();
    assert_eq!(missing.len(), 3 * 4 + 1);
    assert!(
        missing
            .iter()
            .all(|of| of.0 == Gap::Damaged && of.3.contains("template 3.41 (rotated Gaussian)")),
        "{missing:?}"
    );
    assert!(kept.slice.nodes.is_empty());
}

/// One real file as a feed of its own: which of its messages are which quantity.
struct Real {
    file: &'static str,
    run: &'static str,
    step: u16,
    tail: &'static str,
    messages: &'static [(usize, &'static str)],
}

impl Real {
    /// The file and an index of it.
    fn write(&self, folder: &Path) {
        let octets = std::fs::read(shared(&format!("grib-real/{}", self.file)).expect("the file"));
        let octets = octets.expect("octets");
        let day = format!("{}{}", self.run[..10].replace('-', ""), &self.run[11..13]);
        let when = if self.step == 0 {
            "anl".to_owned()
        } else {
            format!("{} hour fcst", self.step)
        };
        let mut index = String::new();
        for (number, frame) in (1..).zip(grid::split(&octets)) {
            let grid::Frame::Message(message) = frame else {
                panic!("{}: no message", self.file);
            };
            let names = self.messages.iter().filter(|of| of.0 == number).map(|of| of.1);
            let names: Vec<&str> = names.collect();
            for name in if names.is_empty() { &["OTHER"][..] } else { &names } {
                let offset = message.offset;
                index += &format!(
                    "{number}:{offset}:d={day}:{name}:10 m above ground:{when}:{}\n",
                    self.tail
                );
            }
        }
        std::fs::write(folder.join("real.grib2"), octets).expect("written");
        std::fs::write(folder.join("real.grib2.idx"), index).expect("written");
    }

    fn feed(&self) -> Feed {
        let members = "members = { control = { name = \"0\", index_tail = \"ENS=0\" }, \
                       perturbed = { name = \"{N}\", index_tail = \"ENS=+{N}\", count = 1 } }\n";
        let want = |parameter: &str, variable: &str, code: u8| {
            format!(
                "{{ parameter = \"{parameter}\", variable = \"{variable}\", level_text = \"10 m above ground\", \
                 kind = \"instant\", codes = [[0, 2, {code}]], surfaces = [103], level = 10.0 }}"
            )
        };
        let settings = format!(
            "[real]\ntitle = \"-\"\nproducer = \"-\"\nlicence = \"-\"\nattribution = \"-\"\n\
             base_url = \"https://example.org\"\ncycles = [0, 12]\npath = \"real.grib2\"\nindex_suffix = \".idx\"\n\
             index_kind = \"noaa-idx\"\nusual_delay_min = 1\ngiven_up_after_min = 2\nstale_after_min = 1440\n\
             part_hours = 240\nsteps = [{{ first = {step}, last = {step}, every = 1 }}]\n{members}\
             want = [{}, {}]\n",
            want("wind-u", "UGRD", 2),
            want("wind-v", "VGRD", 3),
            step = self.step,
            members = if self.tail.is_empty() { "" } else { members },
        );
        feed_of(&settings, "real")
    }
}

#[tokio::test]
async fn real_files_on_lambert_turned_and_reduced_grids_are_kept_as_their_papers_say() {
    let Some(table) = shared("grib-real/wind.csv") else {
        return;
    };
    let table = rows(table);
    for real in [
        // A wind along the grid, u and v in one message.
        Real {
            file: "nam-awp211-20180917-f000.grib2",
            run: "2018-09-17T00:00:00Z",
            step: 0,
            tail: "",
            messages: &[(6, "UGRD"), (6, "VGRD")],
        },
        Real {
            file: "lambert-eta-hrrr.grib2",
            run: "2004-12-08T12:00:00Z",
            step: 24,
            tail: "",
            messages: &[(3, "UGRD"), (3, "VGRD")],
        },
        Real {
            file: "tiggelam-cnmc-20121206-f003-rotated.grib2",
            run: "2012-12-06T12:00:00Z",
            step: 3,
            tail: "ENS=+1",
            messages: &[(4, "UGRD"), (5, "VGRD")],
        },
        // True components, rows of unequal length.
        Real {
            file: "tigge-ecmwf-cf-20070505-f120-reduced-gg.grib2",
            run: "2007-05-05T00:00:00Z",
            step: 120,
            tail: "ENS=0",
            messages: &[(1, "UGRD"), (2, "VGRD")],
        },
    ] {
        let of_file: Vec<&Row> = table.iter().filter(|row| row["file"] == real.file).collect();
        assert_eq!(of_file.len(), 13, "{}", real.file);
        let folder = tempfile::tempdir().expect("a folder");
        real.write(folder.path());
        let places: Vec<LatLon> = of_file.iter().map(|row| place(row)).collect();
        let now = (at(real.run) + chrono::TimeDelta::hours(6)).to_rfc3339();
        let kept = kept(folder.path(), real.feed(), &places, real.run, &now).await;
        let member = usize::from(real.tail == "ENS=+1");
        assert!(kept.slice.is_of_nearest_nodes(), "{}", kept.slice.grid);
        assert_eq!(kept.slice.has_turned_vectors(), !real.file.contains("reduced"));
        for row in of_file {
            let node = kept.nearest(place(row));
            let there = LatLon {
                lat: number(row, "node_lat"),
                lon: number(row, "node_lon"),
            };
            assert!(node.node.at.distance(there).0 < 0.001, "{}: {node:?}", real.file);
            for (parameter, column) in [
                (Parameter::WindU, "u_earth_nearest"),
                (Parameter::WindV, "v_earth_nearest"),
            ] {
                let field = node.fields.iter().find(|field| field.parameter == parameter);
                let sample = field.expect("a field").samples[member];
                let what = format!("{} {column} at {there:?}", real.file);
                assert_close(sample, number(row, column), 1e-4, &what);
            }
        }
    }
}
