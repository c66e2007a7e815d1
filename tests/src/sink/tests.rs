//! The server's own tests: what it says on the wire, and that nobody harms it.

use super::{Act, Fault, Gate, Offers, Sink, Step};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// A client that says what it is told to.
struct Client {
    reader: BufReader<TcpStream>,
    writer: TcpStream,
}

impl Client {
    /// Connects and reads the greeting.
    fn greeted(sink: &Sink) -> (Self, String) {
        let mut client = Self::connected(sink);
        let greeting = client.reply();
        (client, greeting)
    }

    fn connected(sink: &Sink) -> Self {
        let writer = TcpStream::connect(("127.0.0.1", sink.port())).unwrap();
        writer.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let reader = BufReader::new(writer.try_clone().unwrap());
        Self { reader, writer }
    }

    /// After EHLO.
    fn of(sink: &Sink) -> Self {
        let (mut client, _) = Self::greeted(sink);
        client.says("EHLO client.example");
        client
    }

    fn send(&mut self, octets: &[u8]) {
        self.writer.write_all(octets).unwrap();
    }

    /// The next answer, its lines joined by a bar; empty when the server has gone.
    fn reply(&mut self) -> String {
        let mut lines = Vec::new();
        loop {
            let mut line = String::new();
            // A broken connection says nothing either.
            let _ = self.reader.read_line(&mut line);
            let goes_on = line.as_bytes().get(3) == Some(&b'-');
            lines.push(line.trim_end().to_owned());
            if !goes_on {
                return lines.join("|");
            }
        }
    }

    fn says(&mut self, line: &str) -> String {
        self.send(format!("{line}\r\n").as_bytes());
        self.reply()
    }

    fn code(&mut self, line: &str) -> String {
        self.says(line).chars().take(3).collect()
    }

    /// The code of the answer to a whole mail.
    fn sends(&mut self, to: &str, text: &str) -> String {
        for line in [
            "MAIL FROM:<club@club.example>",
            &format!("RCPT TO:<{to}>"),
            "DATA",
        ] {
            let code = self.code(line);
            if !code.starts_with(['2', '3']) {
                return code;
            }
        }
        self.code(&format!("{text}\r\n."))
    }
}

// Source: RFC 5321: 3.3 (the transaction), 4.1.1.1 and 4.3.2 (codes), 4.5.2 (dots), 4.1.1.4 (the end); RFC 1870 (SIZE), RFC 6152
// (8BITMIME).
#[test]
fn a_mail_is_taken_as_it_was_before_its_way() {
    let sink = Sink::start().unwrap();
    let (mut client, greeting) = Client::greeted(&sink);
    assert!(greeting.starts_with("220 "), "{greeting}");
    let hello = client.says("EHLO client.example");
    assert_eq!(hello, "250-sink.example|250-8BITMIME|250 SIZE 4194304");
    assert_eq!(
        client.code("MAIL FROM:<club@club.example> BODY=8BITMIME SIZE=100"),
        "250"
    );
    assert_eq!(client.code("rcpt to:<anna@crew.example>"), "250");
    assert_eq!(client.code("RCPT TO:<ben@crew.example>"), "250");
    assert_eq!(client.code("DATA"), "354");
    let text =
        "Subject: one\r\n two\r\nMessage-ID: <1@club.example>\r\n\r\n..\r\n..two dots\r\n\na\n.\nb\r\n";
    assert_eq!(client.code(&format!("{text}.")), "250");
    let taken = sink.taken();
    let mail = &taken[0];
    assert_eq!(mail.from, "club@club.example");
    assert_eq!(mail.to, ["anna@crew.example", "ben@crew.example"]);
    let expected =
        "Subject: one\r\n two\r\nMessage-ID: <1@club.example>\r\n\r\n.\r\n.two dots\r\n\na\n.\nb\r\n";
    assert_eq!(String::from_utf8_lossy(&mail.octets), expected);
    assert_eq!(mail.field("subject").as_deref(), Some("one two"));
    assert_eq!(mail.message_id(), "<1@club.example>");
    assert_eq!(client.code("QUIT"), "221");
    assert_eq!(client.reply(), "");
}

