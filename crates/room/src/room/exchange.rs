//! A room in which two sources have changed places.

use core::hash::{Hash, Hasher};

use super::Room;
use crate::{Origin, SourceId};

impl Room {
    /// What is true of one source is true of the other from now on, and the other way round: how it
    /// stands, what is made of it, and what it set moving; `root` stands for a root of a cause
    /// chain. For two sources with equal settings and links, and without buttons; what the monitors
    /// remember must not tell them apart ([`clause::Formula::treats_alike`]), and they must have
    /// judged the instant.
    pub fn exchange(&mut self, one: SourceId, other: SourceId, root: impl Fn(Origin) -> Origin) {
        debug_assert!(
            self.watch.is_settled(),
            "an instant is judged under one name"
        );
        self.watch
            .rename_movers(|origin| root(origin.exchanged(one, other)));
        self.sources.swap(usize::from(one.0), usize::from(other.0));
        for (at, controller) in self.plan.controllers.iter().zip(&mut self.controllers) {
            let heard = |id: SourceId| at.heard.iter().position(|it| *it == id);
            if let (Some(one), Some(other)) = (heard(one), heard(other)) {
                controller.exchange(&at.settings, one as u8, other as u8);
            }
        }
    }

    /// Hashes how a source stands, what is made of it, and what it set moving.
    pub fn hash_source(&self, id: SourceId, hasher: &mut impl Hasher) {
        self.sources[usize::from(id.0)].hash(hasher);
        for mover in self.watch.movers() {
            mover.is_of(id).hash(hasher);
        }
        for (at, controller) in self.plan.controllers.iter().zip(&self.controllers) {
            if let Some(heard) = at.heard.iter().position(|it| *it == id) {
                controller.hash_heard(&at.settings, heard as u8, hasher);
            }
        }
    }
}
