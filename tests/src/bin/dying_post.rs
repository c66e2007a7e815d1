//! The mail of a store, made and sent until nothing is due any more; tells of every step on a line, and ends itself by SIGKILL at
//! a named one if told to. Its clock stands still, but for what waits: it goes on to when that is due.
//!
//! `dying_post --store STORE --now TIME --port PORT [--connections N] [--die-at EVENT --count N]`
//!
//! Owns: the end of this process. Must not know: what is shown with it.

use chrono::{DateTime, Utc};
use digests::{MailServer, MailSettings, Office, PostEvent, PostWatcher, Sender, make_mailings};
use present::PublicAddress;
use rustix::process::{Signal, getpid, kill_process};
use std::collections::HashMap;
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
    let teller = Arc::new(Teller {
        die_at: arguments.die_at.clone(),
        count: arguments.count,
        told: Mutex::default(),
    });
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
            teller.step("MailingMade", name);
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

/// Tells of each step on a line; at the step it is told of, the line is the last thing this process does.
struct Teller {
    die_at: Option<String>,
    count: usize,
    told: Mutex<HashMap<&'static str, usize>>,
}

impl PostWatcher for Teller {
    fn tell(&self, event: PostEvent<'_>) {
        match event {
            PostEvent::Claimed(mails) => self.step("Claimed", &mails.to_string()),
            PostEvent::Composed(key) => self.step("Composed", &key.subscription),
            PostEvent::Begun(key) => self.step("Begun", &key.subscription),
            PostEvent::HandedOver(key) => self.step("HandedOver", &key.subscription),
            PostEvent::Recorded(key) => self.step("Recorded", &key.subscription),
        }
    }
}

impl Teller {
    fn step(&self, name: &'static str, about: &str) {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        // Where nobody reads any more, the reader is at its end, and this process soon is.
        let _ = writeln!(std::io::stdout(), "{name} {about}");
        let so_far = told.entry(name).or_default();
        *so_far += 1;
        if self.die_at.as_deref() == Some(name) && *so_far == self.count {
            let _ = kill_process(getpid(), Signal::KILL);
            // The signal may reach another thread first; this one goes no further.
            loop {
                std::thread::park();
            }
        }
    }
}
