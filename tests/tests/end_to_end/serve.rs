//! `cringle serve`: fetches, advises and answers in one process, and stops when it is told to.

use crate::service::Service;
use cringle_tests::{GEFS_00, Scene};
use serde_json::Value;

#[test]
fn it_fetches_advises_answers_and_stops_when_told_to() {
    let scene = Scene::by_hand();
    scene.remove_folder(&GEFS_00.split('/').take(2).collect::<Vec<_>>().join("/"));
    let mut service = Service::start(&scene);
    let fetched = service.line("fetched: ");
    assert!(
        fetched.contains("gefs failed") && fetched.contains("gfs 15 parts"),
        "{fetched}"
    );
    let advised = service.line("advised: ");
    assert!(!advised.contains(" 0 sessions"), "{advised}");
    let (head, board) = service.get("/");
    assert!(
        head.starts_with("HTTP/1.1 200") && board.contains("/sessions/"),
        "{head}\n{board}"
    );
    let (head, body) = service.get("/readyz");
    assert!(head.starts_with("HTTP/1.1 200"), "{head}\n{body}");
    let ready: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(ready["ready"], true);
    let of = |source: &str| {
        let sources = ready["sources"].as_array().expect("a list");
        sources
            .iter()
            .find(|one| one["source"] == source)
            .expect("the source")
            .clone()
    };
    assert_eq!(of("gfs")["state"], "usable");
    assert_eq!(of("gefs")["state"], "absent");
    assert!(
        of("gefs")["last_error"]["words"]
            .as_str()
            .is_some_and(|words| words.contains("no run"))
    );
    let (code, rest) = service.terminate();
    assert_eq!(code, Some(0), "{rest:?}");
    assert_eq!(rest.last().map(String::as_str), Some("Stopped."), "{rest:?}");
    // The facts are those of `cringle runs`.
    let runs: Vec<Value> = serde_json::from_str(&scene.printed(&["runs", "--json"])).expect("a list");
    let gfs = runs
        .iter()
        .find(|one| one["source"] == "gfs")
        .expect("the source");
    assert_eq!(
        gfs["newest_run"]["parts_kept"],
        of("gfs")["newest_run"]["parts_kept"]
    );
}

#[test]
fn it_is_not_ready_while_no_source_is_of_use() {
    let scene = Scene::by_hand();
    for tree in ["noaa-gfs/gfs.20300513", "noaa-gefs/gefs.20300513"] {
        scene.remove_folder(tree);
    }
    let mut service = Service::start(&scene);
    let fetched = service.line("fetched: ");
    assert!(
        fetched.contains("gfs failed, gfs-wave failed, gefs failed"),
        "{fetched}"
    );
    let (head, body) = service.get("/readyz");
    assert!(
        head.starts_with("HTTP/1.1 503") && head.contains("application/json"),
        "{head}"
    );
    let ready: Value = serde_json::from_str(&body).expect("JSON");
    assert_eq!(
        (&ready["ready"], &ready["sources"][0]["state"]),
        (&false.into(), &"absent".into())
    );
    let (head, _) = service.get("/healthz");
    assert!(head.starts_with("HTTP/1.1 200"), "it lives all the same: {head}");
    assert_eq!(service.terminate().0, Some(0));
}
