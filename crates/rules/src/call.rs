//! The call and its order.

use club::Policy;
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

/// How many looks at one instant came to which call.
#[derive(Clone, Copy, Debug, Default)]
pub struct CallCounts {
    all: u32,
    no_call: u32,
    no_go: u32,
    marginal: u32,
}

impl CallCounts {
    /// Counts one look.
    pub fn take(&mut self, call: Call) {
        self.all += 1;
        match call {
            Call::Go => {}
            Call::Marginal => self.marginal += 1,
            Call::NoCall => self.no_call += 1,
            Call::NoGo => self.no_go += 1,
        }
    }

    /// The call by the share of looks, in the order of precedence; none counted is no call.
    pub fn call(self, policy: &Policy) -> Call {
        let share = |count: u32| f64::from(count) / f64::from(self.all.max(1));
        if share(self.no_go) >= policy.no_go_from - 1e-9 {
            Call::NoGo
        } else if self.all == 0 || share(self.no_call) > 1.0 - policy.members_needed + 1e-9 {
            Call::NoCall
        } else if share(self.no_go + self.marginal) >= policy.marginal_from - 1e-9 {
            Call::Marginal
        } else {
            Call::Go
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
