//! When a level on its way comes to another stretch between watched ones.
//!
//! Invariant: between two events every way is straight, so a level with one way under way moves
//! in one direction only and its crossing is found by halving; with more it is looked for
//! millisecond by millisecond.

use core::ops::Range;

/// The first moment of a span, in milliseconds, at which a level with so many `ways` under way
/// has `left` the stretch that it was in before the span.
pub fn first_crossing(
    ways: usize,
    span: Range<u64>,
    mut left: impl FnMut(u64) -> bool,
) -> Option<u64> {
    if ways == 1 {
        halve(span, left)
    } else {
        span.into_iter().find(|&ms| left(ms))
    }
}

/// The first moment of a span at which `left` is so, when it stays so until the end.
fn halve(span: Range<u64>, mut left: impl FnMut(u64) -> bool) -> Option<u64> {
    let (mut from, mut to) = (span.start, span.end.checked_sub(1)?);
    if from > to || !left(to) {
        return None;
    }
    while from < to {
        let middle = from + (to - from) / 2;
        if left(middle) {
            to = middle;
        } else {
            from = middle + 1;
        }
    }
    Some(to)
}

#[cfg(test)]
mod tests {
    use super::halve;

    #[test]
    fn halving_finds_the_first_moment_or_none() {
        for first in 3..20 {
            assert_eq!(halve(3..20, |ms| ms >= first), Some(first));
        }
        assert_eq!(halve(3..20, |_| false), None);
        assert_eq!(halve(3..3, |_| true), None);
        assert_eq!(halve(3..4, |_| true), Some(3));
        assert_eq!(halve(0..0, |_| true), None);
    }
}
