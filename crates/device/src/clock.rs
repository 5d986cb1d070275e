//! A time clock. The calendar (days, holidays, daylight saving) is evaluated outside, in
//! civil time; the clock hears each entry when it falls due and keeps time through power cuts.
//!
//! Invariants: the reserve runs while the clock keeps time without power; a clock that has
//! lost the time counts as in hours and runs nothing until it is set (CLK-4).

use core::mem;

use crate::effects::start_if_set;
use crate::slots::slots;
use crate::{Effects, Fault, Ignored, Note, Payload, Span};

/// Says when opening hours begin and end and when a sweep is due.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Clock {
    in_hours: bool,
    /// Whether the time is lost.
    lost: bool,
    /// Whether a sweep fell due while the power was cut.
    missed_sweep: bool,
    /// Whether the power is cut.
    cut: bool,
}

impl Clock {
    /// A clock that shows the right time.
    #[must_use]
    pub const fn new(settings: &Settings) -> Self {
        Self {
            in_hours: settings.starts_in_hours,
            lost: false,
            missed_sweep: false,
            cut: false,
        }
    }

    /// The run begins: listeners take hours as open, so the clock speaks up when they are not.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        if self.in_hours {
            start_if_set(effects, Timer::Report, settings.report);
        } else {
            self.report(settings, effects);
        }
    }

    /// A calendar entry falls due.
    pub fn handle_due(
        &mut self,
        settings: &Settings,
        entry: Entry,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.lost {
            return effects.note(Note::Ignored(Ignored::TimeLost));
        }
        let changed = match entry {
            Entry::Opening => !mem::replace(&mut self.in_hours, true),
            Entry::Closing => mem::replace(&mut self.in_hours, false),
            Entry::Sweep => {
                if self.cut {
                    self.missed_sweep = true;
                    effects.note(Note::Ignored(Ignored::NoPower));
                } else {
                    effects.send(Payload::Sweep);
                }
                return;
            }
        };
        if self.cut {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if changed {
            self.report(settings, effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// The clock is set right by hand; `in_hours`: the moment lies in opening hours.
    pub fn handle_clock_set(
        &mut self,
        settings: &Settings,
        in_hours: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        if self.lost {
            self.lost = false;
            effects.note(Note::FaultEnded(Fault::TimeLost));
        } else if self.in_hours == in_hours {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.in_hours = in_hours;
        self.report(settings, effects);
    }

    /// Power goes (`false`), and the reserve keeps the time; or power comes back, and the
    /// clock says where it stands and runs the sweep that it missed (CLK-4).
    pub fn handle_power(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != self.cut {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.cut = !on;
        effects.note(Note::Power(on));
        if !on {
            effects.stop(Timer::Report);
            if !self.lost && !start_if_set(effects, Timer::Reserve, Some(settings.reserve)) {
                self.lose_time();
            }
            return;
        }
        effects.stop(Timer::Reserve);
        if self.lost {
            effects.note(Note::Fault(Fault::TimeLost));
        }
        self.report(settings, effects);
        if mem::take(&mut self.missed_sweep) {
            effects.send(Payload::Sweep);
        }
    }

    /// Settings are changed on site: running timers restart with their new spans (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if self.cut {
            if !self.lost && old.reserve != new.reserve {
                effects.start(Timer::Reserve, new.reserve);
            }
        } else if old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the clock (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A timer has elapsed.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match timer {
            Timer::Report => self.report(settings, effects),
            Timer::Reserve => self.lose_time(),
        }
    }

    /// Whether the clock counts as in opening hours.
    #[must_use]
    pub const fn is_in_hours(&self) -> bool {
        self.in_hours
    }

    /// Whether the clock has lost the time.
    #[must_use]
    pub const fn is_time_lost(&self) -> bool {
        self.lost
    }

    /// The reserve is spent. Nothing can be said without power; it is said on return.
    const fn lose_time(&mut self) {
        self.lost = true;
        self.in_hours = true;
        self.missed_sweep = false;
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(if self.lost {
            Payload::TimeLost
        } else if self.in_hours {
            Payload::InHours
        } else {
            Payload::AfterHours
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

slots! {
    /// The timers of a time clock, in the order of their names.
    pub enum Timer {
        /// When the state is reported again.
        Report = "report",
        /// When a clock without power loses the time (CLK-4).
        Reserve = "reserve",
    }
}

/// What is set on a time clock.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// How long the clock keeps time without power (CLK-4).
    pub reserve: Span,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
    /// Whether the run starts in opening hours.
    pub starts_in_hours: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            reserve: Span::from_hours(10),
            report: Some(Span::from_minutes(4)),
            starts_in_hours: true,
        }
    }
}

/// A calendar entry that falls due.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Entry {
    /// Opening hours begin.
    Opening,
    /// Opening hours end.
    Closing,
    /// An off sweep.
    Sweep,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Bench, Heard, at};
    use alloc::vec::Vec;
    use proptest::prelude::*;

    /// A row of a script.
    #[derive(Clone, Debug)]
    enum Do {
        ClockSet(bool),
        Due(Entry),
        Power(bool),
        Set(Settings),
        Start,
        TeachIn,
    }

    fn play(settings: Settings, rows: &[(u64, Do)], until: u64) -> (Clock, Bench<Timer>) {
        let mut settings = settings;
        let mut clock = Clock::new(&settings);
        let mut bench = Bench::new();
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::ClockSet(hours)) => {
                    clock.handle_clock_set(&settings, *hours, bench);
                }
                Heard::Row(Do::Due(entry)) => clock.handle_due(&settings, *entry, bench),
                Heard::Row(Do::Power(on)) => clock.handle_power(&settings, *on, bench),
                Heard::Row(Do::Set(new)) => {
                    clock.handle_settings(&settings, new, bench);
                    settings = new.clone();
                }
                Heard::Row(Do::Start) => clock.handle_start(&settings, bench),
                Heard::Row(Do::TeachIn) => clock.handle_teach_in(bench),
                Heard::Elapsed(timer) => clock.handle_elapsed(&settings, timer, bench),
            }
            assert_eq!(bench.runs(Timer::Reserve), clock.cut && !clock.lost);
            assert!(!clock.cut || !bench.runs(Timer::Report));
            assert!(!clock.lost || clock.is_in_hours() && !clock.missed_sweep);
            assert!(!clock.missed_sweep || clock.cut);
        });
        (clock, bench)
    }

    #[track_caller]
    fn check(
        settings: Settings,
        rows: &[(u64, Do)],
        until: u64,
        sent: &[(u64, Payload)],
        notes: &[(u64, Note)],
    ) -> Clock {
        let (clock, mut bench) = play(settings, rows, until);
        assert_eq!(bench.take_sent(), sent);
        assert_eq!(bench.take_notes(), notes);
        clock
    }

    fn bare() -> Settings {
        Settings {
            report: None,
            ..Settings::default()
        }
    }

    const OPENING: Do = Do::Due(Entry::Opening);
    const CLOSING: Do = Do::Due(Entry::Closing);
    const SWEEP: Do = Do::Due(Entry::Sweep);
    const NO_POWER: Note = Note::Ignored(Ignored::NoPower);
    const LOST: Note = Note::Ignored(Ignored::TimeLost);

    #[test]
    fn clk_2_3_the_clock_says_when_hours_begin_and_end_and_when_to_sweep() {
        let rows = [
            (0, Do::Start),
            (at(18, 0, 0), CLOSING),
            (at(22, 0, 0), SWEEP),
            (at(31, 0, 0), OPENING),
        ];
        let sent = [
            (at(18, 0, 0), Payload::AfterHours),
            (at(22, 0, 0), Payload::Sweep),
            (at(31, 0, 0), Payload::InHours),
        ];
        let clock = check(bare(), &rows, at(32, 0, 0), &sent, &[]);
        assert!(clock.is_in_hours() && !clock.is_time_lost());
    }

    #[test]
    fn clk_3_an_entry_that_changes_nothing_is_not_reported() {
        let rows = [(0, OPENING), (1, CLOSING), (2, CLOSING)];
        let same = Note::Ignored(Ignored::NoChange);
        let sent = [(1, Payload::AfterHours)];
        let clock = check(bare(), &rows, 10, &sent, &[(0, same), (2, same)]);
        assert!(!clock.is_in_hours());
    }

    #[test]
    fn clk_3_a_run_that_starts_after_hours_says_so() {
        let settings = Settings {
            starts_in_hours: false,
            ..Settings::default()
        };
        let sent = [(0, Payload::AfterHours), (240_000, Payload::AfterHours)];
        check(settings, &[(0, Do::Start)], 240_000, &sent, &[]);
        let sent = [(240_000, Payload::InHours), (480_000, Payload::InHours)];
        check(Settings::default(), &[(0, Do::Start)], 480_000, &sent, &[]);
    }

    #[test]
    fn clk_4_the_clock_keeps_time_for_exactly_its_reserve_without_power() {
        // The power comes back at exactly the end of the reserve: it still counts.
        let rows = [
            (0, Do::Power(false)),
            (at(5, 0, 0), CLOSING),
            (at(10, 0, 0), Do::Power(true)),
        ];
        let sent = [(at(10, 0, 0), Payload::AfterHours)];
        let notes = [
            (0, Note::Power(false)),
            (at(5, 0, 0), NO_POWER),
            (at(10, 0, 0), Note::Power(true)),
        ];
        check(bare(), &rows, at(24, 0, 0), &sent, &notes);
    }

    #[test]
    fn clk_4_a_sweep_missed_in_a_cut_runs_once_on_return() {
        let rows = [
            (0, Do::Power(false)),
            (1_000, SWEEP),
            (2_000, SWEEP),
            (3_000, Do::Power(true)),
            (4_000, Do::Power(false)),
            (5_000, Do::Power(true)),
        ];
        let sent = [
            (3_000, Payload::InHours),
            (3_000, Payload::Sweep),
            (5_000, Payload::InHours),
        ];
        let notes = [
            (0, Note::Power(false)),
            (1_000, NO_POWER),
            (2_000, NO_POWER),
            (3_000, Note::Power(true)),
            (4_000, Note::Power(false)),
            (5_000, Note::Power(true)),
        ];
        check(bare(), &rows, 10_000, &sent, &notes);
    }

    #[test]
    fn clk_4_when_the_reserve_is_spent_the_clock_says_so_counts_as_in_hours_and_runs_nothing() {
        let rows = [
            (0, CLOSING),
            (1_000, Do::Power(false)),
            (2_000, SWEEP), // missed while the clock still kept time, and then lost with it
            (at(10, 0, 1_001), SWEEP),
            (at(11, 0, 0), Do::Power(true)),
            (at(12, 0, 0), CLOSING),
            (at(13, 0, 0), SWEEP),
        ];
        let sent = [(0, Payload::AfterHours), (at(11, 0, 0), Payload::TimeLost)];
        let notes = [
            (1_000, Note::Power(false)),
            (2_000, NO_POWER),
            (at(10, 0, 1_001), LOST),
            (at(11, 0, 0), Note::Power(true)),
            (at(11, 0, 0), Note::Fault(Fault::TimeLost)),
            (at(12, 0, 0), LOST),
            (at(13, 0, 0), LOST),
        ];
        let clock = check(bare(), &rows, at(14, 0, 0), &sent, &notes);
        assert!(clock.is_in_hours() && clock.is_time_lost());
    }

    #[test]
    fn clk_4_a_lost_clock_keeps_saying_so_and_starts_no_reserve() {
        let rows = [
            (0, Do::Power(false)),
            (at(11, 0, 0), Do::Power(true)),
            (at(11, 5, 0), Do::Power(false)),
            (at(11, 6, 0), Do::Power(true)),
        ];
        let sent = [
            (at(11, 0, 0), Payload::TimeLost),
            (at(11, 4, 0), Payload::TimeLost),
            (at(11, 6, 0), Payload::TimeLost),
            (at(11, 10, 0), Payload::TimeLost),
        ];
        let (_, mut bench) = play(Settings::default(), &rows, at(11, 10, 0));
        assert_eq!(bench.take_sent(), sent);
    }

    #[test]
    fn clk_4_without_reserve_the_time_is_lost_at_once() {
        let settings = Settings {
            reserve: Span::ZERO,
            ..bare()
        };
        let rows = [(0, Do::Power(false)), (1, Do::Power(true))];
        let notes = [
            (0, Note::Power(false)),
            (1, Note::Power(true)),
            (1, Note::Fault(Fault::TimeLost)),
        ];
        check(settings, &rows, 10, &[(1, Payload::TimeLost)], &notes);
    }

    #[test]
    fn clk_4_setting_the_clock_ends_the_fault_and_its_entries_run_again() {
        let rows = [
            (0, Do::Power(false)),
            (at(11, 0, 0), Do::Power(true)),
            (at(12, 0, 0), Do::ClockSet(false)),
            (at(13, 0, 0), SWEEP),
        ];
        let sent = [
            (at(11, 0, 0), Payload::TimeLost),
            (at(12, 0, 0), Payload::AfterHours),
            (at(13, 0, 0), Payload::Sweep),
        ];
        let notes = [
            (0, Note::Power(false)),
            (at(11, 0, 0), Note::Power(true)),
            (at(11, 0, 0), Note::Fault(Fault::TimeLost)),
            (at(12, 0, 0), Note::FaultEnded(Fault::TimeLost)),
        ];
        let clock = check(bare(), &rows, at(14, 0, 0), &sent, &notes);
        assert!(!clock.is_in_hours() && !clock.is_time_lost());
    }

    #[test]
    fn clk_4_a_lost_clock_set_in_hours_says_so_too() {
        let rows = [
            (0, Do::Power(false)),
            (at(11, 0, 0), Do::Power(true)),
            (at(12, 0, 0), Do::ClockSet(true)),
        ];
        let (_, mut bench) = play(bare(), &rows, at(13, 0, 0));
        assert_eq!(bench.take_sent()[1..], [(at(12, 0, 0), Payload::InHours)]);
    }

    #[test]
    fn clk_4_setting_a_clock_that_is_right_reports_only_a_change() {
        let rows = [
            (0, Do::ClockSet(true)),
            (1, Do::ClockSet(false)),
            (2, Do::Power(false)),
            (3, Do::ClockSet(true)),
        ];
        let notes = [
            (0, Note::Ignored(Ignored::NoChange)),
            (2, Note::Power(false)),
            (3, NO_POWER),
        ];
        check(bare(), &rows, 10, &[(1, Payload::AfterHours)], &notes);
    }

    #[test]
    fn clk_4_power_that_stays_is_not_reported() {
        let rows = [
            (0, Do::Power(true)),
            (1, Do::Power(false)),
            (2, Do::Power(false)),
            (3, Do::TeachIn),
        ];
        let same = Note::Ignored(Ignored::NoChange);
        let notes = [(0, same), (1, Note::Power(false)), (2, same), (3, NO_POWER)];
        check(bare(), &rows, 10, &[], &notes);
    }

    #[test]
    fn clk_4_reports_stop_in_a_cut() {
        let rows = [(0, Do::Start), (1, Do::Power(false))];
        let (_, bench) = play(Settings::default(), &rows, 1);
        assert_eq!(bench.running(), [Timer::Reserve]);
    }

    #[test]
    fn set_1_changed_spans_restart_the_timers_that_run() {
        let after = Settings {
            reserve: Span::from_hours(2),
            report: Some(Span::from_minutes(1)),
            ..bare()
        };
        let same = |at| (at, Do::Set(after.clone()));
        let rows = [(0, Do::Start), same(10), same(20)];
        let (_, mut bench) = play(Settings::default(), &rows, 20);
        assert_eq!(bench.running(), [Timer::Report]);
        assert_eq!(bench.due(Timer::Report), Some(60_010));
        assert_eq!(bench.take_notes()[0], (10, Note::SettingChanged));
        let rows = [(0, Do::Power(false)), same(10), same(20)];
        let (_, bench) = play(Settings::default(), &rows, 20);
        assert_eq!(bench.running(), [Timer::Reserve]);
        assert_eq!(bench.due(Timer::Reserve), Some(at(2, 0, 10)));
        let rows = [(0, Do::Start), (10, Do::Set(bare()))];
        let (_, bench) = play(Settings::default(), &rows, 10);
        assert_eq!(bench.running(), []);
        let rows = [(0, Do::Power(false)), same(at(11, 0, 0))];
        let (_, bench) = play(bare(), &rows, at(11, 0, 0));
        assert_eq!(bench.running(), [], "what is lost needs no reserve");
    }

    #[test]
    fn link_1_the_clock_sends_its_teach_in_frame() {
        check(
            bare(),
            &[(3, Do::TeachIn)],
            3,
            &[(3, Payload::TeachIn)],
            &[],
        );
    }

    #[test]
    fn slots_are_numbered_in_the_order_of_their_names() {
        for (number, timer) in Timer::ALL.iter().enumerate() {
            assert_eq!(usize::from(timer.number()), number);
            assert_eq!(Timer::from_number(timer.number()), Some(*timer));
        }
        assert_eq!(Timer::from_number(Timer::COUNT), None);
        assert!(Timer::ALL.is_sorted());
        assert_eq!(Timer::ALL.map(Timer::name), ["report", "reserve"]);
    }

    #[test]
    fn the_defaults_are_those_of_the_rows() {
        let settings = Settings::default();
        assert_eq!(settings.reserve, Span::from_hours(10));
        assert_eq!(settings.report, Some(Span::from_minutes(4)));
        assert!(settings.starts_in_hours);
    }

    proptest! {
        /// The invariants are asserted after every single input and timer, and whoever heard
        /// every frame knows what the clock counts as while it has power.
        #[test]
        fn clk_4_no_reserve_runs_with_power_and_a_lost_clock_counts_as_in_hours(
            reserve in 0..6_u64,
            starts_in_hours in any::<bool>(),
            rows in proptest::collection::vec(
                (0..5_u64, prop_oneof![
                    Just(OPENING), Just(CLOSING), Just(SWEEP),
                    any::<bool>().prop_map(Do::Power),
                    any::<bool>().prop_map(Do::Power),
                    any::<bool>().prop_map(Do::ClockSet),
                ]),
                0..60,
            ),
        ) {
            let settings = Settings {
                reserve: Span::from_ms(reserve),
                report: Some(Span::from_ms(7)),
                starts_in_hours,
            };
            let mut now = 0;
            let mut script = Vec::from([(0, Do::Start)]);
            script.extend(rows.into_iter().map(|(wait, what)| { now += wait; (now, what) }));
            let (clock, mut bench) = play(settings, &script, now + 10);
            prop_assert_eq!(bench.runs(Timer::Report), !clock.cut);
            let sent = bench.take_sent();
            let said = sent.iter().rfind(|(_, said)| *said != Payload::Sweep);
            if let (false, Some((_, said))) = (clock.cut, said) {
                prop_assert_eq!(*said == Payload::TimeLost, clock.is_time_lost());
                prop_assert_eq!(*said != Payload::AfterHours, clock.is_in_hours());
            }
        }
    }
}
