//! Outputs that stand for others: how an output that a proof left out may have stood.
//!
//! Two outputs of one button touch each other by the decisions of that button only, and of an
//! output a decision reads very little:
//!
//! - a tap of a single button asks whether any is on, and whether any warns or is set back
//!   (SW-1);
//! - a hold of a single button asks whether all that are lit are at the high trim, and whether
//!   all are at the low trim (SW-2), and then as an *up* or *down*;
//! - a hold of an *up* button asks whether any is lit (SW-9);
//! - every other gesture treats each output by itself.
//!
//! These are questions for any and for all, so one output can stand for any number of others.
//! An answer that no [`Pretence`] gives alone is not needed. Where the others leave a single
//! button to go against its last hold (lit ones at neither trim, or at different trims), `Low`
//! or `High` sends it the same way: with none of the rest lit they send it up and down, and
//! with a lit one that is not at both trims at once, one of them leaves it to the last hold too.
//! Others that are at both trims at once, or dark by daylight, answer like `Low` when none of
//! the rest is lit, and like `Off` when one is. A hold that finds none of its outputs pressed
//! last by itself leaves a single button's direction as it was; `Off` and `High` give both
//! values that it may have been.
//!
//! Invariant: at rest nothing of such an output runs.

use super::settings::Role;
use super::state::{OutputState, Stage};
use super::{Controller, OutputTimer, Outside, Settings, State, Timer};
use crate::{Flaw, Level, switch};

/// How an output that stands for others is made to stand.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Pretence {
    /// Untouched, as kept between decisions.
    Rest,
    /// All that it stands for are off.
    Off,
    /// One is lit, and all that are lit are at the low trim.
    Low,
    /// One is lit, and all that are lit are at the high trim.
    High,
    /// One is set back or warns.
    SetBack,
}

impl Pretence {
    /// What may change the decision of a tap or (`held`) a hold of a button of this kind.
    #[must_use]
    pub const fn deciding(kind: switch::Button, held: bool) -> &'static [Self] {
        match (kind, held) {
            (switch::Button::Single, false) => &[Self::Off, Self::High, Self::SetBack],
            (switch::Button::Single, true) => &[Self::Off, Self::Low, Self::High],
            (switch::Button::Up, true) => &[Self::Off, Self::High],
            _ => &[Self::Rest],
        }
    }
}

impl Controller {
    /// How an output may have stood as a tap (an *up*) or, `held`, a hold of a button is
    /// decided: only [`Pretence::Rest`] when the decision does not ask.
    #[must_use]
    pub fn pretences(
        &self,
        settings: &Settings,
        output: u8,
        button: u8,
        held: bool,
    ) -> &'static [Pretence] {
        let stage = self.buttons[usize::from(button)].stage;
        let decides = held
            || stage == Stage::Pending
            || (stage == Stage::Idle && settings.flaw == Some(Flaw::LoneUpActs));
        let linked = (settings.links.iter())
            .any(|link| link.output == output && link.role == Role::Button(button));
        if decides && linked {
            Pretence::deciding(settings.buttons[usize::from(button)].kind, held)
        } else {
            &[Pretence::Rest]
        }
    }

    /// Makes an output stand like this, for a decision of `button` if there is one, with none
    /// of its timers running.
    pub fn pretend(
        &mut self,
        settings: &Settings,
        output: u8,
        pretence: Pretence,
        button: Option<u8>,
        fx: &mut impl Outside,
    ) {
        for timer in OutputTimer::ALL {
            fx.stop(Timer::Output(output, timer));
        }
        let spec = &settings.outputs[usize::from(output)];
        let (state, asked) = match pretence {
            Pretence::Rest | Pretence::Off => (State::Off, Level::FULL),
            Pretence::Low => (State::On, spec.low_trim),
            Pretence::High => (State::On, spec.high_trim),
            Pretence::SetBack => (State::Setback, Level::FULL),
        };
        let out = &mut self.outputs[usize::from(output)];
        *out = OutputState {
            state,
            asked,
            setback: if state == State::Setback {
                spec.low_trim
            } else {
                Level::OFF
            },
            owner: button.filter(|_| pretence != Pretence::Rest),
            ..OutputState::settled(false)
        };
    }
}
