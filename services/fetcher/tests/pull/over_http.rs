//! Pulls over HTTP: the same values as from the folder, whatever the server does wrong, or none and a reason in words.
//!
//! Source of what a client must take for wrong: RFC 9110. That faults are made here and pulls compared: no source.

use crate::server::{Asked, Fault, Server};
use crate::tree::{LATER, Tree, plan, run, worker};
use fetcher::{HttpClient, HttpSettings, PullMeans, PullReport, RetryLimits, pull, pull_over};
use std::time::Duration;
use store::Store;

/// Without waits between tries; a silence of a body is soon taken for its end.
fn settings() -> HttpSettings {
    HttpSettings {
        contact: Some("mail@example.org".to_owned()),
        idle: Duration::from_millis(300),
        retry: RetryLimits {
            times: 2,
            first_wait: Duration::ZERO,
            ..RetryLimits::default()
        },
        ..HttpSettings::default()
    }
}

async fn from(server: &Server, feed: &str, store: &Store, http: &HttpClient) -> PullReport {
    pull_over(
        &plan(&[(feed, &server.address)], LATER),
        &PullMeans::new(http, store, &worker()),
    )
    .await
    .unwrap()
}

/// A tree with what a pull of its folder keeps, and an empty store for a pull over HTTP.
async fn tree_and_empty(feed: &str) -> (Tree, Tree) {
    let tree = Tree::with(feed, 12).await;
    tree.pull(&[feed], LATER).await;
    (tree, Tree::new().await)
}

fn is_range(asked: &Asked) -> bool {
    asked.range.is_some()
}

#[tokio::test]
async fn values_over_http_are_those_of_the_folder_and_octets_are_counted() {
    for feed in ["gfs", "gfs-wave", "gefs"] {
        let (tree, empty) = tree_and_empty(feed).await;
        let server = Server::of(tree.root(), |_, _| None).await;
        let report = from(&server, feed, &empty.store, &HttpClient::new(settings())).await;
        assert_eq!(empty.slice(feed).await, tree.slice(feed).await, "{feed}");
        let source = &report.sources[0];
        assert_eq!(source.failure, None);
        let (received, wanted) = (source.octets_received, source.octets_wanted);
        println!(
            "{feed}: {received} octets received for {wanted} wanted, {:.3}",
            received as f64 / wanted as f64
        );
        assert!(wanted > 0 && received >= wanted, "{received} for {wanted}");
        let asked = server.asked();
        assert!(
            asked
                .iter()
                .all(|asked| asked.head.contains("(mail@example.org)"))
        );
        assert!(asked.iter().filter(|asked| is_range(asked)).count() < run(&report).messages_read);
    }
}

#[tokio::test]
async fn every_fault_that_passes_leaves_the_same_values() {
    let (tree, _) = tree_and_empty("gfs").await;
    let expected = tree.slice("gfs").await;
    let faults = [
        Fault::Cut,
        Fault::Stalled,
        Fault::TooLong,
        Fault::WrongLength,
        Fault::WrongRange,
        Fault::Status("500 Internal Server Error"),
        Fault::Status("503 Slow Down"),
        Fault::Status("429 Too Many Requests\r\nRetry-After: 0"),
        Fault::Status("302 Found\r\nLocation: http://192.0.2.1/blocked"),
    ];
    for fault in faults {
        let empty = Tree::new().await;
        let first_time = move |asked: &Asked, before| {
            (before == 0 && is_range(asked) && asked.path.ends_with("f003")).then_some(fault)
        };
        let server = Server::of(tree.root(), first_time).await;
        let report = from(&server, "gfs", &empty.store, &HttpClient::new(settings())).await;
        assert_eq!(report.sources[0].failure, None, "{fault:?}");
        assert_eq!(empty.slice("gfs").await, expected, "{fault:?}");
    }
}

#[tokio::test]
async fn every_fault_that_lasts_keeps_nothing_of_its_part_and_says_why() {
    let (tree, _) = tree_and_empty("gfs").await;
    let faults = [
        (Fault::Cut, ""),
        (Fault::Stalled, ""),
        (Fault::TooLong, "more than the"),
        (Fault::WrongLength, "the server announces"),
        (Fault::WrongRange, "not the one asked for"),
        (Fault::Whole, "200, not 206"),
        (Fault::Page, "200, not 206"),
        (
            Fault::Status("500 Internal Server Error"),
            "500 Internal Server Error",
        ),
        (Fault::Status("429 Too Many Requests"), "429 Too Many Requests"),
        (
            Fault::Status("302 Found\r\nLocation: http://192.0.2.1/blocked"),
            "302 Found",
        ),
        (Fault::Status("400 Bad Request"), "400 Bad Request"),
    ];
    for (fault, words) in faults {
        let empty = Tree::new().await;
        let always =
            move |asked: &Asked, _| (is_range(asked) && asked.path.ends_with("f003")).then_some(fault);
        let server = Server::of(tree.root(), always).await;
        let report = from(&server, "gfs", &empty.store, &HttpClient::new(settings())).await;
        let failure = report.sources[0].failure.clone().expect("a reason");
        assert!(
            failure.contains("f003") && failure.contains(words),
            "{fault:?}: {failure}"
        );
        assert_eq!(run(&report).parts_written, [0_u16; 0], "{fault:?}");
        // Once the server is well again, the same store becomes whole.
        let well = Server::of(tree.root(), |_, _| None).await;
        from(&well, "gfs", &empty.store, &HttpClient::new(settings())).await;
        assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await, "{fault:?}");
    }
}

