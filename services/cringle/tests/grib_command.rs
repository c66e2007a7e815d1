//! `cringle grib` from outside: what it prints, what it refuses, how much memory damaged files cost it.
//!
//! Sources: ../shared/grib-real/expected.csv (ecCodes 2.50.0) for values, ../shared/grib-bad for damaged files.

#![expect(
    clippy::unwrap_used,
    reason = "a test may fail by panicking and says what it skipped"
)]

use serde_json::Value;
use shared_files::shared;
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc;
use std::time::Duration;

type Row = HashMap<String, String>;

/// A command that hangs is ended after this; how long it took decides nothing.
const HANGS: Duration = Duration::from_secs(120);
/// No such file: its error on standard error says that all files before it are done.
const END_OF_FILES: &str = "no-such-file-marks-the-end.grib2";

fn rows(path: &Path) -> Vec<Row> {
    csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn grib() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cringle"));
    command.arg("grib");
    command
}

/// Ends the command if it hangs.
fn run(command: &mut Command) -> Output {
    let child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let id = child.id();
    let (done, waits) = mpsc::channel::<()>();
    let watch = std::thread::spawn(move || {
        let hung = waits.recv_timeout(HANGS) == Err(mpsc::RecvTimeoutError::Timeout);
        if hung {
            let _ended = Command::new("kill").args(["-9", &id.to_string()]).status();
        }
        hung
    });
    let output = child.wait_with_output().unwrap();
    drop(done);
    assert!(!watch.join().unwrap(), "the command hangs");
    output
}

