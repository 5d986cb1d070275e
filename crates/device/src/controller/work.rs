//! One input at work: the controller, its settings and the outside together.

use alloc::vec::Vec;

use super::state::{LinkState, OutputState};
use super::{Controller, Link, Output, OutputTimer, Settings, State, Timer};
use crate::{Effects, Flaw, Note, Span};

/// The outside of a controller: its effects, and notes that name one of its outputs.
pub trait Outside: Effects<Timer = Timer> {
    /// Says what an output did, or why it did nothing.
    fn note_output(&mut self, output: u8, note: Note);
}

/// One input at work.
pub(super) struct Work<'a, F> {
    pub(super) it: &'a mut Controller,
    pub(super) settings: &'a Settings,
    pub(super) fx: &'a mut F,
    /// Outputs that this input has turned on or restored with another one of their relay, each
    /// with how it stood before.
    pub(super) companions: Vec<(u8, State)>,
    /// Outputs that were dark by daylight until this input lit another one of their relay.
    pub(super) were_dark: Vec<u8>,
}

impl<F: Outside> Work<'_, F> {
    pub(super) fn out(&mut self, output: u8) -> &mut OutputState {
        &mut self.it.outputs[usize::from(output)]
    }

    pub(super) fn state(&self, output: u8) -> State {
        self.it.outputs[usize::from(output)].state
    }

    /// How an output stood before this input turned it on or restored it with another one of its
    /// relay: what a cause that reaches several outputs decides by (OUT-2).
    pub(super) fn stood(&self, output: u8) -> State {
        let before = self.companions.iter().find(|(other, _)| *other == output);
        before.map_or_else(|| self.state(output), |(_, before)| *before)
    }

    pub(super) fn spec(&self, output: u8) -> &Output {
        &self.settings.outputs[usize::from(output)]
    }

    /// Whether this flaw is seeded.
    pub(super) fn flawed(&self, flaw: Flaw) -> bool {
        self.settings.flaw == Some(flaw)
    }

    pub(super) fn start(&mut self, output: u8, timer: OutputTimer, span: Span) {
        self.fx.start(Timer::Output(output, timer), span);
    }

    pub(super) fn stop(&mut self, output: u8, timer: OutputTimer) {
        self.fx.stop(Timer::Output(output, timer));
    }

    pub(super) fn say(&mut self, output: u8, note: Note) {
        self.fx.note_output(output, note);
    }

    /// The number of links there are or may be.
    pub(super) fn link_count(&self) -> u8 {
        self.settings.links.len() as u8
    }

    /// The number of outputs.
    pub(super) fn output_count(&self) -> u8 {
        self.settings.outputs.len() as u8
    }

    pub(super) fn link(&self, link: u8) -> (&Link, LinkState) {
        let index = usize::from(link);
        (&self.settings.links[index], self.it.links[index])
    }

    /// The settings and states of the stored links of an output.
    pub(super) fn links_of(&self, output: u8) -> impl Iterator<Item = (&Link, LinkState)> {
        (self.settings.links.iter())
            .zip(self.it.links.iter().copied())
            .filter(move |(link, state)| link.output == output && state.stored)
    }

    /// The outputs that one relay switches together with this one, itself among them (OUT-2).
    pub(super) fn relay_of(&self, output: u8) -> impl Iterator<Item = u8> {
        let relay = self.spec(output).relay;
        let outputs = match relay {
            None => output..output + 1,
            Some(_) => 0..self.output_count(),
        };
        outputs.filter(move |&other| self.spec(other).relay == relay)
    }

    /// Whether this is so of any output of the relay. Most outputs have a relay of their own.
    #[inline]
    pub(super) fn any_of_relay(&self, output: u8, so: impl Fn(u8) -> bool) -> bool {
        match self.spec(output).relay {
            None => so(output),
            Some(_) => self.relay_of(output).any(so),
        }
    }

    /// Calls `act` for each output of the relay, this one among them.
    pub(super) fn for_relay(&mut self, output: u8, mut act: impl FnMut(&mut Self, u8)) {
        let relay = self.spec(output).relay;
        if relay.is_none() {
            return act(self, output);
        }
        for other in 0..self.output_count() {
            if self.spec(other).relay == relay {
                act(self, other);
            }
        }
    }

    /// Calls `act` for each other output of the relay.
    pub(super) fn for_others_of_relay(&mut self, output: u8, mut act: impl FnMut(&mut Self, u8)) {
        self.for_relay(output, |work, other| {
            if other != output {
                act(work, other);
            }
        });
    }
}
