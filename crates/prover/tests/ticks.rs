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
use prover::Zone;
use prover::classes::{Limits, Mode, Order, Outcome, Search, explore};
use prover::model::{Faults, Goal, Halt, Lead, Model, Question, Rigor, State};
use prover::path::{Happening, Path};
use prover::slice::symmetric;
use room::{Input, SourceId, Stimulus};

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
        compare(&case)?;
    }

    /// Only one of two rooms that differ by an exchange of their sensors is explored.
    #[test]
    fn sensors_that_can_be_exchanged_are_judged_alike(case in oracle::pairs()) {
        prop_assert_eq!(symmetric(&case.plan), [[SourceId(1), SourceId(2)]]);
        compare(&case)?;
    }

    /// The rooms that are explored, and those that they stand for, are the rooms that there are.
    #[test]
    fn a_room_stands_for_those_in_which_its_sensors_have_changed_places(
        case in oracle::pairs(), goal in prop_oneof![Just(Goal::Broken), Just(Goal::Exercised)],
        lose in 0..2_u8, tolerance in prop_oneof![Just(0), Just(2_500)],
    ) {
        let question = || {
            let question = case.question(Rigor::Over, goal, Vec::new());
            let faults = Faults { lose, ..Faults::default() };
            Question { faults, tolerance, ..question }
        };
        let (folded, apart) = (Model::new(question()), Model::new(question()).told_apart());
        let Some(all) = classes(&apart) else {
            return Err(TestCaseError::reject("too large"));
        };
        let few = classes(&folded);
        prop_assert!(few.is_some(), "what is folded has no end");
        let few = few.unwrap_or_default();
        prop_assert!(few.len() <= all.len(), "{} of {}", few.len(), all.len());
        for (state, zone) in &all {
            let stands = folded.stood_for(state, zone);
            prop_assert!(stands.iter().any(|it| lies_in(it, &few)), "left out: {:?} {:?}", state, zone);
        }
        for class in &few {
            prop_assert!(lies_in(class, &all), "made up: {:?}", class);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), ..ProptestConfig::default() })]

    /// The cheapest path of an over-approximation has no more stimuli than any run, so what an
    /// exact search finds among them has as few as what it finds among all.
    #[test]
    fn what_is_found_on_a_lead_has_the_fewest_stimuli(
        case in prop_oneof![oracle::cases(), oracle::pairs()], lose in 0..2_u8,
    ) {
        let over = lead(&case, lose);
        let exact = cheapest(&case, lose, None);
        let (Ok(over), Ok(exact)) = (over, exact) else {
            return Err(TestCaseError::reject("too large"));
        };
        let Some(lead) = over else {
            prop_assert!(exact.is_none(), "there is nothing to follow: {:?}", exact);
            return Ok(());
        };
        let Ok(found) = cheapest(&case, lose, Some(lead.clone())) else {
            return Err(TestCaseError::reject("too large"));
        };
        prop_assert!(found.is_none() || exact.is_some(), "made up: {:?}", found);
        if let (Some(found), Some(exact)) = (found, exact) {
            prop_assert_eq!(stimuli(&found).count(), stimuli(&exact).count());
            for source in (0..case.plan.sources.len() as u16).map(SourceId) {
                let own = stimuli(&found).filter(|it| it.0 == source);
                let own: Vec<Stimulus> = own.map(|it| it.1).collect();
                prop_assert!(lead.stimuli(source).starts_with(&own), "{:?} on {:?}", found, lead);
            }
        }
    }
}

/// What happens at the sources on a path.
fn stimuli(path: &Path) -> impl Iterator<Item = (SourceId, Stimulus)> + '_ {
    let happens = path.steps.iter().flat_map(|step| &step.happens);
    happens.filter_map(|it| match it {
        Happening::Input(Input::Stimulus(source, stimulus)) => Some((*source, *stimulus)),
        _ => None,
    })
}

