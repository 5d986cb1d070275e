//! Quantities: whole numbers in the unit that the field reads out.

use core::fmt;

/// A length of time in whole milliseconds. Packed, so that a note or a payload that holds one
/// takes no more room than the words beside it.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
#[repr(Rust, packed(2))]
pub struct Span(u64);

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// A span of `ms` milliseconds.
    #[must_use]
    pub const fn from_ms(ms: u64) -> Self {
        Self(ms)
    }

    /// A span of `seconds` seconds.
    #[must_use]
    pub const fn from_seconds(seconds: u64) -> Self {
        Self(seconds * 1_000)
    }

    /// A span of `minutes` minutes.
    #[must_use]
    pub const fn from_minutes(minutes: u64) -> Self {
        Self(minutes * 60_000)
    }

    /// A span of `hours` hours.
    #[must_use]
    pub const fn from_hours(hours: u64) -> Self {
        Self(hours * 3_600_000)
    }

    /// The span in milliseconds.
    #[must_use]
    pub const fn as_ms(self) -> u64 {
        self.0
    }

    /// Whether the span is empty.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// The sum, held at the largest span there is.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// The difference, held at zero.
    #[must_use]
    pub const fn minus(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// This span × `numerator` / `denominator`, rounded up to the next millisecond.
    #[must_use]
    pub const fn scaled(self, numerator: u64, denominator: u64) -> Self {
        let product = self.0 as u128 * numerator as u128;
        Self(product.div_ceil(denominator as u128) as u64)
    }
}

impl fmt::Display for Span {
    /// Writes the span as people say it: `1 h 15 min`, `30 s`, `0.010 s`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (hours, minutes) = (self.0 / 3_600_000, self.0 / 60_000 % 60);
        let (seconds, ms) = (self.0 / 1_000 % 60, self.0 % 1_000);
        let mut gap = "";
        if hours > 0 {
            write!(f, "{hours} h")?;
            gap = " ";
        }
        if minutes > 0 {
            write!(f, "{gap}{minutes} min")?;
            gap = " ";
        }
        if ms > 0 {
            write!(f, "{gap}{seconds}.{ms:03} s")
        } else if seconds > 0 || gap.is_empty() {
            write!(f, "{gap}{seconds} s")
        } else {
            Ok(())
        }
    }
}

/// A share of full light output in steps of 0.01 %, from 0 to 100 %.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Level(u16);

impl Level {
    /// Dark.
    pub const OFF: Self = Self(0);
    /// 100 %.
    pub const FULL: Self = Self(10_000);

    /// A level of `hundredths` × 0.01 %, held at 100 %.
    #[must_use]
    pub const fn from_hundredths(hundredths: u16) -> Self {
        Self(match hundredths {
            0..=10_000 => hundredths,
            _ => 10_000,
        })
    }

    /// A level of `percent` whole per cent, held at 100 %.
    #[must_use]
    pub const fn from_percent(percent: u16) -> Self {
        Self::from_hundredths(percent.saturating_mul(100))
    }

    /// The level in steps of 0.01 %.
    #[must_use]
    pub const fn hundredths(self) -> u16 {
        self.0
    }

    /// Whether this is no light at all.
    #[must_use]
    pub const fn is_off(self) -> bool {
        self.0 == 0
    }

    /// The level `points` lower, held at dark.
    #[must_use]
    pub const fn less(self, points: Points) -> Self {
        Self(self.0.saturating_sub(points.0))
    }

    /// The level on the straight way from `self` to `to` with `remaining` of `span` still to go,
    /// rounded down; `to` itself at the end and for an empty span.
    #[must_use]
    pub const fn towards(self, to: Self, remaining: Span, span: Span) -> Self {
        if remaining.0 == 0 || span.0 == 0 {
            return to;
        }
        if remaining.0 >= span.0 {
            return self;
        }
        let (left, whole) = (remaining.0 as u128, span.0 as u128);
        let sum = self.0 as u128 * left + to.0 as u128 * (whole - left);
        Self((sum / whole) as u16)
    }

