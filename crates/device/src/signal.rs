//! Two-state signal sources and demand response: normal power, fire alarm, shed.
//!
//! Invariant: the report interval runs while the source has power.

use crate::effects::start_if_set;
use crate::slots::slots;
use crate::{Effects, Ignored, Note, Payload, Points, Signal, Span};

/// Reports what it watches on every change.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Source {
    state: State,
    /// Whether the power of the source itself is cut.
    cut: bool,
}

/// What a signal source sees.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum State {
    /// Nothing is asked for, or the contact is open.
    Off,
    /// The contact is closed: normal power is present, the fire alarm sounds.
    On,
    /// Demand response asks for this many points; `None`: the output's own.
    Shed(Option<Points>),
}

impl Source {
    /// A source at rest: normal power present, no alarm, no shed.
    #[must_use]
    pub const fn new(settings: &Settings) -> Self {
        Self {
            state: match settings.kind {
                Kind::NormalPower => State::On,
                Kind::FireAlarm | Kind::DemandResponse => State::Off,
            },
            cut: false,
        }
    }

    /// The run begins: the report interval starts in the settled room.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        start_if_set(effects, Timer::Report, settings.report);
    }

    /// The watched contact closes or opens. At demand response it calls for the outputs' own
    /// points, or ends the shed.
    pub fn handle_signal(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let state = match settings.kind {
            _ if !on => State::Off,
            Kind::NormalPower | Kind::FireAlarm => State::On,
            Kind::DemandResponse => State::Shed(None),
        };
        self.change(settings, state, effects);
    }

    /// Demand response calls for this many points (`None`: the output's own) or ends. Other
    /// kinds of source do not know a shed.
    pub fn handle_shed(
        &mut self,
        settings: &Settings,
        points: Option<Points>,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.kind == Kind::DemandResponse {
            self.change(settings, State::Shed(points), effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// Demand response ends.
    pub fn handle_shed_end(
        &mut self,
        settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.kind == Kind::DemandResponse {
            self.change(settings, State::Off, effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// Power of the source itself goes (`false`) or comes back, with a report of its state.
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
        if on {
            self.report(settings, effects);
        } else {
            effects.stop(Timer::Report);
        }
    }

    /// Settings are changed on site: a running timer restarts with its new span (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if !self.cut && old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the source (LINK-1).
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
        let Timer::Report = timer;
        self.report(settings, effects);
    }

    /// What the source sees.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Whether its signal is on: power present, alarm sounding, shed called for.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        !matches!(self.state, State::Off)
    }

    /// Without power the source keeps what it sees and says it on return.
    fn change(
        &mut self,
        settings: &Settings,
        state: State,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let same = self.state == state;
        self.state = state;
        if same {
            effects.note(Note::Ignored(Ignored::NoChange));
        } else if self.cut {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else {
            self.report(settings, effects);
        }
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(match (settings.kind, self.state) {
            (Kind::NormalPower, state) => Payload::Signal(Signal::NormalPower, state == State::On),
            (Kind::FireAlarm, state) => Payload::Signal(Signal::FireAlarm, state == State::On),
            (Kind::DemandResponse, State::Shed(points)) => Payload::Shed(points),
            (Kind::DemandResponse, State::Off | State::On) => Payload::ShedEnd,
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

slots! {
    /// The timers of a signal source.
    pub enum Timer {
        /// When the state is reported again.
        Report = "report",
    }
}

/// What is set on a signal source.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// What the source watches.
    pub kind: Kind,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
}

/// What a signal source watches.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Kind {
    /// Normal power of the lighting circuit; at rest: present.
    NormalPower,
    /// The fire alarm; at rest: silent.
    FireAlarm,
    /// Demand response; at rest: no shed.
    DemandResponse,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            kind: Kind::NormalPower,
            report: Some(Span::from_minutes(4)),
        }
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
        Power(bool),
        Set(Option<Span>),
        Shed(Option<Points>),
        ShedEnd,
        Signal(bool),
        Start,
        TeachIn,
    }

    fn settings(kind: Kind, report: Option<Span>) -> Settings {
        Settings { kind, report }
    }

    fn play(settings: Settings, rows: &[(u64, Do)], until: u64) -> (Source, Bench<Timer>) {
        let mut settings = settings;
        let mut source = Source::new(&settings);
        let mut bench = Bench::new();
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::Power(on)) => source.handle_power(&settings, *on, bench),
                Heard::Row(Do::Set(report)) => {
                    let new = Settings {
                        report: *report,
                        ..settings.clone()
                    };
                    source.handle_settings(&settings, &new, bench);
                    settings = new;
                }
                Heard::Row(Do::Shed(points)) => source.handle_shed(&settings, *points, bench),
                Heard::Row(Do::ShedEnd) => source.handle_shed_end(&settings, bench),
                Heard::Row(Do::Signal(on)) => source.handle_signal(&settings, *on, bench),
                Heard::Row(Do::Start) => source.handle_start(&settings, bench),
                Heard::Row(Do::TeachIn) => source.handle_teach_in(bench),
                Heard::Elapsed(timer) => source.handle_elapsed(&settings, timer, bench),
            }
            assert!(!source.cut || bench.running().is_empty());
        });
        (source, bench)
    }

    #[track_caller]
    fn check(
        kind: Kind,
        rows: &[(u64, Do)],
        sent: &[(u64, Payload)],
        notes: &[(u64, Note)],
    ) -> Source {
        let (source, mut bench) = play(settings(kind, None), rows, 1_000_000);
        assert_eq!(bench.take_sent(), sent);
        assert_eq!(bench.take_notes(), notes);
        source
    }

    const SAME: Note = Note::Ignored(Ignored::NoChange);
    const DEAD: Note = Note::Ignored(Ignored::NoPower);

    #[test]
    fn out_13_normal_power_is_present_at_rest_and_each_change_is_reported_once() {
        let rows = [
            (0, Do::Signal(true)),
            (10, Do::Signal(false)),
            (20, Do::Signal(false)),
            (30, Do::Signal(true)),
        ];
        let said = |on| Payload::Signal(Signal::NormalPower, on);
        let sent = [(10, said(false)), (30, said(true))];
        let source = check(Kind::NormalPower, &rows, &sent, &[(0, SAME), (20, SAME)]);
        assert!(source.is_on());
        assert_eq!(source.state(), State::On);
    }

    #[test]
    fn out_13_the_fire_alarm_is_silent_at_rest() {
        let rows = [
            (0, Do::Signal(false)),
            (10, Do::Signal(true)),
            (30, Do::Signal(false)),
        ];
        let said = |on| Payload::Signal(Signal::FireAlarm, on);
        let sent = [(10, said(true)), (30, said(false))];
        let source = check(Kind::FireAlarm, &rows, &sent, &[(0, SAME)]);
        assert!(!source.is_on());
    }

    #[test]
    fn out_14_demand_response_calls_for_points_and_ends() {
        let points = Some(Points::from_hundredths(2_000));
        let rows = [
            (0, Do::ShedEnd),
            (10, Do::Shed(points)),
            (20, Do::Shed(points)),
            (30, Do::Shed(None)),
            (40, Do::ShedEnd),
            (50, Do::Signal(true)),
            (60, Do::Signal(false)),
        ];
        let sent = [
            (10, Payload::Shed(points)),
            (30, Payload::Shed(None)),
            (40, Payload::ShedEnd),
            (50, Payload::Shed(None)),
            (60, Payload::ShedEnd),
        ];
        let notes = [(0, SAME), (20, SAME)];
        let source = check(Kind::DemandResponse, &rows, &sent, &notes);
        assert_eq!(source.state(), State::Off);
        let (source, _) = play(settings(Kind::DemandResponse, None), &rows[..2], 10);
        assert!(source.is_on());
        assert_eq!(source.state(), State::Shed(points));
    }

    #[test]
    fn out_14_other_sources_do_not_know_a_shed() {
        for kind in [Kind::NormalPower, Kind::FireAlarm] {
            let rows = [(0, Do::Shed(None)), (1, Do::ShedEnd)];
            let source = check(kind, &rows, &[], &[(0, SAME), (1, SAME)]);
            assert_eq!(source, Source::new(&settings(kind, None)));
        }
    }

    #[test]
    fn out_11_the_state_is_reported_h_after_the_last_report() {
        let said = |on| Payload::Signal(Signal::FireAlarm, on);
        let settings = settings(Kind::FireAlarm, Some(Span::from_ms(100)));
        let rows = [(0, Do::Start), (150, Do::Signal(true))];
        let (_, mut bench) = play(settings, &rows, 360);
        assert_eq!(
            bench.take_sent(),
            [
                (100, said(false)),
                (150, said(true)),
                (250, said(true)),
                (350, said(true))
            ]
        );
    }

    #[test]
    fn out_11_an_interval_of_none_or_zero_reports_on_change_only() {
        for report in [None, Some(Span::ZERO)] {
            let rows = [(0, Do::Start), (5, Do::Signal(false))];
            let (_, bench) = play(settings(Kind::NormalPower, report), &rows, 5);
            assert_eq!(bench.running(), []);
        }
    }

    #[test]
    fn pwr_a_source_without_power_keeps_what_it_sees_and_says_it_on_return() {
        let rows = [
            (0, Do::Power(true)),
            (1, Do::Power(false)),
            (2, Do::Signal(false)),
            (3, Do::TeachIn),
            (4, Do::Power(false)),
            (5, Do::Power(true)),
        ];
        let sent = [(5, Payload::Signal(Signal::NormalPower, false))];
        let notes = [
            (0, SAME),
            (1, Note::Power(false)),
            (2, DEAD),
            (3, DEAD),
            (4, SAME),
            (5, Note::Power(true)),
        ];
        check(Kind::NormalPower, &rows, &sent, &notes);
    }

    #[test]
    fn pwr_reports_stop_in_a_cut() {
        let settings = settings(Kind::FireAlarm, Some(Span::from_ms(100)));
        let rows = [(0, Do::Start), (10, Do::Power(false))];
        let (_, mut bench) = play(settings, &rows, 1_000);
        assert_eq!(bench.take_sent(), []);
    }

    #[test]
    fn set_1_a_changed_interval_restarts_the_timer() {
        let report = |ms| Some(Span::from_ms(ms));
        let rows = [
            (0, Do::Start),
            (10, Do::Set(report(50))),
            (20, Do::Set(report(50))),
        ];
        let before = settings(Kind::FireAlarm, report(100));
        let (_, mut bench) = play(before.clone(), &rows, 20);
        assert_eq!(bench.due(Timer::Report), Some(60));
        assert_eq!(bench.take_notes()[0], (10, Note::SettingChanged));
        let (_, bench) = play(before.clone(), &[(0, Do::Start), (10, Do::Set(None))], 20);
        assert_eq!(bench.running(), []);
        let rows = [(0, Do::Power(false)), (10, Do::Set(report(50)))];
        let (_, bench) = play(before, &rows, 20);
        assert_eq!(bench.running(), []);
    }

    #[test]
    fn link_1_the_source_sends_its_teach_in_frame() {
        let rows = [(3, Do::TeachIn)];
        check(Kind::FireAlarm, &rows, &[(3, Payload::TeachIn)], &[]);
    }

    #[test]
    fn slots_are_numbered_in_the_order_of_their_names() {
        assert_eq!(Timer::Report.number(), 0);
        assert_eq!(Timer::from_number(0), Some(Timer::Report));
        assert_eq!(Timer::from_number(Timer::COUNT), None);
        assert_eq!(Timer::ALL.map(Timer::name), ["report"]);
    }

    #[test]
    fn by_default_a_source_watches_normal_power_and_reports_each_4_min() {
        let settings = Settings::default();
        assert_eq!(settings.kind, Kind::NormalPower);
        assert_eq!(settings.report, Some(Span::from_minutes(4)));
    }

    proptest! {
        /// Whoever heard every frame knows what the source sees while it has power.
        #[test]
        fn a_listener_always_ends_up_knowing_the_state(
            kind in prop_oneof![
                Just(Kind::NormalPower), Just(Kind::FireAlarm), Just(Kind::DemandResponse),
            ],
            rows in proptest::collection::vec(
                (0..5_u64, prop_oneof![
                    any::<bool>().prop_map(Do::Power),
                    any::<bool>().prop_map(Do::Signal),
                    Just(Do::Shed(None)),
                    Just(Do::Shed(Some(Points::from_hundredths(500)))),
                    Just(Do::ShedEnd),
                ]),
                0..60,
            ),
        ) {
            let mut now = 0;
            let mut script = Vec::from([(0, Do::Start)]);
            script.extend(rows.into_iter().map(|(wait, what)| { now += wait; (now, what) }));
            let settings = settings(kind, Some(Span::from_ms(7)));
            let (source, mut bench) = play(settings, &script, now + 10);
            prop_assert_eq!(bench.runs(Timer::Report), !source.cut);
            if let (false, Some((_, said))) = (source.cut, bench.take_sent().last()) {
                let on = match said {
                    Payload::Signal(_, on) => *on,
                    Payload::Shed(points) => {
                        prop_assert_eq!(source.state(), State::Shed(*points));
                        true
                    }
                    _ => false,
                };
                prop_assert_eq!(on, source.is_on());
            }
        }
    }
}
