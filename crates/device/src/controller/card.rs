//! The key card at its outputs (CARD-1, CARD-4, CARD-5).

use super::chain::Move;
use super::rules::Off;
use super::settings::Role;
use super::state::Said;
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
        let contact = self.spec(output).drive == Drive::Contact;
        self.it.links[usize::from(link)].occupied = contact;
        self.weigh_occupancy(output);
        if self.is_captive(output) {
            return self.say(output, Note::Ignored(Ignored::Captive));
        }
        match self.state(output) {
            State::Off => self.turn_on(output, level, Move::Fade),
            State::On => {
                self.change(output, Move::Fade, |out| out.asked = level);
                self.say(output, Note::Asked(level));
            }
            State::Setback | State::Warning => {
                self.restore(output);
                self.change(output, Move::Fade, |out| out.asked = level);
            }
        }
    }

    /// CARD-4: the linger has ended, every linked output goes off.
    pub(super) fn hear_card_out(&mut self, heard: u8) {
        if self.said(heard) == Said::CardOut {
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

    /// CARD-5: whether a missing card holds the output off. A lost reader no longer does
    /// (CARD-6).
    pub(super) fn is_captive(&self, output: u8) -> bool {
        self.links_of(output).any(|(link, _)| {
            let heard = &self.settings.heard[usize::from(link.heard)];
            let belief = self.it.heard[usize::from(link.heard)];
            matches!(link.role, Role::Card(_))
                && heard.kind == (HeardKind::Card { captive: true })
                && belief.said == Said::CardOut
                && !belief.lost
        })
    }

    /// CARD-6: the reader is lost; contacts follow their sensors again.
    pub(super) fn lift_captive(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| {
            let (output, role) = work.end_of(link);
            let contact = work.spec(output).drive == Drive::Contact;
            if matches!(role, Role::Card(_)) && contact && work.links_occupied(output) {
                work.turn_on(output, Level::FULL, Move::Fade);
            }
        });
    }
}