#[tokio::test]
async fn an_index_that_is_a_page_and_a_file_shorter_than_its_index_are_told() {
    let (tree, empty) = tree_and_empty("gfs").await;
    let page = |asked: &Asked, _| (!asked.is_head() && asked.path.ends_with(".idx")).then_some(Fault::Page);
    let server = Server::of(tree.root(), page).await;
    let report = from(&server, "gfs", &empty.store, &HttpClient::new(settings())).await;
    let failure = report.sources[0].failure.clone().expect("a reason");
    assert!(failure.contains("web page"), "{failure}");

    let (data, _) = tree.file("gfs", 3);
    let half = std::fs::read(&data).unwrap();
    std::fs::write(&data, &half[..half.len() / 2]).unwrap();
    let again = Tree::new().await;
    let folder = format!("file://{}", tree.root().display());
    let from_folder = plan(&[("gfs", &folder)], LATER);
    let from_folder = pull(&from_folder, &again.store, &worker()).await.unwrap();
    let server = Server::of(tree.root(), |_, _| None).await;
    let report = from(&server, "gfs", &empty.store, &HttpClient::new(settings())).await;
    assert!(!run(&report).missing.is_empty());
    assert_eq!(run(&report).reasons(), run(&from_folder).reasons());
    assert_eq!(empty.slice("gfs").await, again.slice("gfs").await);
}

#[tokio::test]
async fn a_broken_source_leaves_the_other_working_and_is_soon_left_alone() {
    let (tree, empty) = tree_and_empty("gfs").await;
    let busy = |_: &Asked, _| Some(Fault::Status("503 Slow Down\r\nRetry-After: 3600"));
    let (broken, well) = (
        Server::of(tree.root(), busy).await,
        Server::of(tree.root(), |_, _| None).await,
    );
    let plan = plan(
        &[
            ("gefs", &broken.address),
            ("gfs-wave", "https://[bad"),
            ("gfs", &well.address),
        ],
        LATER,
    );
    let report = pull_over(
        &plan,
        &PullMeans::new(&HttpClient::new(settings()), &empty.store, &worker()),
    )
    .await
    .unwrap();
    let failure = |place: usize| report.sources[place].failure.clone().expect("a reason");
    assert!(failure(0).contains("503"), "{}", failure(0));
    assert!(failure(1).contains("https://[bad"), "{}", failure(1));
    assert_eq!(report.sources[2].failure, None);
    assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await);
    assert_eq!(
        broken.asked().len(),
        1,
        "a server that asks for an hour is left alone"
    );
}

#[tokio::test]
async fn nothing_kept_is_asked_for_again_and_unchanged_indexes_are_not_sent_again() {
    let (tree, empty) = tree_and_empty("gfs").await;
    let http = HttpClient::new(settings());
    let fails = |asked: &Asked, _| {
        (is_range(asked) && asked.path.ends_with("f003"))
            .then_some(Fault::Status("500 Internal Server Error"))
    };
    let server = Server::of(tree.root(), fails).await;
    from(&server, "gfs", &empty.store, &http).await;
    server.asked();
    let stopped = from(&server, "gfs", &empty.store, &http).await;
    assert!(run(&stopped).stopped.is_some());
    let indexes = |asked: &Asked| !asked.is_head() && asked.path.ends_with(".idx");
    let asked = server.asked();
    let mut asked_indexes = asked.iter().filter(|asked| indexes(asked)).peekable();
    assert!(asked_indexes.peek().is_some());
    assert!(asked_indexes.all(|asked| asked.unless.is_some()));

    let well = Server::of(tree.root(), |_, _| None).await;
    from(&well, "gfs", &empty.store, &http).await;
    assert!(well.asked().iter().any(is_range));
    let resumed = from(&well, "gfs", &empty.store, &HttpClient::new(settings())).await;
    assert_eq!(run(&resumed).parts_written, [0_u16; 0]);
    assert!(
        well.asked().iter().all(|asked| asked.is_head()),
        "only whether more has appeared"
    );
    assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await);
}

#[tokio::test]
async fn no_more_requests_than_allowed_run_at_once() {
    let (tree, _) = tree_and_empty("gfs").await;
    let mut most = Vec::new();
    for per_host in [2, 8] {
        let (empty, server) = (Tree::new().await, Server::of(tree.root(), |_, _| None).await);
        let http = HttpClient::new(HttpSettings {
            per_host,
            ..settings()
        });
        from(&server, "gfs", &empty.store, &http).await;
        most.push(server.most_at_once());
        assert!(server.most_at_once() <= per_host, "{most:?}");
    }
    assert!(most[1] > 2, "{most:?}: the server can tell");
}

#[tokio::test]
async fn a_run_that_appears_is_followed_with_few_questions() {
    let (tree, empty) = (Tree::with("gfs", 15).await, Tree::new().await);
    let server = Server::of(tree.root(), |_, _| None).await;
    let http = HttpClient::new(settings());
    let early = plan(&[("gfs", &server.address)], "2030-05-13T04:00:00Z");
    let report = pull_over(&early, &PullMeans::new(&http, &empty.store, &worker()))
        .await
        .unwrap();
    assert_eq!(
        (
            run(&report).parts_written.as_slice(),
            run(&report).waiting_for_part
        ),
        (&[0][..], Some(1))
    );
    // Eleven runs that are not there and one that is, each found by halves among 209 steps.
    let questions = server.asked().iter().filter(|asked| asked.is_head()).count();
    assert!(questions <= 12 * 10, "{questions} questions");
    let late = from(&server, "gfs", &empty.store, &http).await;
    assert_eq!(
        (run(&late).parts_written.as_slice(), run(&late).waiting_for_part),
        (&[1][..], None)
    );
    tree.pull(&["gfs"], "2030-05-13T04:00:00Z").await;
    tree.pull(&["gfs"], LATER).await;
    assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await);
}
