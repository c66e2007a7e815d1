//! 2,000 digests with 210 distinct charts, from an outbox in SQLite to a server that takes everything, against handing over as many mails
//! of the same size that are ready. Run: cargo bench -p cringle-tests --bench digests
//!
//! The server is a process of its own, so that the memory told is the sender's.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a benchmark that cannot go on ends, and prints"
)]

use advisory::Advisory;
use chrono::{DateTime, TimeDelta, Utc};
use club::{Choices, EmailAddress};
use digests::{MailServer, MailSettings, Office, PostEvent, PostWatcher, Sender};
use present::PublicAddress;
use std::collections::HashSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use store::{MailOutcome, NewAdvisory, NewClubVersion, NewSubscription, Store};

const SUBSCRIBERS: usize = 2_000;
const BOATS: usize = 70;
const LEVELS: usize = 3;
const SAMPLES: &str = include_str!("../../crates/present/tests/advisories.json");
const CLUB: &str = include_str!("../../fixtures/club/small.toml");
const SLUG: &str = "small-pontoon";

fn main() {
    if std::env::args().any(|argument| argument == "take-mails") {
        return take_mails();
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    let (mut server, port) = start_server();
    let folder = tempfile::tempdir().expect("a folder");
    runtime.block_on(measured(&folder.path().join("store.db").to_string_lossy(), port));
    server.kill().expect("the server ends");
    let _ended = server.wait();
}

async fn measured(store: &str, port: u16) {
    let store = Store::open(store).await.expect("a store");
    let now = filled(&store).await;
    let office = Arc::new(office(&store, port));
    let began = Instant::now();
    let made = digests::make_mailings(&store, now).await.expect("mailings");
    assert_eq!(made.mailings.len(), 1);
    let making = began.elapsed();
    let clock: Arc<dyn Fn() -> DateTime<Utc> + Send + Sync> = Arc::new(move || now);
    let watch = Arc::new(Watch::default());
    let watcher: Arc<dyn PostWatcher> = watch.clone();
    let posted = office.post(&clock, &watcher).await.expect("a round");
    let all = began.elapsed();
    assert_eq!((posted.sent, posted.trouble), (SUBSCRIBERS, None));
    let memory = watch.memory.lock().expect("unpoisoned").clone();
    let octets = usize::try_from(sample_size(&office, now).await).expect("a size");
    let bare = bare(port, octets);
    println!(
        "| digests | distinct charts | octets each | outbox made s | in all s | bare handing over s | all / bare |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    println!(
        "| {SUBSCRIBERS} | {} | {octets} | {:.2} | {:.2} | {:.2} | {:.1} |",
        BOATS * LEVELS,
        making.as_secs_f64(),
        all.as_secs_f64(),
        bare.as_secs_f64(),
        all.as_secs_f64() / bare.as_secs_f64()
    );
    println!("memory of the sender, MB, after each tenth: {memory:.0?}");
}

/// The daily mail of somebody who takes one boat, in octets.
async fn sample_size(office: &Office, now: DateTime<Utc>) -> u64 {
    let unsent = office.unsent(now).await.expect("mails");
    let one = unsent.iter().find(|mail| mail.subscription != digests::SAMPLE);
    one.map_or(0, |mail| mail.octets.len() as u64)
}

/// Looks at the process's memory after each tenth of the mails.
#[derive(Default)]
struct Watch {
    recorded: AtomicUsize,
    memory: Mutex<Vec<f64>>,
}

impl PostWatcher for Watch {
    fn tell(&self, event: PostEvent<'_>) {
        if let PostEvent::Recorded(_) = event
            && (self.recorded.fetch_add(1, Ordering::Relaxed) + 1).is_multiple_of(SUBSCRIBERS / 10)
        {
            self.memory.lock().expect("unpoisoned").push(resident_mb());
        }
    }
}

/// Source: proc(5), VmRSS in kB.
fn resident_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .expect("VmRSS");
    let kilobytes: f64 = line
        .split_whitespace()
        .nth(1)
        .and_then(|word| word.parse().ok())
        .expect("kB");
    kilobytes / 1024.0
}

/// Sessions, each with a chart of its own, and subscribers who take one boat each.
async fn filled(store: &Store) -> DateTime<Utc> {
    let samples: Vec<Advisory> = serde_json::from_str(SAMPLES).expect("samples");
    let sample = &samples[0];
    let now = sample.issued_at.to_utc() + TimeDelta::minutes(20);
    let text = CLUB
        .replace("Atlantic/Madeira", "Europe/London")
        .replace(", public = true", ", public = true, digest_at = \"06:30\"");
    let version = club::parse(&text).expect("a club").club.version;
    let slug = SLUG.to_owned();
    let new = NewClubVersion {
        slug,
        version,
        text,
        seen_at: now,
    };
    store.put_club_version(&new).await.expect("kept");
    for number in 0..BOATS * LEVELS {
        let advisory = one_of_many(sample, number);
        let new = NewAdvisory {
            id: advisory.id.clone(),
            club: SLUG.into(),
            occurrence: advisory.session.id.clone(),
            input_hash: advisory.id.clone(),
            inputs: Vec::new(),
            document: advisory::to_bytes(&advisory).expect("a document"),
            issued_at: sample.issued_at.to_utc(),
        };
        store.put_advisory(&new).await.expect("kept");
    }
    for number in 0..SUBSCRIBERS {
        let id = format!("subscriber-{number}");
        let new = NewSubscription {
            address: EmailAddress::parse(&format!("{id}@crew.example")).expect("an address"),
            id: id.clone(),
            club: SLUG.into(),
            choices: Choices {
                boats: vec![format!("boat-{}", number % BOATS)],
                ..Choices::default()
            },
            at: now - TimeDelta::hours(30),
        };
        store.ask_for_subscription(&new).await.expect("asked");
        store.confirm_subscription(&id, now).await.expect("confirmed");
    }
    loop {
        let until = now + TimeDelta::minutes(5);
        let claimed = store
            .claim_mails("confirmations", (now, until), 500)
            .await
            .expect("claimed");
        if claimed.is_empty() {
            return now;
        }
        for mail in claimed {
            store
                .end_mail(&mail.key, "confirmations", &MailOutcome::Sent, now)
                .await
                .expect("ended");
        }
    }
}

