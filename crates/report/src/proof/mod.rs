//! What came of putting the clauses of rooms to the symbolic clock: records, a table for a
//! terminal, and the words for both.
//!
//! Invariant: equal answers give equal bytes, on any number of threads; the time that they took
//! stands in a field of its own and may be left out.

mod record;
mod settings;
mod sweep;
mod table;

pub use record::{
    Answered, Case, ClauseProof, Found, LinkProof, ProofVerdict, Reached, RoomProof, ScenarioProof,
    Sweep, SweptClause, Terms, TightestBound, VERSION,
};
pub(crate) use settings::lines as settings_lines;
pub use settings::{SettingDoes, SettingProof};
pub use table::text;
pub(crate) use table::{CAUTION, Ground, grouped, time};

#[cfg(test)]
pub(crate) mod tests;
