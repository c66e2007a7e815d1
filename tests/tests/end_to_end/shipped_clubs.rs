//! The small and the rich club of fixtures/club over the bundled run: a thirty-line file gives advisories, and one with every key uses them.

use advisory::document::{Advisory, CallWord};
use cringle_tests::{Scene, workspace};

fn advised(club: &str) -> Vec<Advisory> {
    let text = std::fs::read_to_string(workspace().join("fixtures/club").join(club)).expect("the club");
    let scene = Scene::new(&text);
    let output = scene.run(&["advise", "--json"]);
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{club}");
    let advisories: Vec<Advisory> = serde_json::from_slice(&output.stdout).expect("advisories");
    for advisory in &advisories {
        assert_ne!(
            advisory.call,
            CallWord::NoCall,
            "{club} {}: {:?}",
            advisory.session.id,
            advisory.missing
        );
        assert!(advisory.missing.is_empty(), "{club}: {:?}", advisory.missing);
        let explained = scene.printed(&["explain", &advisory.id]);
        assert!(explained.contains("the same"), "{club}: made again byte for byte");
    }
    advisories
}

#[test]
fn thirty_lines_give_a_call_a_plan_and_reasons() {
    let advisories = advised("small.toml");
    assert_eq!(advisories.len(), 1);
    assert!(advisories[0].plan.is_some());
    assert!(!advisories[0].reasons.is_empty());
}

#[test]
fn every_key_of_the_rich_club_is_heard() {
    let advisories = advised("rich.toml");
    let of = |id: &str| {
        let found = advisories
            .iter()
            .find(|advisory| advisory.session.id.starts_with(id));
        found.unwrap_or_else(|| panic!("{id}"))
    };
    let watchkeepers = of("watchkeepers-wednesday");
    // Alongside at 13:00, eighteen minutes from the entrance: passed at 12:42. High water 07:05 and 2.5 h: the gate shut at 09:35, 187 minutes before.
    assert_eq!(watchkeepers.call, CallWord::NoGo);
    assert_eq!(watchkeepers.reasons[0].quantity, "tide_gate_h");
    assert!(
        watchkeepers.reasons[0].words.contains("shut by 187 min at 12:42"),
        "{}",
        watchkeepers.reasons[0].words
    );
    let starters = of("starters-tuesday");
    let notes: Vec<&str> = starters
        .reasons
        .iter()
        .flat_map(|reason| &reason.notes)
        .map(String::as_str)
        .collect();
    for needed in [
        "over the venue's fetch",
        "stream against the wind added",
        "sector factor 1.1",
    ] {
        assert!(
            notes.iter().any(|note| note.contains(needed)),
            "{needed}: {notes:?}"
        );
    }
    // One row more reefed than the table, and a leg out to the west-south-west with the wind from south-south-west.
    assert!(starters.tightenings.iter().any(|told| told.code == "extra-reefs"));
    assert_eq!(starters.legs.len(), 2);
    assert!(starters.legs[0].title.contains("250"), "{:?}", starters.legs[0]);
    let way_out = starters
        .way_out
        .as_ref()
        .expect("another venue lies within 15 nm");
    assert!(way_out.title.contains("The Outer Mere"), "{way_out:?}");
    // A light northerly on sheltered water: the syllabus's 8 to 14 kn and 0 to 0.8 m hold throughout.
    let kinder = of("starters-friday");
    assert_ne!(kinder.call, CallWord::NoGo);
    let suited: Vec<&str> = kinder.lessons.iter().map(|lesson| lesson.name.as_str()).collect();
    assert!(suited.contains(&"Tacking and gybing on a triangle"), "{suited:?}");
}
