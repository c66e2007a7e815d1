//! The sections of one message, in the order WMO FM 92 GRIB edition 2 lays down, and bounded reads inside them.
//!
//! Must not know: what the octets mean. Octets are numbered from 1 within their section, as in the WMO templates.

use crate::{Damage, Fault, Message};

/// Octets of section 0.
pub(crate) const INDICATOR_OCTETS: usize = 16;
/// The end marker, section 8.
pub(crate) const END_MARKER: &[u8; 4] = b"7777";
/// The most fields one message may hold; real ones hold a handful.
const MOST_FIELDS: usize = 4096;

/// One section of one message.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Section<'a> {
    message: u32,
    field: Option<u32>,
    number: u8,
    offset: u64,
    /// All its octets, length and number included.
    pub bytes: &'a [u8],
}

impl<'a> Section<'a> {
    /// An error that names this section.
    pub fn damage(&self, what: Fault) -> Damage {
        let (message, section) = (Some(self.message), Some(self.number));
        Damage {
            message,
            section,
            field: self.field,
            offset: self.offset,
            what,
        }
    }

    /// An error that names this section, in words.
    pub fn contradiction(&self, words: impl Into<String>) -> Damage {
        self.damage(Fault::contradiction(words))
    }

    /// So many octets from this number on.
    pub fn octets<const N: usize>(&self, first: usize) -> Result<[u8; N], Damage> {
        let wanted = self.bytes.get(first - 1..first - 1 + N);
        wanted.and_then(|octets| octets.try_into().ok()).ok_or_else(|| {
            self.contradiction(format!(
                "too short: {} octets, octet {} is needed",
                self.bytes.len(),
                first - 1 + N
            ))
        })
    }

    /// The unsigned octet at this number.
    pub fn u8(&self, octet: usize) -> Result<u8, Damage> {
        Ok(u8::from_be_bytes(self.octets(octet)?))
    }

    /// Two octets, unsigned.
    pub fn u16(&self, octet: usize) -> Result<u16, Damage> {
        Ok(u16::from_be_bytes(self.octets(octet)?))
    }

    /// Four octets, unsigned.
    pub fn u32(&self, octet: usize) -> Result<u32, Damage> {
        Ok(u32::from_be_bytes(self.octets(octet)?))
    }

    /// One octet whose first bit is the sign (regulation 92.1.5).
    pub fn signed_8(&self, octet: usize) -> Result<i32, Damage> {
        let raw = self.u8(octet)?;
        Ok(with_sign(i32::from(raw & 0x7f), raw & 0x80 != 0))
    }

    /// Two octets whose first bit is the sign (regulation 92.1.5).
    pub fn signed_16(&self, octet: usize) -> Result<i32, Damage> {
        let raw = self.u16(octet)?;
        Ok(with_sign(i32::from(raw & 0x7fff), raw & 0x8000 != 0))
    }

    /// Four octets whose first bit is the sign (regulation 92.1.5).
    pub fn signed_32(&self, octet: usize) -> Result<i32, Damage> {
        let raw = self.u32(octet)?;
        Ok(with_sign((raw & 0x7fff_ffff) as i32, raw & 0x8000_0000 != 0))
    }

    /// Four octets of IEEE 754 single precision.
    pub fn f32(&self, octet: usize) -> Result<f32, Damage> {
        Ok(f32::from_be_bytes(self.octets(octet)?))
    }

    /// Everything from this octet to the end of the section.
    pub fn rest(&self, octet: usize) -> &'a [u8] {
        self.bytes.get(octet - 1..).unwrap_or_default()
    }

    fn of_field(self, field: u32) -> Self {
        Self {
            field: Some(field),
            ..self
        }
    }
}

fn with_sign(magnitude: i32, negative: bool) -> i32 {
    if negative { -magnitude } else { magnitude }
}

