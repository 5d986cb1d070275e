//! One clause, one slice: from the cheap question to the exact one.
//!
//! A hull proves most clauses in milliseconds. What it does not prove is looked for exactly, the
//! fewest stimuli first, and what is found is run. What neither decides is looked at class by
//! class; and then nothing is claimed.

use std::sync::atomic::AtomicBool;

use clause::Event;
use prover::Path;
use prover::classes::{self, Exploration, Limits, Mode, Order, Outcome, Progress, Search};
use prover::model::{Goal, Halt, Model, Rigor, State};

use crate::answer::{Effort, How, Why};
use crate::ask::{Asker, Haste};

/// What may be spent on one clause, and who may say stop.
#[derive(Clone, Copy)]
pub(crate) struct Budget<'a> {
    pub(crate) limits: Limits,
    pub(crate) stop: &'a AtomicBool,
    pub(crate) progress: &'a dyn Fn(&Progress),
}

/// What the ladder found.
#[derive(Debug)]
pub(crate) enum Found {
    /// Nothing that may happen breaks it.
    Proved,
    /// A path that breaks it.
    Path(Path),
    /// Nothing can be said.
    Undecided(Why),
}

/// Puts the clause of a slice to the symbolic clock, and adds what it took.
///
/// What the hull does not prove is looked for exactly and looked at class by class in turns, each
/// turn with more to spend: one of the two mostly needs far less than the other.
pub(crate) fn climb(
    asker: &mut Asker<'_>,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Found {
    if widely(asker, budget, effort) {
        return Found::Proved;
    }
    let mut why = None;
    for share in TURNS {
        let budget = part(budget, share);
        if share > 1
            && let Some(path) = hastily(asker, Goal::Broken, &budget, effort, replays)
        {
            return Found::Path(path);
        }
        let is_looked_for = why
            .as_ref()
            .is_none_or(|why| matches!(why, Why::Spent(classes::Bound::Transitions, _)));
        if is_looked_for {
            why = Some(match exact(asker, Goal::Broken, &budget, effort) {
                Exact::Path(path) => return Found::Path(path),
                Exact::Nothing { whole: true } => return Found::Proved,
                Exact::Nothing { whole: false } => Why::OnlyAbstract(left_out(asker).into()),
                Exact::Spent(bound, reached) => Why::Spent(bound, reached),
                Exact::Beyond(why) => Why::Beyond(why),
            });
        }
        let fine = (share == TURNS[0]).then_some((Mode::Hull { widens: false }, How::Hull));
        let by_class = (Mode::Inclusion, How::Inclusion);
        for (mode, how) in fine.into_iter().chain([by_class]) {
            let found = over(asker, (mode, Goal::Broken), &budget, effort, how);
            if let Ok(Outcome::Complete) = found {
                return Found::Proved;
            }
        }
    }
    Found::Undecided(why.unwrap_or(Why::Beyond("nothing may be spent")))
}

/// Looks for a path where something may go wrong, and leaves a few things out: the path counts
/// when it replays.
fn hastily(
    asker: &mut Asker<'_>,
    goal: Goal,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Option<Path> {
    if asker.terms.is_plain() {
        return None;
    }
    [Haste::Narrow, Haste::Brisk].into_iter().find_map(|haste| {
        asker.haste = haste;
        let found = exact(asker, goal, budget, effort);
        asker.haste = Haste::None;
        match found {
            Exact::Path(path) => Some(path).filter(replays),
            _ => None,
        }
    })
}

/// What an exact search leaves out.
fn left_out(asker: &Asker<'_>) -> &'static str {
    if !asker.slice.ghosts.is_empty() {
        "how the other outputs of a button stand is only tried as if nothing else acted on them"
    } else if asker.slice.ignores_sheds {
        "sheds that only lower the light are left out"
    } else {
        "levels on their way are only tried at those that a setting or a clause names"
    }
}

/// A part of what may be spent.
fn part<'a>(budget: &Budget<'a>, part: u64) -> Budget<'a> {
    let transitions = budget.limits.transitions / part;
    Budget {
        limits: Limits {
            transitions,
            ..budget.limits
        },
        ..*budget
    }
}

/// The part of the budget that may be spent in each turn.
const TURNS: [u64; 3] = [200, 10, 1];

/// The part of the budget that is spent on an example, before and after a hull is asked whether
/// there can be one: it only shows what is proved already.
const EXAMPLE: [u64; 2] = [1_000, 40];

/// Whether the widest hull proves the clause.
pub(crate) fn widely(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    let wide = Mode::Hull { widens: true };
    for loose in [true, false] {
        if loose && !asker.has_calendars() {
            continue;
        }
        asker.loose_calendars = loose;
        // A hull may hold what no run meets; what is truly beyond shows again below.
        let hull = over(asker, (wide, Goal::Broken), budget, effort, How::Hull);
        if let Ok(Outcome::Complete) = hull {
            return true;
        }
    }
    false
}

