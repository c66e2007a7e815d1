//! GRIB messages decoded: in this process where their own octets bound what that takes, else in a child with limits of its own.
//!
//! Owns: the child's life (start, reuse, time-out, restart) and the words for how it ended.
//! Must not know: what is wanted the values for, feeds, the store.
//!
//! An image may promise few octets and ask for much memory or time when it is unpacked. What remains of that (an image that
//! grows when decoded, a fault in a library's decoder) costs one message and one restart here.

mod batch;
mod cells;
mod here;
mod protocol;
mod worker;

pub use batch::DecodeOutcome;
pub use protocol::{Ask, DecodeRequest, DecodedField, DecodedValues, Limits, NodeValue, PlaceValue};
pub use worker::run_worker;

use protocol::{Answer, frame};
use std::path::PathBuf;
use std::process::{ExitStatus, Stdio};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::process::{Child, ChildStdin, ChildStdout, Command};

/// Messages after which a child is replaced, so that its limit of processor time never ends an honest one.
const MESSAGES_OF_ONE_CHILD: u32 = 1000;
/// Octets of the child's last words that are looked at.
const LAST_WORDS: u64 = 4096;

/// The program that decodes, and its arguments: it must end in [`run_worker`].
#[derive(Clone, Debug)]
pub struct WorkerCommand(pub PathBuf, pub Vec<String>);

impl WorkerCommand {
    /// This very program with the argument `decode-worker`.
    ///
    /// # Errors
    /// The system does not say which program this is.
    pub fn of_this_program() -> std::io::Result<Self> {
        Ok(Self(std::env::current_exe()?, vec!["decode-worker".to_owned()]))
    }
}

/// Why a message gave nothing at all.
#[derive(Debug, thiserror::Error)]
pub enum DecodeFailure {
    /// The octets are not one readable message.
    #[error(transparent)]
    Damaged(#[from] grid::Damage),
    /// The child ended or was ended while it had the message.
    #[error("message {message}: decoder stopped: {why}")]
    Stopped {
        /// Number of the message.
        message: u32,
        /// How it ended.
        why: Stop,
    },
    /// The child could not be started at all; no message is to blame.
    #[error("the decoder {program} cannot be started")]
    NotStarted {
        /// The program.
        program: PathBuf,
        /// What the system says.
        #[source]
        source: std::io::Error,
    },
}

/// How a child ended.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Stop {
    /// It asked for more memory than it may have.
    #[error("memory limit")]
    MemoryLimit,
    /// It took too long.
    #[error("time limit of {} s", .0.as_secs_f64())]
    TimeLimit(Duration),
    /// Its answer is longer than it may be, or none.
    #[error("unusable answer")]
    UnusableAnswer,
    /// It ended by itself.
    #[error("{0}")]
    Ended(String),
}

/// One child process that decodes message after message.
#[derive(Debug)]
pub struct Decoder {
    command: WorkerCommand,
    limits: Limits,
    running: Option<Running>,
}

#[derive(Debug)]
struct Running {
    child: Child,
    requests: ChildStdin,
    answers: ChildStdout,
    messages: u32,
}

impl Decoder {
    /// A decoder whose child is started with the first message.
    pub fn new(command: WorkerCommand, limits: Limits) -> Self {
        Self {
            command,
            limits,
            running: None,
        }
    }

    /// The values a message has at some places, field by field: one field that fails costs no other.
    ///
    /// # Errors
    /// The message is damaged as a whole, or the child was stopped; the next call starts another.
    pub async fn decode(&mut self, request: DecodeRequest) -> DecodeOutcome {
        let message = request.number;
        let outcomes = self.decode_batch(vec![request]).await;
        let gone = || DecodeFailure::Stopped {
            message,
            why: Stop::UnusableAnswer,
        };
        outcomes.into_iter().next().unwrap_or_else(|| Err(gone()))
    }

    async fn start(&self) -> Result<Running, DecodeFailure> {
        let WorkerCommand(program, arguments) = &self.command;
        let not_started = |source| DecodeFailure::NotStarted {
            program: program.clone(),
            source,
        };
        let mut child = Command::new(program)
            .args(arguments)
            .env_clear()
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()
            .map_err(not_started)?;
        let pipes = child.stdin.take().zip(child.stdout.take());
        let (mut requests, answers) =
            pipes.ok_or_else(|| not_started(std::io::Error::other("the child has no pipes")))?;
        let limits = frame(&self.limits).map_err(not_started)?;
        requests.write_all(&limits).await.map_err(not_started)?;
        Ok(Running {
            child,
            requests,
            answers,
            messages: 0,
        })
    }
}

/// What went wrong between the two processes.
enum Broken {
    /// The other end is gone.
    Pipe,
    /// It said something that cannot be understood, or too much.
    Answer,
}

async fn read_answer(answers: &mut ChildStdout, longest: u32) -> Result<Answer, Broken> {
    let length = answers.read_u32().await.map_err(|_| Broken::Pipe)?;
    if length > longest {
        return Err(Broken::Answer);
    }
    let mut answer = vec![0; length as usize];
    answers.read_exact(&mut answer).await.map_err(|_| Broken::Pipe)?;
    postcard::from_bytes(&answer).map_err(|_| Broken::Answer)
}

async fn how_it_ended(mut running: Running) -> Stop {
    drop(running.requests);
    let mut words = Vec::new();
    if let Some(errors) = running.child.stderr.take() {
        // Nothing is lost if they cannot be read: the exit status is named then.
        let _ = errors.take(LAST_WORDS).read_to_end(&mut words).await;
    }
    let words = String::from_utf8_lossy(&words);
    match running.child.wait().await {
        // The standard library's words when the system refuses memory; the process then aborts.
        Ok(_) if words.contains("memory allocation of") => Stop::MemoryLimit,
        Ok(status) => Stop::Ended(status_in_words(status)),
        Err(error) => Stop::Ended(error.to_string()),
    }
}

fn status_in_words(status: ExitStatus) -> String {
    use std::os::unix::process::ExitStatusExt;
    match status.signal() {
        Some(signal) => format!("ended by signal {signal}"),
        None => format!("ended with {status}"),
    }
}
