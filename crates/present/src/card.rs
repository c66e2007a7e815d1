//! The words of a card: one session in a few lines, for another site. The same words stand on the card's page and go to
//! the element that draws one by itself.
//!
//! Must not know: how a card is drawn.

use crate::html::foot;
use crate::shown::{Shown, decides};
use crate::wording::{clock, clock_from, day_clock, day_short, ended, from_to, session_line};
use advisory::Decision;
use advisory::document::{Advisory, CallWord};
use chrono::{DateTime, Utc};
use serde::Serialize;

/// What a card says, as it may be shown now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CardWords {
    /// Boat, level, venue: "Dunlin, First days, Pellock Sound".
    pub who: String,
    /// "Sat 17 Oct, 09:30 to 17:00".
    pub when: String,
    /// The sail plan where the boat may leave, or what stands against it, in one line.
    pub line: String,
    /// The way out, while the advisory holds: "Back by 14:15, then it is a go."
    pub way_out: Option<String>,
    /// What the club decided, or when it decides: "The club decided off".
    pub decides: String,
    /// "Issued 06:20. Valid until 12:20, after that: old, no call."
    pub valid: String,
    /// The forecast runs with their producers.
    pub origin: String,
}

/// The words for a session's advisory.
pub fn card_words(advisory: &Advisory, decisions: &[Decision], now: DateTime<Utc>) -> CardWords {
    words(Shown::at(advisory, now).beside(decisions))
}

pub(crate) fn words(shown: Shown<'_>) -> CardWords {
    let advisory = shown.advisory;
    let session = &advisory.session;
    let decides = decides(shown);
    CardWords {
        who: session_line(session),
        when: format!(
            "{}, {}",
            day_short(session.leaves),
            from_to(session.leaves, session.alongside)
        ),
        line: line(shown),
        way_out: shown.way_out_words(),
        decides: format!("{} {}", decides.before, decides.in_line()),
        valid: valid(shown),
        origin: foot::origin(advisory),
    }
}

/// The sail plan where the boat may leave, or what stands against it.
pub(crate) fn line(shown: Shown<'_>) -> String {
    let Some(plan) = shown.plan() else {
        return shown.board_sentence();
    };
    let mut carried = vec![format!("Leave with {}", plan.leave_with.words)];
    carried.extend(
        plan.changes
            .iter()
            .map(|change| format!("from {} {}", clock(change.at), change.sail.words)),
    );
    carried.extend(
        plan.past_table_from
            .map(|from| format!("from {} past her reef table: not sailed", clock(from))),
    );
    let plan = ended(&carried.join("; "));
    match shown.mark() {
        CallWord::Marginal => {
            let against = shown.advisory.reasons.first();
            let against = against.map(|reason| format!(" {}", ended(&reason.short)));
            plan + &against.unwrap_or_default()
        }
        CallWord::Go | CallWord::NoGo | CallWord::NoCall => plan,
    }
}

/// "Issued Sat 17 Oct 06:20. Valid until 12:20; after that: old, no call."
pub(crate) fn valid(shown: Shown<'_>) -> String {
    let (issued, until) = (shown.advisory.issued_at, shown.advisory.valid_until);
    let until = clock_from(until, issued);
    if shown.old {
        format!("Issued {}, was valid until {until}.", day_clock(issued))
    } else {
        format!(
            "Issued {}. Valid until {until}; after that: old, no call.",
            day_clock(issued)
        )
    }
}
