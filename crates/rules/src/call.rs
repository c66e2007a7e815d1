//! The call and its order.

use club::Policy;
use seaway::Knots;
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

/// The calls of one instant: of the members as they are, and of all looks at them with the floors of spread.
#[derive(Clone, Copy, Debug, Default)]
pub struct CallCounts {
    as_they_are: Counts,
    looks: Counts,
}

impl CallCounts {
    /// Counts one look at a member; `lifted` by so many knots, nothing where it is the member as it is.
    pub fn take(&mut self, call: Call, lifted: Knots) {
        self.looks.take(call);
        if lifted.0 == 0.0 {
            self.as_they_are.take(call);
        }
    }

    /// The call by the share of looks, and of several members never kinder than by those as they are.
    pub fn call(self, policy: &Policy) -> Call {
        let looked_at = self.looks.call(policy);
        if self.as_they_are.all > 1 {
            looked_at.worst(self.as_they_are.call(policy))
        } else {
            looked_at
        }
    }
}

/// How many came to which call.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    all: u32,
    no_call: u32,
    no_go: u32,
    marginal: u32,
}

impl Counts {
    fn take(&mut self, call: Call) {
        self.all += 1;
        match call {
            Call::Go => {}
            Call::Marginal => self.marginal += 1,
            Call::NoCall => self.no_call += 1,
            Call::NoGo => self.no_go += 1,
        }
    }

    /// By share, in the order of precedence; none counted is no call.
    fn call(self, policy: &Policy) -> Call {
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
