//! One connection: requests in, answers out, for as long as both sides keep it.
//!
//! Owns: sockets, pace, and how a body breaks off. Must not know: files.

use crate::answer::{Answer, Answerer};
use crate::line::Line;
use crate::request::{Head, Request, read};
use crate::response::{Ending, Pace, Response};
use crate::seen::{Log, Sent};
use crate::validators::http_date;
use std::io;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::Instant;

/// Octets written at once.
const WRITTEN_AT_ONCE: usize = 256 * 1024;
/// A paced body leaves in pieces so far apart.
const PACE_INTERVAL: Duration = Duration::from_millis(20);

/// Whether the connection serves another request.
#[derive(PartialEq)]
enum After {
    Goes,
    Closes,
}

/// What comes next.
enum Came {
    Request(Request),
    Nonsense,
    /// The client has left.
    Nothing,
}

struct Connection {
    stream: TcpStream,
    /// What came and is not a whole request yet.
    came: Vec<u8>,
    line: Option<Arc<Line>>,
}

/// Serves a connection to its end.
pub(crate) async fn serve(stream: TcpStream, answerer: Arc<Answerer>, log: Arc<Log>) -> io::Result<()> {
    // A body follows its head at once; without this the last piece of each waits for an acknowledgement.
    stream.set_nodelay(true)?;
    let mut connection = Connection {
        stream,
        came: Vec::new(),
        line: answerer.line(),
    };
    loop {
        let request = match connection.next().await? {
            Came::Request(request) => request,
            Came::Nonsense => {
                let answer = answerer.refusal(Response::words(400, "no request"));
                connection.send(&answer, false, true, &Sent::default()).await?;
                break;
            }
            Came::Nothing => break,
        };
        let closes = asks_to_close(&request);
        let head_only = request.method == "HEAD";
        let answer = answerer.answer(&request);
        let unanswered = answer.delivery.ending == Ending::Unanswered;
        let status = if unanswered { 0 } else { answer.response.status };
        let sent = log.add(answerer.now(), request, status);
        if unanswered || connection.send(&answer, head_only, closes, &sent).await? == After::Closes {
            break;
        }
    }
    connection.stream.shutdown().await
}

/// The client's wish; after a request that may have a body, where the next one begins is not known either.
fn asks_to_close(request: &Request) -> bool {
    let wish = request.header("connection");
    let bodiless = matches!(request.method.as_str(), "GET" | "HEAD");
    !bodiless || wish.is_some_and(|value| value.eq_ignore_ascii_case("close"))
}

impl Connection {
    async fn next(&mut self) -> io::Result<Came> {
        loop {
            match read(&self.came) {
                Head::Whole(request, length) => {
                    self.came.drain(..length);
                    return Ok(Came::Request(request));
                }
                Head::Unfinished => {
                    if self.stream.read_buf(&mut self.came).await? == 0 {
                        return Ok(Came::Nothing);
                    }
                }
                Head::Nonsense => return Ok(Came::Nonsense),
            }
        }
    }

    async fn send(
        &mut self,
        answer: &Answer,
        head_only: bool,
        closes: bool,
        sent: &Sent,
    ) -> io::Result<After> {
        let Answer {
            response,
            delivery,
            date,
        } = answer;
        let closes = closes || delivery.length_lie != 0;
        let head = response.head(delivery, &http_date(*date), closes);
        self.stream.write_all(head.as_bytes()).await?;
        let after = if closes { After::Closes } else { After::Goes };
        if head_only {
            return Ok(after);
        }
        let length = response.length();
        match delivery.ending {
            Ending::Unanswered => Ok(After::Closes),
            Ending::Whole => {
                let there = self.send_body(response, delivery.pace, length, sent).await?;
                Ok(if there { after } else { After::Closes })
            }
            Ending::CutAfter(octets) => {
                self.send_body(response, delivery.pace, octets.min(length), sent)
                    .await?;
                Ok(After::Closes)
            }
            Ending::StallsAfter(octets) => {
                if self
                    .send_body(response, delivery.pace, octets.min(length), sent)
                    .await?
                {
                    self.client_leaves().await;
                }
                Ok(After::Closes)
            }
        }
    }

    /// Sends the first octets of a body; whether the client is still there.
    async fn send_body(
        &mut self,
        response: &Response,
        pace: Pace,
        octets: u64,
        sent: &Sent,
    ) -> io::Result<bool> {
        let (began, start) = (Instant::now(), response.part.start);
        let mut done = 0;
        while done < octets {
            let most = piece(pace).min(octets - done);
            let piece = response
                .content
                .read(start + done..start + done + most, WRITTEN_AT_ONCE)?;
            if piece.is_empty() {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            // Counted first, so that a client that has the octets finds them counted.
            sent.fetch_add(piece.len() as u64, Ordering::Relaxed);
            self.stream.write_all(&piece).await?;
            done += piece.len() as u64;
            if let Some(line) = &self.line {
                tokio::time::sleep_until(line.passed(piece.len() as u64, Instant::now())).await;
            }
            let until = match pace {
                Pace::Unbounded => continue,
                Pace::PerSecond(rate) => began + Duration::from_secs_f64(done as f64 / rate.max(1) as f64),
                Pace::Pieces { pause, .. } => Instant::now() + pause,
            };
            if done < octets && !self.client_stays_until(until).await {
                return Ok(false);
            }
        }
        Ok(true)
    }

    async fn client_stays_until(&mut self, until: Instant) -> bool {
        tokio::select! {
            () = tokio::time::sleep_until(until) => true,
            () = self.client_leaves() => false,
        }
    }

    /// Waits until the client closes its end. What it sends meanwhile is kept.
    async fn client_leaves(&mut self) {
        loop {
            match self.stream.read_buf(&mut self.came).await {
                Ok(0) | Err(_) => return,
                Ok(_) => {}
            }
        }
    }
}

/// Octets to send before the next pause.
fn piece(pace: Pace) -> u64 {
    match pace {
        Pace::Unbounded => u64::MAX,
        Pace::PerSecond(rate) => ((rate as f64 * PACE_INTERVAL.as_secs_f64()) as u64).max(1),
        Pace::Pieces { octets, .. } => octets.max(1),
    }
}
