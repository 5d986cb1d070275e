//! The key card at its outputs (CARD-1, CARD-4, CARD-5).

use super::chain::Move;
use super::settings::Role;
use super::state::{Off, Said};
use super::work::Work;
use super::{Drive, HeardKind, Outside, State};
use crate::{Ignored, Level, Note};

impl<F: Outside> Work<'_, F> {
    /// CARD-1: a welcome; a contact is held closed while the card is in.
    pub(super) fn hear_card_in(&mut self, heard: u8) {
        if self.said(heard) == Said::CardIn {
            return;
        }
        self.believe(heard, Said::CardIn);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Card(welcome)) = work.end_of(link) {
                work.welcome(link, output, welcome);
            }
        });
    }

    fn welcome(&mut self, link: u8, output: u8, level: Level) {
        let holds = self.can_hold(self.link(link).0);
        self.it.links[usize::from(link)].occupied = holds;
        self.weigh_occupancy(output);
        if self.is_captive(output) {
            return self.say(output, Note::Ignored(Ignored::Captive));
        }
        match self.stood(output) {
            State::Off => self.turn_on(output, level, Move::Fade),
            State::On => {
                self.turn_on(output, level, Move::Fade);
                self.say(output, Note::Asked(level));
            }
            State::Setback | State::Warning => {
                self.restore(output);
                self.change(output, Move::Fade, |out| out.asked = level);
            }
        }
        self.restore_relay(output);
    }

    /// CARD-4: the linger has ended, every linked output goes off.
    ///
    /// A captive reader that was lost had lifted its hold (CARD-6), so its *out* acts even when
    /// it says nothing new.
    pub(super) fn hear_card_out(&mut self, heard: u8, was_lost: bool) {
        let captive =
            self.settings.heard[usize::from(heard)].kind == HeardKind::Card { captive: true };
        if self.said(heard) == Said::CardOut && !(captive && was_lost) {
            return;
        }
        self.believe(heard, Said::CardOut);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Card(_)) = work.end_of(link) {
                work.it.links[usize::from(link)].occupied = false;
                let contact = work.spec(output).drive == Drive::Contact;
                if contact && !work.is_captive(output) && work.links_occupied(output) {
                    return work.say(output, Note::Ignored(Ignored::StillOccupied));
                }
                work.turn_off(output, Off::Card);
                work.weigh_occupancy(output);
            }
        });
    }

    /// CARD-5: whether a missing card holds the output off, or another of its relay. A lost
    /// reader no longer does (CARD-6).
    pub(super) fn is_captive(&self, output: u8) -> bool {
        self.any_of_relay(output, |other| {
            self.links_of(other).any(|(link, _)| {
                let heard = &self.settings.heard[usize::from(link.heard)];
                let belief = self.it.heard[usize::from(link.heard)];
                matches!(link.role, Role::Card(_))
                    && heard.kind == (HeardKind::Card { captive: true })
                    && belief.said == Said::CardOut
                    && !belief.lost
            })
        })
    }

    /// CARD-6: the reader is lost; contacts follow their sensors again.
    pub(super) fn lift_captive(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| {
            let (output, _) = work.end_of(link);
            let contact = work.spec(output).drive == Drive::Contact;
            let called = (work.links_of(output))
                .any(|(link, state)| state.occupied && matches!(link.role, Role::AutoOn(_)));
            if contact && called && !work.is_captive(output) {
                work.turn_on(output, Level::FULL, Move::Fade);
            }
        });
    }
}
