//! The process that sends a mailing to 500 subscribers is killed: at every named step, and at moments drawn from a seed. In the end every
//! subscriber has exactly one mail, but for those that were being handed over at a kill: a copy of such a mail carries the same
//! Message-ID. No source: the project's own rule; that a copy is known by its Message-ID: RFC 5322, 3.6.4.
//!
//! `CRINGLE_KILLS=50` makes it so many kills at random on each database, `CRINGLE_KILL_SEED` other ones.

use crate::chance::{Chance, from_environment};
use crate::child::SIGKILL;
use crate::shelf::{Backend, Shelf};
use cringle_tests::crew::{MAIL_DUE, address, advise_into, take_aboard, with_mail};
use cringle_tests::sink::{Received, Sink};
use std::collections::{BTreeMap, BTreeSet};
use std::os::unix::process::ExitStatusExt;
use std::process::{Command, Output, Stdio};

const SUBSCRIBERS: usize = 500;
/// Each sender of a process has one mail in its hands at most.
const CONNECTIONS: usize = 4;
/// Everything that is told of, in the order of its happening to one mail.
const EVENTS: [&str; 6] = [
    "MailingMade",
    "Claimed",
    "Composed",
    "Begun",
    "HandedOver",
    "Recorded",
];

#[test]
fn killed_at_every_step_a_mailing_reaches_everybody_once() {
    at_every_step(&Backend::Sqlite);
}

#[test]
fn killed_at_every_step_a_mailing_reaches_everybody_once_on_postgresql() {
    if let Some(backend) = Backend::postgres() {
        at_every_step(&backend);
    }
}

#[test]
fn killed_at_random_a_mailing_reaches_everybody_once() {
    at_random(&Backend::Sqlite);
}

#[test]
fn killed_at_random_a_mailing_reaches_everybody_once_on_postgresql() {
    if let Some(backend) = Backend::postgres() {
        at_random(&backend);
    }
}

/// At the first occurrence of each step and at one in the middle of the mailing, which is made once.
fn at_every_step(backend: &Backend) {
    let post = Post::new(backend);
    let mut kills = 0;
    for event in EVENTS {
        let counts: &[usize] = match event {
            "MailingMade" => &[1],
            "Claimed" => &[1, 5],
            _ => &[1, 25],
        };
        for count in counts {
            let killed = post.killed_at(event, *count);
            assert_eq!(killed, Some(SIGKILL), "{event} {count}");
            kills += 1;
        }
    }
    post.goes_on_to_its_end();
    let copies = post.copies_of_what_everybody_has_once(kills);
    // What the server had taken and no record says is sent again: or a copy could not be told from none.
    assert!(copies >= 2, "killed twice between taking and noting");
    println!(
        "every step on {}: {kills} kills, {SUBSCRIBERS} subscribers, {copies} copies",
        backend.name()
    );
}

/// When the server has taken so many mails.
fn at_random(backend: &Backend) {
    let kills = usize::try_from(from_environment("CRINGLE_KILLS", 10)).expect("a number of kills");
    let seed = from_environment("CRINGLE_KILL_SEED", 2030);
    println!(
        "mails killed at random on {}: {kills} from seed {seed}",
        backend.name()
    );
    let mut chance = Chance::new(seed);
    let mut moments: Vec<usize> = (0..kills).map(|_| chance.up_to(SUBSCRIBERS - 1)).collect();
    moments.sort_unstable();
    let post = Post::new(backend);
    let killed = moments.iter().filter(|taken| post.killed_after(**taken)).count();
    assert!(
        killed > kills / 2,
        "{killed} of {kills} were killed, the others too late"
    );
    post.goes_on_to_its_end();
    let copies = post.copies_of_what_everybody_has_once(killed);
    println!(
        "mails killed at random on {}: {killed} kills, {SUBSCRIBERS} subscribers, {copies} copies",
        backend.name()
    );
}

/// A store with subscribers, and the server that takes their mails.
struct Post {
    shelf: Shelf,
    sink: Sink,
}

impl Post {
    fn new(backend: &Backend) -> Self {
        let (scene, shelf) = (with_mail(), backend.shelf());
        advise_into(&scene, &shelf.url);
        shelf.asked(async |store| take_aboard(store, SUBSCRIBERS).await);
        let sink = Sink::start().expect("a mail server");
        Self { shelf, sink }
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dying_post"));
        command.args(["--store", &self.shelf.url, "--now", MAIL_DUE]);
        command.args(["--port", &self.sink.port().to_string()]);
        command.args(["--connections", &CONNECTIONS.to_string()]);
        command
    }

    /// The signal that ended the process, which was told to end itself at a step.
    fn killed_at(&self, event: &str, count: usize) -> Option<i32> {
        let mut command = self.command();
        command.args(["--die-at", event, "--count", &count.to_string()]);
        let ended = command.output().expect("the program starts");
        self.all_is_heard();
        let told = String::from_utf8_lossy(&ended.stdout).into_owned();
        let last = told.lines().last().unwrap_or_default();
        assert!(
            last.starts_with(event),
            "{last} is the last line: {}",
            words(&ended)
        );
        ended.status.signal()
    }

    /// Kills the process from outside once the server has taken so many mails in all; false if it had ended by itself.
    fn killed_after(&self, taken: usize) -> bool {
        let mut child = self
            .command()
            .stdout(Stdio::null())
            .spawn()
            .expect("the program starts");
        self.sink
            .wait_until("mails", |seen| seen.taken().count() >= taken);
        child.kill().expect("it is killed, or has ended");
        let status = child.wait().expect("it ends");
        self.all_is_heard();
        status.signal() == Some(SIGKILL)
    }

    fn goes_on_to_its_end(&self) {
        let ended = self.command().output().expect("the program starts");
        assert!(ended.status.success(), "{}", words(&ended));
        let left = self
            .shelf
            .asked(async |store| store.next_mail_due().await.expect("an answer"));
        assert_eq!(left, None, "nothing waits");
    }

    /// What a process has sent before it was killed is taken or has come to nothing.
    fn all_is_heard(&self) {
        self.sink.wait_until("no open connection", |seen| seen.open == 0);
    }

    /// That nobody is left out, and nobody has two but for copies; the number of copies.
    fn copies_of_what_everybody_has_once(&self, kills: usize) -> usize {
        let taken = self.sink.taken();
        let mut mails: BTreeMap<&str, Vec<&Received>> = BTreeMap::new();
        for mail in &taken {
            mails.entry(mail.recipient()).or_default().push(mail);
        }
        let missed = (0..SUBSCRIBERS)
            .map(address)
            .filter(|one| !mails.contains_key(one.as_str()));
        assert_eq!(missed.count(), 0, "subscribers without their mail");
        assert_eq!(mails.len(), SUBSCRIBERS, "and nobody else has one");
        let mut names = BTreeSet::new();
        for (recipient, mails) in &mails {
            let of_one: BTreeSet<String> = mails.iter().map(|mail| mail.message_id()).collect();
            assert_eq!(of_one.len(), 1, "{recipient}: a copy is known by its name");
            names.extend(of_one);
        }
        assert_eq!(names.len(), SUBSCRIBERS, "each mail has a name of its own");
        let copies = taken.len() - SUBSCRIBERS;
        assert!(
            copies <= kills * CONNECTIONS,
            "{copies} copies after {kills} kills of {CONNECTIONS} connections"
        );
        assert!(self.sink.seen().most_open <= CONNECTIONS);
        copies
    }
}

fn words(ended: &Output) -> String {
    String::from_utf8_lossy(&ended.stderr).into_owned()
}
