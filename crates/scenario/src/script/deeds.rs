//! From what a row says happens to inputs of the room.
//!
//! Invariant: a deed gives the same inputs wherever in the file its row stands.

use std::collections::BTreeMap;

use device::{Illuminance, Span};
use room::{Device, Input, PlanSource, SourceId, Stimulus};
use sim::{Drift, Impairment, Instant, LinkFault, Pace, Share};

use super::calendar::Setting;
use super::civil::Civil;
use super::company::known_place;
use super::expand::When;
use super::people::Doing;
use super::phrase::{Activity, Daylight, Deed, FrameFault, SignalWord};
use super::points::{Point, Points, button};
use super::reader::shifted;
use super::{Act, ActWhat, By};
use crate::room_file::RoomFile;
use crate::words::WordError;

/// A course of daylight: instants with their illuminance, in order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Curve {
    /// Where it goes through.
    pub(crate) points: Vec<(Instant, Illuminance)>,
    /// How often the light is set.
    pub(crate) every: Span,
}

/// A setting that a row changes.
#[derive(Clone, Debug)]
pub(crate) struct Changed {
    /// When.
    pub(crate) at: Instant,
    /// Whether it runs after the timers of its instant.
    pub(crate) after: bool,
    /// The point as the row names it.
    pub(crate) point: String,
    /// The key, as in room.toml.
    pub(crate) key: String,
    /// The value, as written.
    pub(crate) value: String,
    /// By which row.
    pub(crate) row: usize,
}

/// Collects what happens.
#[derive(Debug)]
pub(crate) struct Deeds<'a> {
    /// What rows can name.
    pub(crate) points: &'a Points<'a>,
    /// The calendar of the run.
    pub(crate) civil: &'a Civil,
    /// The end of the run.
    pub(crate) end: Instant,
    /// The courses of daylight, by name.
    pub(crate) curves: BTreeMap<String, Curve>,
    /// What happens, in the order of the rows.
    pub(crate) acts: Vec<Act>,
    /// What people do.
    pub(crate) doings: BTreeMap<usize, Vec<Doing>>,
    /// Settings that change.
    pub(crate) changed: Vec<Changed>,
    /// Clocks that are set by hand.
    pub(crate) clocks: BTreeMap<SourceId, Vec<Setting>>,
    /// The rows by which daylight takes a course, each with the moment at which it begins.
    courses: BTreeMap<usize, Instant>,
}

/// A deed and where it stands.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Said<'s> {
    /// What happens.
    pub(crate) deed: &'s Deed,
    /// Where.
    pub(crate) point: &'s Point,
    /// The point as written.
    pub(crate) name: &'s str,
    /// The words of the deed as written.
    pub(crate) text: &'s str,
    /// When.
    pub(crate) when: &'s When,
    /// The row.
    pub(crate) row: usize,
}

impl<'a> Deeds<'a> {
    /// Nothing happens yet.
    pub(crate) fn new(
        points: &'a Points<'a>,
        civil: &'a Civil,
        end: Instant,
        curves: BTreeMap<String, Curve>,
    ) -> Self {
        Self {
            points,
            civil,
            end,
            curves,
            acts: Vec::new(),
            doings: BTreeMap::new(),
            changed: Vec::new(),
            clocks: BTreeMap::new(),
            courses: BTreeMap::new(),
        }
    }

    /// Adds what a row says happens; the error is about the words of the deed.
    pub(crate) fn add(&mut self, said: Said<'_>) -> Result<(), WordError> {
        if let Deed::Daylight(daylight) = said.deed {
            return self.daylight(daylight, said);
        }
        if said.when.until.is_some() && !matches!(said.deed, Deed::Motion | Deed::Sound) {
            return Err(whole(
                "this happens at one moment, not over a stretch of time",
                "write one moment, or add `every 30 s` to the stretch",
            ));
        }
        let instants = match said.when.until {
            Some(until) => each_second(said.when.at[0], until),
            None => said.when.at.clone(),
        };
        for at in instants {
            self.at(at, said)?;
        }
        Ok(())
    }

