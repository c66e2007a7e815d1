//! `cringle check`: says what a club file means, or every mistake in it at once.
//!
//! Owns: reading the file within its bounds, the lines printed, the exit code. It writes no file. Must not know: how a
//! club file is read, which the `club` crate does.

use crate::area::Area;
use crate::context::Surroundings;
use clap::Args;
use club::{Club, Coverage, FILE_AT_MOST, Mistake, parse_bytes, readable_checks};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use tokio::io::AsyncReadExt;

/// The club that `cringle demo` shows, read when no file is named.
const DEMO_CLUB: &str = include_str!("../../../../fixtures/demo/club.toml");
/// What it is called in messages.
const DEMO_CLUB_NAME: &str = "fixtures/demo/club.toml";
/// The file cannot be read or has mistakes.
const MISTAKEN: u8 = 2;

/// Check a club file: every mistake at once, each with line, column, what was found and what was expected.
#[derive(Args, Debug)]
pub struct CheckArguments {
    /// The club file (TOML); the demo's, if none is named
    pub file: Option<PathBuf>,
    /// Folder that holds the feeds' trees: a venue outside their grid is a mistake
    #[arg(long, value_name = "DIR")]
    pub feeds: Option<PathBuf>,
}

/// What a check prints and exits with.
#[derive(Debug, PartialEq, Eq)]
pub struct Checked {
    /// For standard output.
    pub summary: String,
    /// For standard error.
    pub mistakes: String,
    /// 0 for a club file without mistakes, 2 otherwise.
    pub exit_code: u8,
}

/// Checks a file and prints what it found. The demo's club is held against the demo's grid, another against that of `--feeds`.
pub async fn run(around: &Surroundings, arguments: CheckArguments) -> ExitCode {
    let area = match (&arguments.file, &arguments.feeds) {
        (_, Some(feeds)) => Area::of_feeds(feeds, around.now.unwrap_or_else(chrono::Utc::now)).await,
        _ => None,
    };
    let checked = match &arguments.file {
        None => check_bytes(DEMO_CLUB_NAME, DEMO_CLUB.as_bytes(), None),
        Some(path) => match read_club(path).await {
            Ok(bytes) => check_within(&path.display().to_string(), &bytes, area.as_ref()),
            Err(checked) => checked,
        },
    };
    // A reader that has gone away, such as a closed pager, is no reason to change the verdict.
    let _gone = std::io::stdout().write_all(present::terminal::folded(&checked.summary).as_bytes());
    let _gone = std::io::stderr().write_all(checked.mistakes.as_bytes());
    ExitCode::from(checked.exit_code)
}

/// A club file's bytes, or what is said of one that cannot be read.
pub async fn read_club(path: &Path) -> Result<Vec<u8>, Checked> {
    read_within_bounds(path)
        .await
        .map_err(|error| unreadable(path, &error))
}

/// Checks a file's bytes; with an area, venues outside it are mistakes too.
pub fn check_within(name: &str, bytes: &[u8], area: Option<&Area>) -> Checked {
    let Some(area) = area else {
        return check_bytes(name, bytes, None);
    };
    let covers = |at| area.covers(at);
    check_bytes(
        name,
        bytes,
        Some(&Coverage {
            area: &area.words,
            covers: &covers,
        }),
    )
}

/// The file's bytes, but never more than one past the largest club file: that one is enough to refuse it.
async fn read_within_bounds(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let file = tokio::fs::File::open(path).await?;
    file.take(FILE_AT_MOST as u64 + 1).read_to_end(&mut bytes).await?;
    Ok(bytes)
}

fn unreadable(path: &Path, error: &std::io::Error) -> Checked {
    let path = path.display();
    let what_next = match error.kind() {
        std::io::ErrorKind::NotFound => {
            "name a file that exists; fixtures/club/small.toml is one to start from"
        }
        std::io::ErrorKind::PermissionDenied => "make it readable for this user",
        std::io::ErrorKind::IsADirectory => "name the club file in that folder",
        _ => "name a club file that can be read",
    };
    Checked {
        summary: String::new(),
        mistakes: format!("{path}: cannot be read ({error}): {what_next}\n"),
        exit_code: MISTAKEN,
    }
}

/// Checks a file's bytes. Pure: the whole of what `run` prints.
pub fn check_bytes(name: &str, bytes: &[u8], coverage: Option<&Coverage<'_>>) -> Checked {
    match parse_bytes(bytes, coverage) {
        Ok(parsed) => Checked {
            summary: summary(name, &parsed.club, &parsed.warnings),
            mistakes: String::new(),
            exit_code: 0,
        },
        Err(mistakes) => {
            let lines: String = mistakes
                .0
                .iter()
                .map(|mistake| line(name, "", mistake) + "\n")
                .collect();
            let total = counted(mistakes.0.len(), "mistake");
            Checked {
                summary: String::new(),
                mistakes: format!("{lines}{name}: {total}; mend them and check again\n"),
                exit_code: MISTAKEN,
            }
        }
    }
}

