//! A daylight sensor: reports illuminance and never sets a level (DAY-1, DAY-2).
//!
//! Each timer of this sensor asks for a reading: whoever drives it passes what the sensor sees
//! at that moment. A sample that reports nothing says nothing.
//!
//! Invariant: two reports are at least the interval apart.

use crate::effects::start_if_set;
use crate::slots::slots;
use crate::{Effects, Ignored, Illuminance, Note, Payload, Span};

/// Samples the light and reports it when it has moved or has been quiet for long.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Sensor {
    /// What was reported last; `None`: nothing since it got power.
    last: Option<Illuminance>,
    /// Whether the power is cut.
    cut: bool,
}

impl Sensor {
    /// A sensor of a settled room.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            last: None,
            cut: false,
        }
    }

    /// The run begins: the sensor takes its first sample at this instant.
    pub fn handle_start(
        &mut self,
        _settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.start(Timer::Interval, Span::ZERO);
    }

    /// Power goes (`false`) or comes back, with a sample at once.
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
        self.last = None;
        if on {
            self.handle_start(settings, effects);
        } else {
            effects.stop(Timer::Interval);
            effects.stop(Timer::Report);
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
            return;
        }
        if old.interval != new.interval {
            effects.stop(Timer::Interval);
            start_if_set(effects, Timer::Interval, Some(new.interval));
        }
        if old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, Some(new.report));
        }
    }

    /// Somebody presses the teach-in button of the sensor (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A timer has elapsed, and the sensor sees this.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match timer {
            Timer::Interval => self.handle_sample(settings, seen, effects),
            Timer::Report => self.report(settings, seen, effects),
        }
    }

    /// What the sensor reported last; `None`: nothing since it got power.
    #[must_use]
    pub const fn reported(&self) -> Option<Illuminance> {
        self.last
    }

    fn handle_sample(
        &mut self,
        settings: &Settings,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.last.is_none_or(|last| settings.has_moved(last, seen)) {
            self.report(settings, seen, effects);
        } else {
            start_if_set(effects, Timer::Interval, Some(settings.interval));
        }
    }

    /// Says what is seen; the next sample and the next report count from here.
    fn report(
        &mut self,
        settings: &Settings,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.last = Some(seen);
        effects.note(Note::Measured(seen));
        effects.send(Payload::Illuminance(seen));
        start_if_set(effects, Timer::Interval, Some(settings.interval));
        start_if_set(effects, Timer::Report, Some(settings.report));
    }
}

slots! {
    /// The timers of a daylight sensor, in the order of their names.
    pub enum Timer {
        /// When the next sample is taken.
        Interval = "interval",
        /// When a report is due even without a change.
        Report = "report",
    }
}

/// What is set on a daylight sensor.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// A change of more than this many per cent of the last report is reported; 1 – 50.
    pub change_percent: u8,
    /// The least change that is reported.
    pub change_least: Illuminance,
    /// A report is due this long after the last one even without a change.
    pub report: Span,
    /// The sensor measures, and may report, this often.
    pub interval: Span,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            change_percent: 5,
            change_least: Illuminance::from_lux(5),
            report: Span::from_seconds(30),
            interval: Span::from_seconds(1),
        }
    }
}

