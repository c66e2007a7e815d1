//! The pictures of mails: drawn once, whoever they are sent to.
//!
//! Owns: how many charts are kept. Must not know: how one is drawn.

use crate::picture;
use crate::shown::Shown;
use advisory::document::CallWord;
use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Charts kept, at most; one has some 50 kB.
const CHARTS_AT_MOST: usize = 256;

/// A picture once somebody has asked for it; none where it cannot be drawn, as a mail goes without it then.
type Drawn = Arc<OnceLock<Option<Arc<[u8]>>>>;

/// Pictures that a sender keeps over many mails. It may be shared by threads: who asks while another draws waits for it.
#[derive(Debug, Default)]
pub struct Pictures {
    marks: [OnceLock<Option<Arc<[u8]>>>; 4],
    charts: Mutex<Charts>,
}

/// By the advisory's id, the longest kept first.
#[derive(Debug, Default)]
struct Charts {
    by_id: HashMap<String, Drawn>,
    order: VecDeque<String>,
}

impl Pictures {
    /// The mark of a call.
    pub(super) fn mark(&self, call: CallWord) -> Option<Arc<[u8]>> {
        let place = match call {
            CallWord::Go => 0,
            CallWord::Marginal => 1,
            CallWord::NoGo => 2,
            CallWord::NoCall => 3,
        };
        let drawn = || picture::mark(call).ok().map(Arc::from);
        self.marks[place].get_or_init(drawn).clone()
    }

    /// The chart of a session; none for an old advisory, as on the sheet, and none without hours to draw.
    pub(super) fn chart(&self, shown: Shown<'_>) -> Option<Arc<[u8]>> {
        if shown.old {
            return None;
        }
        let kept = {
            let mut charts = self.charts.lock().unwrap_or_else(PoisonError::into_inner);
            charts.of(&shown.advisory.id)
        };
        // Out of the lock: other charts can be drawn meanwhile.
        kept.get_or_init(|| picture::chart(shown.advisory, shown.now)?.ok().map(Arc::from))
            .clone()
    }
}

impl Charts {
    fn of(&mut self, id: &str) -> Drawn {
        if let Some(kept) = self.by_id.get(id) {
            return Arc::clone(kept);
        }
        if self.order.len() >= CHARTS_AT_MOST
            && let Some(oldest) = self.order.pop_front()
        {
            self.by_id.remove(&oldest);
        }
        self.order.push_back(id.to_owned());
        Arc::clone(self.by_id.entry(id.to_owned()).or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chart_is_kept_until_as_many_others_have_come() {
        let mut charts = Charts::default();
        let first = charts.of("first");
        assert!(Arc::ptr_eq(&first, &charts.of("first")));
        for number in 1..CHARTS_AT_MOST {
            charts.of(&number.to_string());
        }
        assert!(Arc::ptr_eq(&first, &charts.of("first")));
        charts.of("one more");
        assert!(!Arc::ptr_eq(&first, &charts.of("first")));
        assert_eq!(
            (charts.by_id.len(), charts.order.len()),
            (CHARTS_AT_MOST, CHARTS_AT_MOST)
        );
    }
}
