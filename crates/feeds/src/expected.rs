//! What a wanted message must turn out to be, and whether it did.

use chrono::{DateTime, TimeDelta, Utc};
use forecast::{Interval, Process};

/// Product definition templates of one forecast at a moment or over an interval, without and with a member. All others
/// are means, spreads or probabilities, which are not the forecast quantity.
const ONE_FORECAST: [u16; 4] = [0, 1, 8, 11];

/// What the plan promises of a message.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// Accepted discipline, category and number.
    pub codes: Vec<[u8; 3]>,
    /// Accepted types of first fixed surface.
    pub surfaces: Vec<u8>,
    /// Value on that surface, where it matters.
    pub level: Option<f64>,
    /// The run's reference time.
    pub reference: DateTime<Utc>,
    /// The instant it is valid for: the end of its interval if it has one.
    pub valid: DateTime<Utc>,
    /// Its interval; none for a value of one moment.
    pub interval: Option<ExpectedInterval>,
    /// The member's number; none for a deterministic run.
    pub member: Option<u16>,
}

/// The interval that a message's values must be for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ExpectedInterval {
    /// This one and no other.
    This(Interval),
    /// A maximum that ends with the step. When it began is the message's own to say, never that of the spacing of steps.
    MaximumOver {
        /// Accepted lengths, hours.
        hours: Vec<u16>,
    },
}

/// What a decoded message says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Discipline, category and number.
    pub codes: [u8; 3],
    /// Type of first fixed surface.
    pub surface: u8,
    /// Value on that surface.
    pub level: Option<f64>,
    /// Product definition template.
    pub product_template: u16,
    /// The run's reference time.
    pub reference: DateTime<Utc>,
    /// The instant it is valid for.
    pub valid: DateTime<Utc>,
    /// Its interval.
    pub interval: Option<Interval>,
    /// The member's number.
    pub member: Option<u16>,
}

impl Expected {
    /// True if a message is of the wanted quantity on the wanted level: among several fields of one message this finds
    /// the right one.
    pub fn is_wanted_field(&self, found: &Found) -> bool {
        self.codes.contains(&found.codes)
            && self.surfaces.contains(&found.surface)
            && self.level_agrees(found)
    }

    /// How a message differs from what the index promised, in words; none if it does not.
    pub fn difference(&self, found: &Found) -> Option<String> {
        if !self.codes.contains(&found.codes) {
            let [discipline, category, number] = found.codes;
            return Some(format!(
                "it holds parameter {discipline}/{category}/{number}, not the one of its index line"
            ));
        }
        if !self.surfaces.contains(&found.surface) || !self.level_agrees(found) {
            let level = found
                .level
                .map_or("no value".to_owned(), |level| level.to_string());
            return Some(format!(
                "it lies on surface {} = {level}, not on that of its index line",
                found.surface
            ));
        }
        if !ONE_FORECAST.contains(&found.product_template) {
            return Some(format!(
                "it is a derived product (template 4.{}), not one forecast",
                found.product_template
            ));
        }
        if found.reference != self.reference {
            return Some(format!(
                "it is of the run of {}, not {}",
                found.reference, self.reference
            ));
        }
        if found.valid != self.valid {
            return Some(format!("it is valid at {}, not {}", found.valid, self.valid));
        }
        if !self.interval_agrees(found) {
            let (found, wanted) = (words(found.interval), self.interval_in_words());
            return Some(format!("it is {found}, not {wanted}"));
        }
        if found.member != self.member {
            let member =
                |number: Option<u16>| number.map_or("no member".to_owned(), |n| format!("member {n}"));
            return Some(format!(
                "it is of {}, not {}",
                member(found.member),
                member(self.member)
            ));
        }
        None
    }

    fn interval_agrees(&self, found: &Found) -> bool {
        match (&self.interval, found.interval) {
            (None, interval) => interval.is_none(),
            (Some(_), None) => false,
            (Some(ExpectedInterval::This(wanted)), Some(interval)) => *wanted == interval,
            (Some(ExpectedInterval::MaximumOver { hours }), Some(interval)) => {
                let length = interval.end - interval.start;
                interval.process == Process::Maximum
                    && interval.end == self.valid
                    && hours
                        .iter()
                        .any(|hours| TimeDelta::hours(i64::from(*hours)) == length)
            }
        }
    }

    fn interval_in_words(&self) -> String {
        match &self.interval {
            None => words(None),
            Some(ExpectedInterval::This(interval)) => words(Some(*interval)),
            Some(ExpectedInterval::MaximumOver { hours }) => {
                let hours: Vec<_> = hours.iter().map(u16::to_string).collect();
                format!("a maximum over {} h to {}", hours.join(" or "), self.valid)
            }
        }
    }

    fn level_agrees(&self, found: &Found) -> bool {
        // Levels are decimal numbers scaled by powers of ten: anything nearer than a thousandth is the same level.
        self.level
            .is_none_or(|wanted| found.level.is_some_and(|level| (level - wanted).abs() < 1e-3))
    }
}

