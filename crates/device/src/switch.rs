//! A wall unit with one to eight buttons: sends every edge once, unacknowledged.
//!
//! Taps, holds and ramps are told apart by the controller that listens (SW-0).
//!
//! Invariant: a button's gap timer runs from each edge that was sent until the button may send
//! again, and never without power.

use alloc::vec::Vec;

use crate::{Effects, Ignored, Note, Payload, Span};

/// Sends *down* and *up* of each button, at least an edge gap apart.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Unit {
    /// The contacts that are closed, one bit each.
    closed: u8,
    /// The buttons whose last edge was *down*, one bit each.
    reported: u8,
    /// The buttons that may not send yet, one bit each (ORD-4).
    waiting: u8,
    /// Whether the battery is dead.
    dead: bool,
}

impl Unit {
    /// A unit that nobody touches.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            closed: 0,
            reported: 0,
            waiting: 0,
            dead: false,
        }
    }

    /// The run begins: a wall unit has no report to time.
    pub fn handle_start(
        &mut self,
        _settings: &Settings,
        _effects: &mut impl Effects<Timer = Timer>,
    ) {
    }

    /// A finger presses this button.
    #[inline]
    pub fn handle_press(
        &mut self,
        settings: &Settings,
        button: u8,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.handle_edge(settings, button, true, effects);
    }

    /// A finger leaves this button.
    #[inline]
    pub fn handle_release(
        &mut self,
        settings: &Settings,
        button: u8,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.handle_edge(settings, button, false, effects);
    }

    /// The battery dies (`false`) or is replaced. What a finger did meanwhile is never sent.
    pub fn handle_power(
        &mut self,
        _settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != self.dead {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.dead = !on;
        effects.note(Note::Power(on));
        self.reported = self.closed;
        for button in 0..Timer::COUNT {
            effects.stop(Timer::EdgeGap(button));
        }
        self.waiting = 0;
    }

    /// Settings are changed on site: running gaps restart with the new span (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if old.edge_gap == new.edge_gap {
            return;
        }
        for button in 0..Timer::COUNT {
            if self.waiting & bit(button) != 0 {
                effects.start(Timer::EdgeGap(button), new.edge_gap);
            }
        }
    }

    /// Somebody presses the teach-in button of the unit (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.dead {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A gap has elapsed: an edge that was kept back is sent if the contact still differs.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let Timer::EdgeGap(button) = timer;
        self.waiting &= !bit(button);
        if (self.closed ^ self.reported) & bit(button) != 0 {
            self.send(settings, button, effects);
        }
    }

    /// Whether no finger is on the unit and every button may send at once.
    #[must_use]
    pub const fn is_at_rest(&self) -> bool {
        self.closed == 0 && self.reported == 0 && self.waiting == 0
    }

    /// Whether a finger is on this button.
    #[must_use]
    pub const fn is_down(&self, button: u8) -> bool {
        self.closed & bit(button) != 0
    }

    #[inline]
    fn handle_edge(
        &mut self,
        settings: &Settings,
        button: u8,
        down: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let bit = bit(button);
        if bit == 0 || (self.closed & bit != 0) == down {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.closed ^= bit;
        if self.dead {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if self.waiting & bit != 0 {
            effects.note(Note::Ignored(Ignored::DeadTime));
        } else {
            self.send(settings, button, effects);
        }
    }

    /// Sends the edge that the contact made and that was not reported yet.
    #[inline]
    fn send(&mut self, settings: &Settings, button: u8, effects: &mut impl Effects<Timer = Timer>) {
        let bit = bit(button);
        self.reported ^= bit;
        effects.send(if self.closed & bit == 0 {
            Payload::Up(button)
        } else {
            Payload::Down(button)
        });
        if !settings.edge_gap.is_zero() {
            self.waiting |= bit;
            effects.start(Timer::EdgeGap(button), settings.edge_gap);
        }
    }
}

/// The timers of a wall unit, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When this button may send its next edge (ORD-4).
    EdgeGap(u8),
}

impl Timer {
    /// How many timers a unit has: one for each of its buttons at most.
    pub const COUNT: u8 = 8;

    /// The place of the timer among those of its device.
    #[must_use]
    pub const fn number(self) -> u8 {
        let Self::EdgeGap(button) = self;
        button
    }

    /// The timer at this place.
    #[must_use]
    pub const fn from_number(number: u8) -> Option<Self> {
        if number < Self::COUNT {
            Some(Self::EdgeGap(number))
        } else {
            None
        }
    }

