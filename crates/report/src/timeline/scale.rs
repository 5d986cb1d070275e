//! Where on paper an instant stands: straight stretches of time with breaks over quiet ones.
//!
//! Invariant: places never run backwards, and two instants of one stretch are as far apart on
//! paper as they are in time.

use device::Span;
use sim::Instant;

use super::Timeline;
use crate::clock::Clock;

/// The axis of one strip of paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// Its pieces in order, each beginning where the last one ends.
    pub pieces: Vec<Piece>,
    /// Its whole width.
    pub width: f64,
}

/// A part of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// The first instant.
    pub from: Instant,
    /// The last instant.
    pub to: Instant,
    /// Where the first instant stands.
    pub left: f64,
    /// Where the last instant stands.
    pub right: f64,
    /// Whether this is a break over a quiet stretch, not to scale.
    pub is_break: bool,
}

/// A labelled place on an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisTick {
    /// The instant.
    pub at: Instant,
    /// Where it stands.
    pub x: f64,
    /// What the clock shows.
    pub label: String,
}

impl Scale {
    /// Lays a timeline out on strips of paper that are `width` wide: one where it fits, more
    /// where events would stand too close; quiet stretches become breaks `break_width` wide.
    #[must_use]
    pub fn strips(timeline: &Timeline, width: f64, break_width: f64) -> Vec<Self> {
        let anchors = timeline.anchors();
        let breaks = quiet(&anchors, Look::Far);
        let mut strips = Vec::new();
        for (from, to) in cuts(timeline, &anchors, &breaks, width) {
            strips.push(Self::new(from, to, &breaks, width, break_width));
        }
        strips
    }

    /// Lays a timeline out on one strip, for a close look: bursts without effect may be broken too.
    #[must_use]
    pub fn single(timeline: &Timeline, width: f64, break_width: f64) -> Self {
        let breaks = quiet(&timeline.ends(true), Look::Close);
        Self::new(timeline.from, timeline.to, &breaks, width, break_width)
    }

    fn new(
        from: Instant,
        to: Instant,
        breaks: &[(Instant, Instant)],
        width: f64,
        break_width: f64,
    ) -> Self {
        let inside: Vec<_> = breaks
            .iter()
            .map(|(a, b)| ((*a).max(from), (*b).min(to)))
            .filter(|(a, b)| a < b)
            .collect();
        let broken: u64 = inside.iter().map(|(a, b)| b.since(*a).as_ms()).sum();
        let straight = to.since(from).as_ms().saturating_sub(broken);
        let room = break_width.mul_add(-(inside.len() as f64), width);
        let per_ms = room / (straight.max(1) as f64);
        let mut pieces = Vec::new();
        let (mut at, mut x) = (from, 0.0);
        let mut put = |from: Instant, to: Instant, span: f64, is_break| {
            let left = x;
            x += span;
            pieces.push(Piece {
                from,
                to,
                left,
                right: x,
                is_break,
            });
        };
        for (a, b) in inside {
            if at < a {
                put(at, a, a.since(at).as_ms() as f64 * per_ms, false);
            }
            put(a, b, break_width, true);
            at = b;
        }
        if at < to || at == from {
            put(
                at,
                to,
                (to.since(at).as_ms() as f64 * per_ms).max(0.0),
                false,
            );
        }
        Self { pieces, width }
    }

    /// The same axis, moved to the right by `pad`.
    #[must_use]
    pub fn moved(mut self, pad: f64) -> Self {
        for piece in &mut self.pieces {
            piece.left += pad;
            piece.right += pad;
        }
        self
    }

    /// The first instant.
    #[must_use]
    pub fn from(&self) -> Instant {
        self.pieces
            .first()
            .map_or(Instant::START, |piece| piece.from)
    }

    /// The last instant.
    #[must_use]
    pub fn to(&self) -> Instant {
        self.pieces.last().map_or(Instant::START, |piece| piece.to)
    }

    /// Where an instant stands; held at the ends of the axis.
    #[must_use]
    pub fn x(&self, at: Instant) -> f64 {
        let later = self.pieces.partition_point(|piece| piece.to < at);
        let Some(piece) = self.pieces.get(later).or(self.pieces.last()) else {
            return 0.0;
        };
        let span = piece.to.since(piece.from).as_ms();
        if span == 0 || at <= piece.from {
            return piece.left;
        }
        let share = at.since(piece.from).as_ms().min(span) as f64 / span as f64;
        (piece.right - piece.left).mul_add(share, piece.left)
    }

    /// The first straight stretch between two places that is at least `width` wide.
    #[must_use]
    pub fn straight(&self, from: f64, to: f64, width: f64) -> Option<(f64, f64)> {
        let straight = self.pieces.iter().filter(|piece| !piece.is_break);
        let mut inside = straight.map(|piece| (from.max(piece.left), to.min(piece.right)));
        inside.find(|(left, right)| right - left >= width)
    }

