//! Presentation: an advisory in, bytes out. Terminal text, and HTML pages with the SVG drawn on the server.
//!
//! Owns: layout, marks, drawings, the words around an advisory's own words, and the style sheet.
//! Is given: issued advisories and the time it is. Must not know: HTTP, SQL, the clock, how a call is made. It shows
//! limits and never compares a value with one.

pub mod atom;
pub mod calendar;
mod card;
mod chart;
mod credit;
pub mod html;
pub mod kept;
pub mod mail;
mod marks;
mod orders;
pub mod picture;
mod public_address;
mod sail_glyph;
mod shown;
pub mod standing;
mod svg;
pub mod terminal;
mod wording;

pub use card::{CardWords, card_words};
pub use chart::{Breadth, ladder, sea};
pub use public_address::PublicAddress;

/// What can go wrong when a page is made.
#[derive(Debug, thiserror::Error)]
pub enum PresentError {
    /// The template of a page could not be filled.
    #[error("the {page} page could not be made; the advisory itself is unharmed and can be read as JSON")]
    Page {
        /// Which page.
        page: &'static str,
        /// Why.
        #[source]
        source: askama::Error,
    },
}
