//! A key-card reader at a guest-room door.
//!
//! The linger runs in the reader: the room hears *out* only when it has ended, so a card that
//! comes back in time changes nothing at all (CARD-2, CARD-3).
//!
//! Invariants: the linger runs while lingering; a reader without power runs nothing.

use crate::effects::start_if_set;
use crate::slots::slots;
use crate::{Effects, Fault, Flaw, Ignored, Note, Payload, Span};

/// Reports a card as *in* at once and as *out* when its linger has ended.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Reader {
    state: State,
    /// Whether a card that does not belong to the room sits in the slot (CARD-7).
    wrong: bool,
    /// Whether the power is cut.
    cut: bool,
}

/// What a reader believes.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum State {
    /// A card of the room is in.
    In,
    /// The card has been pulled and the linger runs: counts as in.
    Lingering,
    /// No card.
    #[default]
    Out,
}

impl Reader {
    /// The reader of a settled room without a card.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            state: State::Out,
            wrong: false,
            cut: false,
        }
    }

    /// The run begins: the report interval starts in the settled room.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        start_if_set(effects, Timer::Report, settings.report);
    }

    /// A card is put in; `valid`: it belongs to the room.
    pub fn handle_card_in(
        &mut self,
        settings: &Settings,
        valid: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.verifies && !valid {
            return self.handle_wrong_card(effects);
        }
        self.end_wrong_card(effects);
        let before = self.state;
        self.state = State::In;
        match before {
            _ if self.cut => effects.note(Note::Ignored(Ignored::NoPower)),
            State::In => effects.note(Note::Ignored(Ignored::NoChange)),
            State::Lingering if settings.flaw == Some(Flaw::LingerNotCancelled) => {}
            State::Lingering => effects.stop(Timer::Linger),
            State::Out => self.report(settings, effects),
        }
    }

    /// The card is pulled.
    pub fn handle_card_out(
        &mut self,
        settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let wrong = self.wrong;
        self.end_wrong_card(effects);
        if self.cut {
            self.state = State::Out;
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if self.state != State::In {
            if !wrong {
                effects.note(Note::Ignored(Ignored::NoChange));
            }
        } else if start_if_set(effects, Timer::Linger, Some(settings.linger)) {
            self.state = State::Lingering;
        } else {
            self.leave(settings, effects);
        }
    }

    /// Power goes (`false`) or comes back. Without power no linger runs: a card that is out
    /// when power returns is out at once (CARD-6).
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
            effects.stop(Timer::Linger);
            effects.stop(Timer::Report);
            if self.state == State::Lingering {
                self.state = State::Out;
            }
            return;
        }
        self.report(settings, effects);
        if self.wrong {
            self.handle_wrong_card(effects);
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
        if self.state == State::Lingering && old.linger != new.linger {
            effects.start(Timer::Linger, new.linger);
        }
        if !self.cut && old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the reader (LINK-1).
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
            Timer::Linger => self.leave(settings, effects),
            Timer::Report => self.report(settings, effects),
        }
    }

    /// What the reader believes.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Whether a card sits in the slot, of the room or not.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.state == State::In || self.wrong
    }

    /// Whether the room works as with a card in: it is in, or its linger runs.
    #[must_use]
    pub const fn is_in(&self) -> bool {
        !matches!(self.state, State::Out)
    }

    /// Ignored and reported: the belief about the card of the room stands (CARD-7).
    fn handle_wrong_card(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        self.wrong = true;
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.note(Note::Ignored(Ignored::WrongCard));
        effects.note(Note::Fault(Fault::WrongCard));
        effects.send(Payload::WrongCard);
    }

    fn end_wrong_card(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.wrong {
            self.wrong = false;
            effects.note(Note::FaultEnded(Fault::WrongCard));
        }
    }

    fn leave(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        self.state = State::Out;
        self.report(settings, effects);
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(if self.is_in() {
            Payload::CardIn
        } else {
            Payload::CardOut
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

slots! {
    /// The timers of a reader, in the order of their names.
    pub enum Timer {
        /// When the room hears that the card is out (CARD-2).
        Linger = "linger",
        /// When the state is reported again (CARD-6).
        Report = "report",
    }
}

/// What is set on a key-card reader.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// Linger: the room works on this long after the card is pulled; 0 – 20 min.
    pub linger: Span,
    /// Report interval H; `None`: reports on change only.
    pub report: Option<Span>,
    /// Whether a card that does not belong to the room is ignored and reported.
    pub verifies: bool,
    /// A seeded flaw; `None` in every room that is meant.
    pub flaw: Option<Flaw>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            linger: Span::from_seconds(30),
            report: Some(Span::from_minutes(4)),
            verifies: false,
            flaw: None,
        }
    }
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
        In,
        Out,
        Power(bool),
        Set(Settings),
        Start,
        TeachIn,
        Wrong,
    }

    fn play(settings: Settings, rows: &[(u64, Do)], until: u64) -> (Reader, Bench<Timer>) {
        let mut settings = settings;
        let mut reader = Reader::new(&settings);
        let mut bench = Bench::new();
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::In) => reader.handle_card_in(&settings, true, bench),
                Heard::Row(Do::Out) => reader.handle_card_out(&settings, bench),
                Heard::Row(Do::Power(on)) => reader.handle_power(&settings, *on, bench),
                Heard::Row(Do::Set(new)) => {
                    reader.handle_settings(&settings, new, bench);
                    settings = new.clone();
                }
                Heard::Row(Do::Start) => reader.handle_start(&settings, bench),
                Heard::Row(Do::TeachIn) => reader.handle_teach_in(bench),
                Heard::Row(Do::Wrong) => reader.handle_card_in(&settings, false, bench),
                Heard::Elapsed(timer) => reader.handle_elapsed(&settings, timer, bench),
            }
            let lingers = reader.state() == State::Lingering;
            assert_eq!(bench.runs(Timer::Linger), lingers);
            assert_eq!(reader.is_in(), lingers || reader.state() == State::In);
            assert!(!reader.cut || bench.running().is_empty());
            let reports = settings.report.is_some_and(|span| !span.is_zero());
            assert!(reports || !bench.runs(Timer::Report));
        });
        (reader, bench)
    }

    #[track_caller]
    fn check(
        settings: Settings,
        rows: &[(u64, Do)],
        until: u64,
        sent: &[(u64, Payload)],
        notes: &[(u64, Note)],
    ) -> Reader {
        let (reader, mut bench) = play(settings, rows, until);
        assert_eq!(bench.take_sent(), sent);
        assert_eq!(bench.take_notes(), notes);
        reader
    }

    fn bare() -> Settings {
        Settings {
            report: None,
            ..Settings::default()
        }
    }

    fn verifying() -> Settings {
        Settings {
            verifies: true,
            ..bare()
        }
    }

    const IN: Payload = Payload::CardIn;
    const OUT: Payload = Payload::CardOut;

    #[test]
    fn card_1_2_a_card_is_in_at_once_and_out_when_its_linger_has_ended() {
        let rows = [(5, Do::In), (60_000, Do::Out)];
        let reader = check(bare(), &rows, 89_999, &[(5, IN)], &[]);
        assert_eq!(reader.state(), State::Lingering);
        let sent = [(5, IN), (90_000, OUT)];
        let reader = check(bare(), &rows, 90_000, &sent, &[]);
        assert_eq!(reader, Reader::new(&bare()));
    }

    #[test]
    fn card_2_without_linger_the_card_is_out_at_once() {
        let settings = Settings {
            linger: Span::ZERO,
            ..bare()
        };
        let sent = [(5, IN), (60_000, OUT)];
        check(
            settings,
            &[(5, Do::In), (60_000, Do::Out)],
            60_000,
            &sent,
            &[],
        );
    }

    #[test]
    fn card_3_a_card_at_exactly_the_end_of_the_linger_changes_nothing() {
        let rows = [(0, Do::In), (1_000, Do::Out), (31_000, Do::In)];
        let reader = check(bare(), &rows, at(1, 0, 0), &[(0, IN)], &[]);
        assert_eq!(reader.state(), State::In);
    }

    #[test]
    fn card_3_the_linger_starts_anew_with_each_out() {
        let rows = [
            (0, Do::In),
            (1_000, Do::Out),
            (20_000, Do::In),
            (25_000, Do::Out),
        ];
        check(bare(), &rows, at(1, 0, 0), &[(0, IN), (55_000, OUT)], &[]);
    }

    #[test]
    fn card_6_a_repeated_in_or_out_does_nothing() {
        let rows = [
            (0, Do::Out),
            (10, Do::In),
            (20, Do::In),
            (30, Do::Out),
            (40, Do::Out),
        ];
        let same = Note::Ignored(Ignored::NoChange);
        check(
            bare(),
            &rows,
            60_000,
            &[(10, IN), (30_030, OUT)],
            &[(0, same), (20, same), (40, same)],
        );
    }

    #[test]
    fn card_6_the_state_is_reported_each_h_and_counts_as_in_while_the_linger_runs() {
        let settings = Settings {
            linger: Span::from_minutes(5),
            ..Settings::default()
        };
        let rows = [
            (0, Do::Start),
            (at(0, 5, 0), Do::In),
            (at(0, 8, 0), Do::Out),
        ];
        let sent = [
            (at(0, 4, 0), OUT),
            (at(0, 5, 0), IN),
            (at(0, 9, 0), IN),
            (at(0, 13, 0), OUT),
            (at(0, 17, 0), OUT),
        ];
        check(settings, &rows, at(0, 17, 0), &sent, &[]);
    }

    #[test]
    fn card_6_an_interval_of_none_or_zero_reports_on_change_only() {
        for report in [None, Some(Span::ZERO)] {
            let settings = Settings { report, ..bare() };
            let (_, bench) = play(settings, &[(0, Do::Start), (1, Do::In)], 1);
            assert_eq!(bench.running(), []);
        }
    }

    #[test]
    fn card_6_the_state_is_reported_when_power_comes() {
        let rows = [
            (0, Do::In),
            (10, Do::Power(false)),
            (20, Do::Power(true)),
            (30, Do::Power(false)),
            (35, Do::TeachIn),
            (40, Do::Out),
            (50, Do::Power(true)),
            (60, Do::Power(false)),
            (70, Do::In),
            (80, Do::Power(true)),
        ];
        let sent = [(0, IN), (20, IN), (50, OUT), (80, IN)];
        let dead = Note::Ignored(Ignored::NoPower);
        let notes = [
            (10, Note::Power(false)),
            (20, Note::Power(true)),
            (30, Note::Power(false)),
            (35, dead),
            (40, dead),
            (50, Note::Power(true)),
            (60, Note::Power(false)),
            (70, dead),
            (80, Note::Power(true)),
        ];
        check(bare(), &rows, at(1, 0, 0), &sent, &notes);
    }

    #[test]
    fn card_6_a_cut_ends_the_linger_and_the_reports() {
        let rows = [
            (0, Do::Start),
            (5, Do::In),
            (10, Do::Out),
            (20, Do::Power(false)),
            (at(1, 0, 0), Do::Power(true)),
        ];
        let sent = [(5, IN), (at(1, 0, 0), OUT), (at(1, 4, 0), OUT)];
        let (reader, mut bench) = play(Settings::default(), &rows, at(1, 4, 0));
        assert_eq!(bench.take_sent(), sent);
        assert_eq!(reader, Reader::default());
    }

    #[test]
    fn card_6_power_that_stays_is_not_reported() {
        let rows = [
            (0, Do::Power(true)),
            (1, Do::Power(false)),
            (2, Do::Power(false)),
        ];
        let same = Note::Ignored(Ignored::NoChange);
        let notes = [(0, same), (1, Note::Power(false)), (2, same)];
        check(bare(), &rows, 10, &[], &notes);
    }

    #[test]
    fn card_7_without_verifying_any_card_is_in() {
        check(bare(), &[(0, Do::Wrong)], 10, &[(0, IN)], &[]);
    }

    #[test]
    fn card_7_a_reader_that_verifies_ignores_and_reports_a_wrong_card() {
        let rows = [(0, Do::Wrong), (1_000, Do::Out), (2_000, Do::In)];
        let sent = [(0, Payload::WrongCard), (2_000, IN)];
        let notes = [
            (0, Note::Ignored(Ignored::WrongCard)),
            (0, Note::Fault(Fault::WrongCard)),
            (1_000, Note::FaultEnded(Fault::WrongCard)),
        ];
        check(verifying(), &rows, at(1, 0, 0), &sent, &notes);
    }

    #[test]
    fn card_7_a_wrong_card_neither_cancels_the_linger_nor_starts_it() {
        let wrong = |at| {
            [
                (at, Note::Ignored(Ignored::WrongCard)),
                (at, Note::Fault(Fault::WrongCard)),
            ]
        };
        let rows = [(0, Do::In), (1_000, Do::Out), (2_000, Do::Wrong)];
        let sent = [(0, IN), (2_000, Payload::WrongCard), (31_000, OUT)];
        check(verifying(), &rows, at(1, 0, 0), &sent, &wrong(2_000));
        let rows = [(0, Do::In), (2_000, Do::Wrong)];
        let sent = [(0, IN), (2_000, Payload::WrongCard)];
        check(verifying(), &rows, at(1, 0, 0), &sent, &wrong(2_000));
    }

    #[test]
    fn card_7_pulling_the_card_after_a_wrong_one_starts_the_linger() {
        let rows = [(0, Do::In), (2_000, Do::Wrong), (3_000, Do::Out)];
        let (_, mut bench) = play(verifying(), &rows, at(1, 0, 0));
        assert_eq!(bench.take_sent().last(), Some(&(33_000, OUT)));
        assert_eq!(
            bench.take_notes().last(),
            Some(&(3_000, Note::FaultEnded(Fault::WrongCard)))
        );
    }

    #[test]
    fn card_7_any_card_fills_the_slot_until_it_is_pulled() {
        let full = |rows: &[(u64, Do)]| play(verifying(), rows, 1_000).0.is_full();
        assert!(!full(&[]));
        assert!(full(&[(0, Do::In)]));
        assert!(full(&[(0, Do::Wrong)]));
        assert!(!full(&[(0, Do::Wrong), (1, Do::Out)]));
        assert!(!full(&[(0, Do::In), (1, Do::Out)]), "the linger runs");
    }

    #[test]
    fn card_7_a_card_of_the_room_ends_the_fault_of_a_wrong_one() {
        let rows = [(0, Do::Wrong), (1_000, Do::In)];
        let (_, mut bench) = play(verifying(), &rows, 2_000);
        assert_eq!(
            bench.take_sent(),
            [(0, Payload::WrongCard), (1_000, Payload::CardIn)]
        );
        assert_eq!(
            bench.take_notes()[2..],
            [(1_000, Note::FaultEnded(Fault::WrongCard))]
        );
    }

    #[test]
    fn card_7_a_wrong_card_put_in_during_a_cut_is_read_when_power_comes() {
        let rows = [(0, Do::Power(false)), (1, Do::Wrong), (2, Do::Power(true))];
        let sent = [(2, OUT), (2, Payload::WrongCard)];
        let notes = [
            (0, Note::Power(false)),
            (1, Note::Ignored(Ignored::NoPower)),
            (2, Note::Power(true)),
            (2, Note::Ignored(Ignored::WrongCard)),
            (2, Note::Fault(Fault::WrongCard)),
        ];
        check(verifying(), &rows, 10, &sent, &notes);
    }

    #[test]
    fn set_1_changed_spans_restart_the_timers_that_run() {
        let after = Settings {
            linger: Span::from_minutes(2),
            report: Some(Span::from_minutes(1)),
            ..bare()
        };
        let rows = [
            (0, Do::In),
            (10_000, Do::Out),
            (20_000, Do::Set(after.clone())),
            (25_000, Do::Set(after.clone())),
        ];
        let (_, mut bench) = play(Settings::default(), &rows, 25_000);
        assert_eq!(bench.due(Timer::Linger), Some(140_000));
        assert_eq!(bench.due(Timer::Report), Some(80_000));
        assert_eq!(bench.take_notes()[0], (20_000, Note::SettingChanged));

        let (_, bench) = play(after.clone(), &[(0, Do::Start), (10, Do::Set(bare()))], 10);
        assert_eq!(bench.running(), []);
        let rows = [(0, Do::In), (10, Do::Set(after.clone()))];
        let (_, bench) = play(bare(), &rows, 10);
        assert_eq!(bench.running(), [Timer::Report], "no card has been pulled");
        let rows = [(0, Do::Power(false)), (10, Do::Set(after))];
        let (_, bench) = play(bare(), &rows, 10);
        assert_eq!(bench.running(), []);
    }

    #[test]
    fn card_3_the_flaw_of_a_linger_that_goes_on_is_felt() {
        let settings = Settings {
            flaw: Some(Flaw::LingerNotCancelled),
            ..bare()
        };
        let mut reader = Reader::new(&settings);
        let mut bench = Bench::new();
        reader.handle_card_in(&settings, true, &mut bench);
        reader.handle_card_out(&settings, &mut bench);
        reader.handle_card_in(&settings, true, &mut bench);
        assert!(bench.runs(Timer::Linger));
    }

    #[test]
    fn link_1_the_reader_sends_its_teach_in_frame() {
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
        assert_eq!(Timer::ALL.map(Timer::name), ["linger", "report"]);
    }

    #[test]
    fn the_defaults_are_those_of_the_rows() {
        let settings = Settings::default();
        assert_eq!(settings.linger, Span::from_seconds(30));
        assert_eq!(settings.report, Some(Span::from_minutes(4)));
        assert!(!settings.verifies);
    }

    proptest! {
        /// The invariants are asserted after every single input and timer, and a reader that
        /// reports at all always has its next report before it while it has power.
        #[test]
        fn no_timer_runs_that_the_state_does_not_need(
            linger in 0..4_u64,
            verifies in any::<bool>(),
            rows in proptest::collection::vec(
                (0..5_u64, prop_oneof![
                    Just(Do::In), Just(Do::Out), Just(Do::Wrong),
                    any::<bool>().prop_map(Do::Power),
                ]),
                0..60,
            ),
        ) {
            let settings = Settings {
                linger: Span::from_ms(linger),
                report: Some(Span::from_ms(3)),
                verifies,
                flaw: None,
            };
            let mut now = 0;
            let mut script: Vec<(u64, Do)> = [(0, Do::Start)].into();
            script.extend(rows.into_iter().map(|(wait, what)| { now += wait; (now, what) }));
            let (reader, mut bench) = play(settings, &script, now + 10);
            prop_assert_eq!(bench.runs(Timer::Report), !reader.cut);
            let last = bench
                .take_sent()
                .into_iter()
                .rfind(|(_, payload)| *payload != Payload::WrongCard);
            if let (false, Some((_, last))) = (reader.cut, last) {
                prop_assert_eq!(last == Payload::CardIn, reader.is_in());
            }
        }
    }
}