    /// Round times on the wall, with room for `gap` between them; and the first instant of
    /// each stretch that has no round time.
    #[must_use]
    pub fn ticks(&self, clock: &Clock, gap: f64) -> Vec<AxisTick> {
        let mut ticks: Vec<AxisTick> = Vec::new();
        let straight = self.pieces.iter().filter(|piece| !piece.is_break);
        let widest = straight.clone().max_by(|a, b| {
            let width = |piece: &Piece| piece.right - piece.left;
            width(a).total_cmp(&width(b))
        });
        let Some(step) = widest.map(|piece| piece.step(gap)) else {
            return ticks;
        };
        for piece in straight {
            let before = ticks.len();
            for at in piece.round_times(clock, step) {
                let x = self.x(at);
                let clear = ticks.last().is_none_or(|last| x - last.x >= gap * 0.99);
                if clear {
                    let label = clock.tick(at, step);
                    ticks.push(AxisTick { at, x, label });
                }
            }
            let clear = ticks.last().is_none_or(|last| piece.left - last.x >= gap);
            if ticks.len() == before && clear && piece.right - piece.left > 1.0 {
                let step = Span::from_ms(if piece.from.as_ms() % 1_000 == 0 {
                    1_000
                } else {
                    1
                });
                let label = clock.tick(piece.from, step);
                ticks.push(AxisTick {
                    at: piece.from,
                    x: piece.left,
                    label,
                });
            }
        }
        ticks
    }
}

impl Piece {
    /// The span that the piece stands for.
    #[must_use]
    pub fn span(&self) -> Span {
        self.to.since(self.from)
    }

    /// The smallest round step whose ticks are at least `gap` apart.
    fn step(&self, gap: f64) -> Span {
        let per_ms = (self.right - self.left) / self.span().as_ms().max(1) as f64;
        let fits = ROUND_MS.iter().find(|step| **step as f64 * per_ms >= gap);
        Span::from_ms(*fits.unwrap_or(&ROUND_MS[ROUND_MS.len() - 1]))
    }

    /// The instants in this piece at which the wall shows a multiple of `step`.
    fn round_times(&self, clock: &Clock, step: Span) -> impl Iterator<Item = Instant> + use<> {
        let past = clock.since_midnight_ms(self.from) % step.as_ms();
        let wait = if past == 0 { 0 } else { step.as_ms() - past };
        let (first, last) = (self.from.as_ms() + wait, self.to.as_ms());
        (0..)
            .map(move |number| first + number * step.as_ms())
            .take_while(move |at| *at <= last)
            .map(Instant::from_ms)
    }
}

/// How closely a timeline is looked at.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Look {
    /// A moment of a run: a fade of a second is worth seeing.
    Close,
    /// A whole run: hours are left out, and minutes are shown as they are.
    Far,
}

impl Look {
    /// Gaps shorter than this need not be told apart, and the least gap that is broken, in
    /// milliseconds, on a timeline that is `total` milliseconds long.
    fn limits(self, total: u64) -> (u64, u64) {
        match self {
            Self::Close => (2_000, 0),
            Self::Far => ((total / 200).max(60_000), 15 * 60_000),
        }
    }
}

/// The quiet stretches that become breaks.
///
/// Gaps between events often fall into two kinds: the short ones of what happens and the long
/// ones of waiting. Where the two are far apart, and waiting takes most of the paper, the long
/// ones are broken. A run whose gaps are all alike is drawn to scale.
fn quiet(anchors: &[Instant], look: Look) -> Vec<(Instant, Instant)> {
    let gaps = anchors.windows(2).map(|pair| (pair[0], pair[1]));
    let mut longest: Vec<_> = gaps.collect();
    longest.sort_by_key(|(a, b)| (std::cmp::Reverse(b.since(*a)), *a));
    let length = |gap: &(Instant, Instant)| gap.1.since(gap.0).as_ms();
    let total: u64 = longest.iter().map(length).sum();
    let (short, least) = look.limits(total);
    let (mut sum, mut best) = (0, (0, 0.0));
    for count in 1..=BREAKS_AT_MOST.min(longest.len().saturating_sub(1)) {
        sum += length(&longest[count - 1]);
        let next = length(&longest[count]).max(short);
        let apart = length(&longest[count - 1]) as f64 / next as f64;
        // Fewer breaks read better, so more of them have to earn it.
        let worth = apart / (count as f64).sqrt();
        if sum * 100 >= total * BROKEN_SHARE_PERCENT
            && apart >= APART
            && worth > best.1
            && length(&longest[count - 1]) >= least
        {
            best = (count, worth);
        }
    }
    longest.truncate(best.0);
    let broken: u64 = longest.iter().map(length).sum();
    let pad = ((total - broken) / 40).max(1);
    let mut breaks: Vec<_> = longest
        .into_iter()
        .filter(|gap| length(gap) > 4 * pad)
        .map(|(a, b)| {
            let end = Instant::from_ms(b.as_ms() - pad);
            (a.after(Span::from_ms(pad)), end)
        })
        .collect();
    breaks.sort_unstable();
    breaks
}

