//! The case for a room: its clauses put to the symbolic clock, and what came of it.
//!
//! Invariant: nothing is called proved that a bound cut short, and nothing broken that did not
//! break in a plain run of the same room.

pub mod answer;
mod ask;
mod calendar;
mod ladder;
mod prove;
mod rerun;
mod said;
mod sight;
mod whole;

pub use answer::{Answer, Effort, How, Tightest, Verdict, Why, Witness};
pub use ask::Terms;
#[doc(hidden)]
pub fn question_for_debug(
    room: &scenario::room_file::RoomFile,
    clause: u16,
) -> prover::model::Question {
    let slice = whole::Slice::of(&room.plan, &[clause]);
    let terms = Terms::default();
    ask::Asker::new(room, &slice, &terms)
        .question(prover::model::Rigor::Over, prover::model::Goal::Broken)
}
pub use prove::{Budget, Observer, prove, prove_all};
pub use prover::classes::{Bound, Progress};
