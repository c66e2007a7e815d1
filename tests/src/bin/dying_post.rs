//! The mail of a store, made and sent until nothing is due any more; tells of every step on a line, and ends itself by SIGKILL at
//! a named one if told to. Its clock stands still, but for what waits: it goes on to when that is due.
//!
//! `dying_post --store STORE --now TIME --port PORT [--connections N] [--die-at EVENT --count N]`
//!
//! Owns: the end of this process. Must not know: what is shown with it.

use chrono::{DateTime, Utc};
use cringle_tests::dying::DyingTeller;
use digests::{MailServer, MailSettings, Office, PostEvent, PostWatcher, Sender, make_mailings};
use present::PublicAddress;
use std::io::Write;
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use store::Store;

type Failure = Box<dyn std::error::Error + Send + Sync>;

fn main() -> ExitCode {
    let told = arguments().and_then(|arguments| {
        let runtime = tokio::runtime::Runtime::new()?;
        runtime.block_on(post_all(arguments))
    });
    match told {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // A test reads it where this fails.
            let _ = writeln!(std::io::stderr(), "{error}: {:?}", error.source());
            ExitCode::FAILURE
        }
    }
}

/// What the command line says.
#[derive(Default)]
struct Arguments {
    store: String,
    now: DateTime<Utc>,
    port: u16,
    connections: usize,
    die_at: Option<String>,
    count: usize,
}

fn arguments() -> Result<Arguments, Failure> {
    let mut read = Arguments {
        connections: 1,
        ..Arguments::default()
    };
    let mut words = std::env::args().skip(1);
    while let Some(key) = words.next() {
        let value = words.next().ok_or_else(|| format!("{key} needs a value"))?;
        match key.as_str() {
            "--store" => read.store = value,
            "--now" => read.now = value.parse()?,
            "--port" => read.port = value.parse()?,
            "--connections" => read.connections = value.parse()?,
            "--die-at" => read.die_at = Some(value),
            "--count" => read.count = value.parse()?,
            _ => return Err(format!("{key} is unknown").into()),
        }
    }
    Ok(read)
}

async fn post_all(arguments: Arguments) -> Result<(), Failure> {
    let store = Store::open(&arguments.store).await?;
    let teller = Arc::new(Teller(DyingTeller::new(
        arguments.die_at.clone(),
        arguments.count,
    )));
    let server = MailServer::new(settings(&arguments)?)?;
    let public = PublicAddress::read("https://sailing.example").ok_or("an address")?;
    let office = Arc::new(Office::new(store.clone(), server, public, "hand"));
    let now = Arc::new(Mutex::new(arguments.now));
    let clock: Arc<dyn Fn() -> DateTime<Utc> + Send + Sync> = {
        let now = now.clone();
        Arc::new(move || *now.lock().unwrap_or_else(PoisonError::into_inner))
    };
    let watcher: Arc<dyn PostWatcher> = teller.clone();
    loop {
        let made = make_mailings(&store, clock()).await?;
        for (_, name) in &made.mailings {
            teller.0.step("MailingMade", name);
        }
        let posted = office.post(&clock, &watcher).await?;
        if let Some(trouble) = posted.trouble {
            return Err(trouble.into());
        }
        let Some(due) = store.next_mail_due().await? else {
            return Ok(());
        };
        let mut now = now.lock().unwrap_or_else(PoisonError::into_inner);
        *now = due.max(*now);
    }
}

fn settings(arguments: &Arguments) -> Result<MailSettings, Failure> {
    let from = Sender::parse("digest@sailing.example")?;
    Ok(MailSettings {
        connections: arguments.connections,
        ..MailSettings::of_this_machine(arguments.port, from)
    })
}

struct Teller(DyingTeller);

impl PostWatcher for Teller {
    fn tell(&self, event: PostEvent<'_>) {
        match event {
            PostEvent::Claimed(mails) => self.0.step("Claimed", &mails.to_string()),
            PostEvent::Composed(key) => self.0.step("Composed", &key.subscription),
            PostEvent::Begun(key) => self.0.step("Begun", &key.subscription),
            PostEvent::HandedOver(key) => self.0.step("HandedOver", &key.subscription),
            PostEvent::Recorded(key) => self.0.step("Recorded", &key.subscription),
        }
    }
}