    /// The name of the slot; slots of one name follow the numbers of the buttons.
    #[must_use]
    pub const fn name(self) -> &'static str {
        "edge gap"
    }
}

/// What is set on a wall unit.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// The unit's buttons, in the order of their numbers.
    pub buttons: Vec<Button>,
    /// The least time between two edges of one button (contact bounce); zero: none.
    pub edge_gap: Span,
}

/// What a button of a wall unit is made for.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Button {
    /// A single button: toggles, and ramps opposite to the last time.
    Single,
    /// The upper half of a pair.
    Up,
    /// The lower half of a pair.
    Down,
    /// Recalls a scene.
    Scene,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            buttons: alloc::vec![Button::Up, Button::Down],
            edge_gap: Span::from_ms(50),
        }
    }
}

/// The bit of a button. A unit has eight at most, so a higher number is none of its buttons.
#[inline]
const fn bit(button: u8) -> u8 {
    match 1_u8.checked_shl(button as u32) {
        Some(bit) => bit,
        None => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Bench, Heard};
    use proptest::prelude::*;

    /// A row of a script.
    #[derive(Clone, Debug)]
    enum Do {
        Power(bool),
        Press(u8),
        Release(u8),
        Set(u64),
        Start,
        TeachIn,
    }

    fn with_gap(ms: u64) -> Settings {
        Settings {
            edge_gap: Span::from_ms(ms),
            ..Settings::default()
        }
    }

    fn play(gap: u64, rows: &[(u64, Do)], until: u64) -> (Unit, Bench<Timer>) {
        let mut settings = with_gap(gap);
        let mut unit = Unit::new(&settings);
        let mut bench = Bench::new();
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::Power(on)) => unit.handle_power(&settings, *on, bench),
                Heard::Row(Do::Press(button)) => unit.handle_press(&settings, *button, bench),
                Heard::Row(Do::Release(button)) => unit.handle_release(&settings, *button, bench),
                Heard::Row(Do::Set(gap)) => {
                    let new = with_gap(*gap);
                    unit.handle_settings(&settings, &new, bench);
                    settings = new;
                }
                Heard::Row(Do::Start) => unit.handle_start(&settings, bench),
                Heard::Row(Do::TeachIn) => unit.handle_teach_in(bench),
                Heard::Elapsed(timer) => unit.handle_elapsed(&settings, timer, bench),
            }
            for button in 0..Timer::COUNT {
                let waits = unit.waiting & bit(button) != 0;
                assert_eq!(bench.runs(Timer::EdgeGap(button)), waits);
                let differs = (unit.closed ^ unit.reported) & bit(button) != 0;
                assert!(!differs || waits || unit.dead, "an edge is never forgotten");
            }
            assert!(!unit.dead || bench.running().is_empty());
        });
        (unit, bench)
    }

    #[test]
    fn a_unit_is_at_rest_when_nothing_is_down_told_or_kept_back() {
        let at_rest = |rows: &[(u64, Do)], until| play(50, rows, until).0.is_at_rest();
        assert!(at_rest(&[], 10));
        let tap = [(0, Do::Press(0)), (20, Do::Release(0))];
        assert!(!at_rest(&tap[..1], 100), "the finger is on it");
        assert!(!at_rest(&tap, 30), "its release is kept back");
        assert!(!at_rest(&tap, 60), "its gap runs");
        assert!(at_rest(&tap, 110));
    }

    #[track_caller]
    fn check(gap: u64, rows: &[(u64, Do)], sent: &[(u64, Payload)], ignored: &[(u64, Ignored)]) {
        let (_, mut bench) = play(gap, rows, 10_000);
        assert_eq!(bench.take_sent(), sent);
        let notes = bench.take_notes();
        let notes = notes.into_iter().filter_map(|(at, note)| match note {
            Note::Ignored(why) => Some((at, why)),
            _ => None,
        });
        assert_eq!(notes.collect::<Vec<_>>(), ignored);
    }

    #[test]
    fn sw_each_button_sends_down_on_press_and_up_on_release_once_each() {
        let rows = [
            (0, Do::Start),
            (10, Do::Press(0)),
            (20, Do::Press(7)),
            (900, Do::Release(0)),
            (950, Do::Release(7)),
        ];
        let sent = [
            (10, Payload::Down(0)),
            (20, Payload::Down(7)),
            (900, Payload::Up(0)),
            (950, Payload::Up(7)),
        ];
        check(50, &rows, &sent, &[]);
        check(0, &rows, &sent, &[]);
    }

    #[test]
    fn sw_a_contact_that_does_not_move_sends_nothing() {
        let rows = [
            (0, Do::Release(0)),
            (100, Do::Press(0)),
            (200, Do::Press(0)),
        ];
        let same = Ignored::NoChange;
        check(
            50,
            &rows,
            &[(100, Payload::Down(0))],
            &[(0, same), (200, same)],
        );
    }

    #[test]
    fn ord_4_an_edge_inside_the_gap_is_sent_at_its_end() {
        let rows = [(0, Do::Press(0)), (30, Do::Release(0))];
        let sent = [(0, Payload::Down(0)), (50, Payload::Up(0))];
        check(50, &rows, &sent, &[(30, Ignored::DeadTime)]);
    }

    #[test]
    fn ord_4_contact_bounce_is_one_edge() {
        let rows = [
            (0, Do::Press(0)),
            (2, Do::Release(0)),
            (4, Do::Press(0)),
            (100, Do::Release(0)),
            (103, Do::Press(0)),
            (105, Do::Release(0)),
        ];
        let why = Ignored::DeadTime;
        let ignored = [(2, why), (4, why), (103, why), (105, why)];
        let sent = [(0, Payload::Down(0)), (100, Payload::Up(0))];
        check(50, &rows, &sent, &ignored);
    }

    #[test]
    fn ord_4_edges_exactly_a_gap_apart_are_both_sent_when_they_happen() {
        let rows = [(0, Do::Press(0)), (50, Do::Release(0))];
        let sent = [(0, Payload::Down(0)), (50, Payload::Up(0))];
        check(50, &rows, &sent, &[(50, Ignored::DeadTime)]);
        let rows = [(0, Do::Press(0)), (51, Do::Release(0))];
        check(
            50,
            &rows,
            &[(0, Payload::Down(0)), (51, Payload::Up(0))],
            &[],
        );
    }

    #[test]
    fn ord_4_an_edge_that_was_kept_back_starts_a_gap_of_its_own() {
        let rows = [
            (0, Do::Press(0)),
            (30, Do::Release(0)),
            (60, Do::Press(0)),
            (99, Do::Release(0)),
        ];
        let sent = [(0, Payload::Down(0)), (50, Payload::Up(0))];
        let why = Ignored::DeadTime;
        check(50, &rows, &sent, &[(30, why), (60, why), (99, why)]);
    }

    #[test]
    fn ord_4_the_gap_of_one_button_does_not_hold_another_back() {
        let rows = [(0, Do::Press(2)), (1, Do::Press(3)), (2, Do::Release(2))];
        let sent = [
            (0, Payload::Down(2)),
            (1, Payload::Down(3)),
            (50, Payload::Up(2)),
        ];
        check(50, &rows, &sent, &[(2, Ignored::DeadTime)]);
        let (unit, _) = play(50, &rows, 1_000);
        assert!(unit.is_down(3) && !unit.is_down(2));
    }

    #[test]
    fn sw_a_unit_whose_battery_is_dead_sends_nothing_and_nothing_late() {
        let rows = [
            (0, Do::Press(0)),
            (5, Do::Press(1)),
            (10, Do::Power(false)),
            (20, Do::Release(0)),
            (30, Do::TeachIn),
            (40, Do::Power(true)),
            (1_000, Do::Release(1)),
            (2_000, Do::Press(0)),
        ];
        let sent = [
            (0, Payload::Down(0)),
            (5, Payload::Down(1)),
            (1_000, Payload::Up(1)),
            (2_000, Payload::Down(0)),
        ];
        let why = Ignored::NoPower;
        check(50, &rows, &sent, &[(20, why), (30, why)]);
    }

    #[test]
    fn sw_power_is_noted_once() {
        let rows = [
            (0, Do::Power(true)),
            (1, Do::Power(false)),
            (2, Do::Power(false)),
            (3, Do::Power(true)),
        ];
        let (unit, mut bench) = play(50, &rows, 10);
        let same = Note::Ignored(Ignored::NoChange);
        assert_eq!(
            bench.take_notes(),
            [
                (0, same),
                (1, Note::Power(false)),
                (2, same),
                (3, Note::Power(true))
            ]
        );
        assert_eq!(unit, Unit::default());
    }

    #[test]
    fn set_1_a_changed_gap_restarts_the_gaps_that_run() {
        let rows = [(0, Do::Press(1)), (10, Do::Set(200))];
        let (_, mut bench) = play(50, &rows, 10);
        assert_eq!(bench.running(), [Timer::EdgeGap(1)]);
        assert_eq!(bench.due(Timer::EdgeGap(1)), Some(210));
        assert_eq!(bench.take_notes(), [(10, Note::SettingChanged)]);
        let rows = [(0, Do::Press(1)), (10, Do::Set(50))];
        let (_, bench) = play(50, &rows, 10);
        assert_eq!(bench.due(Timer::EdgeGap(1)), Some(50));
    }

    #[test]
    fn set_1_a_gap_taken_away_lets_a_kept_edge_go_at_once() {
        let rows = [
            (0, Do::Press(1)),
            (10, Do::Release(1)),
            (20, Do::Set(0)),
            (21, Do::Press(1)),
        ];
        let sent = [
            (0, Payload::Down(1)),
            (20, Payload::Up(1)),
            (21, Payload::Down(1)),
        ];
        check(50, &rows, &sent, &[(10, Ignored::DeadTime)]);
    }

    #[test]
    fn link_1_the_unit_sends_its_teach_in_frame() {
        check(50, &[(3, Do::TeachIn)], &[(3, Payload::TeachIn)], &[]);
    }

    #[test]
    fn a_number_that_is_no_button_does_nothing() {
        for button in [8, 9, 255] {
            let rows = [(0, Do::Press(button)), (1, Do::Release(button))];
            let (unit, mut bench) = play(50, &rows, 100);
            assert_eq!(bench.take_sent(), []);
            assert_eq!(unit, Unit::new(&with_gap(50)));
            assert!(!unit.is_down(button));
        }
    }

    #[test]
    fn slots_are_numbered_by_their_buttons() {
        for number in 0..Timer::COUNT {
            let timer = Timer::EdgeGap(number);
            assert_eq!(timer.number(), number);
            assert_eq!(Timer::from_number(number), Some(timer));
            assert_eq!(timer.name(), "edge gap");
        }
        assert_eq!(Timer::from_number(8), None);
    }

    #[test]
    fn by_default_a_unit_is_a_pair_with_50_ms_between_edges() {
        let settings = Settings::default();
        assert_eq!(settings.buttons, [Button::Up, Button::Down]);
        assert_eq!(settings.edge_gap, Span::from_ms(50));
    }

    proptest! {
        /// Frames of one button alternate, are a gap apart, and the last one tells the truth.
        #[test]
        fn sw_a_listener_always_ends_up_knowing_where_the_finger_is(
            gap in 0..60_u64,
            edges in proptest::collection::vec((0..100_u64, 0..3_u8, any::<bool>()), 0..60),
        ) {
            let mut now = 0;
            let mut rows = Vec::new();
            for (wait, button, down) in edges {
                now += wait;
                rows.push((now, if down { Do::Press(button) } else { Do::Release(button) }));
            }
            let (unit, mut bench) = play(gap, &rows, now + 200);
            let sent = bench.take_sent();
            for button in 0..3 {
                let mut last: Option<(u64, bool)> = None;
                for (at, payload) in &sent {
                    let down = match payload {
                        Payload::Down(number) if *number == button => true,
                        Payload::Up(number) if *number == button => false,
                        _ => continue,
                    };
                    prop_assert_eq!(down, last.is_none_or(|(_, before)| !before));
                    prop_assert!(last.is_none_or(|(before, _)| *at >= before + gap));
                    last = Some((*at, down));
                }
                prop_assert_eq!(unit.is_down(button), last.is_some_and(|(_, down)| down));
            }
            prop_assert_eq!(bench.running(), []);
        }

        /// The invariants are asserted after every single input and timer.
        #[test]
        fn no_gap_runs_that_the_state_does_not_need(
            gap in 0..4_u64,
            rows in proptest::collection::vec(
                (0..4_u64, prop_oneof![
                    4 => (0..9_u8).prop_map(Do::Press),
                    4 => (0..9_u8).prop_map(Do::Release),
                    1 => any::<bool>().prop_map(Do::Power),
                    1 => (0..4_u64).prop_map(Do::Set),
                ]),
                0..80,
            ),
        ) {
            let mut now = 0;
            let rows: Vec<(u64, Do)> = rows
                .into_iter()
                .map(|(wait, what)| { now += wait; (now, what) })
                .collect();
            play(gap, &rows, now + 10);
        }
    }
}