    /// How far apart two levels are.
    #[must_use]
    pub const fn distance(self, other: Self) -> Points {
        Points(self.0.abs_diff(other.0))
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        hundredths(self.0, f)
    }
}

/// A difference of levels in steps of 0.01 percentage points.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Points(u16);

impl Points {
    /// A difference of `hundredths` × 0.01 points, held at 100 points.
    #[must_use]
    pub const fn from_hundredths(hundredths: u16) -> Self {
        Self(match hundredths {
            0..=10_000 => hundredths,
            _ => 10_000,
        })
    }

    /// The difference in steps of 0.01 points.
    #[must_use]
    pub const fn hundredths(self) -> u16 {
        self.0
    }
}

impl fmt::Display for Points {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        hundredths(self.0, f)
    }
}

/// An illuminance in steps of 0.01 lx. Packed as a [`Span`] is.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
#[repr(Rust, packed(2))]
pub struct Illuminance(u32);

impl Illuminance {
    /// An illuminance of `hundredths` × 0.01 lx.
    #[must_use]
    pub const fn from_hundredths(hundredths: u32) -> Self {
        Self(hundredths)
    }

    /// An illuminance of `lux` whole lx.
    #[must_use]
    pub const fn from_lux(lux: u32) -> Self {
        Self(lux.saturating_mul(100))
    }

    /// The illuminance in steps of 0.01 lx.
    #[must_use]
    pub const fn hundredths(self) -> u32 {
        self.0
    }
}

impl fmt::Display for Illuminance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, part) = (self.0 / 100, self.0 % 100);
        match part {
            0 => write!(f, "{whole} lx"),
            _ if part % 10 == 0 => write!(f, "{whole}.{} lx", part / 10),
            _ => write!(f, "{whole}.{part:02} lx"),
        }
    }
}

