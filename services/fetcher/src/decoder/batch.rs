//! Many messages to one child without waiting for each answer: small messages cost less than the turns of the pipe.
//!
//! Must not know: what the messages are.

use super::protocol::{DecodeRequest, DecodedField, encode, frame};
use super::{
    Broken, DecodeFailure, Decoder, MESSAGES_OF_ONE_CHILD, Running, Stop, how_it_ended, read_answer,
};
use std::time::Duration;
use tokio::io::AsyncWriteExt;
use tokio::process::ChildStdin;

/// What became of one message.
pub type DecodeOutcome = Result<Vec<DecodedField>, DecodeFailure>;

impl Decoder {
    /// As [`Decoder::decode`] for each message in turn: one outcome for each, in order. A message that stops its child
    /// costs only itself; those after it are given to another child.
    pub async fn decode_batch(&mut self, requests: &[DecodeRequest]) -> Vec<DecodeOutcome> {
        let mut outcomes = Vec::with_capacity(requests.len());
        while outcomes.len() < requests.len() {
            let rest = &requests[outcomes.len()..];
            let running = match self.running.take() {
                Some(running) if running.messages < MESSAGES_OF_ONE_CHILD => Ok(running),
                _ => self.start().await,
            };
            match running {
                Ok(running) => self.send_and_read(running, rest, &mut outcomes).await,
                Err(failure) => outcomes.push(Err(failure)),
            }
        }
        outcomes
    }

    /// Sends to one child as many messages as it may have and reads its answers meanwhile.
    async fn send_and_read(
        &mut self,
        mut running: Running,
        requests: &[DecodeRequest],
        outcomes: &mut Vec<DecodeOutcome>,
    ) {
        let allowed = (MESSAGES_OF_ONE_CHILD - running.messages) as usize;
        let requests = &requests[..requests.len().min(allowed)];
        running.messages += requests.len() as u32;
        let (longest, time) = (self.limits.answer_octets, self.limits.time);
        let reading = async {
            for request in requests {
                // The child answers in order: while this answer is awaited, it is at work on this message.
                match tokio::time::timeout(time, read_answer(&mut running.answers, longest)).await {
                    Ok(Ok(answer)) => outcomes.push(answer.map_err(DecodeFailure::Damaged)),
                    Ok(Err(broken)) => return Some((request.number, Trouble::Broken(broken))),
                    Err(_) => return Some((request.number, Trouble::Late(time))),
                }
            }
            None
        };
        // The reader alone decides how it went: where writing fails, an answer does not come.
        let trouble = tokio::select! {
            biased;
            trouble = reading => trouble,
            () = write_and_wait(&mut running.requests, requests) => None,
        };
        match trouble {
            None => self.running = Some(running),
            Some((message, trouble)) => {
                let why = match trouble {
                    Trouble::Broken(Broken::Answer) => Stop::UnusableAnswer,
                    Trouble::Broken(Broken::Pipe) => how_it_ended(running).await,
                    Trouble::Late(time) => Stop::TimeLimit(time),
                };
                outcomes.push(Err(DecodeFailure::Stopped { message, why }));
            }
        }
    }
}

enum Trouble {
    Broken(Broken),
    Late(Duration),
}

/// Writes all requests, then waits for ever: the reader ends the turn.
async fn write_and_wait(pipe: &mut ChildStdin, requests: &[DecodeRequest]) {
    for request in requests {
        let Ok(framed) = encode(request).and_then(|document| frame(&document)) else {
            break;
        };
        if pipe.write_all(&framed).await.is_err() {
            break;
        }
    }
    let _ = pipe.flush().await;
    std::future::pending::<()>().await;
}
