//! Numbers drawn from a seed, the same on every machine: SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom
//! number generators"; constants from memory, any good ones serve).
//!
//! Must not know: what is decided by them.

/// The draws.
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// The draws of a seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number from 1 to `most`.
    #[expect(clippy::expect_used, reason = "what is below a usize is one")]
    pub fn up_to(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        let drawn = (mixed ^ (mixed >> 31)) % most.max(1) as u64;
        usize::try_from(drawn).expect("below a usize") + 1
    }
}

/// A number that the environment gives, or this one.
///
/// # Panics
/// When the environment gives something else.
#[expect(
    clippy::expect_used,
    reason = "a mistyped number must not become another test"
)]
pub fn from_environment(name: &str, otherwise: u64) -> u64 {
    let given = std::env::var(name).ok();
    given.map_or(otherwise, |given| given.parse().expect("a whole number"))
}
