//! The demo as a newcomer meets it: the board in the terminal, then the pages on the address it prints.

use cringle_tests::program;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

/// The demo, stopped when the test ends however it ends.
struct Demo {
    child: Child,
    address: String,
    board: String,
    _cache: tempfile::TempDir,
}

impl Drop for Demo {
    fn drop(&mut self) {
        let _gone = self.child.kill();
        let _gone = self.child.wait();
    }
}

fn start() -> Demo {
    let cache = tempfile::tempdir().expect("a folder");
    let mut child = Command::new(program())
        .args(["demo", "--listen", "127.0.0.1:0"])
        .env("XDG_CACHE_HOME", cache.path())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut board = String::new();
    let mut lines = BufReader::new(child.stdout.take().expect("its output"));
    let address = loop {
        let mut line = String::new();
        assert!(
            lines.read_line(&mut line).expect("a line") > 0,
            "it ended before it printed an address:\n{board}"
        );
        if let Some((_, rest)) = line.split_once("http://") {
            break rest.split('/').next().expect("an address").to_owned();
        }
        board += &line;
    };
    Demo {
        child,
        address,
        board,
        _cache: cache,
    }
}

fn get(address: &str, path: &str) -> (String, String) {
    let mut stream = TcpStream::connect(address).expect("it listens");
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    let (head, body) = answer.split_once("\r\n\r\n").expect("head and body");
    (head.to_owned(), body.to_owned())
}

#[test]
fn the_board_in_the_terminal_and_the_pages_say_the_same() {
    let demo = start();
    assert!(demo.board.contains("Demo: invented weather"), "{}", demo.board);
    for call in ["Go", "Marginal", "No-go", "No call"] {
        assert!(
            demo.board.contains(call),
            "{call} is on the board:\n{}",
            demo.board
        );
    }
    assert!(
        demo.board.lines().all(|line| line.chars().count() <= 100),
        "{}",
        demo.board
    );
    let (head, board) = get(&demo.address, "/");
    assert!(head.starts_with("HTTP/1.1 200"), "{head}");
    assert!(head.to_lowercase().contains("content-security-policy"), "{head}");
    let link = board
        .split("href=\"")
        .filter_map(|rest| rest.split('"').next())
        .find(|href| href.starts_with("/sessions/"));
    let link = link.unwrap_or_else(|| panic!("the board links to a session:\n{board}"));
    let (head, session) = get(&demo.address, link);
    assert!(head.starts_with("HTTP/1.1 200"), "{head}");
    for needed in [
        "<svg",
        "warnings",
        "The skipper on the water decides",
        "Demo: invented weather",
    ] {
        assert!(session.contains(needed), "{needed}");
    }
    assert!(!board.contains("<script") && !session.contains("<script"));
    let (head, problem) = get(&demo.address, "/sessions/none-such");
    assert!(head.starts_with("HTTP/1.1 404"), "{head}");
    assert!(problem.contains("404"), "{problem}");
    let id = link.trim_start_matches("/sessions/");
    let (head, json) = get(&demo.address, &format!("/v1/sessions/{id}/advisory"));
    assert!(head.contains("application/json"), "{head}");
    assert!(json.contains("\"valid_until\""));
}