    fn at(&mut self, at: Instant, said: Said<'_>) -> Result<(), WordError> {
        match (said.deed, said.point) {
            (Deed::Person(activity), Point::Person(person)) => {
                if let Activity::WalksTo(place) = activity {
                    let start = said.text.rfind(place.as_str()).unwrap_or(0);
                    known_place(self.points.room, place).map_err(|error| shifted(error, start))?;
                }
                self.doings.entry(*person).or_default().push(Doing {
                    at,
                    activity: activity.clone(),
                    row: said.row,
                });
            }
            (Deed::Setting { key, value }, _) => self.changed.push(Changed {
                at,
                after: said.when.after,
                point: said.name.to_owned(),
                key: key.clone(),
                value: value.clone(),
                row: said.row,
            }),
            (Deed::Power(on), point) => self.power(at, *on, point, said),
            (Deed::Clock(pace), point) => self.clock(at, *pace, point, said),
            (Deed::Frames(fault), point) => self.frames(at, *fault, point, said),
            (Deed::Learn { remove }, Point::Output(output)) => {
                let (output, remove) = (*output, *remove);
                self.input(at, Input::Learn { output, remove }, said);
            }
            (Deed::Stuck(how), Point::Output(output)) => {
                self.input(at, Input::Stuck(*output, *how), said);
            }
            (deed, Point::Source(source, part)) => {
                return self.stimulus(at, deed, *source, part, said);
            }
            _ => unreachable!("a deed that does not suit its point was refused before"),
        }
        Ok(())
    }

    fn stimulus(
        &mut self,
        at: Instant,
        deed: &Deed,
        source: SourceId,
        part: &str,
        said: Said<'_>,
    ) -> Result<(), WordError> {
        let unit = &self.points.room.plan.sources[usize::from(source.0)];
        let stimulus = match deed {
            Deed::Motion => Stimulus::Motion,
            Deed::Sound => Stimulus::Sound,
            Deed::Tap(name, span) | Deed::Hold(name, span) => {
                let number = self.button(unit, part, name, said)?;
                let up = Input::Stimulus(source, Stimulus::Release(number));
                self.input(at.after(*span), up, said);
                Stimulus::Press(number)
            }
            Deed::Press(name) => Stimulus::Press(self.button(unit, part, name, said)?),
            Deed::Release(name) => Stimulus::Release(self.button(unit, part, name, said)?),
            Deed::CardIn => Stimulus::CardIn { valid: true },
            Deed::WrongCard => Stimulus::CardIn { valid: false },
            Deed::CardOut => Stimulus::CardOut,
            Deed::WalkTest(on) => Stimulus::WalkTest(*on),
            Deed::TeachIn => Stimulus::TeachIn,
            Deed::Due(entry) => Stimulus::Due(*entry),
            Deed::ClockSet(time) => self.clock_set(at, source, *time),
            Deed::Signal(SignalWord::Lost | SignalWord::Stops) => Stimulus::Signal(false),
            Deed::Signal(SignalWord::Back | SignalWord::Sounds) => Stimulus::Signal(true),
            Deed::Shed(points) => Stimulus::Shed(*points),
            Deed::ShedEnd => Stimulus::ShedEnd,
            _ => unreachable!("a deed that does not suit its point was refused before"),
        };
        self.input(at, Input::Stimulus(source, stimulus), said);
        Ok(())
    }

    /// The number of a button; the error is about its name within the words of the deed.
    fn button(
        &self,
        unit: &PlanSource,
        part: &str,
        name: &str,
        said: Said<'_>,
    ) -> Result<u8, WordError> {
        button(unit, part, name).map_err(|error| match said.text.rfind(name) {
            Some(at) if !name.is_empty() => shifted(error, at),
            _ => WordError::whole(said.text, error.message, error.hint),
        })
    }

