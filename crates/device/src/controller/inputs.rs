//! The inputs of a controller: frames, elapsed timers, and the hands on the ladder.

use alloc::vec::Vec;

use super::settings::Role;
use super::state::{Said, Way};
use super::work::Work;
use super::{Controller, HeardKind, OutputTimer, Outside, Settings, Timer};
use crate::{Fault, Ignored, Note, Payload, Signal};

impl Controller {
    /// The run begins: sources that report are listened for.
    pub fn handle_start(&mut self, settings: &Settings, fx: &mut impl Outside) {
        self.work(settings, fx).listen_for_all();
    }

    /// A frame of a source has been taken; `heard` is its index in `Settings::heard`.
    pub fn handle_frame(
        &mut self,
        settings: &Settings,
        heard: u8,
        payload: Payload,
        fx: &mut impl Outside,
    ) {
        self.work(settings, fx).hear(heard, payload);
    }

    /// One of the controller's own timers has elapsed.
    pub fn handle_elapsed(&mut self, settings: &Settings, timer: Timer, fx: &mut impl Outside) {
        let mut work = self.work(settings, fx);
        match timer {
            Timer::Silence(heard) => work.lose(heard),
            Timer::Threshold(button) => work.hold(button),
            Timer::RunOn(link) => work.run_on_ended(link),
            Timer::Output(output, timer) => work.output_elapsed(output, timer),
        }
    }

    /// The relay of an output sticks closed or open, or moves again (OUT-23).
    pub fn handle_stuck(
        &mut self,
        settings: &Settings,
        output: u8,
        stuck: Option<bool>,
        fx: &mut impl Outside,
    ) {
        let mut work = self.work(settings, fx);
        work.out(output).stuck = stuck;
        work.watch_relay(output);
    }

    /// Somebody opens a learning window at an output (LINK-1).
    pub fn handle_learn(
        &mut self,
        settings: &Settings,
        output: u8,
        remove: bool,
        fx: &mut impl Outside,
    ) {
        self.work(settings, fx).learn(output, remove);
    }

    /// Power goes (`false`) or comes back (OUT-12).
    pub fn handle_power(&mut self, settings: &Settings, on: bool, fx: &mut impl Outside) {
        let mut work = self.work(settings, fx);
        if on {
            work.power_returns();
        } else {
            work.power_goes();
        }
    }

    /// Settings are changed on site (SET-1): a running timer whose span changed is restarted.
    ///
    /// `new` has the shape of `old`: the same sources, buttons, links and outputs. Presets,
    /// setbacks and warning levels act at the next event; trims and the egress floor are part of
    /// the chain (OUT-1) and act at once, by the fade.
    pub fn handle_settings(&mut self, old: &Settings, new: &Settings, fx: &mut impl Outside) {
        let before = self.work(old, fx).hold_ways(new);
        self.work(new, fx).adopt(old, &before);
    }

    fn work<'a, F: Outside>(&'a mut self, settings: &'a Settings, fx: &'a mut F) -> Work<'a, F> {
        Work {
            it: self,
            settings,
            fx,
            companions: Vec::new(),
            were_dark: Vec::new(),
        }
    }
}

