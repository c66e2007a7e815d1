//! The program serving, started, asked and stopped as an operator would.

use cringle_tests::{Scene, program};
use std::io::{BufRead, BufReader, Lines, Read, Write};
use std::net::TcpStream;
use std::process::{Child, ChildStdout, Command, Stdio};

/// The service, stopped when the test ends however it ends.
pub struct Service {
    child: Child,
    lines: Lines<BufReader<ChildStdout>>,
    address: String,
}

impl Drop for Service {
    fn drop(&mut self) {
        let _gone = self.child.kill();
        let _gone = self.child.wait();
    }
}

impl Service {
    /// `cringle serve` on a scene's folder of feeds.
    pub fn start(scene: &Scene) -> Self {
        Self::on_store(scene, &scene.store().display().to_string())
    }

    /// The same on a store of its own, at an address.
    pub fn on_store(scene: &Scene, store: &str) -> Self {
        let mut command = Command::new(program());
        command
            .args(["serve", "--listen", "127.0.0.1:0", "--now", &scene.now])
            .arg("--club")
            .arg(scene.club())
            .arg("--feeds")
            .arg(scene.feeds())
            .args(["--store", store]);
        Self::of(command)
    }

    /// Any command that serves pages and says where.
    pub fn of(mut command: Command) -> Self {
        let mut child = command
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut lines = BufReader::new(child.stdout.take().expect("its output")).lines();
        let first = lines
            .by_ref()
            .map(|line| line.expect("text"))
            .find(|line| line.starts_with("Pages: "))
            .expect("a line with its address");
        let (_, rest) = first.split_once("http://").expect("its address");
        let address = rest.split('/').next().expect("an address").to_owned();
        Self {
            child,
            lines,
            address,
        }
    }

    /// The first line from here on that contains some words.
    pub fn line(&mut self, words: &str) -> String {
        let found = self
            .lines
            .by_ref()
            .map(|line| line.expect("text"))
            .find(|line| line.contains(words));
        found.unwrap_or_else(|| panic!("it ended without saying {words}"))
    }

    /// Head and body of the answer at a path.
    pub fn get(&self, path: &str) -> (String, String) {
        self.get_with(path, "")
    }

    /// The same with more lines of the request's head, each ended by CRLF.
    pub fn get_with(&self, path: &str, lines: &str) -> (String, String) {
        let mut stream = TcpStream::connect(&self.address).expect("it listens");
        let request = format!("GET {path} HTTP/1.1\r\nHost: here\r\nConnection: close\r\n{lines}\r\n");
        stream.write_all(request.as_bytes()).expect("sent");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("an answer");
        let (head, body) = answer.split_once("\r\n\r\n").expect("head and body");
        (head.to_owned(), body.to_owned())
    }

    /// Asks it to stop as an operating system does, and waits for its end.
    pub fn terminate(mut self) -> (Option<i32>, Vec<String>) {
        let told = Command::new("kill")
            .args(["-TERM", &self.child.id().to_string()])
            .status();
        assert!(told.is_ok_and(|status| status.success()), "the signal is sent");
        let rest = self.lines.by_ref().map_while(Result::ok).collect();
        (self.child.wait().expect("it ends").code(), rest)
    }
}
