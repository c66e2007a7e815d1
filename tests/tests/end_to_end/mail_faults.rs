//! What goes wrong with the mail server, seen by those who run the program: nothing is lost, nothing goes to who has ended it, and the
//! reason is readable on `/readyz` and in `/metrics`, without an address. Sources: RFC 5321, 4.2 and 4.5.4.1 (codes; trying
//! again), 3.8 (421); RFC 3207, 4 and 5 (STARTTLS refused; a client that must have it); RFC 4954, 6 (535); the rest the
//! project's own rules.

use crate::service::Service;
use chrono::TimeDelta;
use cringle_tests::crew::{MAIL_DUE, address, advise_into, take_aboard, with_mail};
use cringle_tests::sink::{Act, Fault, Gate, Offers, Sink, Step};
use cringle_tests::{Scene, program, time};
use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output};
use std::sync::OnceLock;
use store::Store;
use tempfile::TempDir;

const SUBSCRIBERS: usize = 3;
/// As long as it can be in a test: who reads it to its end reads too much.
const LINE_WITHOUT_END: &[u8] = &[b'2'; 8 << 20];
const PASSWORD: &str = "a-password";

/// A store whose mailing is due, a mail server, and settings that lead to it.
struct Quay {
    scene: Scene,
    sink: Sink,
    tls: &'static str,
    said: Vec<String>,
}

impl Quay {
    fn new(offers: Offers) -> Self {
        let scene = with_mail();
        std::fs::copy(filled_store(), scene.store()).expect("a store of its own");
        Self {
            scene,
            sink: Sink::offering(offers).expect("a mail server"),
            tls: "none",
            said: Vec::new(),
        }
    }

    /// Asks the store something.
    fn asked<T>(&self, ask: impl AsyncFnOnce(&Store) -> T) -> T {
        asked(&self.scene.store().display().to_string(), ask)
    }

    fn command(&self, minutes: i64, arguments: &[&str]) -> Command {
        let now = time(MAIL_DUE) + TimeDelta::minutes(minutes);
        let mut command = Command::new(program());
        command.args(arguments).args(["--now", &now.to_rfc3339()]);
        command.arg("--club").arg(self.scene.club());
        command.arg("--feeds").arg(self.scene.feeds());
        command.arg("--store").arg(self.scene.store());
        let settings = [
            ("SERVE__PUBLIC_ADDRESS", "https://sailing.example"),
            ("MAIL__HOST", "127.0.0.1"),
            ("MAIL__PORT", &self.sink.port().to_string()),
            ("MAIL__TLS", self.tls),
            ("MAIL__FROM", "digest@sailing.example"),
            // A server that says nothing is left after this.
            ("MAIL__TIMEOUT_S", "1"),
        ];
        for (key, value) in settings {
            command.env(format!("CRINGLE__{key}"), value);
        }
        command.env("RUST_LOG", "trace");
        command
    }

    /// One round, so many minutes after the mail was due.
    fn round(&mut self, minutes: i64) -> Output {
        let ended = self
            .command(minutes, &["digest"])
            .output()
            .expect("the program starts");
        self.said
            .push(String::from_utf8_lossy(&ended.stdout).into_owned());
        self.said
            .push(String::from_utf8_lossy(&ended.stderr).into_owned());
        ended
    }

    /// `/readyz` and `/metrics` so many minutes after.
    fn seen_by_the_operator(&mut self, minutes: i64) -> (Value, String) {
        let folder = tempfile::tempdir().expect("a folder");
        let log = folder.path().join("log");
        let mut command = self.command(minutes, &["serve", "--listen", "127.0.0.1:0"]);
        command.stderr(std::fs::File::create(&log).expect("a log"));
        let service = Service::of(command);
        let ready = service.get("/readyz").1;
        let metrics = service.get("/metrics").1;
        self.said.extend([ready.clone(), metrics.clone()]);
        self.said.extend(service.terminate().1);
        self.said.push(std::fs::read_to_string(&log).expect("the log"));
        (serde_json::from_str(&ready).expect("JSON"), metrics)
    }

    /// How many mails the server has taken, by subscriber.
    fn taken(&self) -> [usize; SUBSCRIBERS] {
        let mails = self.sink.taken();
        let of = |number| {
            mails
                .iter()
                .filter(|mail| mail.recipient() == address(number))
                .count()
        };
        std::array::from_fn(of)
    }

    /// That no line the program ever said names an address or a password.
    fn nobody_is_named(&self) {
        let said = self.said.join("\n").to_lowercase();
        // The statements of the store are told of at the most talkative.
        assert!(said.contains("update outbox"), "all that can be told was told");
        for secret in ["crew.example", "crew-000", PASSWORD] {
            assert!(!said.contains(secret), "{secret} was said");
        }
    }
}

