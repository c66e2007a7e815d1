//! What is wrong with bytes that should be GRIB2, and where.
//!
//! Owns: the words of every refusal. The file's name is added by the caller, who alone knows it.

use crate::names;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Bytes that cannot be used, where they lie, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Damage {
    /// Number of the message in its file, from 1; none where no message begins.
    pub message: Option<u32>,
    /// Number of the GRIB section, 0 to 8, where known.
    pub section: Option<u8>,
    /// Number of the field in its message, from 1, where only that field is affected.
    pub field: Option<u32>,
    /// Octets from the start of the file to the damage or to the section that holds it.
    pub offset: u64,
    /// What is wrong.
    pub what: Fault,
}

/// What is wrong with bytes that should be GRIB2.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
pub enum Fault {
    /// Nothing in the file.
    #[error("the file is empty")]
    Empty,
    /// No message in the file at all.
    #[error("not GRIB{}", if *.html { " (looks like HTML)" } else { "" })]
    NotGrib {
        /// It reads like a web page, as servers send in place of a file.
        html: bool,
    },
    /// Octets before, between or after messages.
    #[error("{octets} octets here are not GRIB")]
    StrayOctets {
        /// How many.
        octets: u64,
    },
    /// Another edition than 2.
    #[error("GRIB edition {0} is not supported (only edition 2 is)")]
    Edition(u8),
    /// Section 0 promises more than the file holds, and the message ends before that.
    #[error("declared length of {declared} octets is beyond the file ({at_hand} octets are at hand)")]
    LengthBeyondFile {
        /// What section 0 says.
        declared: u64,
        /// What is left of the file.
        at_hand: u64,
    },
    /// The file ends inside the message, as after an interrupted download.
    #[error("truncated: the file ends {lacking} octets before the message does")]
    Truncated {
        /// Octets that lack.
        lacking: u64,
    },
    /// No `7777` where section 0 says that the message ends.
    #[error("the end marker 7777 is not where section 0 says")]
    NoEndMarker,
    /// A WMO template that is not read here.
    #[error("unsupported: template {table}.{template}{}", names::of_unread_template(*table, *template))]
    Unsupported {
        /// 3 for grids, 4 for products, 5 for packings.
        table: u8,
        /// The template's number.
        template: u16,
    },
    /// Something inside a known template that is not read here.
    #[error("unsupported: {0}")]
    UnsupportedFeature(String),
    /// Octets that contradict each other or the standard.
    #[error("{0}")]
    Contradiction(String),
    /// Values at places are wanted of an unstructured mesh, which does not say where its cells lie.
    #[error(
        "unstructured mesh, UUID {uuid}, {cells} cells: it does not say where they lie; \
         the fields 0/191/1 (latitude) and 0/191/2 (longitude) of the same mesh do"
    )]
    NoCoordinates {
        /// UUID of the mesh, hexadecimal.
        uuid: String,
        /// How many cells it has.
        cells: u32,
    },
    /// Two fields that must lie on one grid lie on two.
    #[error("the message lies on {message}, its coordinates are of {coordinates}")]
    OtherMesh {
        /// Identity of the message's grid.
        message: String,
        /// Identity of the grid that the coordinates are of.
        coordinates: String,
    },
    /// The decoder of the packed values failed.
    #[error("the packed values cannot be decoded: {0}")]
    Undecodable(String),
}

impl Fault {
    /// A contradiction in these words.
    pub(crate) fn contradiction(words: impl Into<String>) -> Self {
        Self::Contradiction(words.into())
    }

    /// Whether the bytes may be right and are only not read here.
    pub fn is_unsupported(&self) -> bool {
        matches!(self, Self::Unsupported { .. } | Self::UnsupportedFeature(_))
    }
}

impl Damage {
    /// Whether only octets outside any message are affected, so that every message can still be used.
    pub fn is_outside_messages(&self) -> bool {
        matches!(self.what, Fault::StrayOctets { .. })
    }

    /// The same damage seen from a file in which its message begins at this octet.
    pub fn in_message_at(self, offset: u64) -> Self {
        Self {
            offset: self.offset.saturating_add(offset),
            ..self
        }
    }

    /// The whole error for people, with the name of the file.
    pub fn in_file(&self, file: &str) -> String {
        match &self.what {
            Fault::Unsupported { .. } | Fault::UnsupportedFeature(_) => {
                let message = self.message.unwrap_or_default();
                format!(
                    "{} in message {message} of {file}{}",
                    self.what,
                    self.section_in_brackets()
                )
            }
            _ => format!("{file}: {self}"),
        }
    }

    fn section_in_brackets(&self) -> String {
        let Some(section) = self.section else {
            return String::new();
        };
        let field = self
            .field
            .filter(|&field| field > 1)
            .map(|field| format!(", field {field}"));
        format!(" (section {section}{})", field.unwrap_or_default())
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Fault::Unsupported { .. } | Fault::UnsupportedFeature(_) = self.what {
            let message = self.message.unwrap_or_default();
            return write!(
                f,
                "{} in message {message}{}",
                self.what,
                self.section_in_brackets()
            );
        }
        if let Some(message) = self.message {
            write!(f, "message {message}")?;
            if let Some(section) = self.section {
                write!(f, ", section {section}")?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{} (at octet {} of the file)", self.what, self.offset)
    }
}

impl std::error::Error for Damage {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.what)
    }
}
