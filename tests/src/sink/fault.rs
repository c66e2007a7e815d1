//! What goes wrong, at which step, how often, for whom.
//!
//! Must not know: sockets.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Longest time that an answer is held if nobody lets it go.
const HELD_AT_MOST: Duration = Duration::from_secs(120);

/// Where in the dialogue an answer is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The greeting.
    Connected,
    /// EHLO or HELO.
    Hello,
    /// STARTTLS.
    StartTls,
    /// The whole of AUTH: in place of 235.
    Login,
    /// MAIL.
    Mail,
    /// RCPT.
    Recipient,
    /// DATA: in place of 354.
    Data,
    /// The end of the mail: in place of 250.
    Received,
    /// QUIT.
    Quit,
}

/// What the server does in place of what it should.
#[derive(Clone, Debug)]
pub enum Act {
    /// Answers with this line and goes on.
    Answer(&'static str),
    /// Answers with this line and ends the connection.
    AnswerAndEnd(&'static str),
    /// Sends these octets as they are and ends the connection.
    Octets(&'static [u8]),
    /// Ends the connection without a word.
    Drop,
    /// Does as it should, once the test lets it.
    Hold(Gate),
}

/// One thing that goes wrong.
#[derive(Clone, Debug)]
pub struct Fault {
    step: Step,
    act: Act,
    recipient: Option<String>,
    left: Option<usize>,
}

impl Fault {
    /// At this step, always, for everybody.
    pub fn at(step: Step, act: Act) -> Self {
        Self {
            step,
            act,
            recipient: None,
            left: None,
        }
    }

    /// So often, then no more.
    #[must_use]
    pub fn times(mut self, times: usize) -> Self {
        self.left = Some(times);
        self
    }

    /// Only for mails to this address; before RCPT that is nobody.
    #[must_use]
    pub fn to(mut self, recipient: &str) -> Self {
        self.recipient = Some(recipient.to_owned());
        self
    }

    /// What is done at this step, if this is the fault for it; it is then used up once.
    pub(super) fn act_at(&mut self, step: Step, recipients: &[String]) -> Option<Act> {
        let meant = self.recipient.as_ref().is_none_or(|one| recipients.contains(one));
        if step != self.step || !meant || self.left == Some(0) {
            return None;
        }
        self.left = self.left.map(|left| left - 1);
        Some(self.act.clone())
    }
}

/// A gate that answers wait at until the test opens it.
#[derive(Clone, Debug, Default)]
pub struct Gate(Arc<(Mutex<Waiting>, Condvar)>);

#[derive(Debug, Default)]
struct Waiting {
    open: bool,
    held: usize,
}

impl Gate {
    /// Lets every answer go, from now on.
    pub fn open(&self) {
        self.change(|waiting| waiting.open = true);
    }

    /// Waits until so many answers have come to the gate.
    ///
    /// # Panics
    /// When they have not after two minutes.
    pub fn wait_for(&self, answers: usize) {
        assert!(
            self.wait(|waiting| waiting.held >= answers),
            "waited in vain for {answers} answers"
        );
    }

    /// Waits at the gate.
    pub(super) fn pass(&self) {
        self.change(|waiting| waiting.held += 1);
        self.wait(|waiting| waiting.open);
    }

    fn change(&self, change: impl FnOnce(&mut Waiting)) {
        let (waiting, changed) = &*self.0;
        change(&mut waiting.lock().unwrap_or_else(PoisonError::into_inner));
        changed.notify_all();
    }

    /// Whether it came to be so in time.
    fn wait(&self, is: impl Fn(&Waiting) -> bool) -> bool {
        let until = Instant::now() + HELD_AT_MOST;
        let (waiting, changed) = &*self.0;
        let mut waiting = waiting.lock().unwrap_or_else(PoisonError::into_inner);
        while !is(&waiting) {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return false;
            }
            let woken = changed.wait_timeout(waiting, left);
            waiting = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
        true
    }
}
