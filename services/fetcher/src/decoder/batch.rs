//! Many messages at once: those read in this process, and the rest to one child without waiting for each answer: small messages cost less than the turns of the pipe.
//!
//! Must not know: what the messages are.

use super::protocol::{DecodeRequest, DecodedField, frame};
use super::{
    Broken, DecodeFailure, Decoder, MESSAGES_OF_ONE_CHILD, Running, Stop, here, how_it_ended, read_answer,
};
use std::time::Duration;
use tokio::io::AsyncWriteExt;
use tokio::process::ChildStdin;
use tokio::task::spawn_blocking;

/// What became of one message.
pub type DecodeOutcome = Result<Vec<DecodedField>, DecodeFailure>;

impl Decoder {
    /// As [`Decoder::decode`] for each message in turn: one outcome for each, in order.
    pub async fn decode_batch(&mut self, requests: Vec<DecodeRequest>) -> Vec<DecodeOutcome> {
        let numbers: Vec<u32> = requests.iter().map(|request| request.number).collect();
        let Ok(answers) = spawn_blocking(move || here::answers(requests)).await else {
            return numbers.into_iter().map(ending).collect();
        };
        let for_child: Vec<DecodeRequest> = answers
            .iter()
            .filter_map(|answer| answer.as_ref().err().cloned())
            .collect();
        let mut by_child = self.decode_in_child(&for_child).await.into_iter();
        let outcomes = answers.into_iter().map(|answer| match answer {
            Ok(answer) => answer.map_err(DecodeFailure::Damaged),
            Err(request) => by_child.next().unwrap_or_else(|| ending(request.number)),
        });
        outcomes.collect()
    }

    /// A message that stops its child costs only itself; those after it are given to another child.
    async fn decode_in_child(&mut self, requests: &[DecodeRequest]) -> Vec<DecodeOutcome> {
        let mut outcomes = Vec::with_capacity(requests.len());
        while outcomes.len() < requests.len() {
            let rest = &requests[outcomes.len()..];
            // Taken out, so that a call given up half way leaves no child with half a request.
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

fn ending(message: u32) -> DecodeOutcome {
    let why = Stop::Ended("the program is ending".to_owned());
    Err(DecodeFailure::Stopped { message, why })
}

enum Trouble {
    Broken(Broken),
    Late(Duration),
}

/// Writes all requests, then waits for ever: the reader ends the turn.
async fn write_and_wait(pipe: &mut ChildStdin, requests: &[DecodeRequest]) {
    for request in requests {
        let Ok(framed) = frame(request) else {
            break;
        };
        if pipe.write_all(&framed).await.is_err() {
            break;
        }
    }
    let _ = pipe.flush().await;
    std::future::pending::<()>().await;
}
