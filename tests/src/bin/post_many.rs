//! How long a mailing to many takes, and how much memory: digests with many different charts, handed to a mail server on this
//! machine by `dying_post`, a process of its own. Prints; decides nothing.
//!
//! `post_many [SUBSCRIBERS] [CHARTS]`: 2,000 and 200 unless given. Both programs, and `cringle`, are those beside this one.
//!
//! Owns: a club with so many sessions on one day, the clock on the wall. Must not know: how a mail is made or sent.
#![expect(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a measurement that cannot be made ends loudly, and prints what it finds"
)]

use club::Choices;
use cringle_tests::Scene;
use cringle_tests::crew::{MAIL_DUE, with_mail};
use cringle_tests::sink::{Received, Sink};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;
use store::Store;

/// As many as there are processors to be had.
const CONNECTIONS: &str = "2";

fn main() {
    let mut arguments = std::env::args()
        .skip(1)
        .map(|word| word.parse().expect("a number"));
    let subscribers = arguments.next().unwrap_or(2_000);
    let charts = arguments.next().unwrap_or(200);
    let folder = tempfile::tempdir().expect("a folder");
    let store = folder.path().join("store.db");
    fill(&store, subscribers, charts);
    let sink = Sink::start().expect("a mail server");
    let began = Instant::now();
    let told = post(&store, sink.port());
    let seconds = began.elapsed().as_secs_f64();
    let mails = sink.taken();
    let octets: usize = mails.iter().map(|mail| mail.octets.len()).sum();
    let drawn: BTreeSet<&[u8]> = mails.iter().filter_map(chart).collect();
    println!(
        "{} mails of {} subscribers, {} different charts, {} kB each: {seconds:.1} s, {:.0} mails/s; memory at its peak {told}",
        mails.len(),
        subscribers,
        drawn.len(),
        octets / mails.len().max(1) / 1000,
        mails.len() as f64 / seconds,
    );
}

/// A session for each level, all on the same day, and to each level its subscribers.
fn fill(store: &Path, subscribers: usize, charts: usize) {
    let mut scene = with_mail();
    let hand = std::fs::read_to_string(scene.club()).expect("the club's file");
    std::fs::write(scene.club(), with_levels(&hand, charts)).expect("the club's file");
    scene.now = MAIL_DUE.to_owned();
    let address = store.display().to_string();
    advise(&scene, &address);
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let store = Store::open(&address).await.expect("a store");
        let choices = |number: usize| Choices {
            levels: vec![format!("level-{}", number % charts)],
            ..Choices::default()
        };
        cringle_tests::crew::take_aboard_choosing(&store, subscribers, choices).await;
        store.close().await;
    });
}

/// The hand club with so many levels in place of its one, each with limits, and so a chart, of its own.
fn with_levels(hand: &str, levels: usize) -> String {
    let head = hand
        .split("[[levels]]")
        .next()
        .expect("what stands before the levels");
    let one = |number: usize| {
        let limit = |from: f64| from + number as f64 / 100.0;
        format!(
            "[[levels]]\nid = \"level-{number}\"\nname = \"Level {number}\"\naccumulate = false\n[levels.limits]\n\
             mean_kn = {{ caution_at = {:.2}, stop_at = {:.2} }}\ngust_kn = {{ caution_at = 19.5, stop_at = 22.5 }}\n\
             [[sessions]]\nid = \"session-{number}\"\nvenue = \"node\"\nboat = \"plain\"\nlevel = \"level-{number}\"\n\
             starts = \"2030-05-14T13:00\"\nends = \"19:00\"\n",
            limit(15.0),
            limit(17.5)
        )
    };
    let levels: String = (0..levels).map(one).collect();
    format!("{head}{levels}")
}

fn advise(scene: &Scene, store: &str) {
    let mut command = Command::new(beside("cringle"));
    command.args(["advise", "--now", &scene.now, "--store", store]);
    command
        .arg("--club")
        .arg(scene.club())
        .arg("--feeds")
        .arg(scene.feeds());
    let advised = command.output().expect("cringle starts");
    assert!(
        advised.status.success(),
        "{}",
        String::from_utf8_lossy(&advised.stderr)
    );
}

/// Sends all, and gives what the sender says of its memory.
fn post(store: &Path, port: u16) -> String {
    let mut command = Command::new(beside("dying_post"));
    command.arg("--store").arg(store);
    command.args([
        "--now",
        MAIL_DUE,
        "--port",
        &port.to_string(),
        "--connections",
        CONNECTIONS,
    ]);
    let ended = command.output().expect("the sender starts");
    assert!(
        ended.status.success(),
        "{}",
        String::from_utf8_lossy(&ended.stderr)
    );
    let said = String::from_utf8_lossy(&ended.stdout).into_owned();
    let peak = said.lines().find_map(|line| line.strip_prefix("Peak "));
    peak.expect("its memory").to_owned()
}

/// The last picture of a mail, as it is encoded: its chart.
fn chart(mail: &Received) -> Option<&[u8]> {
    let mark = b"Content-Type: image/png";
    let at = mail
        .octets
        .windows(mark.len())
        .rposition(|window| window == mark)?;
    let text = &mail.octets[at..];
    let body = text.windows(4).position(|window| window == b"\r\n\r\n")?;
    Some(&text[body..text.len().min(body + 20_000)])
}

fn beside(program: &str) -> PathBuf {
    std::env::current_exe()
        .expect("this program")
        .with_file_name(program)
}
