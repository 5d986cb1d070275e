//! A run laid out in time: the one value that both the excerpt and the picture are drawn from.
//!
//! Invariant: everything that a drawing shows of a run is an [`Item`] here, with its words and
//! its reason; drawings choose places and signs, never facts.

mod build;
mod scale;

use device::Level;
use sim::{Instant, OutputState};

use crate::clock::Clock;
use crate::verdict::Verdict;
use crate::words::Gesture;

pub use scale::{AxisTick, Piece, Scale};

/// A run laid out in time.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Timeline {
    /// The title of the scenario.
    pub title: String,
    /// The room.
    pub room: String,
    /// The file of the scenario.
    pub file: String,
    /// The clock on the wall.
    pub clock: Clock,
    /// Where it begins.
    pub from: Instant,
    /// Where it ends.
    pub to: Instant,
    /// Its lanes, from top to bottom.
    pub lanes: Vec<Lane>,
}

/// Everything about one source, one output, or the clauses.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Lane {
    /// Its name in the room.
    pub name: String,
    /// What it is.
    pub kind: String,
    /// What kind of lane it is.
    pub sort: LaneSort,
    /// Its tracks, from top to bottom.
    pub tracks: Vec<Track>,
}

/// The kinds of lane.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum LaneSort {
    /// What comes from outside: daylight.
    Outside,
    /// A source.
    Source,
    /// An output.
    Output,
    /// Checks of points that have no lane.
    Checks,
    /// The sequence of operation.
    Clauses,
}

/// One line of a lane.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Track {
    /// Its name: `motion`, `time delay T`, `light`.
    pub name: String,
    /// What the name stands for at length; empty where it says all.
    pub says: String,
    /// Whether it is a curve over a height rather than a line.
    pub tall: bool,
    /// How the clause of this track fared.
    pub verdict: Option<Verdict>,
    /// Whether its clause held all through the run, with no moment that decided it.
    pub throughout: bool,
    /// What it shows, in order of time.
    pub items: Vec<Item>,
}

/// Something that the timeline shows.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Item {
    /// Its number, in order of time over all lanes; counts from 1.
    pub number: u32,
    /// When, or from when.
    pub from: Instant,
    /// Until when; equal to `from` for a moment.
    pub to: Instant,
    /// Whether it still goes on at the end of the run.
    pub goes_on: bool,
    /// What it is, in words.
    pub says: String,
    /// Why, in words; may be empty.
    pub reason: String,
    /// How it is drawn.
    pub shape: Shape,
}

/// How an item is drawn.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Shape {
    /// Stimuli of a kind: one, or a burst of them.
    Ticks {
        /// When; never empty.
        at: Vec<Instant>,
        /// Which sign.
        tick: Tick,
        /// Whether they had no effect.
        idle: bool,
    },
    /// A button that was down.
    Press {
        /// What the button is for.
        gesture: Gesture,
        /// Whether it was down longer than a tap.
        held: bool,
        /// Whether it had no effect.
        idle: bool,
    },
    /// A condition that lasted.
    Span(Fill, String),
    /// A timer that ran.
    Timer {
        /// What stands on its bar.
        label: String,
        /// When it was started again.
        restarts: Vec<Instant>,
        /// How it ended.
        end: TimerEnd,
    },
    /// The light of an output, as straight pieces; and its target.
    Light {
        /// Corners of the light.
        points: Vec<(Instant, Level)>,
        /// The target.
        target: Level,
        /// The state.
        state: OutputState,
    },
    /// A quantity, as straight pieces between corners, in hundredths of its unit.
    Curve(Vec<(Instant, u32)>),
    /// A frame that was not taken.
    Frame(FrameFate),
    /// A check of the scenario: a moment or an interval.
    Check(Verdict),
    /// An obligation of a clause: from its trigger until it was met or broken.
    Duty(Verdict),
    /// A fault was reported (`true`) or ended.
    Fault(bool),
}

/// The signs of stimuli.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Tick {
    /// Motion.
    Motion,
    /// Sound.
    Sound,
    /// A time-clock entry.
    Due,
    /// Anything else.
    Other,
}

/// How a span is filled; each can be told from the others without colour.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Fill {
    /// Solid: on, occupied, card in.
    Solid,
    /// Dotted: setback, unknown.
    Dots,
    /// Slanted lines: warning, warm-up.
    Slants,
    /// Crossed lines: no power, stuck relay.
    Cross,
    /// An outline: latch, by hand.
    Outline,
}

