//! A process that tells each step on a line and ends itself by SIGKILL at one of them, for tests that kill.
//!
//! Owns: the end of the process. Must not know: what its steps are.

use rustix::process::{Signal, getpid, kill_process};
use std::collections::HashMap;
use std::io::Write;
use std::sync::{Mutex, PoisonError};

/// Tells steps; the line of the one it dies at is the last thing the process does.
pub struct DyingTeller {
    die_at: Option<String>,
    count: usize,
    told: Mutex<HashMap<&'static str, usize>>,
}

impl DyingTeller {
    /// Dies when the step of this name, if one is named, comes for the so-manyth time.
    pub fn new(die_at: Option<String>, count: usize) -> Self {
        Self {
            die_at,
            count,
            told: Mutex::default(),
        }
    }

    /// Tells a step and what it is about.
    pub fn step(&self, name: &'static str, about: &str) {
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
