//! What the server has seen: connections, commands, mails.
//!
//! Must not know: sockets, faults.

use std::time::Instant;

/// Commands that are remembered; later ones are not.
const COMMANDS_AT_MOST: usize = 100_000;

/// A mail whose octets have come to their end.
#[derive(Clone, PartialEq, Eq)]
pub struct Received {
    /// The sender of the envelope.
    pub from: String,
    /// The recipients of the envelope that were not refused.
    pub to: Vec<String>,
    /// The mail as it was before it was made ready for the way.
    pub octets: Vec<u8>,
    /// The number of the connection, from one.
    pub connection: usize,
    /// Whether the server has taken it: it answered 250, or was about to when the client had gone.
    pub taken: bool,
    /// When that was decided.
    pub at: Instant,
}

impl std::fmt::Debug for Received {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "mail to {:?}, taken: {}, {} octets",
            self.to,
            self.taken,
            self.octets.len()
        )
    }
}

impl Received {
    /// The value of a header field, unfolded (RFC 5322, 2.2.3); the first if there are several.
    pub fn field(&self, name: &str) -> Option<String> {
        let text = String::from_utf8_lossy(&self.octets);
        let head = text.split("\r\n\r\n").next()?;
        let mut lines = head.split("\r\n");
        let first = lines.find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.eq_ignore_ascii_case(name).then_some(value)
        })?;
        let folded = lines.take_while(|line| line.starts_with([' ', '\t']));
        let whole: String = std::iter::once(first).chain(folded).collect();
        Some(whole.trim().to_owned())
    }

    /// The value of `Message-ID`; empty if it has none.
    pub fn message_id(&self) -> String {
        self.field("Message-ID").unwrap_or_default()
    }

    /// The one recipient of a mail that has one.
    ///
    /// # Panics
    /// When it has another number.
    #[expect(clippy::panic, reason = "a mail of ours to several is a failed test")]
    pub fn recipient(&self) -> &str {
        match self.to.as_slice() {
            [one] => one,
            _ => panic!("one recipient is expected: {self:?}"),
        }
    }
}

/// Everything so far.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Connections so far.
    pub connections: usize,
    /// Connections that are open.
    pub open: usize,
    /// The most that were open at once.
    pub most_open: usize,
    /// Commands with the number of their connection, in order; of AUTH without what it says.
    pub commands: Vec<(usize, String)>,
    /// Mails, in the order in which they came to their end.
    pub mails: Vec<Received>,
}

impl Seen {
    /// The mails that were taken.
    pub fn taken(&self) -> impl Iterator<Item = &Received> {
        self.mails.iter().filter(|mail| mail.taken)
    }

    /// How often a command was given, by its verb.
    pub fn count(&self, verb: &str) -> usize {
        let is = |line: &str| {
            line.get(..verb.len())
                .is_some_and(|start| start.eq_ignore_ascii_case(verb))
        };
        self.commands.iter().filter(|(_, line)| is(line)).count()
    }

    pub(super) fn begin_connection(&mut self) -> usize {
        self.connections += 1;
        self.open += 1;
        self.most_open = self.most_open.max(self.open);
        self.connections
    }

    pub(super) fn end_connection(&mut self) {
        self.open -= 1;
    }

    pub(super) fn command(&mut self, connection: usize, line: &str) {
        if self.commands.len() < COMMANDS_AT_MOST {
            let is_login = line
                .get(..4)
                .is_some_and(|verb| verb.eq_ignore_ascii_case("auth"));
            let kept = if is_login { "AUTH" } else { line };
            self.commands.push((connection, kept.to_owned()));
        }
    }
}
