//! A small server of one folder that answers as object stores do, and wrongly on demand: by a script that sees each request,
//! with ranges nobody asked for and bodies of untold length, which the replica does not give, and it counts how many
//! requests run at once.
//!
//! Source of the right answers: RFC 9110 (sections 13.1.2, 14.2, 14.4, 15.5.17).

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// What was asked.
#[derive(Clone, Debug)]
pub struct Asked {
    pub head: String,
    pub path: String,
    pub range: Option<(u64, Option<u64>)>,
    pub unless: Option<String>,
}

impl Asked {
    pub fn is_head(&self) -> bool {
        self.head.starts_with("HEAD")
    }
}

/// A wrong answer.
#[derive(Clone, Copy, Debug)]
pub enum Fault {
    /// This status line and these header lines, without a body.
    Status(&'static str),
    /// A web page with status 200.
    Page,
    /// The whole file with status 200.
    Whole,
    /// Half of the body, then the connection ends.
    Cut,
    /// Half of the body, then nothing.
    Stalled,
    /// A body of more octets than the range has, its length untold.
    TooLong,
    /// Content-Length and body lack the range's last octet.
    WrongLength,
    /// Another range than the one asked for.
    WrongRange,
}

type Script = Box<dyn Fn(&Asked, usize) -> Option<Fault> + Send + Sync>;

/// The server. It ends with the test's runtime.
pub struct Server {
    pub address: String,
    state: Arc<State>,
}

struct State {
    root: PathBuf,
    /// Gives the fault of a request, by how often the same was asked before.
    script: Script,
    asked: Mutex<Vec<Asked>>,
    running: Mutex<(usize, usize)>,
}

impl Server {
    pub async fn of(
        root: &Path,
        script: impl Fn(&Asked, usize) -> Option<Fault> + Send + Sync + 'static,
    ) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let state = Arc::new(State {
            root: root.to_owned(),
            script: Box::new(script),
            asked: Mutex::default(),
            running: Mutex::default(),
        });
        let of_loop = Arc::clone(&state);
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                tokio::spawn(serve(stream, Arc::clone(&of_loop)));
            }
        });
        Self { address, state }
    }

    /// What was asked since the last call.
    pub fn asked(&self) -> Vec<Asked> {
        std::mem::take(&mut self.state.asked.lock().unwrap())
    }

    /// The most requests that ran at once.
    pub fn most_at_once(&self) -> usize {
        self.state.running.lock().unwrap().1
    }
}

async fn serve(mut stream: TcpStream, state: Arc<State>) {
    let mut head = Vec::new();
    while !head.ends_with(b"\r\n\r\n") {
        match stream.read_u8().await {
            Ok(octet) => head.push(octet),
            Err(_) => return,
        }
    }
    let asked = parse(&String::from_utf8(head).unwrap());
    let before = {
        let mut all = state.asked.lock().unwrap();
        let same = |other: &&Asked| {
            other.head.lines().next() == asked.head.lines().next() && other.range == asked.range
        };
        let before = all.iter().filter(same).count();
        all.push(asked.clone());
        before
    };
    {
        let mut running = state.running.lock().unwrap();
        running.0 += 1;
        running.1 = running.1.max(running.0);
    }
    for _ in 0..50 {
        tokio::task::yield_now().await;
    }
    let (answer, stalls) = answer(&state, &asked, before);
    // Before the client can see the end of the answer and ask anew.
    state.running.lock().unwrap().0 -= 1;
    let _ = stream.write_all(&answer).await;
    if stalls {
        std::future::pending::<()>().await;
    }
}

fn parse(head: &str) -> Asked {
    let header = |name: &str| {
        let line = head
            .lines()
            .find(|line| line.to_ascii_lowercase().starts_with(name))?;
        Some(line[name.len()..].trim().to_owned())
    };
    let range = header("range: bytes=").map(|range| {
        let (first, last) = range.split_once('-').unwrap();
        (first.parse().unwrap(), last.parse().ok())
    });
    Asked {
        head: head.to_owned(),
        path: head.split(' ').nth(1).unwrap().trim_start_matches('/').to_owned(),
        range,
        unless: header("if-none-match: "),
    }
}

fn answer(state: &State, asked: &Asked, before: usize) -> (Vec<u8>, bool) {
    let fault = (state.script)(asked, before);
    let plain = |status: &str| {
        format!("HTTP/1.1 {status}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n").into_bytes()
    };
    if let Some(Fault::Status(status)) = fault {
        return (plain(status), false);
    }
    let Ok(whole) = std::fs::read(state.root.join(&asked.path)) else {
        return (plain("404 Not Found"), false);
    };
    let tag = format!("\"{}\"", whole.len());
    if asked.unless.as_ref() == Some(&tag) {
        return (plain("304 Not Modified"), false);
    }
    let size = whole.len() as u64;
    let (status, mut body, extra) = match (asked.range, fault) {
        (_, Some(Fault::Page)) => (
            "200 OK",
            b"<html>Welcome to GRIB2 of today</html>".to_vec(),
            String::new(),
        ),
        (None, _) | (_, Some(Fault::Whole)) => ("200 OK", whole, String::new()),
        (Some((first, _)), _) if first >= size => return (plain("416 Range Not Satisfiable"), false),
        (Some((first, last)), fault) => {
            let last = last.unwrap_or(size - 1).min(size - 1);
            let moved = u64::from(matches!(fault, Some(Fault::WrongRange)));
            let extra = format!(
                "Content-Range: bytes {}-{}/{size}\r\n",
                first + moved,
                last + moved
            );
            (
                "206 Partial Content",
                whole[first as usize..=last as usize].to_vec(),
                extra,
            )
        }
    };
    let mut length = Some(body.len());
    match fault {
        Some(Fault::Cut | Fault::Stalled) => body.truncate(body.len() / 2),
        Some(Fault::TooLong) => {
            body.extend([0; 100]);
            length = None;
        }
        Some(Fault::WrongLength) => {
            body.pop();
            length = Some(body.len());
        }
        _ => {}
    }
    let length = length
        .map(|length| format!("Content-Length: {length}\r\n"))
        .unwrap_or_default();
    let head = format!("HTTP/1.1 {status}\r\nETag: {tag}\r\n{extra}{length}Connection: close\r\n\r\n");
    let mut octets = head.into_bytes();
    if !asked.is_head() {
        octets.extend(body);
    }
    (octets, matches!(fault, Some(Fault::Stalled)))
}
