//! `cringle suppose`: the cases of fixtures/suppose/cases.toml, worked by hand before the command existed, and files that are wrong.
//!
//! The expectations are read from the table; nothing here writes it.

use cringle_tests::{program, workspace};
use serde::Deserialize;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

/// One case of the table; cases.md says what each key means.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    /// The file of the club, beside the table.
    #[serde(skip)]
    club: &'static str,
    id: String,
    by_hand: String,
    boat: String,
    level: String,
    venue: Option<String>,
    leave: Option<String>,
    #[serde(rename = "return")]
    alongside: Option<String>,
    conditions: String,
    call: String,
    #[serde(default)]
    light: bool,
    firmness: String,
    p_no_go: Option<String>,
    p_worse: Option<String>,
    plan: Vec<(f64, u64, f64)>,
    reasons: Vec<Why>,
    cautions: Vec<String>,
    #[serde(default)]
    missing: Vec<(String, String)>,
    way_out: Option<WayOut>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Why {
    quantity: String,
    value: f64,
    limit: f64,
    margin: f64,
    hour: f64,
    member: Option<u64>,
    within: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WayOut {
    kind: String,
    call: String,
}

#[derive(Deserialize)]
struct Cases {
    case: Vec<Case>,
}

/// The tables, each with its club.
const TABLES: [(&str, &str); 2] = [
    ("cases.toml", "club.toml"),
    ("cases-waters.toml", "club-waters.toml"),
];

fn cases() -> Vec<Case> {
    let of_table = |(table, club): (&str, &'static str)| {
        let text =
            std::fs::read_to_string(workspace().join("fixtures/suppose").join(table)).expect("the table");
        let mut cases = toml::from_str::<Cases>(&text).expect("the table reads").case;
        for case in &mut cases {
            case.club = club;
        }
        cases
    };
    TABLES.into_iter().flat_map(of_table).collect()
}

fn on_the_day(clock: &str) -> String {
    let clock = if clock.contains(':') {
        clock.to_owned()
    } else {
        format!("{clock}:00")
    };
    format!("2030-05-14T{clock}:00Z")
}

/// The case's rows with whole times.
fn csv_of(case: &Case) -> String {
    let mut lines = case.conditions.trim().lines();
    let header = lines.next().expect("a header").to_owned();
    let rows = lines.map(|line| {
        let (hour, rest) = line.split_once(',').expect("cells");
        format!("\n{},{rest}", on_the_day(hour))
    });
    header + &rows.collect::<String>()
}

fn suppose(folder: &Path, csv: &[u8], arguments: &[&str]) -> Output {
    suppose_of("club.toml", folder, csv, arguments)
}

fn suppose_of(club: &str, folder: &Path, csv: &[u8], arguments: &[&str]) -> Output {
    let file = folder.join("hours.csv");
    std::fs::write(&file, csv).expect("the hours are written");
    Command::new(program())
        .arg("suppose")
        .arg("--club")
        .arg(workspace().join("fixtures/suppose").join(club))
        .arg("--conditions")
        .arg(file)
        .args(arguments)
        .output()
        .expect("it runs")
}

fn answer_to(case: &Case) -> Value {
    let folder = tempfile::tempdir().expect("a folder");
    let mut arguments = vec!["--json", "--boat", &case.boat, "--level", &case.level];
    let (leave, alongside) = (
        case.leave.as_deref().map(on_the_day),
        case.alongside.as_deref().map(on_the_day),
    );
    for (flag, value) in [
        ("--venue", &case.venue),
        ("--leave", &leave),
        ("--return", &alongside),
    ] {
        arguments.extend(value.iter().flat_map(|value| [flag, value.as_str()]));
    }
    let output = suppose_of(case.club, folder.path(), csv_of(case).as_bytes(), &arguments);
    let words = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{}: {words}", case.id);
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// Hours after midnight UTC of the day of the cases.
fn hour(value: &Value) -> f64 {
    let text = value.as_str().expect("a time");
    let at = chrono::DateTime::parse_from_rfc3339(text).expect("a time with its offset");
    let midnight = chrono::DateTime::parse_from_rfc3339("2030-05-14T00:00:00Z").expect("midnight");
    (at - midnight).num_seconds() as f64 / 3600.0
}

fn fraction(text: &str) -> f64 {
    let (of, all) = text.split_once('/').expect("a fraction");
    of.parse::<f64>().expect("a number") / all.parse::<f64>().expect("a number")
}

/// What differs between a case and the program, in words.
fn differences(case: &Case, answer: &Value) -> Vec<String> {
    let mut told = Vec::new();
    let mut same = |what: &str, found: String, by_hand: String| {
        if found != by_hand {
            told.push(format!("{}: {what}: program {found}, by hand {by_hand}", case.id));
        }
    };
    let list = |key: &str| answer[key].as_array().expect("a list").clone();
    same(
        "conditions",
        answer["conditions"].to_string(),
        "\"supposed conditions\"".to_owned(),
    );
    same("call", answer["call"].to_string(), format!("{:?}", case.call));
    same("light", answer["light"].to_string(), case.light.to_string());
    same(
        "firmness",
        answer["firmness"].to_string(),
        format!("{:?}", case.firmness),
    );
    for (key, by_hand) in [("p_no_go", &case.p_no_go), ("p_marginal_or_worse", &case.p_worse)] {
        let shown = |p: Option<f64>| p.map_or("none".to_owned(), |p| format!("{p:.4}"));
        same(
            key,
            shown(answer[key].as_f64()),
            shown(by_hand.as_deref().map(fraction)),
        );
    }
    let plan: Vec<(f64, u64, f64)> = list("plan")
        .iter()
        .map(|step| {
            let headsail = step["headsail"].as_f64().unwrap_or(f64::NAN);
            (
                hour(&step["from"]),
                step["reefs"].as_u64().unwrap_or(u64::MAX),
                headsail,
            )
        })
        .collect();
    same("plan", format!("{plan:?}"), format!("{:?}", case.plan));
    let codes = |key: &str, of: &str| -> Vec<String> {
        let code = |one: &Value| one[of].as_str().expect("a code").to_owned();
        list(key).iter().map(code).collect()
    };
    same(
        "cautions",
        format!("{:?}", codes("cautions", "code")),
        format!("{:?}", case.cautions),
    );
    let missing: Vec<_> = codes("missing", "quantity")
        .into_iter()
        .zip(codes("missing", "reason"))
        .collect();
    same("missing", format!("{missing:?}"), format!("{:?}", case.missing));
    let way_out = &answer["way_out"];
    let by_hand = case
        .way_out
        .as_ref()
        .map_or("null".to_owned(), |way| format!("{} {}", way.kind, way.call));
    let found = if way_out.is_null() {
        "null".to_owned()
    } else {
        let word = |key: &str| way_out[key].as_str().unwrap_or_default().to_owned();
        format!("{} {}", word("kind"), word("call"))
    };
    same("way out", found, by_hand);
    let reasons = list("reasons");
    same(
        "reasons",
        format!("{:?}", codes("reasons", "quantity")),
        format!(
            "{:?}",
            case.reasons.iter().map(|why| &why.quantity).collect::<Vec<_>>()
        ),
    );
    for (found, by_hand) in reasons.iter().zip(&case.reasons) {
        let within = by_hand.within.unwrap_or(1e-6);
        for (key, expected) in [
            ("value", by_hand.value),
            ("limit", by_hand.limit),
            ("margin", by_hand.margin),
        ] {
            let value = found[key].as_f64().unwrap_or(f64::NAN);
            let near = (value - expected).abs() <= within;
            let shown = if near { expected } else { value };
            same(
                &format!("{} {key}", by_hand.quantity),
                shown.to_string(),
                expected.to_string(),
            );
        }
        same(
            "hour of reason",
            hour(&found["time"]).to_string(),
            by_hand.hour.to_string(),
        );
        same(
            "member of reason",
            format!("{:?}", found["member"].as_u64()),
            format!("{:?}", by_hand.member),
        );
    }
    told
}

#[test]
fn every_case_worked_by_hand_is_what_the_program_says() {
    let cases = cases();
    assert!(cases.len() >= 60, "the table is there");
    let mut names: Vec<&str> = cases.iter().map(|case| case.id.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), cases.len(), "each case has its own name");
    assert!(cases.iter().all(|case| !case.by_hand.trim().is_empty()));
    let told: Vec<String> = cases
        .iter()
        .flat_map(|case| differences(case, &answer_to(case)))
        .collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let mut turned = 0;
    for mut case in cases() {
        let before = answer_to(&case);
        let mut lines: Vec<String> = case.conditions.trim().lines().map(str::to_owned).collect();
        lines[1..].reverse();
        case.conditions = lines.join("\n");
        assert_eq!(answer_to(&case), before, "{}", case.id);
        turned += 1;
    }
    assert!(turned >= 30);
}

const CREW: [&str; 4] = ["--boat", "tern", "--level", "crew"];

/// What a file that cannot be used is told, with exit code 2 and nothing printed.
fn refused(csv: &[u8], arguments: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let output = suppose(folder.path(), csv, arguments);
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{words}");
    assert!(output.stdout.is_empty(), "nothing is printed beside mistakes");
    words
}

#[test]
fn every_bad_cell_is_told_at_once_with_its_line_and_column() {
    let csv = "time,member,mean_kn,from_deg,gust_kn,gust_over_h\n\
               2030-05-14T10:00:00,1,10,200,12,1\n\
               2030-05-14T10:00:00Z,1,-3,361,12,1\n\
               2030-05-14T10:00:00Z,one,10,200,nan,1\n\
               2030-05-14T11:00:00Z,1,10,200,12,1\n\
               2030-05-14T12:00:00+01:00,1,10,200,12,1\n\
               2030-05-14T12:30:00Z,1,10,200,12,1\n\
               2030-05-14T13:00:00Z,1,10,200,12,\n\
               2030-05-14T14:00:00Z,1,10\n\
               2031-05-14T13:00:00Z,1,10,200,12,1\n";
    let words = refused(csv.as_bytes(), &CREW);
    for (line, column, name, found) in [
        (2, 1, "time", "2030-05-14T10:00:00"),
        (3, 3, "mean_kn", "-3"),
        (3, 4, "from_deg", "361"),
        (4, 2, "member", "one"),
        (4, 5, "gust_kn", "nan"),
        // 12:00 at +01:00 is 11:00 UTC once more.
        (6, 1, "time", "line 5 again"),
        (7, 1, "time", "a part of an hour"),
        (8, 6, "gust_over_h", "nothing"),
        (9, 3, "mean_kn", "3 cells"),
        (10, 1, "time", "more than 16 days"),
    ] {
        let place = format!("line {line}, column {column} ({name}): found ");
        let told = words
            .lines()
            .any(|told| told.contains(&place) && told.contains(found) && told.contains("expected"));
        assert!(told, "{place}{found}:\n{words}");
    }
    assert!(words.contains("10 mistakes"), "{words}");
}

#[test]
fn a_header_that_is_wrong_is_told() {
    let words = refused(b"mean_kn,gusts\n10,12\n", &CREW);
    assert!(
        words.contains("gusts") && words.contains("a column named time"),
        "{words}"
    );
    let words = refused(b"time,mean_kn,mean_kn\n2030-05-14T10:00:00Z,1,2\n", &CREW);
    assert!(words.contains("line 1, column 3 (mean_kn)"), "{words}");
    assert!(refused(b"", &CREW).contains("a header"));
    assert!(refused(b"time\n", &CREW).contains("a row for each hour"));
    assert!(refused(b"time\n\xff\n", &CREW).contains("line 2, column 1"));
}

#[test]
fn half_a_stream_is_told() {
    let words = refused(b"time,mean_kn,stream_kn\n2030-05-14T10:00:00Z,10,2\n", &CREW);
    assert!(
        words.contains("line 1, column 3 (stream_kn): found one column alone"),
        "{words}"
    );
    let csv =
        b"time,mean_kn,stream_kn,stream_to_deg\n2030-05-14T10:00:00Z,10,2,\n2030-05-14T11:00:00Z,10,,90\n";
    let words = refused(csv, &CREW);
    assert!(
        words.contains("line 2, column 4 (stream_to_deg): found nothing"),
        "{words}"
    );
    assert!(
        words.contains("line 3, column 3 (stream_kn): found nothing"),
        "{words}"
    );
    assert!(words.contains("2 mistakes"), "{words}");
}

/// Both cells of a stream empty: nobody knows the stream, so nobody knows the wind the boat feels.
#[test]
fn a_missing_stream_is_no_call() {
    let folder = tempfile::tempdir().expect("a folder");
    let csv = b"time,mean_kn,from_deg,gust_kn,stream_kn,stream_to_deg\n\
                2030-05-14T10:00:00Z,10,225,13,1,45\n2030-05-14T11:00:00Z,10,225,13,,\n2030-05-14T12:00:00Z,10,225,13,1,45\n";
    let output = suppose(folder.path(), csv, &[&CREW[..], &["--json"]].concat());
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(answer["call"], "no-call");
    assert!(answer["missing"].as_array().is_some_and(|missing| {
        missing
            .iter()
            .any(|one| one["quantity"] == "mean_kn" && one["reason"] == "not-there")
    }));
}

#[test]
fn too_much_is_refused() {
    let row = |member: usize, hour: usize| {
        let at = chrono::DateTime::from_timestamp(1_900_000_800 + 3600 * hour as i64, 0).expect("a time");
        format!("\n{},{member},10", at.to_rfc3339())
    };
    let rows = |members: usize, hours: usize| -> String {
        let all = (0..members).flat_map(|member| (0..hours).map(move |hour| (member, hour)));
        let rows: String = all.map(|(member, hour)| row(member, hour)).collect();
        format!("time,member,mean_kn{rows}\n")
    };
    assert!(refused(rows(101, 1).as_bytes(), &CREW).contains("at most 100"));
    assert!(refused(rows(80, 251).as_bytes(), &CREW).contains("at most 20000 rows"));
    assert!(
        refused(rows(1, 30).as_bytes(), &CREW).contains("24 hours"),
        "a whole day is no outing"
    );
    assert!(refused(&vec![b' '; (4 << 20) + 1], &CREW).contains("octets"));
}

#[test]
fn arguments_that_name_nothing_are_told() {
    let csv = b"time,mean_kn\n2030-05-14T10:00:00Z,10\n";
    let words = refused(csv, &["--boat", "none", "--level", "crew"]);
    assert!(words.contains("tern") && words.contains("gannet"), "{words}");
    let words = refused(csv, &["--boat", "tern", "--level", "none"]);
    assert!(words.contains("beginners"), "{words}");
    let back = [
        &CREW[..],
        &[
            "--leave",
            "2030-05-14T12:00:00Z",
            "--return",
            "2030-05-14T11:00:00Z",
        ],
    ]
    .concat();
    assert!(refused(csv, &back).contains("--return"));
    let without_offset = [&CREW[..], &["--leave", "2030-05-14T12:00:00"]].concat();
    assert!(refused(csv, &without_offset).contains("offset"));
}

#[test]
fn the_words_say_what_was_supposed_and_what_was_not_judged() {
    let folder = tempfile::tempdir().expect("a folder");
    let csv = "time,mean_kn,from_deg,land_c,cape_j_kg,wave_from_deg\n\
               2030-05-14T10:00:00Z,20,225,25,900,200\n\
               2030-05-14T12:00:00Z,20,225,25,900,200\n";
    let output = suppose(folder.path(), csv.as_bytes(), &CREW);
    assert_eq!(output.status.code(), Some(0));
    let words = String::from_utf8_lossy(&output.stdout).into_owned();
    for needed in [
        "Supposed conditions",
        "Leave with: 2 reefs",
        "2.5 kn either way",
        "2 h early or late",
        "Gusts: estimated from the mean",
        "Read, but no rule looks at it:",
        "land_c: the venue has no [venues.sea_breeze]",
        "wave_from_deg: the venue has no stream and no entrance open_to",
        "cape_j_kg: thunder needs cape_j_kg and rain_mm_h together",
        "Official warnings were not checked",
        "The skipper on the water decides",
    ] {
        assert!(words.contains(needed), "{needed}:\n{words}");
    }
    assert!(words.lines().all(|line| line.chars().count() <= 80), "{words}");
}

/// Any column that the level's limits or the table speak of, taken away or emptied, never leaves a go; gusts without a column are
/// estimated, which the answer says.
#[test]
fn nothing_that_a_limit_speaks_of_can_be_missing_and_leave_a_go() {
    let folder = tempfile::tempdir().expect("a folder");
    let header = [
        "time",
        "mean_kn",
        "from_deg",
        "gust_kn",
        "wave_m",
        "wave_period_s",
        "air_c",
        "sea_c",
        "cape_j_kg",
        "rain_mm_h",
    ];
    let row = ["", "10", "225", "13", "0.9", "8", "20", "15", "800", "0"];
    let csv = |keep: &dyn Fn(usize) -> bool, blank: usize| {
        let line = |cells: Vec<String>| {
            let kept = cells.into_iter().enumerate().filter(|(index, _)| keep(*index));
            kept.map(|(_, cell)| cell).collect::<Vec<_>>().join(",") + "\n"
        };
        let rows = ["10", "11", "12"].map(|hour| {
            let cell = |index: usize| match index {
                0 => on_the_day(hour),
                _ if index == blank => String::new(),
                _ => row[index].to_owned(),
            };
            line((0..row.len()).map(cell).collect())
        });
        line(header.iter().map(|name| (*name).to_owned()).collect()) + &rows.concat()
    };
    let call = |csv: String| {
        let arguments = ["--json", "--boat", "tern", "--level", "winter"];
        let output = suppose(folder.path(), csv.as_bytes(), &arguments);
        let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        (answer["call"].clone(), answer["gusts"].clone())
    };
    assert_eq!(call(csv(&|_| true, 0)).0, "go", "nothing is missing");
    for (index, name) in header.iter().enumerate().skip(1) {
        // Where the wind comes from is no limit's at a venue without a berth; without rain there is no thunder, whatever the CAPE.
        let expected = if matches!(*name, "from_deg" | "cape_j_kg") {
            "go"
        } else {
            "no-call"
        };
        assert_eq!(call(csv(&|_| true, index)).0, expected, "{name} empty");
        let (without, gusts) = call(csv(&|kept| kept != index, 0));
        if *name == "gust_kn" {
            assert_eq!((without, gusts), ("go".into(), "estimated from the mean".into()));
        } else {
            assert_eq!(without, expected, "{name} absent");
        }
    }
}
