//! The shipped rooms hold no truism: every clause and every scenario is broken by some fault,
//! and no two clauses of a room by the same faults.

use std::path::Path;
use std::thread;

use scenario::challenge::{Baseline, Matrix};
use scenario::suite::Suite;

#[test]
fn every_clause_and_every_scenario_of_the_annex_is_broken_by_some_fault() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[folder]).expect("the scenarios are there");
    let matrices: Vec<Matrix> = thread::scope(|scope| {
        let rooms = suite.scripts.iter().map(|scripts| {
            scope.spawn(|| {
                let baseline = Baseline::of(scripts, 0);
                assert_eq!(baseline.failing().map(|script| &script.file), None);
                let faults = baseline.faults();
                let challenges = faults.iter().map(|fault| baseline.challenge(fault));
                baseline.matrix(challenges.collect())
            })
        });
        let rooms: Vec<_> = rooms.collect();
        rooms
            .into_iter()
            .map(|room| room.join().expect("the room is challenged"))
            .collect()
    });
    assert!(matrices.len() >= 8, "the annex has eight rooms or more");
    for matrix in &matrices {
        let named = &matrix.scenarios;
        assert_eq!(
            matrix.idle_clauses().collect::<Vec<_>>(),
            [""; 0],
            "{named:?}"
        );
        assert_eq!(
            matrix.idle_scenarios().collect::<Vec<_>>(),
            [""; 0],
            "{named:?}"
        );
        assert_eq!(matrix.twins(), [], "{named:?}");
    }
}
