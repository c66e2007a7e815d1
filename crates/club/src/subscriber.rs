//! Who is sent the club's mail: an address that is one, and what they want to be told.
//!
//! Owns: both types and their checks. Must not know: how either is kept, when a mail is due, how it is sent.

use crate::model::Club;
use chrono::Weekday;
use email_address::{EmailAddress as Checked, Options};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Longest address, octets: RFC 5321, section 4.5.3.1.3, less the two angle brackets of a path.
const ADDRESS_AT_MOST: usize = 254;

/// An address that a mail can be sent to (RFC 5321, ASCII). It is shown by [`EmailAddress::exposed`] alone: not by `Debug`, and
/// it has no `Display`.
#[derive(Clone, PartialEq, Eq)]
pub struct EmailAddress(String);

/// Why a text is no address. It does not repeat the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("an address such as crew@club.example, of ASCII characters, without a name or brackets around it")]
pub struct NoAddress;

impl EmailAddress {
    /// From what somebody typed; blanks around it are passed over.
    ///
    /// # Errors
    /// [`NoAddress`], also for one that RFC 5321 allows and hardly anybody has: a quoted name, an address in brackets, a
    /// host without a dot.
    pub fn parse(text: &str) -> Result<Self, NoAddress> {
        let text = text.trim();
        let options = Options::default()
            .with_required_tld()
            .without_display_text()
            .without_domain_literal();
        let plain =
            text.is_ascii() && text.len() <= ADDRESS_AT_MOST && !text.contains(['"', '<', '>', ',', ';']);
        let checked = Checked::parse_with_options(text, options).map_err(|_| NoAddress)?;
        if !plain {
            return Err(NoAddress);
        }
        Ok(Self(format!(
            "{}@{}",
            checked.local_part(),
            checked.domain().to_ascii_lowercase()
        )))
    }

    /// The address, for a mail's envelope and head and for its owner.
    pub fn exposed(&self) -> &str {
        &self.0
    }

    /// By what two spellings of one address are known to be one: no host in wide use tells them apart by case (no source).
    pub fn key(&self) -> String {
        self.0.to_ascii_lowercase()
    }
}

impl fmt::Debug for EmailAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("EmailAddress(…)")
    }
}

/// What a subscriber wants to be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Choices {
    /// Keys of levels; empty: all.
    pub levels: Vec<String>,
    /// Keys of boats; empty: all.
    pub boats: Vec<String>,
    /// Days of the week on which a session leaves, at the club; empty: all.
    pub weekdays: Vec<Weekday>,
    /// Daily mail only on days on which one of these sessions may sail: go or marginal, and not called off.
    pub only_when_sailing: bool,
    /// Also a mail when a call or decision changes after the club's decision hour.
    pub changes: bool,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            levels: Vec::new(),
            boats: Vec::new(),
            weekdays: Vec::new(),
            only_when_sailing: false,
            changes: true,
        }
    }
}

/// A choice that the club does not offer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the club has none of this key; it has {}", known.join(", "))]
pub struct NoSuchChoice {
    /// `levels` or `boats`.
    pub field: &'static str,
    /// What there is to choose from.
    pub known: Vec<String>,
}

impl Choices {
    /// The same with each thing named once, in the club's order, and with "all of them" said by naming none: who takes all
    /// is told of a boat that the club buys tomorrow.
    ///
    /// # Errors
    /// [`NoSuchChoice`] for a key that the club's file does not have.
    pub fn at(&self, club: &Club) -> Result<Self, NoSuchChoice> {
        let levels = club.levels.iter().map(|level| level.id.as_str());
        let boats = club.boats.iter().map(|boat| boat.id.as_str());
        let week = [
            Weekday::Mon,
            Weekday::Tue,
            Weekday::Wed,
            Weekday::Thu,
            Weekday::Fri,
            Weekday::Sat,
            Weekday::Sun,
        ];
        let mut weekdays: Vec<Weekday> = week
            .into_iter()
            .filter(|day| self.weekdays.contains(day))
            .collect();
        if weekdays.len() == week.len() {
            weekdays.clear();
        }
        Ok(Self {
            levels: chosen("levels", &self.levels, levels.collect())?,
            boats: chosen("boats", &self.boats, boats.collect())?,
            weekdays,
            ..*self
        })
    }

