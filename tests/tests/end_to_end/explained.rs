//! What was issued is made again from its stored inputs, after the runs are gone, and is issued once.

use cringle_tests::{Scene, time};
use forecast::SourceId;

#[test]
fn explain_gives_identical_bytes_after_the_runs_were_pruned_and_traces_each_number() {
    let scene = Scene::by_hand();
    let advisory = scene.advisory("tuesday");
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let store = store::Store::open(&scene.store().to_string_lossy())
            .await
            .expect("the store");
        for source in ["gfs", "gfs-wave", "gefs"].map(SourceId::new) {
            let runs = store
                .runs(&source, time("2030-05-13T15:00:00Z"))
                .await
                .expect("runs");
            assert!(!runs.is_empty(), "{source} has runs to prune");
            for run in runs {
                store.prune_run(&source, run.reference).await.expect("pruned");
            }
            assert!(
                store
                    .newest_run(&source, time("2030-05-13T15:00:00Z"))
                    .await
                    .expect("none")
                    .is_none()
            );
        }
        store.close().await;
    });
    // The feeds are gone too: nothing can be fetched again.
    std::fs::remove_dir_all(scene.feeds()).expect("the feeds");
    let text = scene.printed(&["explain", &advisory.id[..8], "--json"]);
    let account: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(account["identical"], true);
    let accounts = account["accounts"].as_array().expect("a list");
    let gust = accounts
        .iter()
        .find(|a| a["what"].as_str().is_some_and(|w| w.starts_with("Gusts")))
        .expect("the gust");
    assert!(
        gust["rule"]
            .as_str()
            .is_some_and(|rule| rule.contains("22.5 no-go")),
        "{gust}"
    );
    let trace = &gust["traces"][0];
    let steps = trace["steps"].as_array().expect("a list");
    let of_18_utc = |step: &&serde_json::Value| step["step"] == 42;
    let step = steps.iter().find(of_18_utc).expect("the step of 18:00 UTC");
    // To the message (file, offset, length), the node and the value in it.
    let file = step["message"]["file"].as_str().expect("a file");
    assert!(file.contains("gep18") && file.contains("f042"), "{file}");
    assert!(
        step["message"]["length"]
            .as_u64()
            .is_some_and(|length| length > 100)
    );
    assert_eq!(step["nodes"][0]["node"]["at"]["lat"], 43.5);
    let sample = step["nodes"][0]["sample"]["Ok"].as_f64().expect("a sample");
    // With all 31 members the worst tenth is the fourth worst: member 18, 25.932 kn in the generator's expected_ensemble.csv, 13.341 m/s.
    assert!((sample - 13.341).abs() < 0.012, "{sample}");
    // Every number of every hour out is accounted for: wind, gust, wave height, wave period.
    let hours = accounts
        .iter()
        .filter(|a| a["what"].as_str().is_some_and(|w| w.starts_with("Hour")));
    assert_eq!(
        hours
            .filter(|a| a["traces"].as_array().is_some_and(|t| t.len() == 4))
            .count(),
        7
    );
}

#[test]
fn the_same_inputs_are_issued_once() {
    let scene = Scene::by_hand();
    let first = scene.advise();
    let second = scene.advise();
    assert_eq!(first, second);
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let store = store::Store::open(&scene.store().to_string_lossy())
            .await
            .expect("the store");
        for advisory in &first {
            let issued = store
                .advisories_for("hand", &advisory.session.id)
                .await
                .expect("a list");
            assert_eq!(issued.len(), 1, "{}", advisory.session.id);
        }
    });
}

#[test]
fn an_unknown_or_ambiguous_name_says_what_to_do() {
    let scene = Scene::by_hand();
    scene.advise();
    let output = scene.run(&["explain", "nonesuch"]);
    assert_eq!(output.status.code(), Some(1));
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        words.contains("no advisory is named nonesuch") && words.contains("cringle advise"),
        "{words}"
    );
}
