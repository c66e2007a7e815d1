//! What ends a pull. A fault of one file or message does not: it becomes a gap with its reason in the report.

use crate::decoder::DecodeFailure;
use crate::folder::ReadFault;
use store::StoreError;
use thiserror::Error;

/// A pull that could not go on. Parts written before it stay; a rerun is safe.
#[derive(Debug, Error)]
pub enum FetchError {
    /// A source's address cannot be used.
    #[error(
        "cannot read a feed at {address:?}: {reason}; give a folder as file://PATH or a server as https://HOST/PATH"
    )]
    Address {
        /// The address.
        address: String,
        /// Why not.
        reason: String,
    },
    /// A source does not give what it should, and may do so later.
    #[error("{0}; what was kept before stays, and the next pull asks again")]
    Unreachable(String),
    /// The decoding child cannot be started or reached: nothing can be said of any message.
    #[error("messages cannot be decoded; see that the program's own file may be run, then run again")]
    Decoder(#[source] DecodeFailure),
    /// Every message that needs it stops the decoding child: more likely its limits or the program are at fault than all of them.
    #[error(
        "the decoder stops at every message, last at {0}; nothing was kept of them: raise its limits or report this"
    )]
    DecoderStops(String),
    /// The store failed.
    #[error("the forecast could not be kept")]
    Store(#[from] StoreError),
    /// A task of this program ended early.
    #[error("reading {what} ended early; run again")]
    Interrupted {
        /// What was being read.
        what: String,
        /// The cause.
        #[source]
        source: tokio::task::JoinError,
    },
}

/// Of a question that has no answer but yes or no: every fault leaves it open.
impl From<ReadFault> for FetchError {
    fn from(fault: ReadFault) -> Self {
        Self::Unreachable(match fault {
            ReadFault::Absent => "the file is not there".to_owned(),
            ReadFault::Unusable(reason) | ReadFault::Unreachable(reason) => reason,
        })
    }
}