fn objects(output: &Output) -> Vec<Value> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn words(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

#[test]
fn json_has_the_promised_keys_and_the_values_of_an_independent_reader() {
    let Some(folder) = shared("grib-real") else { return };
    let name = "gfswave-atlocn-20230823-f001.grib2";
    let file = folder.join(name);
    let mut compared = 0;
    let of_message = |row: &Row| row["file"] == name && row["message"] == "5" && row["inside"] == "1";
    for row in rows(&folder.join("expected.csv"))
        .iter()
        .filter(|row| of_message(row))
    {
        let output = run(grib()
            .arg(&file)
            .arg(format!("--at={},{}", row["lat"], row["lon"]))
            .arg("--json"));
        assert!(output.status.success(), "{}", words(&output));
        let object = &objects(&output)[4];
        let keys: Vec<&str> = object.as_object().unwrap().keys().map(String::as_str).collect();
        for key in [
            "file",
            "message",
            "field",
            "discipline",
            "category",
            "number",
            "name",
            "units",
            "level_type",
            "level",
            "reference_time",
            "from",
            "to",
            "member",
            "at",
            "nearest",
            "bilinear",
        ] {
            assert!(keys.contains(&key), "{key} is not in {keys:?}");
        }
        assert_eq!(object["to"].as_str(), Some(row["valid_time"].as_str()));
        assert_eq!(
            object["name"],
            "significant height of combined wind waves and swell"
        );
        for (found, column, tolerance) in [
            (&object["nearest"]["value"], "nearest", "tolerance"),
            (&object["bilinear"], "bilinear", "bilinear_tolerance"),
        ] {
            if row[&format!("{column}_valid")] == "1" {
                let expected: f64 = row[&format!("{column}_value")].parse().unwrap();
                let off = (found.as_f64().unwrap() - expected).abs();
                assert!(
                    off <= row[tolerance].parse::<f64>().unwrap() + expected.abs() * 6.0e-8,
                    "{found} for {row:?}"
                );
            } else {
                assert!(found.is_null(), "{found} for {row:?}");
            }
        }
        // The nearest valid value stands beside only where the nearest one is missing.
        let stands_beside = object.get("nearest_valid").is_some();
        assert!(!stands_beside || row["nearest_valid"] == "0", "{object}");
        if row["point_kind"] == "coast-nearest-missing" {
            assert!(object["nearest_valid"]["value"].is_number(), "{object}");
        }
        compared += 1;
    }
    assert!(compared > 15);
}

#[test]
fn a_compressed_file_says_what_the_plain_one_says() {
    let Some(folder) = shared("grib-real") else { return };
    let value = |name: &str| {
        let output = run(grib()
            .arg(folder.join(name))
            .args(["--at=54,10", "--at=10,10", "--json"]));
        assert!(output.status.success(), "{}", words(&output));
        let mut objects = objects(&output);
        objects.iter_mut().for_each(|object| object["file"] = Value::Null);
        objects
    };
    let plain = value("icon-eu-20200623-f000-t2m.grib2");
    assert_eq!(plain, value("icon-eu-20200623-f000-t2m.grib2.bz2"));
    assert!(plain[0]["bilinear"].is_number());
    assert!(
        plain[1]["nearest"].is_null() && plain[1]["bilinear"].is_null(),
        "outside the grid there is nothing"
    );
}

#[test]
fn what_is_not_supported_is_named_and_the_rest_is_printed() {
    let Some(folder) = shared("grib-real") else { return };
    let mut octets = std::fs::read(folder.join("mixed-grids.grib2")).unwrap();
    // The first message, on a polar stereographic grid, says that its grid is of template 3.12 (transverse Mercator).
    let of_section_3 = octets
        .windows(9)
        .position(|nine| nine[..5] == [0, 0, 0, 65, 3])
        .unwrap();
    octets[of_section_3 + 13] = 12;
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("mixed-grids-and-another.grib2");
    std::fs::write(&file, &octets).unwrap();
    let output = run(grib().arg(&file).args(["--at=45,5", "--json"]));
    assert_eq!(output.status.code(), Some(1));
    let words = words(&output);
    let expected = format!(
        "unsupported: template 3.12 (transverse Mercator) in message 1 of {}",
        file.display()
    );
    assert!(words.starts_with(&expected), "{expected} is not in\n{words}");
    let objects = objects(&output);
    assert!(
        objects
            .iter()
            .any(|object| object["message"] == 6 && object["bilinear"].is_number())
    );
    let probability = objects.iter().find(|object| object["message"] == 8).unwrap();
    assert!(
        probability["name"].as_str().unwrap().contains("probability"),
        "{probability}"
    );
    assert!(probability["units"].is_null());
}

/// Source: ../shared/grib-real, expected.csv and wind.csv (ecCodes 2.50.0): the nearest node to 33.86169 N 132.00932 W, the
/// components there along the grid, and the angle.
#[test]
fn a_component_along_a_lambert_grid_says_how_the_grid_lies() {
    let Some(folder) = shared("grib-real") else { return };
    let file = folder.join("nam-awp211-20180917-f000.grib2");
    let output = run(grib().arg(&file).args(["--at=33.86169,-132.00932", "--json"]));
    assert!(output.status.success(), "{}", words(&output));
    let objects = objects(&output);
    let wind = objects.iter().find(|object| object["message"] == 6).unwrap();
    let number = |value: &Value| value.as_f64().unwrap();
    assert!(
        (number(&wind["nearest"]["value"]) - 1.315_188).abs() < 1.0e-2,
        "{wind}"
    );
    assert!(
        (number(&wind["grid_x_from_east_deg"]) - 15.6063).abs() < 1.0e-4,
        "{wind}"
    );
    assert_eq!(wind["nearest"]["lat"], 33.734_503);
    let pressure = objects.iter().find(|object| object["message"] == 1).unwrap();
    assert!(pressure.get("grid_x_from_east_deg").is_none(), "{pressure}");
}

#[test]
fn a_wrong_command_line_is_told_with_exit_code_2() {
    for arguments in [
        &["file", "--at=95,0"][..],
        &["file", "--at=north"],
        &["file"],
        &["--at=1,1"],
    ] {
        assert_eq!(
            run(grib().args(arguments)).status.code(),
            Some(2),
            "{arguments:?}"
        );
    }
    let output = run(grib().args([END_OF_FILES, "--at=1,1"]));
    assert_eq!(output.status.code(), Some(1));
    assert!(words(&output).contains(END_OF_FILES));
}

#[test]
fn damaged_files_are_refused_and_their_intact_messages_printed() {
    let Some(folder) = shared("grib-bad") else { return };
    let intact = rows(&folder.join("intact_values.csv"));
    for row in rows(&folder.join("bad.csv")) {
        let name = &row["file"];
        let mut command = grib();
        command.arg(folder.join(name)).args(["--at=0,0", "--json"]);
        let values: Vec<&Row> = intact.iter().filter(|value| &value["file"] == name).collect();
        for value in &values {
            command.arg(format!("--at={},{}", value["lat"], value["lon"]));
        }
        let output = run(&mut command);
        let words = words(&output);
        assert_eq!(
            output.status.code(),
            Some(i32::from(row["class"] != "trailing garbage")),
            "{words}"
        );
        assert!(!words.contains("panicked"), "{words}");
        assert!(words.contains(name.as_str()), "the error names the file: {words}");
        for (what, column) in [("message", "bad_message"), ("section", "bad_section")] {
            let expected = format!("{what} {}", row[column]);
            assert!(
                row[column].is_empty() || words.contains(&expected),
                "{expected} is not in {words}"
            );
        }
        let objects = objects(&output);
        let printed: std::collections::BTreeSet<u64> = objects
            .iter()
            .map(|object| object["message"].as_u64().unwrap())
            .collect();
        let usable: Vec<u64> = row["intact_messages"]
            .split(' ')
            .filter_map(|number| number.parse().ok())
            .collect();
        assert_eq!(printed.into_iter().collect::<Vec<_>>(), usable, "{name}");
        for (at, value) in values.iter().enumerate() {
            let message: u64 = value["message"].parse().unwrap();
            let of_message = |object: &&Value| object["message"] == message;
            let object = objects.iter().filter(of_message).nth(at + 1).unwrap();
            let expected: f64 = value["nearest_value"].parse().unwrap();
            let off = (object["nearest"]["value"].as_f64().unwrap() - expected).abs();
            assert!(
                off <= value["tolerance"].parse().unwrap(),
                "{object} for {value:?}"
            );
        }
        if name.ends_with(".bz2") {
            assert!(words.contains("bzip2 data damaged"), "{words}");
        }
    }
}

/// The command and its decoder, stopped at its standard input after it has read some files.
struct Held(Child);

impl Held {
    fn after(files: &[&Path]) -> Self {
        let mut command = grib();
        command.args(files).args([END_OF_FILES, "/dev/stdin", "--at=0,0"]);
        let child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut held = Self(child);
        let errors = BufReader::new(held.0.stderr.take().unwrap());
        let (told, tells) = mpsc::channel();
        std::thread::spawn(move || {
            let seen = errors
                .lines()
                .map_while(Result::ok)
                .any(|line| line.contains(END_OF_FILES));
            let _gone = told.send(seen);
        });
        assert_eq!(
            tells.recv_timeout(HANGS),
            Ok(true),
            "the command hangs or ends early"
        );
        held
    }

    /// The most memory it and its children ever had, in KiB.
    fn peak(&self) -> u64 {
        let own = self.0.id();
        let processes = std::fs::read_dir("/proc").unwrap().filter_map(|entry| {
            let mut text = String::new();
            std::fs::File::open(entry.ok()?.path().join("status"))
                .ok()?
                .read_to_string(&mut text)
                .ok()?;
            let number = |key: &str| {
                let line = text.lines().find_map(|line| line.strip_prefix(key))?;
                line.split_whitespace().next()?.parse::<u64>().ok()
            };
            let belongs = [number("Pid:")?, number("PPid:")?].contains(&u64::from(own));
            if belongs { number("VmHWM:") } else { None }
        });
        processes.sum()
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        drop(self.0.stdin.take());
        let _ended = self.0.wait();
    }
}

#[test]
#[cfg(target_os = "linux")]
fn damaged_files_cost_no_more_memory_than_allowed() {
    let (Some(real), Some(bad)) = (shared("grib-real"), shared("grib-bad")) else {
        return;
    };
    // The process and its decoder at work, before any of these files: one small intact file.
    let usual = Held::after(&[&real.join("tigge-ecmwf-pf-20070122-f096.grib2")]).peak();
    for row in rows(&bad.join("bad.csv")) {
        let peak = Held::after(&[&bad.join(&row["file"])]).peak();
        let allowed: u64 = row["max_extra_memory_mib"].parse().unwrap();
        println!("{}: {} KiB, {usual} KiB before it", row["file"], peak);
        assert!(
            peak <= usual + allowed * 1024,
            "{} took {peak} KiB, {usual} KiB before it",
            row["file"]
        );
    }
}

#[test]
fn a_mesh_is_named_and_what_its_values_lack_is_said() {
    let Some(folder) = shared("grib-synthetic/dwd/weather/nwp/v1/m/icon-eu/p") else {
        return;
    };
    let file = folder.join("U_10M/r/2030-05-13T00:00/s/PT003H00M.grib2");
    let output = run(grib().arg(file).arg("--at=43.5,-15.5"));
    assert_eq!(
        (output.status.code(), output.stdout.as_slice()),
        (Some(1), &[][..])
    );
    // UUID as ../shared/grib-synthetic/expected_unstructured.csv has it.
    let words = words(&output);
    assert!(
        words.contains("unstructured mesh, UUID f5e69620b1a173c1f18995343c915789, 1152 cells")
            && words.contains("0/191/1 (latitude)"),
        "{words}"
    );
}
