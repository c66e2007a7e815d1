//! Two processes, each fetching, advising and answering, on one PostgreSQL. No source: the project's own rule (architecture
//! text: several fetchers and advisors share work through the database).

use crate::service::Service;
use cringle_tests::Scene;
use cringle_tests::shelf::Backend;
use serde_json::Value;
use std::collections::BTreeSet;

#[test]
fn two_services_on_one_database_answer_alike_and_issue_once() {
    let Some(backend) = Backend::postgres() else {
        return;
    };
    let (scene, shelf) = (Scene::by_hand(), backend.shelf());
    let mut services = [(); 2].map(|()| Service::on_store(&scene, &shelf.url));
    // What the slower one has fetched is advised on by both before anything is compared.
    for service in &mut services {
        service.line("fetched: ");
    }
    for service in &mut services {
        let advised = service.line("advised: ");
        assert!(
            !advised.contains(" 0 sessions") && !advised.contains("failed"),
            "{advised}"
        );
    }
    let alike = |path: &str| {
        let [one, other] = services.each_ref().map(|service| service.get(path));
        assert!(one.0.starts_with("HTTP/1.1 200"), "{path}: {}", one.0);
        assert_eq!(one.1, other.1, "{path}");
        let tag = |head: &str| {
            let line = head.lines().find(|line| line.to_lowercase().starts_with("etag:"));
            line.map(str::to_owned)
        };
        assert!(tag(&one.0).is_some() && tag(&one.0) == tag(&other.0), "{path}");
        one.1
    };
    let sessions: Value = serde_json::from_str(&alike("/v1/clubs/hand/sessions")).expect("JSON");
    let sessions = sessions["sessions"].as_array().expect("a list");
    assert!(!sessions.is_empty());
    for id in sessions.iter().map(|one| one["id"].as_str().expect("a name")) {
        let path = format!("/v1/clubs/hand/sessions/{}/advisory", id.replace('/', "%2F"));
        let told = alike(&path);
        let history = shelf.asked(async |store| store.advisories_for("hand", id).await.expect("a history"));
        let hashes: BTreeSet<&str> = history
            .iter()
            .map(|kept| kept.advisory.input_hash.as_str())
            .collect();
        assert!(
            !history.is_empty() && hashes.len() == history.len(),
            "{id}: each input hash once"
        );
        assert!(
            history.is_sorted_by(|one, next| one.revision + 1 == next.revision),
            "{id}: in order"
        );
        let last: Value =
            serde_json::from_slice(&history[history.len() - 1].advisory.document).expect("JSON");
        assert_eq!(
            serde_json::from_str::<Value>(&told).expect("JSON"),
            last,
            "{id}: the last is told"
        );
    }
    for service in services {
        assert_eq!(service.terminate().0, Some(0));
    }
}
