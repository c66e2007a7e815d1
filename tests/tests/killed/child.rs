//! The program that pulls in a process of its own, and how it comes to its end.
//!
//! Owns: starting it, reading what it tells, killing it, and seeing that none of its decoding children is left.
//! Must not know: what the lines mean to a store.

use crate::world::World;
use std::io::{BufRead, BufReader, Read};
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, ChildStderr, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// The system's number of the signal that cannot be caught, and of that for a file that grows beyond its limit (POSIX,
/// signal.h; the second's number is Linux's).
pub const SIGKILL: i32 = 9;
pub const SIGXFSZ: i32 = 25;

/// Far longer than a pull of these trees takes anywhere: whoever is silent for so long hangs.
const HANGS: Duration = Duration::from_secs(240);

/// What one process told, and how it ended.
pub struct Ended {
    pub told: Vec<String>,
    status: ExitStatus,
    /// What it said on standard error.
    words: String,
}

impl Ended {
    /// The signal it was ended by; none if it ended by itself.
    pub fn signal(&self) -> Option<i32> {
        self.status.signal()
    }

    /// That it was not disturbed.
    pub fn whole(self) -> Self {
        assert!(self.status.success(), "{}: {}", self.status, self.words);
        self
    }

    /// What was told about an event, in order.
    pub fn about<'a>(&'a self, event: &'a str) -> impl Iterator<Item = &'a str> {
        self.told
            .iter()
            .filter_map(move |line| line.strip_prefix(event)?.strip_prefix(' '))
    }

    /// How often an event was told of.
    pub fn count(&self, event: &str) -> usize {
        self.about(event).count()
    }

    /// Sources that had a decoding child when the process ended: told of decoded messages and not of the source's end.
    pub fn sources_decoding(&self) -> usize {
        let mut begun: Vec<&str> = self.about("MessagesDone").collect();
        begun.sort_unstable();
        begun.dedup();
        let ended: Vec<&str> = self.about("SourceEnds").collect();
        begun.iter().filter(|source| !ended.contains(source)).count()
    }
}

/// When the process is killed from outside.
#[derive(Clone, Copy, Debug)]
pub enum Moment {
    /// After so many lines were read from it.
    Lines(usize),
    /// After it told of so many parts as read: while they are written, if it is not faster than the kill.
    PartsRead(usize),
    /// After its sources' servers have seen so many requests.
    Requests(usize),
}

/// A running pull.
pub struct Pull {
    child: Child,
    lines: Receiver<String>,
    reader: JoinHandle<()>,
    words: ChildStderr,
    told: Vec<String>,
}

impl Pull {
    /// Starts the program with these arguments.
    pub fn start(arguments: &[String]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_dying_pull"))
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let output = child.stdout.take().expect("its output");
        let (sender, lines) = channel();
        let reader = thread::spawn(move || {
            for line in BufReader::new(output).lines() {
                if line.is_ok_and(|line| sender.send(line).is_err()) {
                    break;
                }
            }
        });
        Self {
            words: child.stderr.take().expect("its words"),
            child,
            lines,
            reader,
            told: Vec::new(),
        }
    }

    /// Waits for the moment and kills the process alone: not its decoding children. It may have ended before.
    pub fn killed_at(mut self, moment: Moment, world: &World) -> Ended {
        match moment {
            Moment::Lines(count) => self.read_lines(count, ""),
            Moment::PartsRead(count) => self.read_lines(count, "PartRead "),
            Moment::Requests(count) => {
                let ended = |child: &mut Child| child.try_wait().expect("its state").is_some();
                while world.requests().len() < count && !ended(&mut self.child) {
                    thread::yield_now();
                }
            }
        }
        self.child.kill().expect("it is killed, or has ended");
        self.ended()
    }

    /// Reads on until so many lines with this beginning were read, or there are no more.
    fn read_lines(&mut self, mut count: usize, beginning: &str) {
        while count > 0 {
            let Ok(line) = self.lines.recv_timeout(HANGS) else {
                return;
            };
            count -= usize::from(line.starts_with(beginning));
            self.told.push(line);
        }
    }

    /// Waits until the process and all its decoding children have ended: they hold its output open.
    pub fn ended(mut self) -> Ended {
        let status = self.child.wait().expect("it ends");
        loop {
            match self.lines.recv_timeout(HANGS) {
                Ok(line) => self.told.push(line),
                Err(RecvTimeoutError::Disconnected) => break,
                Err(RecvTimeoutError::Timeout) => {
                    panic!("{status}, and a decoding child is left")
                }
            }
        }
        self.reader.join().expect("its output is read to the end");
        let mut words = String::new();
        self.words.read_to_string(&mut words).expect("text");
        Ended {
            told: self.told,
            status,
            words,
        }
    }
}