impl<F: Outside> Work<'_, F> {
    fn hear(&mut self, heard: u8, payload: Payload) {
        if !self.it.powered {
            return self.fx.note(Note::Ignored(Ignored::NoPower));
        }
        if payload == Payload::TeachIn {
            return self.teach(heard);
        }
        if !self.is_taught(heard) {
            return self.fx.note(Note::Ignored(Ignored::NotTaught));
        }
        self.listen_for(heard);
        let was_lost = core::mem::take(&mut self.it.heard[usize::from(heard)].lost);
        if was_lost {
            self.fx.note(Note::FaultEnded(Fault::Lost));
        }
        match payload {
            Payload::Occupied { bright } => self.hear_occupied(heard, bright),
            Payload::Vacant => self.hear_vacant(heard),
            Payload::Unknown => self.believe(heard, Said::Unknown),
            Payload::Down(number) => self.press(heard, number),
            Payload::Up(number) => self.release(heard, number),
            Payload::CardIn => self.hear_card_in(heard),
            Payload::CardOut => self.hear_card_out(heard, was_lost),
            Payload::WrongCard => self.fx.note(Note::Fault(Fault::WrongCard)),
            Payload::Illuminance(seen) => self.hear_illuminance(heard, seen),
            Payload::InHours => self.hear_in_hours(heard),
            Payload::TimeLost => self.hear_time_lost(heard),
            Payload::AfterHours => self.hear_after_hours(heard),
            Payload::Sweep => self.hear_sweep(heard),
            Payload::Signal(signal, state) => {
                let calls = match signal {
                    Signal::NormalPower => !state,
                    Signal::FireAlarm => state,
                };
                self.hear_signal(heard, calls);
            }
            Payload::Shed(points) => self.hear_shed(heard, points),
            Payload::ShedEnd => self.hear_shed_end(heard),
            Payload::TeachIn => unreachable!("taken above"),
        }
    }

    fn output_elapsed(&mut self, output: u8, timer: OutputTimer) {
        match timer {
            OutputTimer::Blink => self.blinked(output),
            OutputTimer::Dark => self.dark_is_due(output),
            OutputTimer::Fade => self.faded(output),
            OutputTimer::Grace => self.grace_ended(output),
            OutputTimer::Learning => self.stop_learning(output),
            OutputTimer::Limit => {
                let way = &mut self.out(output).limit;
                *way = Way::at(way.to);
            }
            OutputTimer::Minimum => self.free_to_move(output),
            OutputTimer::OffAfter => self.off_by_itself(output),
            OutputTimer::Override => self.override_ended(output),
            OutputTimer::Poll => self.polled(output),
            OutputTimer::PressHold => self.press_hold_ended(output),
            OutputTimer::Proven => self.proven(output),
            OutputTimer::Ramp => self.ramp_ended(output),
            OutputTimer::Shed => self.shed_arrived(output),
            OutputTimer::Warning => self.warned(output),
        }
    }

    /// OUT-11, DAY-9, CARD-6: a source has not been heard for too long. Each kind fails to the
    /// safe side: emergency light on, no shed, no limit, opening hours (OUT-13, OUT-14, CLK-4).
    fn lose(&mut self, heard: u8) {
        self.it.heard[usize::from(heard)].lost = true;
        self.fx.note(Note::Fault(Fault::Lost));
        match self.settings.heard[usize::from(heard)].kind {
            HeardKind::Occupancy => self.lose_occupancy(heard),
            HeardKind::Card { .. } => self.lift_captive(heard),
            HeardKind::Daylight => self.lift_limits(heard),
            HeardKind::NormalPower | HeardKind::FireAlarm => self.hear_signal(heard, true),
            HeardKind::Clock => self.lose_time(heard, Said::InHours),
            HeardKind::DemandResponse => self.hear_shed_end(heard),
            HeardKind::Switch => {}
        }
    }

    pub(super) fn believe(&mut self, heard: u8, said: Said) {
        self.it.heard[usize::from(heard)].said = said;
    }

    pub(super) fn said(&self, heard: u8) -> Said {
        self.it.heard[usize::from(heard)].said
    }

    /// LINK-2: whether any stored link comes from the source.
    pub(super) fn is_taught(&self, heard: u8) -> bool {
        (self.settings.links.iter().zip(&self.it.links))
            .any(|(link, state)| link.heard == heard && state.stored)
    }

    /// Starts to count how long the source is silent, where it has to report.
    pub(super) fn listen_for(&mut self, heard: u8) {
        if let Some(silence) = self.settings.heard[usize::from(heard)].silence {
            self.fx.start(Timer::Silence(heard), silence);
        }
    }

    pub(super) fn listen_for_all(&mut self) {
        for heard in 0..self.settings.heard.len() as u8 {
            if self.is_taught(heard) {
                self.listen_for(heard);
            }
        }
    }

    /// Calls `act` for each stored link of the source, by index.
    pub(super) fn for_links_from(&mut self, heard: u8, mut act: impl FnMut(&mut Self, u8)) {
        for link in 0..self.link_count() {
            let (spec, state) = self.link(link);
            if spec.heard == heard && state.stored {
                act(self, link);
            }
        }
    }

    /// The output of a link and its role.
    pub(super) fn end_of(&self, link: u8) -> (u8, Role) {
        let link = &self.settings.links[usize::from(link)];
        (link.output, link.role.clone())
    }
}