/// Where the strips begin and end.
fn cuts(
    timeline: &Timeline,
    anchors: &[Instant],
    breaks: &[(Instant, Instant)],
    width: f64,
) -> Vec<(Instant, Instant)> {
    let whole = Scale::new(timeline.from, timeline.to, breaks, width, 0.0);
    let mut busy = timeline.ends(false);
    busy.dedup_by_key(|at| at.as_ms() / 60_000);
    let strips = (1..=STRIPS_AT_MOST)
        .find(|count| !is_crowded(&busy, &whole, *count))
        .unwrap_or(STRIPS_AT_MOST);
    let share = width / strips as f64;
    let mut edges = vec![(timeline.from, timeline.from)];
    for number in 1..strips {
        let wanted = share * number as f64;
        let gaps = anchors.windows(2).map(|pair| {
            let middle = Instant::from_ms(u64::midpoint(pair[0].as_ms(), pair[1].as_ms()));
            (middle, pair[1].since(pair[0]))
        });
        let near = gaps.filter(|(at, _)| (whole.x(*at) - wanted).abs() <= share * 0.25);
        if let Some((at, _)) = near.max_by_key(|(at, gap)| (*gap, std::cmp::Reverse(*at)))
            && edges.last().is_some_and(|(_, last)| at > *last)
        {
            // A cut through a break leaves the whole break out.
            let quiet = breaks.iter().find(|(a, b)| *a <= at && at <= *b);
            edges.push(quiet.copied().unwrap_or((at, at)));
        }
    }
    edges.push((timeline.to, timeline.to));
    edges
        .windows(2)
        .map(|pair| (pair[0].1, pair[1].0))
        .collect()
}

/// Whether too many events would share one place on `count` strips.
fn is_crowded(busy: &[Instant], whole: &Scale, count: usize) -> bool {
    let places: Vec<u64> = busy
        .iter()
        .map(|at| (whole.x(*at) * count as f64 / PLACE_WIDTH) as u64)
        .collect();
    let mut taken = places.clone();
    taken.dedup();
    places.len() > taken.len() * CROWD
}

const BREAKS_AT_MOST: usize = 12;
const BROKEN_SHARE_PERCENT: u64 = 50;
const APART: f64 = 3.0;
const STRIPS_AT_MOST: usize = 9;
const PLACE_WIDTH: f64 = 12.0;
const CROWD: usize = 4;

/// Steps of an axis that people find round, in milliseconds.
const ROUND_MS: [u64; 26] = [
    1, 2, 5, 10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 15_000, 30_000, 60_000,
    120_000, 300_000, 600_000, 900_000, 1_800_000, 3_600_000, 7_200_000, 10_800_000, 21_600_000,
    43_200_000,
];

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(list: &[u64]) -> Vec<Instant> {
        list.iter()
            .map(|minute| Instant::from_ms(minute * 60_000))
            .collect()
    }

    #[test]
    fn gaps_that_are_alike_are_drawn_to_scale() {
        assert_eq!(quiet(&minutes(&[0, 15, 30, 40, 55]), Look::Far), []);
    }

    #[test]
    fn a_run_of_less_than_an_hour_is_drawn_to_scale_and_its_close_up_is_not() {
        let anchors = [0, 500, 900_000, 900_500, 1_800_000].map(Instant::from_ms);
        assert_eq!(quiet(&anchors, Look::Far), []);
        assert_eq!(quiet(&anchors, Look::Close).len(), 2);
    }

    #[test]
    fn a_night_between_two_mornings_is_broken() {
        let breaks = quiet(&minutes(&[0, 5, 10, 15, 1_440, 1_445, 1_450]), Look::Far);
        assert_eq!(breaks.len(), 1);
        assert!(breaks[0].0 > Instant::from_ms(15 * 60_000));
        assert!(breaks[0].1 < Instant::from_ms(1_440 * 60_000));
    }

    #[test]
    fn places_grow_with_time_and_fill_the_width() {
        let breaks = quiet(&minutes(&[0, 5, 10, 15, 1_440, 1_445, 1_450]), Look::Far);
        let end = Instant::from_ms(1_450 * 60_000);
        let scale = Scale::new(Instant::START, end, &breaks, 1_000.0, 20.0);
        let places: Vec<f64> = (0..=1_450)
            .map(|m| scale.x(Instant::from_ms(m * 60_000)))
            .collect();
        assert!(places.is_sorted());
        assert!(places[0].abs() < 1e-9);
        assert!((places[1_450] - 1_000.0).abs() < 1e-6);
        let minute = places[1] - places[0];
        assert!((places[1_449] - places[1_450] + minute).abs() < 1e-6);
    }

    #[test]
    fn ticks_stand_on_round_times_of_the_wall() {
        let start = "2026-03-02T08:59:50[UTC]".parse().unwrap();
        let clock = Clock::new(start);
        let end = Instant::from_ms(30 * 60_000);
        let scale = Scale::new(Instant::START, end, &[], 600.0, 20.0);
        let labels: Vec<String> = scale
            .ticks(&clock, 90.0)
            .into_iter()
            .map(|t| t.label)
            .collect();
        assert_eq!(
            labels,
            ["09:00", "09:05", "09:10", "09:15", "09:20", "09:25"]
        );
    }
}