impl Settings {
    /// Whether the light has moved by more than the share and at least the least change.
    fn has_moved(&self, last: Illuminance, seen: Illuminance) -> bool {
        let change = last.hundredths().abs_diff(seen.hundredths());
        change >= self.change_least.hundredths()
            && u64::from(change) * 100
                > u64::from(last.hundredths()) * u64::from(self.change_percent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Bench, Heard};
    use alloc::vec::Vec;
    use proptest::prelude::*;

    /// A row of a script.
    #[derive(Clone, Debug)]
    enum Do {
        /// From now on the sensor sees this, in 0.01 lx.
        Light(u32),
        Power(bool),
        Set(Settings),
        Start,
        TeachIn,
    }

    fn play(settings: Settings, rows: &[(u64, Do)], until: u64) -> (Sensor, Bench<Timer>) {
        let mut settings = settings;
        let mut sensor = Sensor::new(&settings);
        let mut seen = Illuminance::default();
        let mut bench = Bench::new();
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::Light(light)) => seen = Illuminance::from_hundredths(*light),
                Heard::Row(Do::Power(on)) => sensor.handle_power(&settings, *on, bench),
                Heard::Row(Do::Set(new)) => {
                    sensor.handle_settings(&settings, new, bench);
                    settings = new.clone();
                }
                Heard::Row(Do::Start) => sensor.handle_start(&settings, bench),
                Heard::Row(Do::TeachIn) => sensor.handle_teach_in(bench),
                Heard::Elapsed(timer) => sensor.handle_elapsed(&settings, timer, seen, bench),
            }
            assert!(!sensor.cut || bench.running().is_empty());
        });
        (sensor, bench)
    }

    /// Compares the reports, given in 0.01 lx.
    #[track_caller]
    fn check(settings: Settings, rows: &[(u64, Do)], until: u64, reports: &[(u64, u32)]) {
        let (_, mut bench) = play(settings, rows, until);
        let sent: Vec<(u64, Payload)> = reports
            .iter()
            .map(|(at, light)| {
                (
                    *at,
                    Payload::Illuminance(Illuminance::from_hundredths(*light)),
                )
            })
            .collect();
        assert_eq!(bench.take_sent(), sent);
    }

    #[test]
    fn day_1_the_first_sample_is_reported_at_once_and_then_each_30_s() {
        let rows = [(0, Do::Light(50_000)), (0, Do::Start)];
        let reports = [(0, 50_000), (30_000, 50_000), (60_000, 50_000)];
        check(Settings::default(), &rows, 89_999, &reports);
    }

    #[test]
    fn day_1_a_change_of_more_than_5_per_cent_is_reported_at_the_next_sample() {
        let rows = [
            (0, Do::Light(50_000)),
            (0, Do::Start),
            (5_500, Do::Light(52_500)), // 5 % is not more than 5 %
            (7_500, Do::Light(52_501)),
            (9_500, Do::Light(49_876)), // 5 % of the last report down, rounded
            (12_500, Do::Light(49_875)),
        ];
        let reports = [(0, 50_000), (8_000, 52_501), (13_000, 49_875)];
        check(Settings::default(), &rows, 14_000, &reports);
    }

    #[test]
    fn day_1_a_change_of_less_than_5_lx_is_not_reported() {
        let rows = [
            (0, Do::Light(1_000)),
            (0, Do::Start),
            (5_500, Do::Light(1_499)),
            (7_500, Do::Light(1_500)),
            (8_500, Do::Light(1_001)),
            (9_500, Do::Light(1_000)),
        ];
        let reports = [(0, 1_000), (8_000, 1_500), (10_000, 1_000)];
        check(Settings::default(), &rows, 20_000, &reports);
    }

    #[test]
    fn day_1_reports_are_never_closer_than_the_interval() {
        let mut rows = Vec::from([(0, Do::Start)]);
        rows.extend((0..50).map(|step| (step * 100, Do::Light(100_000 * (step as u32 % 3)))));
        let (_, mut bench) = play(Settings::default(), &rows, 5_000);
        let sent: Vec<u64> = bench.take_sent().iter().map(|(at, _)| *at).collect();
        assert!(sent.is_sorted_by(|before, after| after - before >= 1_000));
        assert!(sent.len() > 2);
    }

    #[test]
    fn day_1_a_report_between_two_samples_puts_the_next_sample_off() {
        let settings = Settings {
            report: Span::from_ms(2_500),
            ..Settings::default()
        };
        let rows = [(0, Do::Start), (2_600, Do::Light(9_000))];
        check(
            settings,
            &rows,
            4_000,
            &[(0, 0), (2_500, 0), (3_500, 9_000)],
        );
    }

    #[test]
    fn day_1_a_change_reported_puts_the_quiet_report_off() {
        let rows = [(0, Do::Start), (19_500, Do::Light(9_000))];
        let reports = [(0, 0), (20_000, 9_000), (50_000, 9_000)];
        check(Settings::default(), &rows, 55_000, &reports);
    }

    #[test]
    fn day_1_a_sample_that_reports_nothing_says_nothing() {
        let rows = [(0, Do::Light(7)), (0, Do::Start)];
        let (sensor, mut bench) = play(Settings::default(), &rows, 29_999);
        let seen = Illuminance::from_hundredths(7);
        assert_eq!(bench.take_notes(), [(0, Note::Measured(seen))]);
        assert_eq!(bench.running(), [Timer::Interval, Timer::Report]);
        assert_eq!(sensor.reported(), Some(seen));
    }

    #[test]
    fn day_2_the_sensor_only_ever_sends_what_it_sees() {
        let rows = [(0, Do::Start), (1_500, Do::Light(90_000))];
        let (_, mut bench) = play(Settings::default(), &rows, 100_000);
        let sent = bench.take_sent();
        assert!(sent.len() > 3);
        for (_, payload) in sent {
            assert!(matches!(payload, Payload::Illuminance(_)));
        }
    }

    #[test]
    fn day_1_power_brings_a_report_at_once() {
        let rows = [
            (0, Do::Light(700)),
            (0, Do::Start),
            (2_500, Do::Power(false)),
            (3_000, Do::TeachIn),
            (40_250, Do::Power(true)),
            (41_000, Do::Power(true)),
        ];
        let reports = [(0, 700), (40_250, 700), (70_250, 700)];
        check(Settings::default(), &rows, 80_000, &reports);
        let (_, mut bench) = play(Settings::default(), &rows, 41_000);
        let seen = Illuminance::from_hundredths(700);
        assert_eq!(
            bench.take_notes(),
            [
                (0, Note::Measured(seen)),
                (2_500, Note::Power(false)),
                (3_000, Note::Ignored(Ignored::NoPower)),
                (40_250, Note::Power(true)),
                (40_250, Note::Measured(seen)),
                (41_000, Note::Ignored(Ignored::NoChange)),
            ]
        );
        let (sensor, _) = play(Settings::default(), &rows[..3], 3_000);
        assert_eq!(sensor.reported(), None);
    }

    #[test]
    fn set_1_changed_spans_restart_the_timers() {
        let after = Settings {
            report: Span::from_seconds(10),
            interval: Span::from_seconds(3),
            ..Settings::default()
        };
        let rows = [
            (0, Do::Start),
            (100, Do::Set(after.clone())),
            (200, Do::Set(after.clone())),
        ];
        let (_, mut bench) = play(Settings::default(), &rows, 200);
        assert_eq!(bench.due(Timer::Report), Some(10_100));
        assert_eq!(bench.due(Timer::Interval), Some(3_100));
        assert_eq!(bench.take_notes()[1], (100, Note::SettingChanged));
        let rows = [(0, Do::Power(false)), (100, Do::Set(after))];
        let (_, bench) = play(Settings::default(), &rows, 200);
        assert_eq!(bench.running(), []);
    }

    #[test]
    fn spans_of_zero_start_no_timer_for_them() {
        let none = Settings {
            report: Span::ZERO,
            interval: Span::ZERO,
            ..Settings::default()
        };
        let (_, mut bench) = play(none.clone(), &[(0, Do::Start)], 100);
        assert_eq!(bench.take_sent().len(), 1);
        assert_eq!(bench.running(), []);
        let rows = [(0, Do::Start), (10, Do::Set(none))];
        let (_, bench) = play(Settings::default(), &rows, 10);
        assert_eq!(bench.running(), []);
    }

    #[test]
    fn day_1_the_brightest_light_there_is_does_not_overflow() {
        let rows = [(0, Do::Light(u32::MAX)), (0, Do::Start), (5, Do::Light(0))];
        check(
            Settings::default(),
            &rows,
            1_000,
            &[(0, u32::MAX), (1_000, 0)],
        );
    }

    #[test]
    fn link_1_the_sensor_sends_its_teach_in_frame() {
        let (_, mut bench) = play(Settings::default(), &[(3, Do::TeachIn)], 3);
        assert_eq!(bench.take_sent(), [(3, Payload::TeachIn)]);
    }

    #[test]
    fn slots_are_numbered_in_the_order_of_their_names() {
        for (number, timer) in Timer::ALL.iter().enumerate() {
            assert_eq!(usize::from(timer.number()), number);
            assert_eq!(Timer::from_number(timer.number()), Some(*timer));
        }
        assert_eq!(Timer::from_number(Timer::COUNT), None);
        assert!(Timer::ALL.is_sorted());
        assert_eq!(Timer::ALL.map(Timer::name), ["interval", "report"]);
    }

    #[test]
    fn a_new_sensor_has_reported_nothing_and_the_defaults_are_those_of_the_row() {
        let settings = Settings::default();
        assert_eq!(Sensor::new(&settings), Sensor::default());
        assert_eq!(settings.change_percent, 5);
        assert_eq!(settings.change_least, Illuminance::from_lux(5));
        assert_eq!(settings.report, Span::from_seconds(30));
        assert_eq!(settings.interval, Span::from_seconds(1));
    }

    proptest! {
        /// Whatever the light does, a listener is never further off than the thresholds allow
        /// for longer than one interval, and never waits longer than the report time.
        #[test]
        fn day_1_a_listener_knows_the_light_to_the_thresholds(
            lights in proptest::collection::vec((1..5_000_u64, 0..100_000_u32), 1..40),
        ) {
            let mut now = 0;
            let mut rows = Vec::from([(0, Do::Start)]);
            rows.extend(lights.into_iter().map(|(wait, light)| {
                now += wait;
                (now, Do::Light(light))
            }));
            let settings = Settings::default();
            let (sensor, mut bench) = play(settings.clone(), &rows, now + 1_000);
            let Some((_, Do::Light(light))) = rows.last() else { unreachable!() };
            let reported = sensor.reported().unwrap();
            prop_assert!(!settings.has_moved(reported, Illuminance::from_hundredths(*light)));
            let sent: Vec<u64> = bench.take_sent().iter().map(|(at, _)| *at).collect();
            let apart = |before: &u64, after: &u64| (1_000..=30_000).contains(&(after - before));
            prop_assert!(sent.is_sorted_by(apart));
        }
    }
}
