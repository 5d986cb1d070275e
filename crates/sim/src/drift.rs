//! Clocks of devices that run fast or slow.
//!
//! A device counts its timers by a clock of its own. Where that is wrong, the spans that the
//! device starts from then on take less or more time than they should; what runs already goes on
//! as it was. Deadlines of clauses are nobody's timers, and a level on its way is moved by the
//! driver of the lamp: both stay as they are. A calendar is set by hand, not by this.
//!
//! Invariant: without a wrong clock nothing is looked up when a timer starts.

use device::Span;
use device::controller::{OutputTimer, Timer};
use room::{Device, Slot, SlotOwner, Slots};

use crate::Share;

/// How the clock of a device runs: how long takes what should take 100 000 000. So fine that there
/// is a pace for every whole millisecond in a day.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Pace(u32);

impl Pace {
    /// As it should.
    pub const RIGHT: Self = Self(Self::WHOLE);

    /// What is counted right takes this.
    pub const WHOLE: u32 = 100_000_000;

    /// A clock that is fast by this share: what should take 100 s takes 97 s where it is 3 %.
    #[must_use]
    pub const fn fast(share: Share) -> Self {
        Self(Self::WHOLE - share.parts() as u32 * PART)
    }

    /// A clock that is slow by this share: what should take 100 s takes 103 s where it is 3 %.
    #[must_use]
    pub const fn slow(share: Share) -> Self {
        Self(Self::WHOLE + share.parts() as u32 * PART)
    }

    /// A clock by which what should take 100 000 000 takes this; held at twice as long.
    #[must_use]
    pub const fn from_parts(parts: u32) -> Self {
        let longest = 2 * Self::WHOLE;
        Self(if parts > longest { longest } else { parts })
    }

    /// How long takes what should take 100 000 000; from 0 to 200 000 000.
    #[must_use]
    pub const fn parts(self) -> u32 {
        self.0
    }

    /// How long this span takes, rounded up to the next millisecond.
    #[must_use]
    pub const fn of(self, span: Span) -> Span {
        span.scaled(self.0 as u64, Self::WHOLE as u64)
    }
}

/// The clock of a device runs at this pace from now on.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Drift {
    /// Whose clock.
    pub device: Device,
    /// How it runs.
    pub pace: Pace,
}

/// The pace of each timer slot.
#[derive(Clone, Debug)]
pub(crate) struct Drifts(Vec<Pace>);

impl Drifts {
    /// All clocks are right.
    pub(crate) fn new(slots: &Slots) -> Self {
        Self(vec![Pace::RIGHT; slots.len()])
    }

    /// The clock of a device runs like this from now on.
    pub(crate) fn set(&mut self, slots: &Slots, drift: Drift) {
        for (pace, owner) in self.0.iter_mut().zip(slots.owners()) {
            if counts(*owner) == Some(drift.device) {
                *pace = drift.pace;
            }
        }
    }

    /// How long a span takes that a slot is started with.
    #[cold]
    pub(crate) fn of(&self, slot: Slot, span: Span) -> Span {
        self.0[usize::from(slot.0)].of(span)
    }
}

/// The device by whose clock a timer is counted.
#[must_use]
pub fn counts(owner: SlotOwner) -> Option<Device> {
    match owner {
        SlotOwner::Source(id, _) => Some(Device::Source(id)),
        SlotOwner::Controller(_, Timer::Output(_, timer)) if OutputTimer::WAYS.contains(&timer) => {
            None
        }
        SlotOwner::Controller(id, _) => Some(Device::Controller(id)),
        SlotOwner::Clause(..) => None,
    }
}

/// So much of a pace is one part of a share.
const PART: u32 = Pace::WHOLE / Share::ALL.parts() as u32;

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use device::occupancy;
    use room::{Input, Plan, PlanSource, SourceId, SourceSettings, Stimulus};

    use super::*;
    use crate::{Coming, Instant, Silent, Simulation};

    fn sensor() -> Simulation<Silent> {
        let sensor = PlanSource {
            name: "wall-sensor".into(),
            settings: SourceSettings::Occupancy(occupancy::Settings {
                report: None,
                ..occupancy::Settings::default()
            }),
            light: Default::default(),
            buttons: Vec::new(),
            mains: true,
            listeners: Vec::new(),
        };
        Simulation::silent(Arc::new(Plan {
            sources: vec![sensor],
            ..Plan::default()
        }))
    }

    /// How long after a motion at `at` the time delay elapses.
    fn delay(run: &mut Simulation<Silent>, at: Instant) -> Span {
        run.apply(at, Input::Stimulus(SourceId(0), Stimulus::Motion));
        run.run_until(at);
        let delay = run
            .room()
            .slots()
            .source(SourceId(0), occupancy::Timer::Delay.number());
        let coming = run.coming().into_iter();
        let mut due = coming.filter(|(_, it)| *it == Coming::Timer(delay));
        due.next().unwrap().0.since(at)
    }

    #[test]
    fn timers_that_start_under_a_wrong_clock_are_wrong_and_no_others() {
        let minute = |number: u64| Instant::START.after(Span::from_minutes(number));
        let whole = occupancy::Settings::default().time_delay;
        let mut run = sensor();
        assert_eq!(delay(&mut run, minute(1)), whole);
        let device = Device::Source(SourceId(0));
        let slow = Pace::slow(Share::from_parts(300));
        run.drift(minute(2), Drift { device, pace: slow });
        run.run_until(minute(2));
        // What runs already goes on as it was.
        assert!(
            run.coming()
                .iter()
                .any(|(at, _)| *at == minute(1).after(whole))
        );
        assert_eq!(delay(&mut run, minute(3)), slow.of(whole));
        let pace = Pace::RIGHT;
        run.drift(minute(4), Drift { device, pace });
        assert_eq!(delay(&mut run, minute(4)), whole);
        run.drift(minute(5), Drift { device, pace: slow });
        run.reset();
        assert_eq!(delay(&mut run, minute(1)), whole);
    }

    #[test]
    fn a_fast_clock_takes_less_and_a_slow_one_more() {
        let three = Share::from_parts(300);
        let span = Span::from_seconds(100);
        assert_eq!(Pace::fast(three).of(span), Span::from_seconds(97));
        assert_eq!(Pace::slow(three).of(span), Span::from_seconds(103));
        assert_eq!(Pace::RIGHT.of(span), span);
        assert_eq!(
            Pace::slow(Share::from_parts(1)).of(Span::from_ms(1)),
            Span::from_ms(2)
        );
    }

    #[test]
    fn there_is_a_pace_for_every_millisecond_of_a_day() {
        let day = Span::from_hours(24);
        for ms in [1, 2, 777, 86_399_999] {
            let longer = day.plus(Span::from_ms(ms));
            let parts = longer.as_ms() * u64::from(Pace::WHOLE) / day.as_ms();
            let pace = Pace::from_parts(u32::try_from(parts).unwrap());
            assert_eq!(pace.of(day), longer);
        }
        assert_eq!(Pace::from_parts(u32::MAX).of(day), day.plus(day));
    }
}
