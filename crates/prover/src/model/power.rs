//! Cuts of power, and who may suffer one.

use device::Span;
use room::{ControllerId, Device, Input, Origin, SourceId};

use super::Model;
use super::instant::Instant;
use super::question::Question;
use super::state::Victim;
use crate::path::Happening;

/// The devices whose power may be cut: each one, and the room as a whole.
pub(super) fn victims(question: &Question) -> Vec<Victim> {
    if question.faults.cuts == 0 {
        return Vec::new();
    }
    let plan = &question.plan;
    let sources = (0..).map(SourceId).zip(&plan.sources);
    let controllers = (0..).map(ControllerId).zip(&plan.controllers);
    let mut victims: Vec<Victim> = sources
        .map(|(id, _)| Victim::Device(Device::Source(id)))
        .chain(controllers.map(|(id, _)| Victim::Device(Device::Controller(id))))
        .collect();
    victims.push(Victim::Room);
    victims
}

impl Model {
    /// The devices that a cut takes the power of.
    pub(super) fn members(&self, victim: Victim) -> Vec<Device> {
        match victim {
            Victim::Device(device) => vec![device],
            Victim::Dead(source) => vec![Device::Source(source)],
            Victim::Room => self.question.plan.on_mains(),
        }
    }

    /// Cuts the power of a victim, for a second at least.
    pub(super) fn cut(&self, mut moment: Instant, place: usize) -> Vec<Instant> {
        let victim = self.victims[place];
        moment.state.cuts -= 1;
        moment.state.dark.push((victim, false));
        moment.state.dark.sort_unstable();
        moment.start_timer(self, self.cut_timer(place), Span::from_seconds(1));
        self.power(moment, victim, false)
    }

    /// Gives the power back.
    pub(super) fn restore(&self, mut moment: Instant, place: usize) -> Vec<Instant> {
        let victim = self.victims[place];
        moment.state.dark.retain(|(it, _)| *it != victim);
        self.power(moment, victim, true)
    }

    /// The power of a victim goes or comes back. That is one thing that happens, to however many.
    fn power(&self, mut moment: Instant, victim: Victim, on: bool) -> Vec<Instant> {
        // Nobody gives it back to what died meanwhile.
        if matches!(victim, Victim::Device(device) if moment.state.is_dead(device)) {
            return vec![moment];
        }
        moment.cost += 1;
        moment.happens(match victim {
            Victim::Device(device) => Happening::Input(Input::Power(device, on)),
            Victim::Dead(source) => Happening::Input(Input::Power(Device::Source(source), on)),
            Victim::Room => Happening::RoomPower(on),
        });
        let mut moments = vec![moment];
        for device in self.members(victim) {
            moments = moments
                .into_iter()
                .flat_map(|moment| {
                    let stays = moment.state.is_dead(device);
                    if moment.state.room.is_powered(device) == on || stays {
                        return vec![moment];
                    }
                    let input = Input::Power(device, on);
                    self.handle(moment, self.root(Origin::of(&input)), input)
                })
                .collect();
        }
        moments
    }

    /// A source dies for good.
    pub(super) fn die(&self, moment: Instant, source: SourceId) -> Vec<Instant> {
        let moments = self.power(moment, Victim::Dead(source), false);
        let died = moments.into_iter().map(|mut moment| {
            moment.state.dark.push((Victim::Dead(source), false));
            moment.state.dark.sort_unstable();
            moment
        });
        died.collect()
    }

    /// Takes an input from outside.
    pub(super) fn take(&self, mut moment: Instant, input: Input) -> Vec<Instant> {
        moment.happens(Happening::Input(input.clone()));
        moment.cost += 1;
        self.handle(moment, self.root(Origin::of(&input)), input)
    }
}
