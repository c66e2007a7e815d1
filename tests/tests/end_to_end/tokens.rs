//! `cringle token`: made, listed, revoked, and the secret shown once. No source: the project's own rules.

use cringle_tests::program;
use std::path::Path;
use std::process::{Command, Output};

fn run(store: &Path, arguments: &[&str]) -> Output {
    Command::new(program())
        .arg("token")
        .args(arguments)
        .arg("--store")
        .arg(store)
        .args(["--now", "2030-05-13T15:00:00Z"])
        .env("RUST_LOG", "trace")
        .output()
        .expect("the program starts")
}

fn told(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("text");
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn a_token_is_made_listed_and_revoked_and_its_secret_is_printed_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("store.db");
    let made = [
        "make",
        "--club",
        "north-bay",
        "--scope",
        "decide",
        "--scope",
        "read",
        "--scope",
        "read",
        "--label",
        "the quay's tablet",
        "--expires",
        "2030-06-01T12:00:00+02:00",
    ];
    let (code, secret, words) = told(&run(&store, &made));
    assert_eq!(code, Some(0), "{words}");
    let secret = secret.trim_end();
    assert!(
        secret.starts_with("cringle_") && secret.len() == 72,
        "one line, the secret alone"
    );
    assert!(
        words.contains("read, decide, holds until 2030-06-01T10:00:00Z"),
        "{words}"
    );
    assert!(words.contains("No file of a club north-bay"), "{words}");
    let (_, other, _) = told(&run(&store, &["make", "--club", "sound", "--scope", "club"]));
    assert_ne!(secret, other.trim_end());

    let (code, listed, quiet) = told(&run(&store, &["list", "--club", "north-bay"]));
    assert_eq!((code, listed.lines().count()), (Some(0), 1), "{listed}");
    assert!(
        listed.contains("north-bay  read, decide  made 2030-05-13T15:00:00Z"),
        "{listed}"
    );
    assert!(
        listed.contains("\"the quay's tablet\"") && !listed.contains("revoked 20"),
        "{listed}"
    );
    let id = listed.split_whitespace().next().expect("its name").to_owned();
    let (code, revoked, loud) = told(&run(&store, &["revoke", &id]));
    assert!(code == Some(0) && revoked.contains("is revoked"), "{revoked}");
    let (code, again, _) = told(&run(&store, &["revoke", &id]));
    assert!(
        code == Some(0) && again.contains("revoked before, 2030-05-13T15:00:00Z"),
        "{again}"
    );
    let (_, all, _) = told(&run(&store, &["list"]));
    assert_eq!(all.lines().count(), 2, "{all}");
    assert!(all.contains("revoked 2030-05-13T15:00:00Z"), "{all}");

    // CWE-532, CWE-312: neither log nor list nor the database's files hold the secret.
    let digits = secret.split('_').next_back().expect("digits");
    for words in [words, listed, quiet, loud, revoked, again, all] {
        assert!(!words.contains(digits), "{words}");
    }
    for file in std::fs::read_dir(folder.path()).expect("the folder").flatten() {
        let bytes = std::fs::read(file.path()).expect("its bytes");
        let found = bytes
            .windows(digits.len())
            .any(|piece| piece == digits.as_bytes());
        assert!(!found, "{}", file.path().display());
    }
}

#[test]
fn what_makes_no_token_is_refused_in_words_and_nothing_is_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("store.db");
    let secret = format!("cringle_{}", "0".repeat(64));
    let long = "x".repeat(101);
    for (arguments, words) in [
        (vec!["make", "--club", "sound"], "--scope"),
        (vec!["make", "--scope", "read"], "--club"),
        (
            vec!["make", "--club", "The Sound", "--scope", "read"],
            "lower-case",
        ),
        (
            vec!["make", "--club", "sound", "--scope", "all"],
            "possible values",
        ),
        (
            vec!["make", "--club", "sound", "--scope", "read", "--label", "a\nb"],
            "one line",
        ),
        (
            vec!["make", "--club", "sound", "--scope", "read", "--label", &long],
            "100",
        ),
        (
            vec![
                "make",
                "--club",
                "sound",
                "--scope",
                "read",
                "--expires",
                "2030-05-13T15:00:00Z",
            ],
            "not after this moment",
        ),
        (vec!["revoke", "000000000000"], "token list"),
        (vec!["revoke", &secret], "token list"),
    ] {
        let (code, printed, told) = told(&run(&store, &arguments));
        assert_eq!((code, printed.as_str()), (Some(2), ""), "{arguments:?}: {told}");
        assert!(
            told.contains(words) && !told.contains(&secret),
            "{arguments:?}: {told}"
        );
    }
    assert_eq!(told(&run(&store, &["list"])).1, "");
}
