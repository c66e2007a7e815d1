//! How sure, in numbers and words: members counted, floors, two ensembles.
//!
//! Owns: those sentences. Must not know: how anything was counted.

use crate::document::{CallWord, SecondSource, Sureness};
use crate::plan_words::rounded;
use crate::words::{of_members, per_cent};
use rules::verdict::Counted;
use rules::{Call, Verdict};

/// How sure a verdict is.
pub(crate) fn sureness_of(verdict: &Verdict) -> Sureness {
    let counted = &verdict.counted;
    let share = |share: Option<f64>| share.map(|share| rounded(share, 4));
    Sureness {
        words: sureness_words(verdict),
        source: counted.source.as_ref().map(ToString::to_string),
        members_expected: counted.expected,
        members: counted.members(),
        go: counted.go,
        marginal: counted.marginal,
        no_go: counted.no_go,
        set_aside: counted.set_aside.iter().map(|member| member.0).collect(),
        counted_no_go: share(counted.share_no_go()),
        counted_marginal_or_worse: share(counted.share_marginal_or_worse()),
        p_no_go: share(verdict.p_no_go),
        p_marginal_or_worse: share(verdict.p_marginal_or_worse),
        deterministic_call: verdict.deterministic.map(CallWord::from),
        second: verdict.second.as_ref().map(second_of),
    }
}

fn second_of(second: &rules::verdict::SecondSource) -> SecondSource {
    let counted = &second.counted;
    SecondSource {
        source: counted
            .source
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default(),
        call: second.call.into(),
        members: counted.members(),
        go: counted.go,
        marginal: counted.marginal,
        no_go: counted.no_go,
        p_no_go: second.p_no_go.map(|p| rounded(p, 4)),
        p_marginal_or_worse: second.p_marginal_or_worse.map(|p| rounded(p, 4)),
    }
}

/// What the members of the one ensemble say; without one, whether a single run says anything.
fn counted_words(counted: &Counted, single: Option<Call>) -> String {
    let mut words = if counted.members() > 0 {
        let of = match counted.set_aside.len() {
            0 => format!("{} members", counted.expected),
            _ => of_members(counted.members(), counted.expected),
        };
        format!(
            "Of {of} {} say go, {} marginal, {} no-go.",
            counted.go, counted.marginal, counted.no_go
        )
    } else if counted.source.is_some() {
        "No member of the ensemble could be called.".to_owned()
    } else if single.is_some_and(|call| call != Call::NoCall) {
        "One run alone: the spread is the least that a forecast of this age has.".to_owned()
    } else {
        "No run could be called, so nothing is known of the spread.".to_owned()
    };
    if counted.source.is_some() && !counted.enough {
        words += " Too few members for probabilities.";
    }
    words
}

fn sureness_words(verdict: &Verdict) -> String {
    let mut words = counted_words(&verdict.counted, verdict.deterministic);
    if let Some(second) = &verdict.second {
        let counted = &second.counted;
        let source = counted
            .source
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default();
        words += &format!(
            " Of {} members of {source} {} say go, {} marginal, {} no-go.",
            counted.members(),
            counted.go,
            counted.marginal,
            counted.no_go
        );
    }
    if let (Some(no_go), Some(worse)) = (verdict.p_no_go, verdict.p_marginal_or_worse) {
        words += &format!(
            " With the floors of spread: no-go {}, marginal or worse {}.",
            per_cent(no_go),
            per_cent(worse)
        );
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: the project's own words.
    #[test]
    fn without_an_ensemble_a_run_speaks_only_where_it_could_be_called() {
        let none = Counted::default();
        assert!(counted_words(&none, Some(Call::Marginal)).starts_with("One run alone"));
        for single in [None, Some(Call::NoCall)] {
            assert_eq!(
                counted_words(&none, single),
                "No run could be called, so nothing is known of the spread."
            );
        }
    }
}