    /// Somebody sets a clock; what falls due from then on follows what it shows.
    fn clock_set(&mut self, at: Instant, source: SourceId, time: Option<Span>) -> Stimulus {
        let right = self.civil.at(at);
        let shows = time
            .and_then(|time| super::civil::time_of_day(right.date(), time))
            .unwrap_or(right);
        self.clocks
            .entry(source)
            .or_default()
            .push(Setting { at, shows });
        // Whether that is in hours is found out when the calendar is known for certain.
        Stimulus::ClockSet { in_hours: false }
    }

    fn power(&mut self, at: Instant, on: bool, point: &Point, said: Said<'_>) {
        let devices = match point {
            Point::Source(source, _) => vec![Device::Source(*source)],
            Point::Controller(controller) => vec![Device::Controller(*controller)],
            _ => self.points.room.plan.on_mains(),
        };
        for device in devices {
            self.input(at, Input::Power(device, on), said);
        }
    }

    fn clock(&mut self, at: Instant, pace: Pace, point: &Point, said: Said<'_>) {
        let device = match point {
            Point::Source(source, _) => Device::Source(*source),
            Point::Controller(controller) => Device::Controller(*controller),
            _ => unreachable!("a deed that does not suit its point was refused before"),
        };
        self.acts.push(Act {
            at,
            after: false,
            what: ActWhat::Drift(Drift { device, pace }),
            by: By::Row(said.row),
        });
    }

    fn frames(&mut self, at: Instant, fault: FrameFault, point: &Point, said: Said<'_>) {
        let (source, listener) = match point {
            Point::Source(source, _) => (*source, None),
            Point::Link(source, listener, _) => (*source, Some(*listener)),
            _ => unreachable!("a deed that does not suit its point was refused before"),
        };
        if fault == FrameFault::Pass {
            return self.all_is_well(at, source, listener, said);
        }
        let fault = match fault {
            FrameFault::Lost(count) => LinkFault::LoseNext(count),
            FrameFault::ShareLost(share) => LinkFault::Lose(Share::from_parts(share.hundredths())),
            FrameFault::Twice(count) => LinkFault::CopyNext(count),
            FrameFault::ShareTwice(share) => LinkFault::Copy(Share::from_parts(share.hundredths())),
            FrameFault::Late(count, span) => LinkFault::LateNext(count, span),
            FrameFault::OnTime => LinkFault::OnTime(true),
            FrameFault::OutOfOrder | FrameFault::Pass => LinkFault::Reorder(true),
        };
        self.impair(at, source, listener, fault, said);
    }

    /// Ends every fault of the bus: the ways are as room.toml says again.
    fn all_is_well(
        &mut self,
        at: Instant,
        source: SourceId,
        listener: Option<room::ControllerId>,
        said: Said<'_>,
    ) {
        let room = self.points.room;
        let listeners = &room.plan.sources[usize::from(source.0)].listeners;
        let listeners: Vec<_> = listeners
            .iter()
            .map(|&(id, _)| id)
            .filter(|id| listener.is_none_or(|only| only == *id))
            .collect();
        for id in listeners {
            let quality = quality_of(room, source, id);
            for fault in [
                LinkFault::LoseNext(0),
                LinkFault::CopyNext(0),
                LinkFault::LateNext(0, Span::ZERO),
                LinkFault::Reorder(false),
                LinkFault::OnTime(false),
                LinkFault::Lose(quality.loss),
                LinkFault::Copy(quality.copies),
            ] {
                self.impair(at, source, Some(id), fault, said);
            }
        }
    }

    fn impair(
        &mut self,
        at: Instant,
        source: SourceId,
        listener: Option<room::ControllerId>,
        fault: LinkFault,
        said: Said<'_>,
    ) {
        self.acts.push(Act {
            at,
            after: false,
            what: ActWhat::Impair(Impairment {
                source,
                listener,
                fault,
            }),
            by: By::Row(said.row),
        });
    }