/// Whether a search class by class, that looks for no path, proves the clause.
pub(crate) fn by_class(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    let asked = (Mode::Inclusion, Goal::Broken);
    let found = over(asker, asked, budget, effort, How::Inclusion);
    matches!(found, Ok(Outcome::Complete))
}

/// Looks for a run that puts the clause to the test and holds. Where a hull of everything that
/// can happen, and more, has none, there is none; but who acted is not told where only the frames
/// of a wall unit are followed.
pub(crate) fn example(
    asker: &mut Asker<'_>,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Exact {
    let before = *effort;
    let formula = &asker.slice.plan.clauses[0].formula;
    let asks_who = formula
        .events()
        .any(|event| matches!(event, Event::Acted(_)));
    let wide = (Mode::Hull { widens: true }, Goal::Exercised);
    let [soon, late] = EXAMPLE;
    let soon = part(budget, soon);
    let mut found = match hastily(asker, Goal::Exercised, &soon, effort, replays) {
        Some(path) => Exact::Path(path),
        None => exact(asker, Goal::Exercised, &soon, effort),
    };
    if !matches!(found, Exact::Path(_) | Exact::Nothing { whole: true }) {
        let has_none = !asks_who
            && matches!(
                over(asker, wide, budget, effort, How::Hull),
                Ok(Outcome::Complete)
            );
        found = match has_none {
            true => Exact::Nothing { whole: true },
            false => exact(asker, Goal::Exercised, &part(budget, late), effort),
        };
    }
    // An example is no part of the answer.
    (effort.how, effort.classes) = (before.how, before.classes);
    found
}

/// Explores more than can happen. Where a report that was left out would change something, its
/// source reports whenever it likes, from the beginning again.
fn over(
    asker: &mut Asker<'_>,
    (mode, goal): (Mode, Goal),
    budget: &Budget<'_>,
    effort: &mut Effort,
    how: How,
) -> Result<Outcome, &'static str> {
    let search = Search {
        mode,
        order: Order::LargestFirst,
        keeps_paths: false,
        goes_on: false,
    };
    loop {
        let model = Model::new(asker.question(Rigor::Over, goal));
        match explore(&model, search, budget) {
            Ok(explored) => {
                note(effort, how, &explored);
                if asker.sight().counts_moves && model.has_looked_at_levels() {
                    return Err("a clause that counts the moves of a level on its way");
                }
                return Ok(explored.outcome);
            }
            Err(Halt::Heeded(source)) => asker.free_reports.push(source),
            Err(Halt::Beyond(why)) => return Err(why),
        }
    }
}

/// What an exact search found.
#[derive(Debug)]
pub(crate) enum Exact {
    /// A path to what was looked for.
    Path(Path),
    /// Nothing; `whole`: and nothing was left out.
    Nothing { whole: bool },
    /// A bound was hit first.
    Spent(classes::Bound, Progress),
    /// Something was met that cannot be carried.
    Beyond(&'static str),
}

/// Looks for a path, as exactly as a run.
///
/// A source whose report would change something reports whenever it likes here too: then what is
/// found may be no run, which its replay tells.
pub(crate) fn exact(
    asker: &mut Asker<'_>,
    goal: Goal,
    budget: &Budget<'_>,
    effort: &mut Effort,
) -> Exact {
    let search = Search {
        mode: Mode::Inclusion,
        order: Order::Cheapest,
        keeps_paths: true,
        goes_on: false,
    };
    let (model, explored) = loop {
        let model = Model::new(asker.question(Rigor::Exact, goal));
        match explore(&model, search, budget) {
            Ok(explored) => break (model, explored),
            Err(Halt::Heeded(source)) => asker.free_reports.push(source),
            Err(Halt::Beyond(why)) => return Exact::Beyond(why),
        }
    };
    note(effort, How::Exact, &explored);
    match explored.outcome {
        Outcome::Bad(Some(places)) => model.walk(&places).map_or(
            Exact::Beyond("a path could not be walked again"),
            Exact::Path,
        ),
        Outcome::Bad(None) => Exact::Beyond("a path was not kept"),
        Outcome::Spent(bound) => Exact::Spent(bound, explored.reached),
        // A ghost stood in one way only.
        Outcome::Complete => Exact::Nothing {
            whole: !model.has_looked_at_levels()
                && asker.haste == Haste::None
                && asker.slice.ghosts.is_empty()
                && !asker.slice.ignores_sheds,
        },
    }
}

fn explore(model: &Model, search: Search, budget: &Budget<'_>) -> Result<Exploration<State>, Halt> {
    let mut progress = |reached: &Progress| (budget.progress)(reached);
    classes::explore(model, search, &budget.limits, &mut progress, budget.stop)
}

fn note(effort: &mut Effort, how: How, explored: &Exploration<State>) {
    effort.how = how;
    effort.classes = explored.reached.classes;
    effort.transitions += explored.reached.transitions;
    effort.bytes = effort.bytes.max(explored.peak_bytes);
    effort.cramped |= explored.outcome == Outcome::Spent(classes::Bound::Memory);
}
