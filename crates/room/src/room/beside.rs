//! One room under two plans: what a setting changes of a step, and whether it changes anything.

use alloc::sync::Arc;

use super::Room;
use crate::Plan;

impl Room {
    /// The room as it stands, under a plan with the same things in the same places, as if it had
    /// been set so from the start.
    #[must_use]
    pub fn under(&self, plan: Arc<Plan>) -> Self {
        Self {
            plan,
            ..self.clone()
        }
    }

    /// Whether every device and every monitor stands as in the other room, however either is set.
    #[must_use]
    pub fn stands_as(&self, other: &Self) -> bool {
        self.sources == other.sources
            && self.controllers == other.controllers
            && self.daylight == other.daylight
            && self.monitors == other.monitors
            && self.watch == other.watch
    }
}