// Source: RFC 5321, 4.1.4 (order of commands), 4.2.4 (500, 501, 503), 4.1.1.5 (RSET); RFC 1870, 6 (552).
#[test]
fn commands_out_of_order_are_refused() {
    let sink = Sink::start().unwrap();
    let (mut client, _) = Client::greeted(&sink);
    let codes = [
        ("MAIL FROM:<club@club.example>", "503"),
        ("EHLO", "501"),
        ("EHLO client.example", "250"),
        ("RCPT TO:<anna@crew.example>", "503"),
        ("DATA", "503"),
        ("MAIL club@club.example", "501"),
        ("MAIL FROM:<club@club.example> SIZE=99999999", "552"),
        ("MAIL FROM:<club@club.example> WHAT=IS", "555"),
        ("MAIL FROM:<>", "250"),
        ("MAIL FROM:<club@club.example>", "503"),
        ("RCPT TO:<>", "501"),
        ("RCPT TO:<anna@crew.example>", "250"),
        ("RSET", "250"),
        ("DATA", "503"),
        ("NOOP", "250"),
        ("AUTH PLAIN", "500"),
        ("STARTTLS", "500"),
        ("\u{fc}", "500"),
        ("", "500"),
    ];
    for (line, code) in codes {
        assert_eq!(client.code(line), code, "{line}");
    }
    assert_eq!((sink.seen().count("mail"), sink.taken().len()), (6, 0));
}

// Source: RFC 4954, 4 and 6 (codes); RFC 4616, 4 (PLAIN's example of tim and tanstaaftanstaaf); LOGIN's challenges from memory.
#[test]
fn who_must_log_in_and_has_not_sends_nothing() {
    let sink = Sink::offering(Offers {
        login: Some(("tim".to_owned(), "tanstaaftanstaaf".to_owned())),
        starttls: true,
        ..Offers::default()
    })
    .unwrap();
    let (mut client, _) = Client::greeted(&sink);
    let hello = client.says("EHLO client.example");
    assert!(hello.ends_with("|250-AUTH PLAIN LOGIN|250 STARTTLS"), "{hello}");
    let plain = "AHRpbQB0YW5zdGFhZnRhbnN0YWFm";
    assert_eq!(client.code("MAIL FROM:<club@club.example>"), "530");
    assert_eq!(client.code("AUTH GUESS"), "504");
    assert_eq!(client.code("AUTH PLAIN AHRpbQBndWVzcw=="), "535");
    assert_eq!(client.code("AUTH PLAIN ?"), "501");
    assert_eq!(client.says("AUTH PLAIN"), "334");
    assert_eq!(client.code("*"), "501");
    assert_eq!(client.says("AUTH LOGIN"), "334 VXNlcm5hbWU6");
    assert_eq!(client.says("dGlt"), "334 UGFzc3dvcmQ6");
    assert_eq!(client.code("dGFuc3RhYWZ0YW5zdGFhZg=="), "235");
    assert_eq!(client.code(&format!("AUTH PLAIN {plain}")), "503");
    assert_eq!(client.sends("anna@crew.example", "Subject: one\r\n"), "250");
    assert_eq!(Client::of(&sink).code(&format!("AUTH PLAIN {plain}")), "235");
    assert!(
        !format!("{:?}", sink.seen()).contains(plain),
        "it is not remembered"
    );
    // RFC 3207, 4: there may be no TLS at the moment.
    assert_eq!(client.code("STARTTLS"), "454");
}

#[test]
fn it_goes_wrong_at_the_step_so_often_and_for_whom_it_was_told() {
    let sink = Sink::start().unwrap();
    let mut client = Client::of(&sink);
    sink.misbehave(Fault::at(Step::Recipient, Act::Answer("550 5.1.1 unknown")).to("anna@crew.example"));
    sink.misbehave(Fault::at(Step::Received, Act::Answer("451 4.3.0 later")).times(1));
    assert_eq!(client.sends("anna@crew.example", "one"), "550");
    assert_eq!(client.code("RSET"), "250");
    assert_eq!(client.sends("ben@crew.example", "one"), "451");
    assert_eq!(client.sends("ben@crew.example", "one"), "250");
    assert_eq!(sink.seen().mails.len(), 2);
    assert_eq!(sink.taken().len(), 1);
    sink.behave();
    assert_eq!(client.sends("anna@crew.example", "one"), "250");

    sink.misbehave(Fault::at(Step::Mail, Act::AnswerAndEnd("421 4.3.2 closing")).times(1));
    assert_eq!(client.code("MAIL FROM:<club@club.example>"), "421");
    assert_eq!(client.reply(), "", "the connection has ended");
    sink.misbehave(Fault::at(Step::Connected, Act::AnswerAndEnd("421 4.3.2 closing")).times(1));
    assert!(Client::greeted(&sink).1.starts_with("421 "));
    sink.misbehave(Fault::at(Step::Connected, Act::Octets(b"\x16\x03\x01 no SMTP")).times(1));
    assert_eq!(Client::greeted(&sink).1, "\x16\x03\x01 no SMTP");
}

