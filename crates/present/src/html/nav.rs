//! The links in the running head, the same on every page.
//!
//! Owns: which pages there are and what they are called. A page is added here when its address answers.

/// Address and name of each page that needs no name of a session.
const PAGES: [(&str, &str); 5] = [
    ("/", "Board"),
    ("/openings", "Openings"),
    ("/sheet", "Sheet"),
    ("/how-we-decide", "How we decide"),
    ("/about-the-data", "About the data"),
];

/// A link of the running head.
pub(super) struct NavLink {
    /// Its address.
    pub address: &'static str,
    /// What it is called.
    pub words: &'static str,
    /// It leads to the page that is shown.
    pub shown: bool,
}

/// The links, for the page at an address.
pub(super) fn nav(here: &str) -> Vec<NavLink> {
    let link = |&(address, words)| NavLink {
        address,
        words,
        shown: address == here,
    };
    PAGES.iter().map(link).collect()
}
