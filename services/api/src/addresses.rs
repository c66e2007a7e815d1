//! Where a reader elsewhere finds what this service shows: whole addresses, made from the setting `public_address` only.
//!
//! Owns: which page is whose. Must not know: what a page says. Other clubs of the store have no pages here, and without the
//! setting nobody is sent anywhere.

use crate::ApiState;
use present::PublicAddress;
use present::html::Elsewhere;

impl ApiState {
    /// The whole address of a path of ours, percent-encoded already.
    pub(crate) fn address_of(&self, path: &str) -> Option<String> {
        let public = self.serving.public_address.as_ref()?;
        Some(public.of(path))
    }

    /// A page of ours with the service it belongs to.
    pub(crate) fn elsewhere(&self, page: Option<String>) -> Option<Elsewhere> {
        let service = self.serving.public_address.as_ref()?.as_str().to_owned();
        page.map(|page| Elsewhere { page, service })
    }

    /// The board of a club.
    pub(crate) fn board_of(&self, slug: &str) -> Option<String> {
        self.public_of(slug).map(PublicAddress::board)
    }

    /// The page of a session of a club.
    pub(crate) fn page_of(&self, slug: &str, session: &str) -> Option<String> {
        self.public_of(slug).map(|public| public.session(session))
    }

    fn public_of(&self, slug: &str) -> Option<&PublicAddress> {
        let public = self.serving.public_address.as_ref();
        public.filter(|_| *slug == *self.club)
    }
}