/// How a timer ended.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum TimerEnd {
    /// It elapsed.
    Elapsed,
    /// It was stopped.
    Stopped,
    /// It still ran at the end of the run.
    Running,
}

/// What became of a frame.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum FrameFate {
    /// Lost on the way.
    Lost,
    /// A copy or late.
    Copy,
    /// Nobody had power to hear it.
    NoPower,
}

impl Timeline {
    /// Every item with its lane and track, in the order of their numbers.
    #[must_use]
    pub fn items(&self) -> Vec<(&Lane, &Track, &Item)> {
        let mut items: Vec<_> = self
            .lanes
            .iter()
            .flat_map(|lane| {
                let tracks = lane.tracks.iter();
                tracks
                    .flat_map(move |track| track.items.iter().map(move |item| (lane, track, item)))
            })
            .collect();
        items.sort_by_key(|(_, _, item)| item.number);
        items
    }

    /// The part between two instants, of the lanes that `wanted` names; an empty list names all.
    ///
    /// Items keep their numbers, words and full extent; those outside and the tracks left
    /// without any are dropped.
    #[must_use]
    pub fn window(&self, from: Instant, to: Instant, wanted: &[&str]) -> Self {
        let mut part = self.clone();
        part.from = from.max(self.from);
        part.to = to.min(self.to).max(part.from);
        part.lanes
            .retain(|lane| wanted.is_empty() || wanted.contains(&lane.name.as_str()));
        for lane in &mut part.lanes {
            for track in &mut lane.tracks {
                track
                    .items
                    .retain(|item| item.from <= part.to && item.to >= part.from);
            }
            let judged = |track: &Track| wanted.is_empty() && track.verdict.is_some();
            lane.tracks
                .retain(|track| !track.items.is_empty() || judged(track));
        }
        part.lanes.retain(|lane| !lane.tracks.is_empty());
        part
    }

    /// The instants at which something happens that a reader wants to see apart.
    #[must_use]
    pub fn anchors(&self) -> Vec<Instant> {
        let mut anchors = vec![self.from, self.to];
        for (_, _, item) in self.items() {
            match &item.shape {
                Shape::Ticks { at, .. } => anchors.extend(at),
                Shape::Timer { .. } if item.goes_on => anchors.push(item.from),
                Shape::Light { points, .. } => anchors.extend(points.iter().map(|point| point.0)),
                Shape::Curve(points) => anchors.extend(points.iter().map(|point| point.0)),
                _ => anchors.extend([item.from, item.to]),
            }
        }
        anchors.retain(|at| (self.from..=self.to).contains(at));
        anchors.sort_unstable();
        anchors.dedup();
        anchors
    }
}

impl Timeline {
    /// The first and last instants of everything, a burst counted as one; `bursts`: but every
    /// instant of bursts that had an effect.
    #[must_use]
    pub fn ends(&self, bursts: bool) -> Vec<Instant> {
        let items = self
            .lanes
            .iter()
            .flat_map(|lane| &lane.tracks)
            .flat_map(|track| &track.items);
        let mut ends = vec![self.from, self.to];
        for item in items {
            match &item.shape {
                Shape::Ticks { at, idle, .. } if bursts && !idle => ends.extend(at),
                _ => ends.extend([item.from, item.to]),
            }
        }
        ends.retain(|at| (self.from..=self.to).contains(at));
        ends.sort_unstable();
        ends.dedup();
        ends
    }
}

impl Item {
    /// Whether the item is a moment.
    #[must_use]
    pub fn is_moment(&self) -> bool {
        self.from == self.to
    }

    /// Whether a reader looks for it first: something broke.
    #[must_use]
    pub const fn is_broken(&self) -> bool {
        matches!(
            self.shape,
            Shape::Check(Verdict::Broken) | Shape::Duty(Verdict::Broken)
        )
    }

    /// When, in words: `09:15:00`, or `09:00:00 to 09:15:00`.
    #[must_use]
    pub fn when(&self, clock: &Clock) -> String {
        let from = clock.label(self.from);
        if self.is_moment() {
            return from;
        }
        if self.goes_on {
            format!("{from} to the end")
        } else {
            format!("{from} to {}", clock.label(self.to))
        }
    }
}

#[cfg(test)]
mod tests;