/// A store with advisories and subscribers, filled once for all tests.
fn filled_store() -> PathBuf {
    static FILLED: OnceLock<TempDir> = OnceLock::new();
    let fill = || {
        let folder = tempfile::tempdir().expect("a folder");
        let store = folder.path().join("store.db").display().to_string();
        advise_into(&with_mail(), &store);
        asked(&store, async |store| take_aboard(store, SUBSCRIBERS).await);
        folder
    };
    FILLED.get_or_init(fill).path().join("store.db")
}

/// Asks a store something. When it is closed all of it lies in its one file.
fn asked<T>(store: &str, ask: impl AsyncFnOnce(&Store) -> T) -> T {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    runtime.block_on(async {
        let store = Store::open(store).await.expect("a store");
        let answer = ask(&store).await;
        store.close().await;
        answer
    })
}

/// Trouble while it lasts, and what is said of it.
struct Trouble {
    fault: Fault,
    /// In a word, in the metrics.
    word: &'static str,
    /// Words on `/readyz`.
    words: &'static str,
}

fn everybodys_troubles() -> Vec<Trouble> {
    let trouble = |step, act, word, words| Trouble {
        fault: Fault::at(step, act),
        word,
        words,
    };
    vec![
        trouble(
            Step::Connected,
            Act::AnswerAndEnd("421 4.3.2 crew-0000@crew.example"),
            "busy",
            "421",
        ),
        trouble(Step::Connected, Act::Drop, "lost", "broke off"),
        trouble(Step::Connected, Act::Hold(Gate::default()), "slow", "silent"),
        trouble(
            Step::Connected,
            Act::Octets(LINE_WITHOUT_END),
            "unreachable",
            "more than",
        ),
        trouble(Step::Mail, Act::AnswerAndEnd("421 4.3.2 closing"), "busy", "421"),
        trouble(
            Step::Mail,
            Act::Answer("550 5.7.1 crew-0000@crew.example"),
            "sender",
            "from",
        ),
        trouble(
            Step::Recipient,
            Act::Answer("451 4.3.0 <crew-0000@crew.example> later"),
            "deferred",
            "451",
        ),
        trouble(Step::Data, Act::AnswerAndEnd("421 4.3.2 closing"), "busy", "421"),
        trouble(Step::Received, Act::Answer("451 4.3.0 later"), "deferred", "451"),
    ]
}

#[test]
fn while_the_server_is_in_trouble_everything_waits_and_then_goes_out_once() {
    for Trouble { fault, word, words } in everybodys_troubles() {
        let mut quay = Quay::new(Offers::default());
        quay.sink.misbehave(fault.clone());
        quay.round(0);
        let (ready, metrics) = quay.seen_by_the_operator(1);
        assert_eq!(quay.taken(), [0; SUBSCRIBERS], "{fault:?}");
        assert!(ready["mail"].to_string().contains(words), "{fault:?}: {ready}");
        assert!(metrics.contains(&format!("\"{word}\"")), "{fault:?}: {metrics}");
        quay.sink.behave();
        quay.round(180);
        assert_eq!(quay.taken(), [1; SUBSCRIBERS], "{fault:?}");
        quay.nobody_is_named();
    }
}

#[test]
fn a_server_that_is_down_is_waited_for() {
    let mut quay = Quay::new(Offers::default());
    quay.sink.close();
    let ended = quay.round(0);
    assert_eq!(ended.status.code(), Some(1), "what was due did not go out");
    let (ready, metrics) = quay.seen_by_the_operator(1);
    assert!(ready["mail"].to_string().contains("reached"), "{ready}");
    assert!(metrics.contains("\"unreachable\""), "{metrics}");
    quay.sink.open().expect("the same port");
    quay.round(180);
    assert_eq!(quay.taken(), [1; SUBSCRIBERS]);
    quay.nobody_is_named();
}

#[test]
fn a_server_without_the_tls_that_is_asked_for_is_sent_nothing() {
    let garbage = Fault::at(Step::StartTls, Act::Octets(b"220 go on\r\nthis is no TLS\r\n"));
    let refused = Fault::at(Step::StartTls, Act::Answer("454 4.7.0 no TLS at the moment"));
    for (starttls, fault) in [(false, None), (true, Some(garbage)), (true, Some(refused))] {
        let mut quay = Quay::new(Offers {
            starttls,
            ..Offers::default()
        });
        quay.tls = "starttls";
        if let Some(fault) = fault.clone() {
            quay.sink.misbehave(fault);
        }
        quay.round(0);
        let (ready, metrics) = quay.seen_by_the_operator(1);
        assert!(ready["mail"].to_string().contains("TLS"), "{fault:?}: {ready}");
        assert!(metrics.contains("\"tls\""), "{fault:?}: {metrics}");
        let seen = quay.sink.seen();
        assert_eq!(
            (seen.count("MAIL"), seen.count("AUTH")),
            (0, 0),
            "not a word without it"
        );
        quay.tls = "none";
        quay.sink.behave();
        quay.round(180);
        assert_eq!(quay.taken(), [1; SUBSCRIBERS], "{fault:?}");
        quay.nobody_is_named();
    }
}

