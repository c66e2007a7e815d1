//! One client's dialogue: RFC 5321, with 8BITMIME (RFC 6152), SIZE (RFC 1870), AUTH (RFC 4954) and the word STARTTLS (RFC 3207).
//!
//! Must not know: which test it serves.

use super::lines::{Text, read_command, read_text};
use super::seen::Received;
use super::{Act, Shared, Step};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use std::io::{self, BufReader, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::time::{Duration, Instant};

/// A client that is silent for longer is left.
const SILENT_AT_MOST: Duration = Duration::from_secs(300);
/// RFC 5321, 4.5.3.1.8: at least so many must be taken.
const RECIPIENTS_AT_MOST: usize = 100;
/// Read after the last word, so that it is not lost with what the client still says.
const READ_AT_THE_END: u64 = 1 << 16;

/// What is left of a dialogue after an answer.
#[derive(PartialEq, Eq)]
enum Then {
    /// The answer was what the protocol has for success.
    Served,
    /// It was another one, and the dialogue goes on.
    Refused,
    /// The connection ends.
    Ends,
}

struct Dialogue<'a> {
    shared: &'a Shared,
    number: usize,
    reader: BufReader<TcpStream>,
    writer: TcpStream,
    greeted: bool,
    logged_in: bool,
    from: Option<String>,
    to: Vec<String>,
}

/// Speaks with a client until either ends it.
pub fn hold(shared: &Shared, number: usize, stream: TcpStream) -> io::Result<()> {
    stream.set_read_timeout(Some(SILENT_AT_MOST))?;
    stream.set_write_timeout(Some(SILENT_AT_MOST))?;
    stream.set_nodelay(true)?;
    let mut dialogue = Dialogue {
        shared,
        number,
        writer: stream.try_clone()?,
        reader: BufReader::new(stream),
        greeted: false,
        logged_in: false,
        from: None,
        to: Vec::new(),
    };
    let mut then = dialogue.answer(Step::Connected, "220 sink.example ESMTP")?;
    while then != Then::Ends {
        let Some(line) = read_command(&mut dialogue.reader)? else {
            break;
        };
        shared.see(|state| state.seen.command(number, &line));
        then = dialogue.command(&line)?;
    }
    Ok(())
}

