//! A controller on a bench: a plan is put together, then played as a script with explicit times.

use alloc::vec::Vec;

use crate::controller::{
    Button, Controller, Drive, Heard, HeardKind, Link, Lost, Output, Role, Settings, State, Timer,
    View,
};
use crate::testing::Bench;
use crate::{Level, Note, Payload, Span, switch};

/// A plan in the making: sources, outputs and buttons are named by their indices.
#[derive(Clone, Debug, Default)]
pub(super) struct Plan {
    pub(super) settings: Settings,
}

impl Plan {
    pub(super) fn source(&mut self, kind: HeardKind) -> u8 {
        self.settings.heard.push(Heard {
            kind,
            silence: None,
        });
        self.settings.heard.len() as u8 - 1
    }

    /// A source that is lost after this many ms without a frame.
    pub(super) fn reporting(&mut self, kind: HeardKind, silence: u64) -> u8 {
        let heard = self.source(kind);
        self.settings.heard[usize::from(heard)].silence = Some(Span::from_ms(silence));
        heard
    }

    pub(super) fn sensor(&mut self) -> u8 {
        self.source(HeardKind::Occupancy)
    }

    pub(super) fn output(&mut self, drive: Drive) -> u8 {
        self.settings.outputs.push(Output::new(drive));
        self.settings.outputs.len() as u8 - 1
    }

    /// A dimmed lamp whose light follows at once, so that scripts need not wait for fades.
    pub(super) fn lamp(&mut self) -> u8 {
        let lamp = self.output(Drive::ZeroToTen);
        let spec = self.spec(lamp);
        spec.fade_on = Span::ZERO;
        spec.fade_off = Span::ZERO;
        lamp
    }

    pub(super) fn spec(&mut self, output: u8) -> &mut Output {
        &mut self.settings.outputs[usize::from(output)]
    }

    pub(super) fn link(&mut self, heard: u8, output: u8, role: Role) -> &mut Link {
        self.settings.links.push(Link {
            heard,
            output,
            role,
            run_on: Span::ZERO,
            setback: None,
            lost: Lost::Vacant,
            stored: true,
        });
        self.settings.links.last_mut().unwrap()
    }

    /// A button on a wall unit, linked to these outputs.
    pub(super) fn button(&mut self, heard: u8, kind: switch::Button, outputs: &[u8]) -> Press {
        let press = self.scene(heard, kind);
        for &output in outputs {
            self.link(heard, output, Role::Button(press.index));
        }
        press
    }

    /// A button on a wall unit that is linked to nothing yet.
    pub(super) fn scene(&mut self, heard: u8, kind: switch::Button) -> Press {
        let on_unit = self.settings.buttons.iter().filter(|it| it.heard == heard);
        let number = on_unit.count() as u8;
        let index = self.settings.buttons.len() as u8;
        self.settings.buttons.push(Button {
            heard,
            number,
            kind,
        });
        Press {
            heard,
            number,
            index,
        }
    }

    /// A wall unit with an up/down pair for these outputs.
    pub(super) fn pair(&mut self, outputs: &[u8]) -> (Press, Press) {
        let unit = self.source(HeardKind::Switch);
        let up = self.button(unit, switch::Button::Up, outputs);
        let down = self.button(unit, switch::Button::Down, outputs);
        (up, down)
    }

    /// A wall unit with a single button for these outputs.
    pub(super) fn single(&mut self, outputs: &[u8]) -> Press {
        let unit = self.source(HeardKind::Switch);
        self.button(unit, switch::Button::Single, outputs)
    }

    pub(super) fn rig(self) -> Rig {
        let mut rig = Rig {
            it: Controller::new(&self.settings),
            settings: self.settings,
            bench: Bench::new(),
        };
        rig.it.handle_start(&rig.settings, &mut rig.bench);
        rig
    }
}

/// A button of a wall unit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Press {
    pub(super) heard: u8,
    pub(super) number: u8,
    pub(super) index: u8,
}

/// A controller at work.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Rig {
    pub(super) settings: Settings,
    pub(super) it: Controller,
    pub(super) bench: Bench<Timer>,
}

impl Rig {
    /// Goes to `at` ms, where inputs come before the timers of the instant (ORD-1).
    pub(super) fn go(&mut self, at: u64) {
        let (it, settings) = (&mut self.it, &self.settings);
        self.bench.reach(at, |bench, timer| {
            it.handle_elapsed(settings, timer, bench);
        });
    }