    /// Whether a session is among them: by the keys of its level and boat and the day it leaves, at the club.
    pub fn take(&self, level: &str, boat: &str, leaves_on: Weekday) -> bool {
        let holds = |keys: &[String], key: &str| keys.is_empty() || keys.iter().any(|one| one == key);
        holds(&self.levels, level)
            && holds(&self.boats, boat)
            && (self.weekdays.is_empty() || self.weekdays.contains(&leaves_on))
    }
}

fn chosen(field: &'static str, asked: &[String], known: Vec<&str>) -> Result<Vec<String>, NoSuchChoice> {
    if asked.iter().any(|key| !known.contains(&key.as_str())) {
        let known = known.into_iter().map(str::to_owned).collect();
        return Err(NoSuchChoice { field, known });
    }
    let named: Vec<String> = known
        .iter()
        .filter(|key| asked.iter().any(|one| one == *key))
        .map(|key| (*key).to_owned())
        .collect();
    Ok(if named.len() == known.len() {
        Vec::new()
    } else {
        named
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 5321, sections 4.1.2 (mailbox), 4.5.3.1 (sizes), 2.3.11 (the domain's case does not count); RFC 2606
    // (names for documentation).
    #[test]
    fn an_address_is_one_that_a_mail_can_be_sent_to() {
        let exposed = |text: &str| EmailAddress::parse(text).map(|one| one.exposed().to_owned());
        assert_eq!(
            exposed(" Anna.Keel+log@Club.EXAMPLE "),
            Ok("Anna.Keel+log@club.example".to_owned())
        );
        assert_eq!(
            EmailAddress::parse("Anna@club.example").unwrap().key(),
            EmailAddress::parse("ANNA@Club.example").unwrap().key()
        );
        let (long, label) = ("x".repeat(65), "x".repeat(63));
        let many = format!("a@{label}.{label}.{label}.{label}.example");
        for wrong in [
            "",
            "anna",
            "@club.example",
            "anna@",
            "anna@club",
            "anna@@club.example",
            "an na@club.example",
            "anna@club..example",
            ".anna@club.example",
            "anna@-club.example",
            "anna@[192.0.2.1]",
            "Anna <anna@club.example>",
            "<anna@club.example>",
            "\"an na\"@club.example",
            "anna@club.example, ben@club.example",
            "anna@club.example\r\nBcc: ben@club.example",
            "anna@club.example\n",
            "ann\u{e4}@club.example",
            "anna@cl\u{fc}b.example",
            &format!("{long}@club.example"),
            &many,
        ] {
            let expected = match wrong {
                // A blank after it is no part of it.
                "anna@club.example\n" => Ok("anna@club.example".to_owned()),
                _ => Err(NoAddress),
            };
            assert_eq!(exposed(wrong), expected, "{wrong:?}");
        }
    }

    #[test]
    fn debug_hides_an_address() {
        let address = EmailAddress::parse("anna@club.example").unwrap();
        assert_eq!(format!("{address:?} {NoAddress:?}"), "EmailAddress(…) NoAddress");
    }

    // By definition: nothing named takes all.
    #[test]
    fn nothing_named_takes_everything_and_what_is_named_nothing_else() {
        let all = Choices::default();
        assert!(all.take("any", "any", Weekday::Mon) && all.changes && !all.only_when_sailing);
        let some = Choices {
            levels: vec!["first".into(), "second".into()],
            boats: vec!["small".into()],
            weekdays: vec![Weekday::Sat, Weekday::Sun],
            ..Choices::default()
        };
        assert!(some.take("second", "small", Weekday::Sun));
        assert!(!some.take("third", "small", Weekday::Sun));
        assert!(!some.take("second", "large", Weekday::Sun));
        assert!(!some.take("second", "small", Weekday::Fri));
    }
}
