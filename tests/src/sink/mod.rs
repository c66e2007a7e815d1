//! A mail server for tests that can misbehave: SMTP (RFC 5321) on a port of this machine, without TLS of its own.
//!
//! Owns: the port, what it has seen, which fault comes when. Must not know: who sends, what a mail should say.

mod dialogue;
mod fault;
mod lines;
mod seen;
#[cfg(test)]
mod tests;

pub use fault::{Act, Fault, Gate, Step};
pub use seen::{Received, Seen};

use std::io;
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// A test that waits longer has failed.
const WAITED_AT_MOST: Duration = Duration::from_secs(120);
/// More connections at once are sent away.
const CONNECTIONS_AT_MOST: usize = 64;

/// What the server offers in its answer to EHLO, and asks for.
#[derive(Clone, Debug)]
pub struct Offers {
    /// User and password that a client must give before a mail is taken (RFC 4954); none: anybody may send.
    pub login: Option<(String, String)>,
    /// Says STARTTLS (RFC 3207). It has no TLS: without a fault of [`Step::StartTls`] it answers 454.
    pub starttls: bool,
    /// Largest mail, octets (RFC 1870).
    pub size: usize,
}

impl Default for Offers {
    fn default() -> Self {
        Self {
            login: None,
            starttls: false,
            size: 4 << 20,
        }
    }
}

/// The running server; it ends when this is dropped.
#[derive(Debug)]
pub struct Sink {
    address: SocketAddr,
    shared: Arc<Shared>,
    listening: Option<JoinHandle<()>>,
}

/// What its threads share.
#[derive(Debug)]
struct Shared {
    offers: Offers,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    closed: bool,
    faults: Vec<Fault>,
    open: Vec<(usize, TcpStream)>,
    seen: Seen,
}

impl Sink {
    /// A server that takes every mail.
    ///
    /// # Errors
    /// When there is no port.
    pub fn start() -> io::Result<Self> {
        Self::offering(Offers::default())
    }

    /// A server that offers these.
    ///
    /// # Errors
    /// When there is no port.
    pub fn offering(offers: Offers) -> io::Result<Self> {
        let listener = TcpListener::bind(("127.0.0.1", 0))?;
        let shared = Arc::new(Shared {
            offers,
            state: Mutex::default(),
            changed: Condvar::new(),
        });
        let mut sink = Self {
            address: listener.local_addr()?,
            shared,
            listening: None,
        };
        sink.listen(listener);
        Ok(sink)
    }

    /// Where it answers, or answered before it was closed.
    pub fn port(&self) -> u16 {
        self.address.port()
    }

    /// From now on this goes wrong, before faults that were named earlier are looked at.
    pub fn misbehave(&self, fault: Fault) {
        self.shared.state().faults.insert(0, fault);
    }

    /// From now on nothing goes wrong.
    pub fn behave(&self) {
        self.shared.state().faults.clear();
    }

    /// Breaks every connection and refuses others.
    pub fn close(&mut self) {
        let mut state = self.shared.state();
        state.closed = true;
        for (_, stream) in &state.open {
            // A connection that has ended by itself is as good.
            let _ = stream.shutdown(Shutdown::Both);
        }
        drop(state);
        if let Some(listening) = self.listening.take() {
            // Wakes the thread that waits for a connection; it then sees that the server is closed.
            let _ = TcpStream::connect(self.address);
            let _ = listening.join();
        }
    }

    /// Answers again on the same port after [`Sink::close`].
    ///
    /// # Errors
    /// When another program has taken the port meanwhile.
    pub fn open(&mut self) -> io::Result<()> {
        let listener = TcpListener::bind(self.address)?;
        self.shared.state().closed = false;
        self.listen(listener);
        Ok(())
    }

    /// What it has seen so far.
    pub fn seen(&self) -> Seen {
        self.shared.state().seen.clone()
    }

    /// The mails that it has answered for with 250 so far.
    pub fn taken(&self) -> Vec<Received> {
        self.shared.state().seen.taken().cloned().collect()
    }

    /// Waits until what it has seen is as asked, and gives that.
    ///
    /// # Panics
    /// When it is not after two minutes.
    #[expect(clippy::panic, reason = "a test that waits in vain has failed")]
    pub fn wait_until(&self, what: &str, is: impl Fn(&Seen) -> bool) -> Seen {
        let until = Instant::now() + WAITED_AT_MOST;
        let mut state = self.shared.state();
        while !is(&state.seen) {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                panic!("waited in vain for {what}; seen: {:?}", state.seen);
            }
            let woken = self.shared.changed.wait_timeout(state, left);
            state = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
        state.seen.clone()
    }

    /// Waits until it has taken so many mails, and gives those.
    ///
    /// # Panics
    /// When it has not after two minutes.
    pub fn wait_for(&self, mails: usize) -> Vec<Received> {
        let seen = self.wait_until(&format!("{mails} mails"), |seen| seen.taken().count() >= mails);
        seen.taken().cloned().collect()
    }

    fn listen(&mut self, listener: TcpListener) {
        let shared = Arc::clone(&self.shared);
        self.listening = Some(thread::spawn(move || {
            for stream in listener.incoming() {
                if shared.state().closed {
                    break;
                }
                if let Ok(stream) = stream {
                    answer(&shared, stream);
                }
            }
        }));
    }
}

impl Drop for Sink {
    fn drop(&mut self) {
        self.close();
    }
}

/// Speaks with one client, in a thread of its own.
fn answer(shared: &Arc<Shared>, stream: TcpStream) {
    let Ok(kept) = stream.try_clone() else {
        return;
    };
    let mut state = shared.state();
    if state.open.len() >= CONNECTIONS_AT_MOST {
        // The stream is dropped, and with it the connection.
        return;
    }
    let number = state.seen.begin_connection();
    state.open.push((number, kept));
    drop(state);
    let shared = Arc::clone(shared);
    thread::spawn(move || {
        // How a client ends is its own affair; what counts is what was seen.
        let _ = dialogue::hold(&shared, number, stream);
        shared.see(|state| {
            state.open.retain(|(one, _)| *one != number);
            state.seen.end_connection();
        });
    });
}

impl Shared {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Changes what was seen, and wakes whoever waits for it.
    fn see(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.state());
        self.changed.notify_all();
    }

    /// What goes wrong at this step, of a mail to these recipients.
    fn act_at(&self, step: Step, recipients: &[String]) -> Option<Act> {
        let mut state = self.state();
        state
            .faults
            .iter_mut()
            .find_map(|fault| fault.act_at(step, recipients))
    }
}
