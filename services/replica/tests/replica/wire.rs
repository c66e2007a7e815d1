//! A client that looks at the wire: it sends octets and tells what came back, without mending anything.

use std::io::{Read, Write};
use std::net::TcpStream;

/// What came back on a connection that the server then closed, or that was read so far.
#[derive(Debug)]
pub struct Reply {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Reply {
    pub fn header(&self, name: &str) -> &str {
        let found = self
            .headers
            .iter()
            .find(|(known, _)| known.eq_ignore_ascii_case(name));
        found.map_or("", |(_, value)| value)
    }

    pub fn length(&self) -> usize {
        self.header("content-length").parse().unwrap()
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
}

/// Sends a request that asks to close, and reads to the end of the connection.
pub fn ask(replica: &replica::Replica, method: &str, target: &str, headers: &[(&str, &str)]) -> Reply {
    let mut stream = open(replica, method, target, headers, true);
    let mut octets = Vec::new();
    stream.read_to_end(&mut octets).unwrap();
    reply(&octets)
}

pub fn get(replica: &replica::Replica, target: &str, headers: &[(&str, &str)]) -> Reply {
    ask(replica, "GET", target, headers)
}

/// Sends a request and leaves the connection to the caller.
pub fn open(
    replica: &replica::Replica,
    method: &str,
    target: &str,
    headers: &[(&str, &str)],
    closes: bool,
) -> TcpStream {
    let mut stream = TcpStream::connect(replica.address()).unwrap();
    send(&mut stream, method, target, headers, closes);
    stream
}

pub fn send(stream: &mut TcpStream, method: &str, target: &str, headers: &[(&str, &str)], closes: bool) {
    let mut head = format!("{method} {target} HTTP/1.1\r\nHost: replica\r\n");
    for (name, value) in headers {
        head += &format!("{name}: {value}\r\n");
    }
    if closes {
        head += "Connection: close\r\n";
    }
    stream.write_all(format!("{head}\r\n").as_bytes()).unwrap();
}

/// Reads a head and `octets` of the body from a connection that stays open.
pub fn read_some(stream: &mut TcpStream, octets: usize) -> Reply {
    let mut head = Vec::new();
    while !head.ends_with(b"\r\n\r\n") {
        let mut octet = [0];
        stream.read_exact(&mut octet).unwrap();
        head.push(octet[0]);
    }
    let mut reply = reply(&head);
    reply.body = vec![0; octets];
    stream.read_exact(&mut reply.body).unwrap();
    reply
}

/// Splits what came; an empty connection is status 0.
pub fn reply(octets: &[u8]) -> Reply {
    let Some(end) = octets.windows(4).position(|four| four == b"\r\n\r\n") else {
        assert!(
            octets.is_empty(),
            "half a head: {}",
            String::from_utf8_lossy(octets)
        );
        let (status, headers, body) = (0, Vec::new(), Vec::new());
        return Reply {
            status,
            headers,
            body,
        };
    };
    let head = String::from_utf8(octets[..end].to_vec()).unwrap();
    let mut lines = head.split("\r\n");
    let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
    let header = |line: &str| {
        let (name, value) = line.split_once(": ").unwrap();
        (name.to_owned(), value.to_owned())
    };
    Reply {
        status,
        headers: lines.map(header).collect(),
        body: octets[end + 4..].to_vec(),
    }
}
