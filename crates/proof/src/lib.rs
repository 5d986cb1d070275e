//! The case for a room: its clauses put to the symbolic clock, and what came of it.
//!
//! Invariant: nothing is called proved that a bound cut short, and nothing broken that did not
//! break in a plain run of the same room.
