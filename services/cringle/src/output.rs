//! Writing to the terminal and telling what failed. The only place that touches standard output and error.

use std::error::Error;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use thiserror::Error as ThisError;

/// What ends a command early.
#[derive(Debug, ThisError)]
pub enum CommandError {
    /// Something given cannot be used; exit code 2.
    #[error("{0}")]
    Wrong(String),
    /// Something failed; exit code 1.
    #[error("{doing}")]
    Failed {
        /// What was being done.
        doing: String,
        /// Why it failed.
        #[source]
        source: Box<dyn Error + Send + Sync>,
    },
}

/// Wraps a failure with what was being done.
pub fn failed<E: Error + Send + Sync + 'static>(doing: impl Into<String>) -> impl FnOnce(E) -> CommandError {
    let doing = doing.into();
    move |source| CommandError::Failed {
        doing,
        source: Box::new(source),
    }
}

/// Prints text; a reader that has gone away (a closed pager) is no failure.
pub fn print(text: &str) {
    let _gone = std::io::stdout().write_all(text.as_bytes());
}

/// Tells how something goes on, on standard error: a line beside what is printed.
pub fn tell(line: &str) {
    let _gone = std::io::stderr().write_all(format!("{line}\n").as_bytes());
}

/// Whether standard output is a terminal that may be given colour.
pub fn colour() -> bool {
    std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none()
}

/// Tells a failure with all its causes, each once.
pub fn fail(doing: &str, error: &dyn Error) -> ExitCode {
    let mut line = format!("cringle: {doing}");
    let mut cause = Some(error);
    while let Some(error) = cause {
        line += &format!(": {error}");
        cause = error.source();
    }
    let _gone = std::io::stderr().write_all(format!("{line}\n").as_bytes());
    ExitCode::FAILURE
}

/// Tells what ended a command and gives its exit code.
pub fn fail_with(error: &CommandError) -> ExitCode {
    match error {
        CommandError::Wrong(words) => {
            let _gone = std::io::stderr().write_all(format!("{}\n", words.trim_end()).as_bytes());
            ExitCode::from(2)
        }
        CommandError::Failed { doing, source } => fail(doing, source.as_ref()),
    }
}