/// The sections that make one field.
#[derive(Clone, Copy, Debug)]
pub(crate) struct FieldSections<'a> {
    /// Number of the field in its message, from 1.
    pub field: u32,
    /// Section 1.
    pub identification: Section<'a>,
    /// Section 3.
    pub grid: Section<'a>,
    /// Section 4.
    pub product: Section<'a>,
    /// Section 5.
    pub representation: Section<'a>,
    /// Section 6 as it stands at this field.
    pub bitmap: Section<'a>,
    /// The last section 6 of the message that held a bitmap, which indicator 254 refers to.
    pub latest_bitmap: Option<Section<'a>>,
    /// Section 7.
    pub data: Section<'a>,
}

/// Reads one section at `at` octets into the message; its length is checked against the octets before the end marker.
fn section_at<'a>(message: &Message<'a>, at: usize) -> Result<Section<'a>, Damage> {
    let body_end = message.bytes.len().saturating_sub(END_MARKER.len());
    let left = body_end.saturating_sub(at);
    let damage = |section, words| Damage {
        message: Some(message.number),
        section,
        field: None,
        offset: message.offset + at as u64,
        what: Fault::contradiction(words),
    };
    let header = message.bytes.get(at..at + 5).filter(|_| left >= 5);
    let &[a, b, c, d, number] = header.unwrap_or_default() else {
        return Err(damage(
            None,
            format!("{left} octets are left before the end, too few for a section"),
        ));
    };
    let length = u32::from_be_bytes([a, b, c, d]);
    if length < 5 || u64::from(length) > left as u64 {
        let words = format!("claims {length} octets, {left} are left in the message");
        return Err(damage(Some(number), words));
    }
    let bytes = &message.bytes[at..at + length as usize];
    Ok(Section {
        message: message.number,
        field: None,
        number,
        offset: message.offset + at as u64,
        bytes,
    })
}

/// Splits a message into its fields: sections 2 to 7, 3 to 7 or 4 to 7 may repeat, and what is not repeated holds on.
pub(crate) fn fields<'a>(message: &Message<'a>) -> Result<Vec<FieldSections<'a>>, Damage> {
    let body_end = message.bytes.len().saturating_sub(END_MARKER.len());
    let mut at = INDICATOR_OCTETS;
    let mut latest: [Option<Section<'a>>; 8] = [None; 8];
    let mut latest_bitmap = None;
    let (mut previous, mut fields) = (0_u8, Vec::new());
    while at < body_end {
        let section = section_at(message, at)?;
        if !may_follow(previous, section.number) {
            let number = section.number;
            return Err(section.contradiction(format!("section {number} may not follow section {previous}")));
        }
        previous = section.number;
        latest[usize::from(section.number)] = Some(section);
        if section.number == 6 && section.u8(6)? == 0 {
            latest_bitmap = Some(section);
        }
        if section.number == 7 {
            fields.push(field(&latest, latest_bitmap, fields.len() as u32 + 1, &section)?);
            if fields.len() > MOST_FIELDS {
                return Err(section.contradiction(format!("more than {MOST_FIELDS} fields in one message")));
            }
        }
        at += section.bytes.len();
    }
    if previous != 7 {
        let what = Fault::contradiction(format!(
            "the message ends after section {previous}, before any section 7"
        ));
        let offset = message.offset + at as u64;
        let section = Some(previous.saturating_add(1));
        return Err(Damage {
            message: Some(message.number),
            section,
            field: None,
            offset,
            what,
        });
    }
    Ok(fields)
}

fn may_follow(previous: u8, number: u8) -> bool {
    match previous {
        0 => number == 1,
        1 => matches!(number, 2 | 3),
        2..=6 => number == previous + 1,
        7 => matches!(number, 2..=4),
        _ => false,
    }
}

fn field<'a>(
    latest: &[Option<Section<'a>>; 8],
    latest_bitmap: Option<Section<'a>>,
    field: u32,
    data: &Section<'a>,
) -> Result<FieldSections<'a>, Damage> {
    let kept = |number: usize| {
        let section = latest[number].map(|section| section.of_field(field));
        section.ok_or_else(|| data.contradiction(format!("no section {number} comes before it")))
    };
    Ok(FieldSections {
        field,
        identification: kept(1)?,
        grid: kept(3)?,
        product: kept(4)?,
        representation: kept(5)?,
        bitmap: kept(6)?,
        latest_bitmap,
        data: data.of_field(field),
    })
}