/// The cheapest way to break the clause in the over-approximation, if there is one; an error when
/// that takes too much.
fn lead(case: &Case, lose: u8) -> Result<Option<Lead>, ()> {
    let found = search(case, (Rigor::Over, lose), None)?;
    let lead = |(model, places): (Model, Vec<u32>)| model.lead(&places);
    Ok(found.map(|found| lead(found).expect("the way that was found can be told")))
}

/// The path with the fewest stimuli on which the clause breaks, if it does; an error when that
/// takes too much.
fn cheapest(case: &Case, lose: u8, lead: Option<Lead>) -> Result<Option<Path>, ()> {
    let found = search(case, (Rigor::Exact, lose), lead)?;
    let walk = |(model, places): (Model, Vec<u32>)| model.walk(&places);
    Ok(found.map(|found| walk(found).expect("the way that was found can be walked")))
}

fn search(
    case: &Case,
    (rigor, lose): (Rigor, u8),
    lead: Option<Lead>,
) -> Result<Option<(Model, Vec<u32>)>, ()> {
    let mut free = Vec::new();
    let search = Search {
        mode: Mode::Inclusion,
        order: Order::Cheapest,
        keeps_paths: true,
        goes_on: false,
    };
    let limits = Limits {
        transitions: 100_000,
        ..Limits::NONE
    };
    loop {
        let question = case.question(rigor, Goal::Broken, free.clone());
        let faults = Faults {
            lose,
            ..Faults::default()
        };
        let lead = lead.clone();
        let mut model = Model::new(Question {
            faults,
            lead,
            ..question
        });
        model.keep_places();
        let stop = AtomicBool::new(false);
        match explore(&model, search, &limits, &mut |_| {}, &stop) {
            Ok(explored) => {
                return match explored.outcome {
                    Outcome::Complete => Ok(None),
                    Outcome::Bad(Some(places)) => Ok(Some((model, places))),
                    _ => Err(()),
                };
            }
            Err(Halt::Heeded(source)) => free.push(source),
            Err(Halt::Beyond(_)) => return Err(()),
        }
    }
}

type Class = (State, Zone);

/// What can be reached, if it is not too much.
fn classes(model: &Model) -> Option<Vec<Class>> {
    let search = Search {
        mode: Mode::Inclusion,
        order: Order::BreadthFirst,
        keeps_paths: false,
        goes_on: true,
    };
    let limits = Limits {
        transitions: 20_000,
        ..Limits::NONE
    };
    let stop = AtomicBool::new(false);
    let explored = explore(model, search, &limits, &mut |_| {}, &stop).ok()?;
    let is_whole = explored.reached.waiting == 0;
    is_whole.then(|| {
        explored
            .classes()
            .map(|(state, zone)| (state.clone(), zone))
            .collect()
    })
}

fn lies_in((state, zone): &Class, all: &[Class]) -> bool {
    all.iter()
        .any(|(of, wide)| of == state && wide.includes(zone))
}

fn compare(case: &Case) -> Result<(), TestCaseError> {
    let truth = plain(case, 60_000);
    prop_assume!(truth != Plain::TooLarge);
    let broken = truth == Plain::Broken;
    let exact = ask(case, Rigor::Exact, Mode::Inclusion, Order::Cheapest);
    if exact != Said::Unknown {
        prop_assert_eq!(exact == Said::Broken, broken, "exact: {:?}", case);
    }
    for mode in [
        Mode::Hull { widens: true },
        Mode::Hull { widens: false },
        Mode::Inclusion,
    ] {
        let over = ask(case, Rigor::Over, mode, Order::LargestFirst);
        prop_assert!(
            !(broken && over == Said::Proved),
            "{:?} proves what breaks: {:?}",
            mode,
            case
        );
    }
    Ok(())
}

/// Cases of the property: more in a build with optimisation.
fn cases() -> u32 {
    if cfg!(debug_assertions) { 60 } else { 600 }
}
