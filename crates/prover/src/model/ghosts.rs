//! Outputs that are in a slice only because a button asks how they stand: each way in which one may
//! have stood is tried before an input that asks ([`device::controller::Pretence`]).

use device::Payload;
use device::controller;
use room::{Input, Origin, SlotOwner};

use super::Model;
use super::instant::Instant;

impl Model {
    /// Whether an input may ask how the ghosts stand: the frames and thresholds of buttons.
    pub(super) fn asks_ghosts(&self, input: &Input) -> bool {
        if !self.is_over() || self.question.ghosts.is_empty() {
            return false;
        }
        match *input {
            Input::Frame { payload, .. } => matches!(payload, Payload::Down(_) | Payload::Up(_)),
            Input::Elapsed(slot) => matches!(
                self.owner(slot),
                SlotOwner::Controller(_, controller::Timer::Threshold(_))
            ),
            _ => false,
        }
    }

    /// The moment with every ghost in every way that matters to what the input decides.
    pub(super) fn pretending(&self, moment: Instant, input: &Input) -> Vec<Instant> {
        let mut moments = vec![moment];
        for &ghost in &self.question.ghosts {
            let mut all = Vec::new();
            for moment in moments {
                for pretence in moment.state.room.pretences(ghost, input) {
                    let mut moment = moment.clone();
                    let (room, mut clock) = self.parts(&mut moment, Origin::Start);
                    room.pretend(ghost, *pretence, input, &mut clock);
                    all.push(moment);
                }
            }
            moments = all;
        }
        moments
    }
}
