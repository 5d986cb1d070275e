//! What each form of clause means, as metric temporal logic.
