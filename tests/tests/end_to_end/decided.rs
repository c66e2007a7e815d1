//! `cringle decide`: the club's decision beside the call. No source: the project's own rules.

use crate::service::Service;
use cringle_tests::Scene;

fn session(scene: &Scene) -> String {
    scene.advise()[0].session.id.clone()
}

#[test]
fn a_decision_stands_beside_the_call_everywhere_and_is_never_changed() {
    let mut scene = Scene::by_hand();
    let id = session(&scene);
    let call = scene.advise()[0].call;
    let said = scene.printed(&["decide", &id, "on", "--by", "A. Keel"]);
    assert!(said.contains("on, decided by A. Keel"), "{said}");
    scene.now = "2030-05-13T15:10:00Z".to_owned();
    scene.printed(&[
        "decide",
        &id,
        "moved",
        "--by",
        "A. Keel",
        "--note",
        "Thursday 14:00",
    ]);
    let needed = "moved: Thursday 14:00 (A. Keel,";
    for printed in [scene.printed(&["advise"]), scene.printed(&["advise", &id])] {
        assert!(printed.contains("The club decided"), "{printed}");
        let in_one_line = printed.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(in_one_line.contains(needed), "{printed}");
    }
    let service = Service::start(&scene);
    for path in ["/".to_owned(), format!("/sessions/{id}")] {
        let (_, page) = service.get(&path);
        assert!(
            page.contains("The club decided")
                && page.contains(">moved<")
                && page.contains("Thursday 14:00 (A. Keel,"),
            "{path}"
        );
    }
    assert_eq!(service.terminate().0, Some(0));
    assert_eq!(scene.advise()[0].call, call, "no decision changes a call");
    // As of a moment between the two, the first stands.
    scene.now = "2030-05-13T15:05:00Z".to_owned();
    let earlier = scene.printed(&["advise", &id]);
    assert!(earlier.contains("The club decided on (A. Keel,"), "{earlier}");
}

#[test]
fn what_is_no_decision_is_refused_in_words_and_not_kept() {
    let scene = Scene::by_hand();
    let id = session(&scene);
    for (arguments, words) in [
        (
            vec!["decide", id.as_str(), "moved", "--by", "A."],
            "to when or where",
        ),
        (vec!["decide", id.as_str(), "off", "--by", " \t"], "who decides"),
        (
            vec!["decide", "no-such-session", "off", "--by", "A."],
            "the coming ones",
        ),
        (
            vec!["decide", id.as_str(), "perhaps", "--by", "A."],
            "possible values",
        ),
    ] {
        let output = scene.run(&arguments);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(told.contains(words), "{arguments:?}: {told}");
    }
    assert!(!scene.printed(&["advise"]).contains("The club decided"));
}
