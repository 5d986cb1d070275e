//! Timers that are certainly due: no time passes before they have elapsed, in their order.
//!
//! An over-approximation tries what happens at one instant in any order, and each as an instant of
//! its own. Of the timers of controllers it need not: they run as long as in the room, so of two
//! that end together in every vector of a zone the one with the lower slot goes first (ORD-1), and
//! nothing but timers between the two comes between them. What holds for both of them only after
//! the second has elapsed is no class of its own then.
//!
//! Not where siblings change places: their timers go by the number of the other.

use room::{Slot, SlotOwner};

use super::Model;
use super::event::Order;
use crate::zone::Zone;

impl Model {
    /// The place of the first timer of a controller that elapses at this very instant in every
    /// vector of the zone.
    fn owed(&self, zone: &Zone) -> Option<Order> {
        let is_controllers = |slot: Slot| matches!(self.owner(slot), SlotOwner::Controller(..));
        let mut timers = zone.timers().iter().copied();
        let owed = timers.find(|&timer| {
            timer < self.first_flight && zone.most(timer) == 0 && is_controllers(Slot(timer))
        });
        owed.map(|timer| self.order_of_slot(Slot(timer)))
    }

    /// Whether another timer elapses before an event for which there is this place.
    pub(super) fn is_overtaken(&self, zone: &Zone, order: Order) -> bool {
        self.goes_by_order(order) && self.owed(zone).is_some_and(|owed| owed < order)
    }

    /// Whether another timer elapses after an event at this place before any time passes.
    pub(super) fn is_owed(&self, zone: &Zone, order: Order) -> bool {
        self.goes_by_order(order) && self.owed(zone).is_some()
    }

    fn goes_by_order(&self, order: Order) -> bool {
        self.is_over() && self.is_alone() && order.is_of_timers()
    }
}