    fn daylight(&mut self, daylight: &Daylight, said: Said<'_>) -> Result<(), WordError> {
        let from = said.when.at[0];
        if !matches!(daylight, Daylight::Is(_)) {
            self.courses.insert(said.row, from);
        }
        let every = said.when.every.unwrap_or(EVERY);
        let until = said.when.until.or(match said.when.every {
            Some(_) => said.when.at.last().copied(),
            None => None,
        });
        match (daylight, until) {
            (Daylight::Is(lux), _) if said.when.until.is_none() => {
                for &at in &said.when.at {
                    self.input(at, Input::Daylight(*lux), said);
                }
            }
            (Daylight::Is(_), _) => {
                return Err(whole(
                    "one illuminance for a stretch of time",
                    "write one moment, or where the light goes: `daylight 0 lx to 500 lx`",
                ));
            }
            (Daylight::Line(start, end), Some(until)) => {
                let curve = Curve {
                    points: vec![(from, *start), (until, *end)],
                    every,
                };
                self.along(&curve, from, said);
            }
            (Daylight::Arc(top), Some(until)) => {
                for at in steps(from, until, every) {
                    let lux = arc(*top, at.since(from), until.since(from));
                    self.input(at, Input::Daylight(lux), said);
                }
            }
            (Daylight::Line(..) | Daylight::Arc(_), None) => {
                return Err(whole(
                    "over which stretch of time is missing",
                    "write the stretch in the first column: `06:00 to 18:00`",
                ));
            }
            (Daylight::Follows(name), _) => {
                let Some(curve) = self.curves.get(name).cloned() else {
                    let near =
                        crate::diagnostic::nearest(name, self.curves.keys().map(String::as_str));
                    let hint = match near {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => {
                            format!("write a table [curves.{name}] with rows of time and light")
                        }
                    };
                    return Err(whole(format!("there is no curve `{name}`"), hint));
                };
                self.along(&curve, from, said);
            }
        }
        Ok(())
    }

    /// A course of daylight ends where another row begins to say how much light there is.
    pub(crate) fn end_courses(&mut self) {
        let mut begins: Vec<(Instant, usize)> = Vec::new();
        begins.extend(self.courses.iter().map(|(row, from)| (*from, *row)));
        let single = |act: &Act| match (&act.what, act.by) {
            (ActWhat::Input(Input::Daylight(_)), By::Row(row)) => Some((act.at, row)),
            _ => None,
        };
        let moments = self.acts.iter().filter_map(single);
        begins.extend(moments.filter(|(_, row)| !self.courses.contains_key(row)));
        begins.sort_unstable();
        let courses = &self.courses;
        self.acts.retain(|act| {
            let Some((at, row)) = single(act) else {
                return true;
            };
            let Some(from) = courses.get(&row) else {
                return true;
            };
            let later = begins.partition_point(|(begin, _)| begin <= from);
            let mut later = begins[later..].iter();
            later.next().is_none_or(|(begin, _)| at < *begin)
        });
    }

    /// The light of a curve from `from` on, first at `from` itself.
    fn along(&mut self, curve: &Curve, from: Instant, said: Said<'_>) {
        let mut last = None;
        let mut set = |deeds: &mut Self, at: Instant, lux: Illuminance| {
            if at >= from && at <= deeds.end && last != Some((at, lux)) {
                last = Some((at, lux));
                deeds.input(at, Input::Daylight(lux), said);
            }
        };
        for pair in curve.points.windows(2) {
            let [(start, low), (end, high)] = pair else {
                continue;
            };
            if *end < from {
                continue;
            }
            for at in steps((*start).max(from), *end, curve.every) {
                if at < *end {
                    set(
                        self,
                        at,
                        between(*low, *high, at.since(*start), end.since(*start)),
                    );
                }
            }
        }
        if let Some(&(at, lux)) = curve.points.last() {
            set(self, at, lux);
        }
    }

