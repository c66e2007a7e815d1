//! The call and its order.

use serde::{Deserialize, Serialize};

/// What a session is called. The order is that of precedence, the worst last: a missing value never hides a limit that
/// is already broken (no call is better than no-go) and never becomes a go (no call is worse than marginal).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Call {
    /// Nothing stands against it.
    Go,
    /// A caution is reached.
    Marginal,
    /// The data cannot support a call.
    NoCall,
    /// A stop is reached.
    NoGo,
}

impl Call {
    /// The worse of two.
    pub fn worst(self, other: Self) -> Self {
        self.max(other)
    }

    /// In the hour of overrun a broken stop is a caution only, and what is not known is not held against the session.
    pub fn softened(self) -> Self {
        match self {
            Self::NoGo => Self::Marginal,
            Self::NoCall => Self::Go,
            other => other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Call;

    #[test]
    fn a_missing_value_neither_hides_a_broken_limit_nor_becomes_a_go() {
        assert_eq!(Call::NoCall.worst(Call::NoGo), Call::NoGo);
        assert_eq!(Call::NoCall.worst(Call::Marginal), Call::NoCall);
        assert_eq!(Call::NoCall.worst(Call::Go), Call::NoCall);
    }
}
