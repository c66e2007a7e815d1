//! Why a replica does not start.

use std::io;
use std::path::PathBuf;
use thiserror::Error;

/// Why a replica does not start.
#[derive(Debug, Error)]
pub enum ReplicaError {
    /// The folder of the tree cannot be opened.
    #[error("the tree {} cannot be opened; name a folder that is there", path.display())]
    Folder {
        /// The folder as given.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The folder of ready-made messages holds none that can be used.
    #[error("{} holds no whole GRIB2 message of one field of discipline 0; put such messages there", path.display())]
    EmptyPool {
        /// The folder as given.
        path: PathBuf,
    },
    /// The port cannot be had.
    #[error("port {port} of 127.0.0.1 cannot be listened on; name another, or 0 for any")]
    Listen {
        /// The port as given.
        port: u16,
        /// What the system says.
        source: io::Error,
    },
    /// The system gives no thread or no poll.
    #[error("the server's thread cannot be started")]
    Thread(#[source] io::Error),
}