/// The sample with a wind of its own, so that its chart is.
fn one_of_many(sample: &Advisory, number: usize) -> Advisory {
    let mut advisory = sample.clone();
    advisory.id = format!("advisory-{number}");
    advisory.session.id = format!("session-{number}");
    advisory.session.boat.id = format!("boat-{}", number % BOATS);
    advisory.session.level.id = format!("level-{}", number / BOATS);
    for hour in &mut advisory.hours {
        hour.mean_kn = hour.mean_kn.map(|knots| knots + number as f64 * 0.02);
    }
    advisory
}

fn office(store: &Store, port: u16) -> Office {
    let from = Sender::parse("Harbour office <office@club.example>").expect("a sender");
    let settings = MailSettings {
        connections: 2,
        ..MailSettings::of_this_machine(port, from)
    };
    let public = PublicAddress::read("https://sailing.example").expect("an address");
    Office::new(
        store.clone(),
        MailServer::new(settings).expect("a server"),
        public,
        SLUG,
    )
}

/// As many mails that are ready, by as many connections.
fn bare(port: u16, octets: usize) -> Duration {
    let began = Instant::now();
    let hands: Vec<_> = (0..2)
        .map(|_| std::thread::spawn(move || hand_over(port, octets, SUBSCRIBERS / 2)))
        .collect();
    for hand in hands {
        hand.join().expect("handed over");
    }
    began.elapsed()
}

fn hand_over(port: u16, octets: usize, mails: usize) {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).expect("the server");
    let mut answers = BufReader::new(stream.try_clone().expect("a second hand"));
    let mut said = String::new();
    let mut answer = |wanted: &str| {
        said.clear();
        answers.read_line(&mut said).expect("an answer");
        assert!(said.starts_with(wanted), "{said}");
    };
    answer("220");
    let mail = format!(
        "Subject: bare\r\n\r\n{}\r\n.\r\n",
        "x".repeat(70).repeat(octets / 70)
    );
    for _ in 0..mails {
        for (words, wanted) in [
            ("MAIL FROM:<a@b.example>\r\n", "250"),
            ("RCPT TO:<c@d.example>\r\n", "250"),
            ("DATA\r\n", "354"),
            (mail.as_str(), "250"),
        ] {
            stream.write_all(words.as_bytes()).expect("said");
            answer(wanted);
        }
    }
}

fn start_server() -> (Child, u16) {
    let own = std::env::current_exe().expect("this program");
    let mut child = Command::new(own)
        .arg("take-mails")
        .stdout(Stdio::piped())
        .spawn()
        .expect("the server");
    let mut line = String::new();
    let output = child.stdout.take().expect("its words");
    BufReader::new(output).read_line(&mut line).expect("its port");
    let port = line.trim().parse().expect("a port");
    (child, port)
}

/// A server that takes every mail and keeps none: RFC 5321 as far as a well-behaved client needs it.
fn take_mails() {
    let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port");
    println!("{}", listener.local_addr().expect("its address").port());
    let seen: Arc<Mutex<HashSet<String>>> = Arc::default();
    for stream in listener.incoming().flatten() {
        let seen = seen.clone();
        std::thread::spawn(move || take(&stream, &seen));
    }
}

fn take(stream: &TcpStream, seen: &Mutex<HashSet<String>>) {
    let mut answers = stream;
    let mut lines = BufReader::with_capacity(1 << 16, stream.take(u64::MAX));
    let mut line = String::new();
    let mut say = |words: &str| answers.write_all(words.as_bytes()).is_ok();
    let mut said = say("220 ready\r\n");
    while said && lines.read_line(&mut line).is_ok_and(|read| read > 0) {
        said = match line.get(..4) {
            Some("DATA") => {
                said = say("354 go on\r\n");
                loop {
                    line.clear();
                    let read = lines.read_line(&mut line).unwrap_or(0);
                    if read == 0 || line == ".\r\n" {
                        break;
                    }
                    if line.starts_with("Message-ID: ")
                        && !seen.lock().expect("unpoisoned").insert(line.clone())
                    {
                        panic!("a mail came twice");
                    }
                }
                said && say("250 taken\r\n")
            }
            Some("QUIT") => {
                say("221 bye\r\n");
                false
            }
            _ => say("250 fine\r\n"),
        };
        line.clear();
    }
}
