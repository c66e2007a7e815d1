//! A stretch of days of the query, as days at the club.

use crate::problem::ApiError;
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};

/// Days of a list, at most.
pub(super) const DAYS_AT_MOST: i64 = 62;

/// From one day to another, both counted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Days {
    pub from: NaiveDate,
    pub to: NaiveDate,
}

impl Days {
    /// The days asked for: from `usually` and as many as a list has at most, unless the query says otherwise.
    ///
    /// # Errors
    /// [`ApiError::Field`] where they end before they begin, or are too many.
    pub(super) fn asked(
        from: Option<NaiveDate>,
        to: Option<NaiveDate>,
        usually: NaiveDate,
    ) -> Result<Self, ApiError> {
        let most = TimeDelta::days(DAYS_AT_MOST - 1);
        let from = match (from, to) {
            (Some(from), _) => from,
            (None, Some(to)) if to < usually => to - most,
            (None, _) => usually,
        };
        let to = to.unwrap_or(from + most);
        if to < from {
            return Err(ApiError::field(
                "to",
                format!("this day is before the first, {from}"),
            ));
        }
        if to - from > most {
            let detail = format!(
                "at most {DAYS_AT_MOST} days from the first, {from}: until {}",
                from + most
            );
            return Err(ApiError::field("to", detail));
        }
        Ok(Self { from, to })
    }

    /// Whether a day is one of them.
    pub(super) fn hold(self, day: NaiveDate) -> bool {
        self.from <= day && day <= self.to
    }

    /// Moments that lie around them wherever on earth the club is: UTC offsets are within a day.
    pub(super) fn around(self) -> (DateTime<Utc>, DateTime<Utc>) {
        let midnight = |day: NaiveDate| day.and_time(NaiveTime::MIN).and_utc();
        (
            midnight(self.from) - TimeDelta::days(1),
            midnight(self.to) + TimeDelta::days(2),
        )
    }
}
