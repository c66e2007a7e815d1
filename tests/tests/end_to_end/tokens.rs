//! `cringle token`: made, listed, revoked, and the secret shown once. No source: the project's own rules.

use crate::service::Service;
use cringle_tests::{Scene, program, workspace};
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

#[test]
fn a_served_hidden_club_is_shown_by_token_alone_and_no_log_holds_the_secret() {
    let text = std::fs::read_to_string(workspace().join("fixtures/hand/club.toml")).expect("the club file");
    assert!(text.contains("slug = \"hand\"\npublic = true"));
    let scene = Scene::new(&text.replace("public = true", ""));
    let slug = "hand";
    let (code, secret, words) = told(&run(
        &scene.store(),
        &["make", "--club", slug, "--scope", "read", "--scope", "decide"],
    ));
    assert_eq!(code, Some(0), "{words}");
    let secret = secret.trim_end();
    let log = scene.store().with_extension("log");
    let mut command = Command::new(program());
    command
        .args(["serve", "--listen", "127.0.0.1:0", "--now", &scene.now])
        .arg("--club")
        .arg(scene.club())
        .arg("--feeds")
        .arg(scene.feeds())
        .arg("--store")
        .arg(scene.store())
        .env("RUST_LOG", "trace")
        .stderr(std::fs::File::create(&log).expect("a log"));
    let mut service = Service::of(command);
    service.line("advised: ");
    let path = format!("/v1/clubs/{slug}/sessions");
    let shown = format!("Authorization: Bearer {secret}\r\n");
    assert!(service.get(&path).0.starts_with("HTTP/1.1 404"));
    let (head, body) = service.get_with(&path, &shown);
    assert!(head.starts_with("HTTP/1.1 200"), "{head}\n{body}");
    assert!(head.to_lowercase().contains("cache-control: private"), "{head}");
    let (head, page) = service.get_with("/", &shown);
    assert!(
        head.starts_with("HTTP/1.1 200") && page.contains("/sessions/"),
        "{head}"
    );
    let broken = format!("Authorization: Bearer {secret}0\r\n");
    assert!(service.get_with(&path, &broken).0.starts_with("HTTP/1.1 401"));
    // Revoked while it is served: at once.
    let (_, listed, _) = told(&run(&scene.store(), &["list"]));
    let id = listed.split_whitespace().next().expect("its name");
    assert_eq!(told(&run(&scene.store(), &["revoke", id])).0, Some(0));
    assert!(service.get_with(&path, &shown).0.starts_with("HTTP/1.1 401"));
    let (code, rest) = service.terminate();
    assert_eq!(code, Some(0));
    let logged = std::fs::read_to_string(&log).expect("the log");
    assert!(
        logged.contains("TRACE") || logged.contains("DEBUG"),
        "it was logged"
    );
    let digits = secret.split('_').next_back().expect("digits");
    assert!(
        !logged.contains(digits) && !rest.join("\n").contains(digits),
        "CWE-532"
    );
}