#[test]
fn a_connection_may_be_lost_after_the_whole_mail() {
    let sink = Sink::start().unwrap();
    sink.misbehave(Fault::at(Step::Received, Act::Drop).times(1));
    assert_eq!(Client::of(&sink).sends("anna@crew.example", "one"), "");
    let seen = sink.seen();
    assert_eq!((seen.mails.len(), seen.taken().count()), (1, 0));
    assert_eq!(Client::of(&sink).sends("anna@crew.example", "one"), "250");
}

#[test]
fn an_answer_is_held_until_it_is_let_go() {
    let (sink, gate) = (Sink::start().unwrap(), Gate::default());
    sink.misbehave(Fault::at(Step::Received, Act::Hold(gate.clone())).to("anna@crew.example"));
    let mut slow = Client::of(&sink);
    for line in [
        "MAIL FROM:<club@club.example>",
        "RCPT TO:<anna@crew.example>",
        "DATA",
    ] {
        slow.says(line);
    }
    slow.send(b"one\r\n.\r\n");
    gate.wait_for(1);
    // Another client is served meanwhile.
    assert_eq!(Client::of(&sink).sends("ben@crew.example", "one"), "250");
    slow.writer.set_nonblocking(true).unwrap();
    let nothing = slow.reader.read(&mut [0; 1]).unwrap_err();
    assert_eq!(nothing.kind(), std::io::ErrorKind::WouldBlock);
    slow.writer.set_nonblocking(false).unwrap();
    gate.open();
    assert!(slow.reply().starts_with("250 "));
    assert_eq!(sink.wait_for(2).len(), 2);
}

#[test]
fn a_closed_server_refuses_and_answers_again_on_the_same_port() {
    let mut sink = Sink::start().unwrap();
    let mut client = Client::of(&sink);
    sink.close();
    assert_eq!(client.reply(), "", "its connections are broken");
    // Its thread may still be about to say that it has ended.
    sink.wait_until("the broken connection to be counted out", |seen| seen.open == 0);
    let refused = TcpStream::connect(("127.0.0.1", sink.port())).unwrap_err();
    assert_eq!(refused.kind(), std::io::ErrorKind::ConnectionRefused);
    sink.open().unwrap();
    assert_eq!(Client::of(&sink).sends("anna@crew.example", "one"), "250");
    assert_eq!(
        sink.wait_until("no open connection", |seen| seen.open == 0)
            .most_open,
        1
    );
}

// Source: RFC 5321, 4.5.3.1.4 to 4.5.3.1.8 (what must be taken at least) and 4.5.3.1.10 (452).
#[test]
fn what_a_client_sends_is_bounded() {
    let sink = Sink::offering(Offers {
        size: 1000,
        ..Offers::default()
    })
    .unwrap();
    let mut client = Client::of(&sink);
    let large = "0123456789\r\n".repeat(100);
    assert_eq!(client.sends("anna@crew.example", &large), "552");
    let long = "x".repeat(999);
    assert_eq!(client.sends("anna@crew.example", &long), "552");
    assert_eq!(client.sends("anna@crew.example", &"x".repeat(998)), "250");
    client.says("MAIL FROM:<>");
    for _ in 0..100 {
        assert_eq!(client.code("RCPT TO:<anna@crew.example>"), "250");
    }
    assert_eq!(client.code("RCPT TO:<anna@crew.example>"), "452");
    let mut endless = Client::of(&sink);
    endless.send(&[b'x'; 20_000]);
    assert_eq!(endless.reply(), "", "it is not heard to its end");

    let sink = Sink::start().unwrap();
    assert_eq!(Client::of(&sink).sends("anna@crew.example", &long), "554");
    sink.wait_until("no open connection", |seen| seen.open == 0);
    let many: Vec<Client> = (0..64).map(|_| Client::of(&sink)).collect();
    assert_eq!(Client::greeted(&sink).1, "", "the 65th is sent away");
    drop(many);
    sink.wait_until("no open connection", |seen| seen.open == 0);
}
