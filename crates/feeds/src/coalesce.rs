//! Ranges of one file that lie close together, asked for at once and cut apart again.
//!
//! Pure arithmetic on values. Must not know: servers, messages, feeds.

use crate::index::ByteRange;
use crate::plan::WantedMessage;

/// How ranges are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Coalescing {
    /// Octets between two wanted ranges up to which they are asked for together.
    pub gap: u64,
    /// Octets that one request covers at most, unless one wanted range alone is longer.
    pub most: u64,
}

impl Default for Coalescing {
    /// A gap of at most 4 % of a full-size message of 400 kB, so that the octets received stay within 1.05 times those
    /// wanted; requests of a few full-size messages, so that what is in memory at once is bounded.
    fn default() -> Self {
        Self {
            gap: 16_000,
            most: 4_000_000,
        }
    }
}

/// One range to ask for and the wanted ranges inside it, by their places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// What is asked for.
    pub range: ByteRange,
    /// Places of the wanted ranges, ascending by first octet.
    pub serves: Vec<usize>,
}

/// One request: a span of a file and the wanted messages inside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Request {
    /// Path of the file below the base address.
    pub file: String,
    /// What is asked for.
    pub range: ByteRange,
    /// Places of the wanted messages in the plan, ascending by first octet.
    pub serves: Vec<usize>,
}

/// The spans of the ranges of one file, ascending; the ranges may come in any order. An open range is asked for by
/// itself, since its length is not known; equal ranges are asked for once.
pub fn coalesce(ranges: &[ByteRange], bounds: Coalescing) -> Vec<Span> {
    let mut places: Vec<usize> = (0..ranges.len()).collect();
    // An open range comes last among those that begin with it: it is the longest.
    places.sort_by_key(|place| (ranges[*place].first, ranges[*place].last.unwrap_or(u64::MAX)));
    let mut spans: Vec<Span> = Vec::new();
    for place in places {
        let range = ranges[place];
        let together = spans
            .last_mut()
            .and_then(|span| Some((joined(span.range, range, bounds)?, span)));
        match together {
            Some((joined, span)) => {
                span.range = joined;
                span.serves.push(place);
            }
            None => spans.push(Span {
                range,
                serves: vec![place],
            }),
        }
    }
    spans
}

/// The requests for wanted messages, file by file in the order of the plan.
pub fn requests(wanted: &[WantedMessage], bounds: Coalescing) -> Vec<Request> {
    let mut requests = Vec::new();
    let mut before = 0;
    for of_one_file in wanted.chunk_by(|a, b| a.file == b.file) {
        let ranges: Vec<ByteRange> = of_one_file.iter().map(|message| message.range).collect();
        requests.extend(coalesce(&ranges, bounds).into_iter().map(|span| Request {
            file: of_one_file[0].file.clone(),
            range: span.range,
            serves: span.serves.iter().map(|place| before + place).collect(),
        }));
        before += of_one_file.len();
    }
    requests
}