fn words(interval: Option<Interval>) -> String {
    let Some(interval) = interval else {
        return "a value of one moment".to_owned();
    };
    let process = match interval.process {
        Process::Mean => "a mean",
        Process::Accumulation => "an accumulation",
        Process::Maximum => "a maximum",
        Process::Minimum => "a minimum",
        Process::Other(_) => "another statistic",
    };
    format!("{process} from {} to {}", interval.start, interval.end)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(hour: u32) -> DateTime<Utc> {
        format!("2030-05-13T{hour:02}:00:00Z").parse().unwrap()
    }

    fn wanted() -> (Expected, Found) {
        let rain = Some(Interval {
            start: at(6),
            end: at(9),
            process: Process::Accumulation,
        });
        let expected = Expected {
            codes: vec![[0, 1, 8], [0, 1, 52]],
            surfaces: vec![1],
            level: None,
            reference: at(0),
            valid: at(9),
            interval: rain.map(ExpectedInterval::This),
            member: Some(7),
        };
        let found = Found {
            codes: [0, 1, 52],
            surface: 1,
            level: Some(0.0),
            product_template: 11,
            reference: at(0),
            valid: at(9),
            interval: rain,
            member: Some(7),
        };
        (expected, found)
    }

    // No source: each difference is made here, one at a time.
    #[test]
    fn every_difference_is_told_in_words() {
        let (expected, found) = wanted();
        assert_eq!(expected.difference(&found), None);
        let total = Some(Interval {
            start: at(0),
            end: at(9),
            process: Process::Accumulation,
        });
        for (changed, word) in [
            (
                Found {
                    codes: [0, 1, 7],
                    ..found.clone()
                },
                "parameter 0/1/7",
            ),
            (
                Found {
                    product_template: 2,
                    ..found.clone()
                },
                "derived product (template 4.2)",
            ),
            (
                Found {
                    surface: 103,
                    ..found.clone()
                },
                "surface 103",
            ),
            (
                Found {
                    reference: at(6),
                    ..found.clone()
                },
                "run of 2030-05-13 06:00",
            ),
            (
                Found {
                    valid: at(12),
                    ..found.clone()
                },
                "valid at 2030-05-13 12:00",
            ),
            (
                Found {
                    interval: total,
                    ..found.clone()
                },
                "an accumulation from 2030-05-13 00:00",
            ),
            (
                Found {
                    interval: None,
                    ..found.clone()
                },
                "a value of one moment",
            ),
            (
                Found {
                    member: Some(8),
                    ..found.clone()
                },
                "member 8",
            ),
            (
                Found {
                    member: None,
                    ..found.clone()
                },
                "no member",
            ),
        ] {
            let difference = expected.difference(&changed).unwrap_or_default();
            assert!(difference.contains(word), "{difference} lacks {word}");
        }
    }

    // Source: ECMWF's gust is the maximum of 3 h before the step, of 6 h after step 144.
    #[test]
    fn the_length_of_a_maximum_is_the_message_s_own() {
        let (expected, found) = wanted();
        let gust = Expected {
            interval: Some(ExpectedInterval::MaximumOver { hours: vec![3, 6] }),
            ..expected
        };
        let over = |start, end, process| Found {
            interval: Some(Interval {
                start: at(start),
                end: at(end),
                process,
            }),
            ..found.clone()
        };
        assert_eq!(gust.difference(&over(6, 9, Process::Maximum)), None);
        assert_eq!(gust.difference(&over(3, 9, Process::Maximum)), None);
        assert_eq!(
            gust.difference(&over(0, 9, Process::Maximum)).unwrap(),
            "it is a maximum from 2030-05-13 00:00:00 UTC to 2030-05-13 09:00:00 UTC, \
             not a maximum over 3 or 6 h to 2030-05-13 09:00:00 UTC"
        );
        for other in [
            over(6, 9, Process::Mean),
            over(5, 8, Process::Maximum),
            over(9, 9, Process::Maximum),
            Found {
                interval: None,
                ..found.clone()
            },
        ] {
            assert!(gust.difference(&other).is_some(), "{other:?}");
        }
        let moment = Expected {
            interval: None,
            ..gust
        };
        assert!(
            moment
                .difference(&over(6, 9, Process::Maximum))
                .unwrap()
                .ends_with("not a value of one moment")
        );
    }

    #[test]
    fn a_level_matters_where_the_catalogue_names_one() {
        let (expected, found) = wanted();
        let two_metres = Expected {
            level: Some(2.0),
            ..expected
        };
        assert!(two_metres.is_wanted_field(&Found {
            level: Some(2.0),
            ..found.clone()
        }));
        assert!(!two_metres.is_wanted_field(&Found {
            level: Some(100.0),
            ..found.clone()
        }));
        assert!(!two_metres.is_wanted_field(&Found { level: None, ..found }));
    }
}
