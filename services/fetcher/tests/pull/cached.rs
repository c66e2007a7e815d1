//! Raw messages at hand: what was read before a pull was cut short is not asked for again.

use crate::feeds_at::{pull_with, replica_of};
use crate::tree::{LATER, Tree, plan};
use fetcher::{CacheLimits, MessageCache};
use replica::{Fault, Replica, Seen, Times};

fn ranges(replica: &Replica) -> Vec<Seen> {
    let mut seen = replica.requests();
    seen.retain(|seen| seen.header("range").is_some());
    seen
}

// No source: the project's rule that nothing safely stored is fetched again.
#[tokio::test]
async fn messages_read_before_a_source_failed_are_not_asked_for_again() {
    let (tree, empty, folder) = (
        Tree::with("gfs", 12).await,
        Tree::new().await,
        tempfile::tempdir().unwrap(),
    );
    tree.pull(&["gfs"], LATER).await;
    let replica = replica_of(tree.root(), LATER);
    let cache = MessageCache::in_folder(folder.path(), CacheLimits::default()).unwrap();
    replica.faults().add("f012", Fault::RangeIgnored, Times::Always);
    let plan = plan(&[("gfs", &replica.base_url())], LATER);
    let report = pull_with(&plan, &empty.store, Some(&cache)).await;
    assert!(report.sources[0].failure.is_some());
    assert_eq!(report.sources[0].runs[0].parts_written, [0_u16; 0]);

    replica.faults().clear();
    replica.forget_requests();
    let report = pull_with(&plan, &empty.store, Some(&cache)).await;
    assert_eq!(report.sources[0].failure, None);
    let asked = ranges(&replica);
    assert!(!asked.is_empty());
    for seen in &asked {
        assert!(seen.path.ends_with("f012"), "{} is at hand", seen.path);
    }
    assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await);

    // With all of it at hand, another store is filled without a message being asked for.
    let (other, _) = (Tree::new().await, replica.forget_requests());
    pull_with(&plan, &other.store, Some(&cache)).await;
    assert!(ranges(&replica).is_empty());
    assert_eq!(other.slice("gfs").await, tree.slice("gfs").await);
}

// No source: what lies in a folder may have been changed by anything.
#[tokio::test]
async fn what_is_damaged_in_the_cache_is_asked_for() {
    let (tree, empty, folder) = (
        Tree::with("gfs", 3).await,
        Tree::new().await,
        tempfile::tempdir().unwrap(),
    );
    tree.pull(&["gfs"], LATER).await;
    let replica = replica_of(tree.root(), LATER);
    let cache = MessageCache::in_folder(folder.path(), CacheLimits::default()).unwrap();
    let plan = plan(&[("gfs", &replica.base_url())], LATER);
    pull_with(&plan, &Tree::new().await.store, Some(&cache)).await;
    let shelf = folder.path().join("gfs/20300513T00");
    let files: Vec<_> = std::fs::read_dir(shelf)
        .unwrap()
        .map(|file| file.unwrap().path())
        .collect();
    assert!(files.len() > 30, "{}", files.len());
    for (place, file) in files.iter().enumerate() {
        let octets = std::fs::read(file).unwrap();
        match place % 3 {
            0 => std::fs::write(file, &octets[..octets.len() / 2]).unwrap(),
            1 => std::fs::write(file, b"").unwrap(),
            _ => {}
        }
    }
    replica.forget_requests();
    pull_with(&plan, &empty.store, Some(&cache)).await;
    assert!(!ranges(&replica).is_empty());
    assert_eq!(empty.slice("gfs").await, tree.slice("gfs").await);
}