fn hundredths(value: u16, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let (whole, part) = (value / 100, value % 100);
    match part {
        0 => write!(f, "{whole} %"),
        _ if part % 10 == 0 => write!(f, "{whole}.{} %", part / 10),
        _ => write!(f, "{whole}.{part:02} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use alloc::string::ToString;

    #[test]
    fn spans_read_as_people_say_them() {
        assert_eq!(Span::from_minutes(75).to_string(), "1 h 15 min");
        assert_eq!(Span::from_ms(4_500_010).to_string(), "1 h 15 min 0.010 s");
        assert_eq!(Span::ZERO.to_string(), "0 s");
        assert_eq!(Span::from_seconds(61).to_string(), "1 min 1 s");
    }

    #[test]
    fn spans_count_milliseconds() {
        assert_eq!(Span::from_seconds(2).as_ms(), 2_000);
        assert_eq!(Span::from_minutes(2).as_ms(), 120_000);
        assert_eq!(Span::from_hours(2).as_ms(), 7_200_000);
        assert!(Span::ZERO.is_zero() && !Span::from_ms(1).is_zero());
    }

    #[test]
    fn sums_and_differences_of_spans_stay_in_range() {
        let (long, short) = (Span::from_ms(u64::MAX), Span::from_ms(3));
        assert_eq!(short.plus(Span::from_ms(4)), Span::from_ms(7));
        assert_eq!(long.plus(short), long);
        assert_eq!(Span::from_ms(7).minus(short), Span::from_ms(4));
        assert_eq!(short.minus(long), Span::ZERO);
    }

    #[test]
    fn spans_with_hours_and_whole_minutes_leave_the_rest_out() {
        assert_eq!(Span::from_hours(2).to_string(), "2 h");
        assert_eq!(Span::from_minutes(2).to_string(), "2 min");
        assert_eq!(Span::from_seconds(59).to_string(), "59 s");
        assert_eq!(Span::from_ms(59_500).to_string(), "59.500 s");
        assert_eq!(Span::from_ms(10).to_string(), "0.010 s");
        assert_eq!(Span::from_seconds(7_201).to_string(), "2 h 1 s");
    }

    #[test]
    fn levels_are_held_between_dark_and_full() {
        assert_eq!(Level::from_hundredths(9_999).hundredths(), 9_999);
        assert_eq!(Level::from_hundredths(10_000).hundredths(), 10_000);
        assert_eq!(Level::from_hundredths(10_001), Level::FULL);
        assert_eq!(Level::from_percent(100), Level::FULL);
        assert_eq!(Level::from_percent(u16::MAX), Level::FULL);
        assert_eq!(Level::from_percent(50).hundredths(), 5_000);
        assert!(Level::OFF.is_off() && !Level::from_hundredths(1).is_off());
    }

    #[test]
    fn points_lower_a_level_and_measure_how_far_apart_two_are() {
        let points = Points::from_hundredths(1_500);
        assert_eq!(Level::FULL.less(points), Level::from_percent(85));
        assert_eq!(Level::from_percent(10).less(points), Level::OFF);
        assert_eq!(Level::FULL.distance(Level::from_percent(85)), points);
        assert_eq!(Level::from_percent(85).distance(Level::FULL), points);
        assert_eq!(Points::from_hundredths(10_000).hundredths(), 10_000);
        assert_eq!(Points::from_hundredths(10_001).hundredths(), 10_000);
        assert_eq!(Points::from_hundredths(9_999).hundredths(), 9_999);
    }

    #[test]
    fn illuminances_count_hundredths_of_a_lux() {
        assert_eq!(Illuminance::from_lux(5).hundredths(), 500);
        assert_eq!(Illuminance::from_hundredths(5).hundredths(), 5);
        assert_eq!(Illuminance::from_lux(u32::MAX).hundredths(), u32::MAX);
    }

    #[test]
    fn levels_points_and_illuminances_read_without_needless_zeros() {
        for (hundredths, text) in [
            (5_000, "50"),
            (5_010, "50.1"),
            (5_001, "50.01"),
            (5, "0.05"),
        ] {
            let level = Level::from_hundredths(hundredths).to_string();
            let points = Points::from_hundredths(hundredths).to_string();
            let seen = Illuminance::from_hundredths(hundredths.into()).to_string();
            assert_eq!(level, alloc::format!("{text} %"));
            assert_eq!(points, level);
            assert_eq!(seen, alloc::format!("{text} lx"));
        }
    }

    #[test]
    fn a_way_that_takes_no_time_is_at_its_end_and_a_longer_rest_at_its_start() {
        let (from, to) = (Level::from_percent(20), Level::from_percent(60));
        let second = Span::from_seconds(1);
        assert_eq!(from.towards(to, second, Span::ZERO), to);
        assert_eq!(from.towards(to, Span::ZERO, second), to);
        assert_eq!(from.towards(to, Span::from_seconds(2), second), from);
        assert_eq!(from.towards(to, second, second), from);
        let half = Span::from_ms(500);
        assert_eq!(from.towards(to, half, second), Level::from_percent(40));
        assert_eq!(to.towards(from, half, second), Level::from_percent(40));
        let quarter = Span::from_ms(250);
        assert_eq!(from.towards(to, quarter, second), Level::from_percent(50));
        let ages = Span::from_ms(u64::MAX);
        let most = Span::from_ms(u64::MAX - 1);
        assert_eq!(
            Level::FULL.towards(Level::OFF, most, ages).hundredths(),
            9_999
        );
    }

    #[test]
    fn a_level_on_its_way_is_rounded_down() {
        let span = Span::from_ms(3);
        let way = |left| Level::OFF.towards(Level::FULL, Span::from_ms(left), span);
        assert_eq!(way(3), Level::OFF);
        assert_eq!(way(2), Level::from_hundredths(3_333));
        assert_eq!(way(1), Level::from_hundredths(6_666));
        assert_eq!(way(0), Level::FULL);
    }

    #[test]
    fn a_share_of_a_span_is_rounded_up() {
        assert_eq!(Span::from_seconds(4).scaled(1, 3), Span::from_ms(1_334));
        assert_eq!(Span::from_seconds(3).scaled(2, 3), Span::from_seconds(2));
        assert_eq!(Span::from_minutes(4).scaled(16, 5), Span::from_seconds(768));
        let ages = Span::from_ms(u64::MAX);
        assert_eq!(ages.scaled(7, 7), ages);
    }
}
