//! The openings page of the demo's club says the windows that the API answers, made from the bundled runs.

use crate::service::Service;
use advisory::Opening;
use cringle_tests::{Scene, workspace};

const ASKED: &str = "session=tuesday-crew&call=marginal&length=3";

#[test]
fn the_page_holds_each_window_of_the_api_and_no_other() {
    let club = std::fs::read_to_string(workspace().join("fixtures/demo/club.toml")).expect("the demo club");
    let scene = Scene::new(&club);
    let mut service = Service::start(&scene);
    service.line("fetched: ");
    let (head, page) = service.get(&format!("/openings?{ASKED}"));
    assert!(head.starts_with("HTTP/1.1 200"), "{head}\n{page}");
    let (_, document) = service.get(&format!("/v1/clubs/vanterholm/windows?{ASKED}"));
    let document: serde_json::Value = serde_json::from_str(&document).expect("JSON");
    let openings: Vec<Opening> = serde_json::from_value(document["windows"].clone()).expect("openings");
    assert!(!openings.is_empty());
    let told: Vec<&str> = page
        .split("<h3 class=\"word num\">")
        .skip(1)
        .map(|rest| rest.split('<').next().expect("the times"))
        .collect();
    let times: Vec<String> = openings
        .iter()
        .map(|one| format!("{} to {}", one.from.format("%H:%M"), one.to.format("%H:%M")))
        .collect();
    assert_eq!(told, times);
    for opening in &openings {
        let run = opening.run.expect("a run").format("%a %-d %b %H:%M UTC");
        assert!(page.contains(&format!("{}, run of {run}", opening.source)));
        let share = opening.holds.expect("an ensemble") * 100.0;
        assert!(page.contains(&format!("{share:.0} % of members hold throughout.")));
    }
    // The bundled runs end within the week: those days are unknown, not without openings.
    assert!(page.contains("Nothing can be said: no run"));
    service.terminate();
}
