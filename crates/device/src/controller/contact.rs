//! Relays and contacts: minimum times and feedback (OUT-16, OUT-23).

use super::chain::Move;
use super::state::Wish;
use super::work::Work;
use super::{OutputTimer, Outside, State};
use crate::{Fault, Flaw, Ignored, Level, Note, Span};

impl<F: Outside> Work<'_, F> {
    /// OUT-16: whether a change has to wait for the minimum on- or off-time. The last wish
    /// stands.
    pub(super) fn waits(&mut self, output: u8, wish: Wish) -> bool {
        if !self.out(output).minimum || self.flawed(Flaw::NoMinimumTimes) {
            return false;
        }
        self.out(output).wish = Some(wish);
        self.say(output, Note::Waits(wish == Wish::On));
        true
    }

    /// A change starts the minimum time of the new state.
    pub(super) fn hold_still(&mut self, output: u8, span: Span) {
        if !span.is_zero() {
            self.out(output).minimum = true;
            self.start(output, OutputTimer::Minimum, span);
        }
    }

    /// The minimum on- or off-time has ended: the last wish acts.
    pub(super) fn free_to_move(&mut self, output: u8) {
        self.out(output).minimum = false;
        match self.out(output).wish.take() {
            Some(Wish::On) if self.is_captive(output) => {
                self.say(output, Note::Ignored(Ignored::Captive));
            }
            Some(Wish::On) => {
                let asked = self.out(output).asked;
                self.turn_on(output, asked, Move::Fade);
            }
            Some(Wish::Off(why)) => self.turn_off(output, why),
            None => {}
        }
    }

    /// OUT-2: the relay closes before the fade up and opens after the fade down. `target` is that
    /// of this output now.
    pub(super) fn drive_relay(&mut self, output: u8, target: Level) {
        let closed = self.any_of_relay(output, |other| {
            self.it.outputs[usize::from(other)].fade.is_some()
                || (other == output && !target.is_off())
                || (other != output && !self.target(other).is_off())
        });
        self.for_relay(output, |work, other| {
            if work.out(other).closed != closed {
                work.out(other).closed = closed;
                work.say(other, Note::Relay(closed));
                work.watch_relay(other);
            }
        });
    }

    /// OUT-23: after a command, a relay that does not follow is found within one poll.
    pub(super) fn watch_relay(&mut self, output: u8) {
        let Some(poll) = self.spec(output).feedback.filter(|_| self.it.powered) else {
            return;
        };
        let out = self.out(output);
        let follows = out.stuck.is_none_or(|stuck| stuck == out.closed);
        if follows {
            if core::mem::take(&mut out.reported) {
                self.say(output, Note::FaultEnded(Fault::StuckRelay));
            }
            self.stop(output, OutputTimer::Poll);
        } else if !out.reported {
            self.start(output, OutputTimer::Poll, poll);
        }
    }

    /// The feedback poll has found a relay that does not follow.
    pub(super) fn polled(&mut self, output: u8) {
        self.out(output).reported = true;
        self.say(output, Note::Fault(Fault::StuckRelay));
    }

    /// Whether the output shows nothing though its state is on, because daylight suffices.
    pub(super) fn is_dark_by_daylight(&self, output: u8) -> bool {
        let out = &self.it.outputs[usize::from(output)];
        out.state == State::On && out.dark == super::state::Dark::Yes
    }

    /// Whether it was so when this input came: what a press that reaches the zones of a relay one
    /// after the other decides by.
    pub(super) fn stood_dark_by_daylight(&self, output: u8) -> bool {
        self.were_dark.contains(&output) || self.is_dark_by_daylight(output)
    }
}
