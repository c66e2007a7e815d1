//! What is forecast at a venue, as the rules ask it.
//!
//! Owns: the bridge from conditions to the rules' view of them. Must not know: calls, sentences.

use chrono::{DateTime, Utc};
use conditions::{HourConditions, MemberSet, VenueConditions};
use forecast::Member;
use rules::{Forecasts, MemberView};
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

/// The sources of one venue, each ready to be asked.
pub struct Voices<'a> {
    governing: Voice<'a>,
    second: Option<Voice<'a>>,
    deterministic: Option<Voice<'a>>,
}

/// One source. The call, its way out and its tightenings ask for the same hours again and again: each is worked out once.
pub(crate) struct Voice<'a> {
    set: &'a MemberSet,
    ask: Box<dyn Fn(Member, DateTime<Utc>) -> Rc<HourConditions> + 'a>,
}

impl<'a> Voice<'a> {
    pub(crate) fn of(set: &'a MemberSet) -> Self {
        let known = RefCell::new(HashMap::new());
        let ask = move |member, at| {
            let mut known = known.borrow_mut();
            let hour = known
                .entry((member, at))
                .or_insert_with(|| Rc::new(set.at(member, at)));
            Rc::clone(hour)
        };
        Self {
            set,
            ask: Box::new(ask),
        }
    }

    pub(crate) fn view(&self) -> MemberView<'_> {
        MemberView::of(self.set, &*self.ask)
    }
}

impl<'a> Voices<'a> {
    /// The sources that the conditions chose.
    pub fn of(conditions: &'a VenueConditions) -> Self {
        Self {
            governing: Voice::of(conditions.governing()),
            second: conditions.second_ensemble().map(Voice::of),
            deterministic: conditions.deterministic().map(Voice::of),
        }
    }

    /// As the rules ask them.
    pub fn forecasts(&self) -> Forecasts<'_> {
        Forecasts {
            governing: self.governing.view(),
            second: self.second.as_ref().map(Voice::view),
            deterministic: self.deterministic.as_ref().map(Voice::view),
        }
    }
}
