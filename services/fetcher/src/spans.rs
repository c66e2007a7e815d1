//! Ranges of one file that lie close together, asked for at once and cut apart again.
//!
//! Pure arithmetic. Must not know: servers, messages.

use feeds::ByteRange;

/// Octets between two wanted ranges that cost less than another request: at most 4 % of a full-size message of 400 kB.
const SMALL_GAP: u64 = 16_000;

/// One range to ask for and the wanted ranges inside it, by their places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// What is asked for.
    pub range: ByteRange,
    /// Places of the wanted ranges.
    pub serves: Vec<usize>,
}

/// The spans of ascending ranges. None is longer than `most` octets unless a single range is; an open range stands
/// alone, since its length is not known.
pub fn spans(ranges: &[ByteRange], most: u64) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    for (place, range) in ranges.iter().enumerate() {
        match spans
            .last_mut()
            .and_then(|span| joined(span.range, *range, most).map(|range| (span, range)))
        {
            Some((span, joined)) => {
                span.range = joined;
                span.serves.push(place);
            }
            None => spans.push(Span {
                range: *range,
                serves: vec![place],
            }),
        }
    }
    spans
}

fn joined(span: ByteRange, next: ByteRange, most: u64) -> Option<ByteRange> {
    let (span_last, next_last) = (span.last?, next.last?);
    let last = span_last.max(next_last);
    let near =
        next.first >= span.first && next.first <= span_last.saturating_add(1).saturating_add(SMALL_GAP);
    (near && last - span.first < most).then_some(ByteRange {
        first: span.first,
        last: Some(last),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(first: u64, last: Option<u64>) -> ByteRange {
        ByteRange { first, last }
    }

    // No source: arithmetic of the bounds above.
    #[test]
    fn near_ranges_are_joined_and_far_long_or_open_ones_are_not() {
        let far = 1_100 + SMALL_GAP;
        let of = |ranges: &[ByteRange]| -> Vec<(u64, Option<u64>, usize)> {
            let spans = spans(ranges, 1_000_000);
            spans
                .iter()
                .map(|span| (span.range.first, span.range.last, span.serves.len()))
                .collect()
        };
        assert_eq!(
            of(&[
                range(0, Some(99)),
                range(100, Some(199)),
                range(1_000, Some(1_099)),
                range(far, Some(far + 9))
            ]),
            [(0, Some(far + 9), 4)]
        );
        assert_eq!(
            of(&[range(1_000, Some(1_099)), range(far + 1, Some(far + 9))]),
            [(1_000, Some(1_099), 1), (far + 1, Some(far + 9), 1)]
        );
        assert_eq!(
            of(&[range(0, Some(9)), range(10, None)]),
            [(0, Some(9), 1), (10, None, 1)]
        );
        assert_eq!(
            of(&[range(0, Some(999_998)), range(999_999, Some(1_000_000))]).len(),
            2
        );
        assert_eq!(of(&[range(50, Some(59)), range(0, Some(9))]).len(), 2);
        assert_eq!(of(&[range(0, Some(u64::MAX)), range(5, Some(9))]).len(), 2);
    }

    // Source: the project's bound on octets received to octets wanted for messages of 400 kB or more.
    #[test]
    fn joining_full_size_messages_costs_less_than_a_twentieth() {
        let length = 400_000;
        let wanted: Vec<_> = (0..50)
            .map(|at| at * (length + SMALL_GAP))
            .map(|first| range(first, Some(first + length - 1)))
            .collect();
        let spans = spans(&wanted, 4_000_000);
        let received: u64 = spans.iter().filter_map(|span| span.range.length()).sum();
        assert!(
            spans.len() < wanted.len() && received > 50 * length,
            "{} spans",
            spans.len()
        );
        assert!(received as f64 <= 1.05 * (50 * length) as f64, "{received}");
    }
}
