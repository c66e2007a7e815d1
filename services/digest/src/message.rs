//! A mail as octets: heads and parts (RFC 5322, RFC 2045 to 2047, RFC 2387).
//!
//! Owns: which heads a mail has. Must not know: what it says, the store.

use crate::settings::Sender;
use chrono::{DateTime, Utc};
use forecast::hash::sha256_hex;
use lettre::Address;
use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Attachment, Mailbox, Message, MultiPart, SinglePart};
use present::mail::{Mail, MailPicture};
use std::time::SystemTime;
use store::MailKey;

/// Digits of a Message-ID.
const ID_DIGITS: usize = 32;

/// What stands in the heads beside the mail's own words.
pub(crate) struct Heads<'a> {
    pub from: &'a Sender,
    pub to: Address,
    /// By which a copy is known to be one (RFC 5322, section 3.6.4).
    pub message_id: String,
    pub date: DateTime<Utc>,
    /// Where one click ends the subscription (RFC 8058); a mail to confirm has none.
    pub unsubscribe: Option<&'a str>,
    /// Name of the list (RFC 2919): the club's mail.
    pub list: String,
}

/// The same for every try to send a mail, and another for every other mail.
pub(crate) fn message_id(key: &MailKey, from: &Sender) -> String {
    let named = format!("{}\n{}\n{}", key.club, key.mailing, key.subscription);
    let digits: String = sha256_hex(named.as_bytes()).chars().take(ID_DIGITS).collect();
    format!("<{digits}@{}>", from.domain())
}

/// The octets. Lines end in CR LF.
pub(crate) fn octets(mail: &Mail, heads: Heads<'_>) -> Result<Vec<u8>, lettre::error::Error> {
    let mut builder = Message::builder()
        .from(heads.from.mailbox().clone())
        .to(Mailbox::new(None, heads.to))
        .subject(mail.subject.as_str())
        .date(SystemTime::from(heads.date))
        .message_id(Some(heads.message_id));
    let mut further = vec![
        ("List-Id", heads.list),
        // Source: RFC 3834, section 5: no holiday notice answers it.
        ("Auto-Submitted", "auto-generated".to_owned()),
    ];
    if let Some(address) = heads.unsubscribe {
        further.push(("List-Unsubscribe", format!("<{address}>")));
        further.push(("List-Unsubscribe-Post", "List-Unsubscribe=One-Click".to_owned()));
    }
    for (name, value) in further {
        builder = builder.raw_header(HeaderValue::new(HeaderName::new_from_ascii_str(name), value));
    }
    let plain = MultiPart::alternative().singlepart(SinglePart::plain(mail.text.clone()));
    let html = SinglePart::html(mail.html.clone());
    let both = match mail.pictures.as_slice() {
        [] => plain.singlepart(html),
        pictures => plain.multipart(related(html, pictures)),
    };
    Ok(builder.multipart(both)?.formatted())
}

/// The HTML with its pictures.
fn related(html: SinglePart, pictures: &[MailPicture]) -> MultiPart {
    let png = ContentType::parse("image/png").unwrap_or(ContentType::TEXT_PLAIN);
    let mut part = MultiPart::related().singlepart(html);
    // The type of the first part must be named (RFC 2387, section 3.1), and the library leaves it out.
    let named = part.headers().get_raw("Content-Type");
    let named = named.map(|kind| ContentType::parse(&format!("{kind}; type=\"text/html\"")));
    if let Some(Ok(named)) = named {
        part.headers_mut().set(named);
    }
    for picture in pictures {
        let inline = Attachment::new_inline_with_name(picture.id.clone(), picture.file_name.clone());
        part = part.singlepart(inline.body(picture.png.to_vec(), png.clone()));
    }
    part
}