fn joined(span: ByteRange, next: ByteRange, bounds: Coalescing) -> Option<ByteRange> {
    if span == next {
        return Some(span);
    }
    let (span_last, next_last) = (span.last?, next.last?);
    let last = span_last.max(next_last);
    let near = next.first <= span_last.saturating_add(1).saturating_add(bounds.gap);
    // A range inside a longer one costs nothing, whatever the bound.
    let bounded = last == span_last || last - span.first < bounds.most;
    (near && bounded).then_some(ByteRange {
        first: span.first,
        last: Some(last),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{feed, instant};
    use crate::{IndexTexts, plan_part};
    use forecast::{Member, Step};

    fn range(first: u64, last: Option<u64>) -> ByteRange {
        ByteRange { first, last }
    }

    fn spans(ranges: &[ByteRange], gap: u64, most: u64) -> Vec<(u64, Option<u64>, Vec<usize>)> {
        let spans = coalesce(ranges, Coalescing { gap, most });
        spans
            .into_iter()
            .map(|span| (span.range.first, span.range.last, span.serves))
            .collect()
    }

    // No source: arithmetic of the bounds.
    #[test]
    fn near_ranges_are_joined_and_far_ones_are_not() {
        let ranges = [
            range(0, Some(99)),
            range(100, Some(199)),
            range(250, Some(299)),
            range(351, Some(360)),
        ];
        assert_eq!(
            spans(&ranges, 50, 1_000),
            [(0, Some(299), vec![0, 1, 2]), (351, Some(360), vec![3])]
        );
        assert_eq!(spans(&ranges, 51, 1_000), [(0, Some(360), vec![0, 1, 2, 3])]);
        assert_eq!(spans(&ranges, 0, 1_000).len(), 3);
        assert_eq!(spans(&[], 50, 1_000), []);
    }

    #[test]
    fn ranges_may_come_in_any_order_and_twice() {
        let ranges = [range(200, Some(299)), range(0, Some(99)), range(200, Some(299))];
        assert_eq!(spans(&ranges, 100, 1_000), [(0, Some(299), vec![1, 0, 2])]);
        assert_eq!(
            spans(&[range(5, None), range(5, None)], 0, 9),
            [(5, None, vec![0, 1])]
        );
    }

    #[test]
    fn no_request_covers_more_than_the_bound_but_for_one_long_range() {
        let ranges = [range(0, Some(99)), range(100, Some(199)), range(200, Some(299))];
        assert_eq!(
            spans(&ranges, 0, 200),
            [(0, Some(199), vec![0, 1]), (200, Some(299), vec![2])]
        );
        assert_eq!(spans(&ranges, 0, 199).len(), 3);
        assert_eq!(
            spans(
                &[
                    range(0, Some(999)),
                    range(10, Some(19)),
                    range(1_000, Some(1_001))
                ],
                0,
                200
            ),
            [(0, Some(999), vec![0, 1]), (1_000, Some(1_001), vec![2])]
        );
    }

    #[test]
    fn open_and_boundless_ranges_do_no_harm() {
        assert_eq!(
            spans(&[range(0, Some(9)), range(10, None)], 100, 1_000),
            [(0, Some(9), vec![0]), (10, None, vec![1])]
        );
        let all = range(0, Some(u64::MAX));
        assert_eq!(
            spans(&[all, range(5, Some(9))], u64::MAX, u64::MAX),
            [(0, Some(u64::MAX), vec![0, 1])]
        );
    }

    // Source: the project's bound on octets received to octets wanted for messages of 400 kB or more.
    #[test]
    fn joining_full_size_messages_costs_less_than_a_twentieth() {
        let (length, bounds) = (400_000, Coalescing::default());
        let wanted: Vec<_> = (0..50)
            .map(|at| at * (length + bounds.gap))
            .map(|first| range(first, Some(first + length - 1)))
            .collect();
        let spans = coalesce(&wanted, bounds);
        let received: u64 = spans.iter().filter_map(|span| span.range.length()).sum();
        assert!(
            spans.len() < wanted.len() && received > 50 * length,
            "{} spans",
            spans.len()
        );
        assert!(received as f64 <= 1.05 * (50 * length) as f64, "{received}");
    }

    // No source: an invented index of three neighbours at one step.
    #[test]
    fn a_plan_becomes_few_requests_by_file() {
        let (gfs, run) = (feed("gfs"), instant("2026-11-24T06:00:00Z"));
        let line = |step: u16| {
            format!(
                "1:0:d=2026112406:UGRD:10 m above ground:{step} hour fcst:\n\
                 2:50:d=2026112406:VGRD:10 m above ground:{step} hour fcst:\n\
                 3:90:d=2026112406:GUST:surface:{step} hour fcst:\n"
            )
        };
        let path = |step| gfs.file(run, Member(0), Step(step));
        let texts = [13, 14].map(|step| (path(step).index_path, Ok(line(step))));
        let plan = plan_part(&gfs, run, 1, &IndexTexts::from(texts));
        let found: Vec<_> = requests(&plan.wanted, Coalescing::default())
            .into_iter()
            .map(|request| (request.file, request.range, request.serves))
            .collect();
        let (first, second) = (path(13).path, path(14).path);
        assert_eq!(
            found,
            [
                (first.clone(), range(0, Some(89)), vec![0, 1]),
                (first, range(90, None), vec![2]),
                (second.clone(), range(0, Some(89)), vec![3, 4]),
                (second, range(90, None), vec![5]),
            ]
        );
    }
}