    fn input(&mut self, at: Instant, input: Input, said: Said<'_>) {
        self.acts.push(Act {
            at,
            after: said.when.after,
            what: ActWhat::Input(input),
            by: By::Row(said.row),
        });
    }
}

/// How well frames travel when nothing is wrong.
fn quality_of(room: &RoomFile, source: SourceId, listener: room::ControllerId) -> sim::Quality {
    let known = room.quality.get(&(source, listener));
    known.copied().unwrap_or_default()
}

/// Each second of a stretch, and both its ends.
fn each_second(from: Instant, until: Instant) -> Vec<Instant> {
    steps(from, until, Span::from_seconds(1))
}

/// Each step of a stretch, and both its ends.
fn steps(from: Instant, until: Instant, every: Span) -> Vec<Instant> {
    let mut all = Vec::new();
    let mut at = from;
    while at < until {
        all.push(at);
        at = at.after(every);
    }
    if until >= from {
        all.push(until);
    }
    all
}

/// The illuminance on the straight way from `low` to `high`.
fn between(low: Illuminance, high: Illuminance, gone: Span, whole: Span) -> Illuminance {
    if whole.is_zero() {
        return high;
    }
    let (low, high) = (i128::from(low.hundredths()), i128::from(high.hundredths()));
    let (gone, whole) = (i128::from(gone.as_ms()), i128::from(whole.as_ms()));
    let lux = low + (high - low) * gone / whole;
    Illuminance::from_hundredths(u32::try_from(lux).unwrap_or(u32::MAX))
}

/// Half a sine over `whole`, by Bhaskara's approximation (within 0.2 %): whole numbers give the
/// same light on every machine.
fn arc(top: Illuminance, gone: Span, whole: Span) -> Illuminance {
    let (gone, whole) = (u128::from(gone.as_ms()), u128::from(whole.as_ms().max(1)));
    let product = gone * whole.saturating_sub(gone);
    let lux = u128::from(top.hundredths()) * 16 * product / (5 * whole * whole - 4 * product);
    Illuminance::from_hundredths(u32::try_from(lux).unwrap_or(u32::MAX))
}

fn whole(message: impl Into<String>, hint: impl Into<String>) -> WordError {
    WordError::new(0..usize::MAX, message, hint)
}

/// How often the light of a stretch is set.
const EVERY: Span = Span::from_seconds(10);

#[cfg(test)]
mod tests {
    use super::*;

    fn lux(lux: u32) -> Illuminance {
        Illuminance::from_lux(lux)
    }

    #[test]
    fn an_arc_is_dark_at_both_ends_and_highest_in_the_middle() {
        let day = Span::from_hours(12);
        let at = |hours| arc(lux(20_000), Span::from_hours(hours), day);
        assert_eq!(at(0), lux(0));
        assert_eq!(at(6), lux(20_000));
        assert_eq!(at(12), lux(0));
        // sin(30°) = 0.5, at two of twelve hours.
        assert_eq!(at(2), lux(10_000));
        assert_eq!(at(2), at(10));
    }

    #[test]
    fn a_straight_way_of_light_is_straight_both_up_and_down() {
        let minute = Span::from_seconds(60);
        let half = Span::from_seconds(30);
        assert_eq!(between(lux(0), lux(500), half, minute), lux(250));
        assert_eq!(between(lux(500), lux(0), half, minute), lux(250));
        assert_eq!(between(lux(5), lux(9), Span::ZERO, Span::ZERO), lux(9));
    }

    #[test]
    fn a_stretch_counts_each_second_and_both_ends() {
        let all = each_second(Instant::START, Instant::from_ms(2_500));
        let ms: Vec<u64> = all.iter().map(|at| at.as_ms()).collect();
        assert_eq!(ms, [0, 1_000, 2_000, 2_500]);
    }
}