#[test]
fn one_address_that_is_refused_is_stopped_and_hinders_no_other() {
    let mut quay = Quay::new(Offers::default());
    let unknown = Act::Answer("550 5.1.1 <crew-0001@crew.example> is unknown");
    quay.sink
        .misbehave(Fault::at(Step::Recipient, unknown).to(&address(1)));
    quay.sink
        .misbehave(Fault::at(Step::Received, Act::Answer("552 5.3.4 too large")).to(&address(2)));
    quay.round(0);
    assert_eq!(quay.taken(), [1, 0, 0]);
    let (ready, metrics) = quay.seen_by_the_operator(1);
    assert!(ready["mail"].to_string().contains("55"), "{ready}");
    assert!(metrics.contains("\"refused\""), "{metrics}");
    quay.sink.behave();
    quay.round(180);
    assert_eq!(
        quay.taken(),
        [1, 0, 0],
        "what was refused for good is not tried again"
    );
    quay.nobody_is_named();
}

#[test]
fn a_connection_lost_after_the_whole_mail_makes_a_copy_of_the_same_name_at_most() {
    let mut quay = Quay::new(Offers::default());
    quay.sink.misbehave(Fault::at(Step::Received, Act::Drop).times(1));
    quay.round(0);
    quay.sink.behave();
    quay.round(180);
    assert_eq!(
        quay.taken(),
        [1; SUBSCRIBERS],
        "what was not answered for goes out again"
    );
    let mut names: Vec<String> = quay
        .sink
        .seen()
        .mails
        .iter()
        .map(|mail| mail.message_id())
        .collect();
    assert_eq!(names.len(), SUBSCRIBERS + 1);
    names.sort();
    names.dedup();
    assert_eq!(names.len(), SUBSCRIBERS, "by its name the copy is known");
    quay.nobody_is_named();
}

#[test]
fn an_answer_that_does_not_come_makes_a_copy_of_the_same_name_and_holds_up_nobody_else() {
    let mut quay = Quay::new(Offers::default());
    let held = Act::Hold(Gate::default());
    quay.sink
        .misbehave(Fault::at(Step::Received, held).to(&address(0)));
    quay.round(0);
    assert_eq!(quay.taken(), [1, 1, 1]);
    let (ready, metrics) = quay.seen_by_the_operator(0);
    assert!(ready["mail"].to_string().contains("silent"), "{ready}");
    assert!(metrics.contains("\"slow\""), "{metrics}");
    quay.sink.behave();
    quay.round(180);
    assert_eq!(
        quay.taken(),
        [2, 1, 1],
        "who has not answered is not known to have taken it"
    );
    let mails = quay.sink.taken();
    let names = mails.iter().filter(|mail| mail.recipient() == address(0));
    let mut names: Vec<String> = names.map(|mail| mail.message_id()).collect();
    names.dedup();
    assert_eq!(names.len(), 1, "by its name the copy is known");
    quay.nobody_is_named();
}

#[test]
fn what_waits_is_not_sent_to_who_has_ended_it() {
    let mut quay = Quay::new(Offers::default());
    quay.sink
        .misbehave(Fault::at(Step::Received, Act::Answer("451 4.3.0 later")));
    quay.round(0);
    let ended = quay.asked(async |store| store.end_subscription("subscription-0001").await.expect("ended"));
    assert!(ended);
    quay.sink.behave();
    quay.round(180);
    assert_eq!(quay.taken(), [1, 0, 1]);
    quay.nobody_is_named();
}

#[test]
fn a_wrong_password_is_readable_and_not_told() {
    let mut quay = Quay::new(Offers {
        login: Some(("digest".to_owned(), "another".to_owned())),
        ..Offers::default()
    });
    let login = |command: &mut Command| {
        command
            .env("CRINGLE__MAIL__USER", "digest")
            .env("CRINGLE__MAIL__PASSWORD", PASSWORD);
    };
    let mut command = quay.command(0, &["digest"]);
    login(&mut command);
    let ended = command.output().expect("the program starts");
    quay.said
        .push(String::from_utf8_lossy(&ended.stderr).into_owned());
    assert_eq!(ended.status.code(), Some(1));
    let standing = quay.asked(async |store| store.mail_standing().await.expect("an answer"));
    let trouble = standing.trouble.expect("it says why");
    assert_eq!((trouble.fault.as_str(), trouble.waits), ("login", true));
    assert!(trouble.words.contains("535"), "{}", trouble.words);
    assert_eq!(quay.taken(), [0; SUBSCRIBERS]);
    quay.nobody_is_named();
}
