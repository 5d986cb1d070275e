//! The symbolic clock against a plain search that counts milliseconds.
//!
//! Small rooms with spans of a few milliseconds are explored breadth first, one tick at a time,
//! every stimulus at every tick: integer ticks suffice for closed bounds (Henzinger, Manna and
//! Pnueli 1992, "What good are digital clocks?"). Whatever that search breaks the symbolic clock
//! must break, and what it proves the plain search must not break; an exact search must agree
//! both ways.

mod oracle;

use std::sync::atomic::AtomicBool;

use oracle::{Case, Plain, plain};
use proptest::prelude::*;
use prover::classes::{Limits, Mode, Order, Outcome, Search, explore};
use prover::model::{Goal, Halt, Model, Rigor};

/// What the symbolic clock says.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Said {
    Proved,
    Broken,
    Unknown,
}

fn ask(case: &Case, rigor: Rigor, mode: Mode, order: Order) -> Said {
    let mut free = Vec::new();
    loop {
        let model = Model::new(case.question(rigor, Goal::Broken, free.clone()));
        let search = Search {
            mode,
            order,
            keeps_paths: false,
            goes_on: false,
        };
        let limits = Limits {
            transitions: 300_000,
            ..Limits::NONE
        };
        match explore(
            &model,
            search,
            &limits,
            &mut |_| {},
            &AtomicBool::new(false),
        ) {
            Ok(explored) => {
                return match explored.outcome {
                    Outcome::Complete => Said::Proved,
                    Outcome::Bad(_) => Said::Broken,
                    Outcome::Spent(_) => Said::Unknown,
                };
            }
            Err(Halt::Heeded(source)) => free.push(source),
            Err(Halt::Beyond(_)) => return Said::Unknown,
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), ..ProptestConfig::default() })]

    #[test]
    fn the_symbolic_clock_and_a_search_by_ticks_say_the_same(case in oracle::cases()) {
        let truth = plain(&case, 60_000);
        prop_assume!(truth != Plain::TooLarge);
        let broken = truth == Plain::Broken;
        let exact = ask(&case, Rigor::Exact, Mode::Inclusion, Order::Cheapest);
        if exact != Said::Unknown {
            prop_assert_eq!(exact == Said::Broken, broken, "exact: {:?}", case);
        }
        for mode in [Mode::Hull { widens: true }, Mode::Hull { widens: false }, Mode::Inclusion] {
            let over = ask(&case, Rigor::Over, mode, Order::LargestFirst);
            prop_assert!(!(broken && over == Said::Proved), "{:?} proves what breaks: {:?}", mode, case);
        }
    }
}

/// Cases of the property: more in a build with optimisation.
fn cases() -> u32 {
    if cfg!(debug_assertions) { 60 } else { 600 }
}
