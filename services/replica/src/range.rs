//! The `Range` header, as object stores take it: one range of octets, or the whole file (RFC 9110, section 14).

use std::ops::Range;

/// What a `Range` header comes to for a file of some size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Asked {
    /// No range, several, or none that is understood: the whole file.
    Whole,
    Part(Range<u64>),
    /// Begins beyond the end.
    Unsatisfiable,
}

pub(crate) fn asked(header: Option<&str>, size: u64) -> Asked {
    let Some(range) = header.and_then(|value| value.trim().strip_prefix("bytes=")) else {
        return Asked::Whole;
    };
    let Some((first, last)) = range.split_once('-').filter(|_| !range.contains(',')) else {
        return Asked::Whole;
    };
    let part = match (number(first), number(last)) {
        (Some(first), None) if last.trim().is_empty() => first..size,
        (Some(first), Some(last)) if first <= last => first..size.min(last.saturating_add(1)),
        (None, Some(last)) if first.trim().is_empty() => size.saturating_sub(last)..size,
        _ => return Asked::Whole,
    };
    if part.start >= size {
        return Asked::Unsatisfiable;
    }
    Asked::Part(part)
}

fn number(text: &str) -> Option<u64> {
    let text = text.trim();
    let digits = text.bytes().all(|octet| octet.is_ascii_digit());
    text.parse().ok().filter(|_| digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: RFC 9110, section 14.1.2, whose examples are for 10000 octets.
    #[test]
    fn one_range_is_a_part_and_everything_else_the_whole_file() {
        let part = |range: Range<u64>| Asked::Part(range);
        let cases = [
            ("bytes=0-499", part(0..500)),
            ("bytes=500-999", part(500..1000)),
            ("bytes=-500", part(9500..10000)),
            ("bytes=9500-", part(9500..10000)),
            ("bytes=9500-20000", part(9500..10000)),
            ("bytes=10000-", Asked::Unsatisfiable),
            ("bytes=-0", Asked::Unsatisfiable),
            ("bytes=0-0,-1", Asked::Whole),
            ("bytes=500-499", Asked::Whole),
            ("bytes=+1-2", Asked::Whole),
            ("bytes=-", Asked::Whole),
            ("lines=0-3", Asked::Whole),
        ];
        for (header, expected) in cases {
            assert_eq!(asked(Some(header), 10000), expected, "{header}");
        }
        assert_eq!(asked(None, 10000), Asked::Whole);
    }
}
