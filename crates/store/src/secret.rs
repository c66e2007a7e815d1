//! The secret of a token: what its holder shows, and the hash under which it is kept.
//!
//! Must not know: where randomness comes from, which is given; what a token allows.

use forecast::hash::sha256_hex;
use std::fmt;

/// With what every secret begins, so that leaked ones can be searched for.
pub const SECRET_PREFIX: &str = "cringle_";
/// Octets of randomness.
const OCTETS: usize = 32;

/// A token's secret. It is shown by [`TokenSecret::exposed`] alone: not by `Debug`, and it has no `Display`.
#[derive(Clone, PartialEq, Eq)]
pub struct TokenSecret(String);

impl TokenSecret {
    /// From octets that nobody can guess.
    pub fn from_random(octets: [u8; OCTETS]) -> Self {
        let digits: String = octets.iter().map(|octet| format!("{octet:02x}")).collect();
        Self(format!("{SECRET_PREFIX}{digits}"))
    }

    /// From what a caller shows; none if no secret looks like that.
    pub fn parse(shown: &str) -> Option<Self> {
        let digits = shown.strip_prefix(SECRET_PREFIX)?;
        let fits = digits.len() == 2 * OCTETS
            && digits
                .bytes()
                .all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
        fits.then(|| Self(shown.to_owned()))
    }

    /// The secret, for the one who is given it.
    pub fn exposed(&self) -> &str {
        &self.0
    }

    /// The hash under which it is kept: SHA-256, in hexadecimal digits. A slow, salted hash guards passwords because people
    /// choose few of them; among 2^256 secrets a thief of the hashes has nothing to try, and a fast hash costs each request little.
    /// Nor does the time of a look-up by it tell anything of a secret.
    pub fn hash(&self) -> String {
        sha256_hex(self.0.as_bytes())
    }
}

impl fmt::Debug for TokenSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TokenSecret({SECRET_PREFIX}…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_read_back_and_nothing_else_is_one() {
        let secret = TokenSecret::from_random([0xAB; OCTETS]);
        assert_eq!(secret.exposed(), format!("cringle_{}", "ab".repeat(32)));
        assert_eq!(TokenSecret::parse(secret.exposed()), Some(secret.clone()));
        let shown = secret.exposed();
        for wrong in [
            "",
            "cringle_",
            &shown[1..],
            &shown[..shown.len() - 1],
            &format!("{shown}0"),
            &shown.to_uppercase(),
            &shown.replace("abab", "xyxy"),
            &format!(" {shown}"),
            &shown.replacen("ab", "\u{e9}", 1),
        ] {
            assert_eq!(TokenSecret::parse(wrong), None, "{wrong}");
        }
    }

    // Source: FIPS 180-4 by coreutils, `printf cringle_abab… | sha256sum`.
    #[test]
    fn it_is_kept_as_its_sha_256_and_debug_hides_it() {
        let secret = TokenSecret::from_random([0xAB; OCTETS]);
        assert_eq!(
            secret.hash(),
            "28a861cc0d5fc05a639dc2a311c0b7566284cf5a26cca05706504d9e26c77f2d"
        );
        assert_eq!(format!("{secret:?}"), "TokenSecret(cringle_…)");
    }
}