fn summary(name: &str, club: &Club, warnings: &[Mistake]) -> String {
    let mut lines = readable_checks(club);
    lines.push(String::new());
    lines.extend(warnings.iter().map(|warning| line(name, "warning: ", warning)));
    lines.push(format!(
        "{name}: {}, {}, {}, {}: no mistakes, {}",
        counted(club.venues.len(), "venue"),
        counted(club.boats.len(), "boat"),
        counted(club.levels.len(), "level"),
        counted(club.sessions.len(), "session"),
        counted(warnings.len(), "warning")
    ));
    lines.join("\n") + "\n"
}

fn line(name: &str, kind: &str, mistake: &Mistake) -> String {
    let Mistake {
        line,
        column,
        key,
        found,
        expected,
    } = mistake;
    format!("{name}:{line}:{column}: {kind}{key}: found {found}, expected {expected}")
}

fn counted(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sound_file_is_summed_up_on_standard_output() {
        let checked = check_bytes(DEMO_CLUB_NAME, DEMO_CLUB.as_bytes(), None);
        assert_eq!((checked.exit_code, checked.mistakes.as_str()), (0, ""));
        assert!(
            checked
                .summary
                .contains("\n  Quillet (8.5 m)\n    her table speaks of true wind at 10 m;"),
            "{}",
            checked.summary
        );
        assert!(
            checked.summary.contains("\n    row 1: mean to   12 kn"),
            "{}",
            checked.summary
        );
        let last =
            "fixtures/demo/club.toml: 2 venues, 2 boats, 3 levels, 11 sessions: no mistakes, 0 warnings\n";
        assert!(checked.summary.ends_with(last), "{}", checked.summary);
    }

    #[test]
    fn a_boat_with_dimensions_has_each_row_judged() {
        let checked = check_bytes(DEMO_CLUB_NAME, DEMO_CLUB.as_bytes(), None);
        let lines: Vec<&str> = checked.summary.lines().collect();
        let rows = lines.iter().filter(|line| line.contains(" mean to ")).count();
        let heels = lines
            .iter()
            .filter(|line| line.trim_start().starts_with("heel ") && line.contains(" degrees ("))
            .count();
        assert_eq!(heels, rows, "{}", checked.summary);
        assert!(checked.summary.contains(": balanced"), "{}", checked.summary);
    }

    #[test]
    fn a_table_that_ends_early_is_listed_as_a_warning_and_passes() {
        let text = DEMO_CLUB.replace(
            "mean_up_to_kn = 30, gust_up_to_kn = 38",
            "mean_up_to_kn = 29, gust_up_to_kn = 38",
        );
        let checked = check_bytes("club.toml", text.as_bytes(), None);
        assert_eq!(checked.exit_code, 0);
        assert!(
            checked
                .summary
                .contains(": warning: boats[1].reef_table[4].mean_up_to_kn: found 29"),
            "{}",
            checked.summary
        );
        assert!(checked.summary.ends_with("no mistakes, 1 warning\n"));
    }

    #[test]
    fn an_impossible_file_has_every_mistake_on_standard_error() {
        let text = include_str!("../../../../fixtures/club/impossible.toml");
        let covers =
            |at: seaway::LatLon| (41.0..=46.0).contains(&at.lat) && (-18.0..=-13.0).contains(&at.lon);
        let coverage = Coverage {
            area: "46 N to 41 N, 18 W to 13 W",
            covers: &covers,
        };
        let checked = check_bytes("club.toml", text.as_bytes(), Some(&coverage));
        assert_eq!((checked.exit_code, checked.summary.as_str()), (2, ""));
        // The same list as the club crate's, with the file's name before line and column.
        let expected: String = include_str!("../../../../fixtures/club/impossible.expected.txt")
            .lines()
            .map(|line| {
                line.replacen("line ", "club.toml:", 1)
                    .replacen(", column ", ":", 1)
                    + "\n"
            })
            .collect();
        assert_eq!(
            checked.mistakes,
            format!("{expected}club.toml: 72 mistakes; mend them and check again\n")
        );
    }

    #[tokio::test]
    async fn a_file_that_cannot_be_read_says_what_to_do() {
        let path = Path::new("no/such/club.toml");
        let error = read_within_bounds(path).await.expect_err("it does not exist");
        let checked = unreadable(path, &error);
        assert_eq!(checked.exit_code, 2);
        assert!(
            checked.mistakes.contains("name a file that exists"),
            "{}",
            checked.mistakes
        );
        assert!(
            read_within_bounds(Path::new(env!("CARGO_MANIFEST_DIR")))
                .await
                .is_err(),
            "a folder is no file"
        );
        let endless = read_within_bounds(Path::new("/dev/zero")).await;
        assert!(
            endless.is_ok_and(|bytes| bytes.len() == FILE_AT_MOST + 1),
            "an endless file is read no further"
        );
    }
}