    /// Lets the timers of the instant `at` ms elapse too.
    pub(super) fn end(&mut self, at: u64) {
        self.go(at);
        while let Some(timer) = self.bench.next_due(at) {
            self.it
                .handle_elapsed(&self.settings, timer, &mut self.bench);
        }
    }

    pub(super) fn frame(&mut self, at: u64, heard: u8, payload: Payload) {
        self.go(at);
        self.it
            .handle_frame(&self.settings, heard, payload, &mut self.bench);
    }

    pub(super) fn occupied(&mut self, at: u64, heard: u8) {
        self.frame(at, heard, Payload::Occupied { bright: false });
    }

    pub(super) fn vacant(&mut self, at: u64, heard: u8) {
        self.frame(at, heard, Payload::Vacant);
    }

    pub(super) fn down(&mut self, at: u64, button: Press) {
        self.frame(at, button.heard, Payload::Down(button.number));
    }

    pub(super) fn up(&mut self, at: u64, button: Press) {
        self.frame(at, button.heard, Payload::Up(button.number));
    }

    /// A tap of 100 ms that ends at `at` ms.
    pub(super) fn tap(&mut self, at: u64, button: Press) {
        self.down(at - 100, button);
        self.up(at, button);
    }

    pub(super) fn power(&mut self, at: u64, on: bool) {
        self.go(at);
        self.it.handle_power(&self.settings, on, &mut self.bench);
    }

    /// Changes the settings on site (SET-1).
    pub(super) fn change(&mut self, at: u64, change: impl FnOnce(&mut Settings)) {
        self.go(at);
        let mut new = self.settings.clone();
        change(&mut new);
        self.it
            .handle_settings(&self.settings, &new, &mut self.bench);
        self.settings = new;
    }

    pub(super) fn learn(&mut self, at: u64, output: u8, remove: bool) {
        self.go(at);
        self.it
            .handle_learn(&self.settings, output, remove, &mut self.bench);
    }

    pub(super) fn stick(&mut self, at: u64, output: u8, stuck: Option<bool>) {
        self.go(at);
        self.it
            .handle_stuck(&self.settings, output, stuck, &mut self.bench);
    }

    /// How an output stands at `at` ms, after the timers of that instant.
    pub(super) fn view(&mut self, at: u64, output: u8) -> View {
        self.end(at);
        self.it.view(&self.settings, output, &self.bench)
    }

    /// Checks state and target (in per cent) at `at` ms, after the timers of that instant.
    #[track_caller]
    pub(super) fn is(&mut self, at: u64, output: u8, state: State, target: u16) {
        let view = self.view(at, output);
        assert_eq!(
            (view.state, view.target),
            (state, percent(target)),
            "output {output} at {at} ms"
        );
    }

    /// Checks the targets of several outputs, in per cent.
    #[track_caller]
    pub(super) fn are(&mut self, at: u64, outputs: &[u8], targets: &[u16]) {
        let seen: Vec<Level> = (outputs.iter())
            .map(|&output| self.view(at, output).target)
            .collect();
        let expected: Vec<Level> = targets.iter().copied().map(percent).collect();
        assert_eq!(seen, expected, "targets at {at} ms");
    }

    /// The light at `at` ms, in steps of 0.01 %.
    pub(super) fn light(&mut self, at: u64, output: u8) -> u16 {
        self.view(at, output).light.hundredths()
    }

    /// What was said about an output since the last call, without its instants.
    pub(super) fn said(&mut self, output: u8) -> Vec<Note> {
        let notes = self.bench.take_output_notes();
        (notes.into_iter())
            .filter(|(_, of, _)| *of == output)
            .map(|(_, _, note)| note)
            .collect()
    }

    /// Whether this was said about an output since the last call.
    pub(super) fn has_said(&mut self, output: u8, note: Note) -> bool {
        self.said(output).contains(&note)
    }

    /// What the controller said of itself since the last call, without its instants.
    pub(super) fn notes(&mut self) -> Vec<Note> {
        let notes = self.bench.take_notes();
        notes.into_iter().map(|(_, note)| note).collect()
    }
}

pub(super) fn percent(value: u16) -> Level {
    Level::from_percent(value)
}

/// Milliseconds of this many seconds.
pub(super) const fn s(seconds: u64) -> u64 {
    seconds * 1_000
}

/// Milliseconds of this many minutes.
pub(super) const fn min(minutes: u64) -> u64 {
    minutes * 60_000
}

/// Milliseconds of this many hours.
pub(super) const fn h(hours: u64) -> u64 {
    hours * 3_600_000
}
