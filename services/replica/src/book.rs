//! The list of faults: which befalls a request, and how often.

use crate::fault::Fault;
use crate::request::Request;
use std::sync::{Mutex, PoisonError};

/// How often a fault happens, counted over the requests that it concerns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Times {
    /// Each time.
    Always,
    /// The first so many times.
    First(u32),
    /// Every so many-th time: `Every(3)` is the third, the sixth.
    Every(u32),
}

struct Rule {
    path_contains: String,
    fault: Fault,
    times: Times,
    met: u32,
}

/// The faults of a replica. The first rule that matches a request and is due befalls it; no other does.
#[derive(Default)]
pub struct FaultBook(Mutex<Vec<Rule>>);

impl FaultBook {
    /// Adds a fault for requests whose decoded path (with `?` and the decoded query, if any) contains a text.
    pub fn add(&self, path_contains: &str, fault: Fault, times: Times) {
        let path_contains = path_contains.to_owned();
        let rule = Rule {
            path_contains,
            fault,
            times,
            met: 0,
        };
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(rule);
    }

    /// Takes all faults away.
    pub fn clear(&self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }

    /// The fault that befalls this request, which counts for the rules looked at.
    pub(crate) fn fault_for(&self, request: &Request) -> Option<Fault> {
        let target = request.target();
        let mut rules = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mut matching = rules
            .iter_mut()
            .filter(|rule| target.contains(&rule.path_contains) && rule.fault.concerns(request));
        matching.find_map(|rule| rule.is_due().then(|| rule.fault.clone()))
    }
}

impl Rule {
    fn is_due(&mut self) -> bool {
        self.met = self.met.saturating_add(1);
        match self.times {
            Times::Always => true,
            Times::First(most) => self.met <= most,
            Times::Every(nth) => nth != 0 && self.met.is_multiple_of(nth),
        }
    }
}