impl Dialogue<'_> {
    fn command(&mut self, line: &str) -> io::Result<Then> {
        let (verb, rest) = line.split_once(' ').unwrap_or((line, ""));
        match (verb.to_ascii_uppercase().as_str(), rest.trim()) {
            ("EHLO" | "HELO", "") => self.refuse("501 5.5.4 say who you are"),
            ("EHLO", _) => self.hello(true),
            ("HELO", _) => self.hello(false),
            ("STARTTLS", "") if self.shared.offers.starttls => {
                let then = self.answer(Step::StartTls, "454 4.7.0 no TLS at the moment")?;
                Ok(then.or_refused())
            }
            ("AUTH", rest) if self.shared.offers.login.is_some() => self.login(rest),
            ("MAIL", rest) => self.mail(rest),
            ("RCPT", rest) => self.recipient(rest),
            ("DATA", "") => self.data(),
            ("RSET", "") => {
                self.forget();
                self.refuse("250 2.0.0 forgotten")
            }
            ("NOOP", _) => self.refuse("250 2.0.0 nothing done"),
            ("VRFY", _) => self.refuse("252 2.5.0 it will be tried"),
            ("QUIT", "") => {
                self.answer(Step::Quit, "221 2.0.0 good bye")?;
                self.end()
            }
            ("DATA" | "RSET" | "QUIT", _) => self.refuse("501 5.5.4 no more words are expected"),
            _ => self.refuse("500 5.5.2 that is no command here"),
        }
    }

    fn hello(&mut self, extended: bool) -> io::Result<Then> {
        self.forget();
        let offers = &self.shared.offers;
        let mut words = vec!["sink.example".to_owned()];
        if extended {
            words.extend(["8BITMIME".to_owned(), format!("SIZE {}", offers.size)]);
            words.extend(offers.login.as_ref().map(|_| "AUTH PLAIN LOGIN".to_owned()));
            words.extend(offers.starttls.then(|| "STARTTLS".to_owned()));
        }
        let last = words.len() - 1;
        let line = |(at, word): (usize, &String)| format!("250{}{word}", if at == last { ' ' } else { '-' });
        let lines: Vec<String> = words.iter().enumerate().map(line).collect();
        let then = self.answer(Step::Hello, &lines.join("\r\n"))?;
        self.greeted = then == Then::Served;
        Ok(then)
    }

    /// RFC 4954, with PLAIN (RFC 4616) and LOGIN (no source: common practice).
    fn login(&mut self, rest: &str) -> io::Result<Then> {
        if !self.greeted || self.logged_in || self.from.is_some() {
            return self.refuse("503 5.5.1 not now");
        }
        let (mechanism, initial) = rest.split_once(' ').unwrap_or((rest, ""));
        let given = match mechanism.to_ascii_uppercase().as_str() {
            "PLAIN" if initial.is_empty() => self.asked_for("")?,
            "PLAIN" => decoded(initial),
            "LOGIN" => self.user_and_password(initial)?,
            _ => return self.refuse("504 5.5.4 PLAIN or LOGIN"),
        };
        let Some(given) = given else {
            return self.refuse("501 5.5.2 that is no answer");
        };
        // RFC 4616: whom to act for (here nobody else), who logs in, the password.
        let right = self
            .shared
            .offers
            .login
            .as_ref()
            .is_some_and(|(user, password)| given == format!("\0{user}\0{password}").into_bytes());
        if !right {
            return self.refuse("535 5.7.8 that is not the password");
        }
        let then = self.answer(Step::Login, "235 2.7.0 come in")?;
        self.logged_in = then == Then::Served;
        Ok(then)
    }

    /// The two answers of LOGIN, in the form of PLAIN.
    fn user_and_password(&mut self, initial: &str) -> io::Result<Option<Vec<u8>>> {
        let user = match initial {
            "" => self.asked_for("VXNlcm5hbWU6")?,
            _ => decoded(initial),
        };
        let Some(user) = user else {
            return Ok(None);
        };
        let password = self.asked_for("UGFzc3dvcmQ6")?;
        Ok(password.map(|password| [b"\0", user.as_slice(), b"\0", password.as_slice()].concat()))
    }

    /// What the client answers to a challenge; none if it is no base64, or `*`.
    fn asked_for(&mut self, challenge: &str) -> io::Result<Option<Vec<u8>>> {
        self.write(&format!("334 {challenge}"))?;
        let line = read_command(&mut self.reader)?.ok_or(io::ErrorKind::UnexpectedEof)?;
        Ok(decoded(&line))
    }

    fn mail(&mut self, rest: &str) -> io::Result<Then> {
        if !self.greeted || self.from.is_some() {
            return self.refuse("503 5.5.1 not now");
        }
        if self.shared.offers.login.is_some() && !self.logged_in {
            return self.refuse("530 5.7.0 log in first");
        }
        let Some((from, parameters)) = path(rest, "FROM:") else {
            return self.refuse("501 5.5.4 MAIL FROM:<address>");
        };
        for parameter in parameters.split_ascii_whitespace() {
            match parameter.to_ascii_uppercase().split_once('=') {
                Some(("BODY", "8BITMIME" | "7BIT")) => {}
                Some(("SIZE", size))
                    if size
                        .parse()
                        .is_ok_and(|size: usize| size <= self.shared.offers.size) => {}
                Some(("SIZE", _)) => return self.refuse("552 5.3.4 larger than was said"),
                _ => return self.refuse("555 5.5.4 unknown parameter"),
            }
        }
        let then = self.answer(Step::Mail, "250 2.1.0 go on")?;
        self.from = (then == Then::Served).then(|| from.to_owned());
        Ok(then)
    }

    fn recipient(&mut self, rest: &str) -> io::Result<Then> {
        if self.from.is_none() {
            return self.refuse("503 5.5.1 not now");
        }
        let Some((to, "")) = path(rest, "TO:").filter(|(to, _)| !to.is_empty()) else {
            return self.refuse("501 5.5.4 RCPT TO:<address>");
        };
        if self.to.len() >= RECIPIENTS_AT_MOST {
            return self.refuse("452 4.5.3 too many");
        }
        let to = to.to_owned();
        let act = self.shared.act_at(Step::Recipient, std::slice::from_ref(&to));
        let then = self.acted(act, "250 2.1.5 go on")?;
        if then == Then::Served {
            self.to.push(to);
        }
        Ok(then)
    }

    fn data(&mut self) -> io::Result<Then> {
        if self.to.is_empty() {
            return self.refuse("503 5.5.1 not now");
        }
        let then = self.answer(Step::Data, "354 end with a dot")?;
        if then != Then::Served {
            return Ok(then);
        }
        let refusal = match read_text(&mut self.reader, self.shared.offers.size)? {
            None => return Ok(Then::Ends),
            Some(Text::Whole(octets)) => return self.received(octets),
            Some(Text::TooLarge) => "552 5.3.4 larger than was said",
            Some(Text::LineTooLong) => "554 5.6.0 a line is too long",
        };
        self.forget();
        self.refuse(refusal)
    }

    /// What is taken is remembered before it is said: who has the answer can look at the mail.
    fn received(&mut self, octets: Vec<u8>) -> io::Result<Then> {
        let act = self.shared.act_at(Step::Received, &self.to);
        let mail = Received {
            from: self.from.take().unwrap_or_default(),
            to: std::mem::take(&mut self.to),
            octets,
            connection: self.number,
            taken: matches!(act, None | Some(Act::Hold(_))),
            at: Instant::now(),
        };
        self.shared.see(|state| state.seen.mails.push(mail));
        self.acted(act, "250 2.0.0 taken")
    }

    fn forget(&mut self) {
        self.from = None;
        self.to.clear();
    }

    /// Answers as the protocol has it, unless something goes wrong at this step.
    fn answer(&mut self, step: Step, served: &str) -> io::Result<Then> {
        let act = self.shared.act_at(step, &self.to);
        self.acted(act, served)
    }

    fn acted(&mut self, act: Option<Act>, served: &str) -> io::Result<Then> {
        match act {
            None => self.write(served)?,
            Some(Act::Hold(gate)) => {
                gate.pass();
                self.write(served)?;
            }
            Some(Act::Answer(line)) => return self.refuse(line),
            Some(Act::AnswerAndEnd(line)) => {
                self.write(line)?;
                return self.end();
            }
            Some(Act::Octets(octets)) => {
                self.writer.write_all(octets)?;
                return self.end();
            }
            Some(Act::Drop) => return Ok(Then::Ends),
        }
        Ok(Then::Served)
    }

    fn refuse(&mut self, line: &str) -> io::Result<Then> {
        self.write(line)?;
        Ok(Then::Refused)
    }

    fn write(&mut self, line: &str) -> io::Result<()> {
        self.writer.write_all(format!("{line}\r\n").as_bytes())
    }

    /// Says no more, and hears the client out.
    fn end(&mut self) -> io::Result<Then> {
        self.writer.shutdown(Shutdown::Write)?;
        io::copy(&mut self.reader.by_ref().take(READ_AT_THE_END), &mut io::sink())?;
        Ok(Then::Ends)
    }
}

impl Then {
    /// Where even the protocol's own answer goes no further.
    fn or_refused(self) -> Self {
        if self == Self::Served { Self::Refused } else { self }
    }
}

/// The address of `FROM:<address> parameters`, and the parameters.
fn path<'a>(text: &'a str, keyword: &str) -> Option<(&'a str, &'a str)> {
    let (start, rest) = text.split_at_checked(keyword.len())?;
    let (address, parameters) = rest.strip_prefix('<')?.split_once('>')?;
    let sound = start.eq_ignore_ascii_case(keyword) && !address.contains(['<', ' ']);
    sound.then_some((address, parameters.trim()))
}

fn decoded(text: &str) -> Option<Vec<u8>> {
    BASE64_STANDARD.decode(text).ok()
}
