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
use crate::ask::{Aim, Asker};

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
/// turn with more to spend: one of the two mostly needs far less than the other. What takes many
/// stimuli to break is looked for by way of the cheapest path of the over-approximation; where
/// something may go wrong that comes first, for most of what breaks there takes many.
pub(crate) fn climb(
    asker: &mut Asker<'_>,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Found {
    let lead = |asker: &mut Asker<'_>, share: u64, effort: &mut Effort, goes_by_calendar| {
        let budget = part(budget, share.div_ceil(LEAD));
        let to = (Goal::Broken, goes_by_calendar);
        match by_lead(asker, to, &budget, effort, replays) {
            Exact::Path(path) => Some(Found::Path(path)),
            Exact::Nothing { whole: true } => Some(Found::Proved),
            _ => None,
        }
    };
    if loosely(asker, budget, effort) {
        return Found::Proved;
    }
    if !asker.is_plain()
        && let Some(found) = lead(asker, TURNS[0], effort, false)
    {
        return found;
    }
    if tightly(asker, budget, effort) {
        return Found::Proved;
    }
    let mut why = None;
    for share in TURNS {
        if share < TURNS[0]
            && let Some(found) = lead(asker, share, effort, true)
        {
            return found;
        }
        let budget = part(budget, share);
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

/// Looks for the cheapest path of the over-approximation, and then for a run that has no other
/// stimuli than it has: the path counts when it replays. Where the over-approximation has none,
/// there is none. Unless `goes_by_calendar`, a path that hangs on entries of a calendar, which come
/// whenever they like there, is not followed.
fn by_lead(
    asker: &mut Asker<'_>,
    (goal, goes_by_calendar): (Goal, bool),
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Exact {
    asker.aim = Aim::Lead;
    asker.loose_calendars = asker.has_calendars();
    let sought = cheapest(asker, (Rigor::Over, goal), budget, effort, How::Inclusion);
    asker.aim = Aim::Straight;
    if let Ok((model, found)) = &sought
        && found.outcome == Outcome::Complete
        && !is_miscounted(asker, model)
    {
        return Exact::Nothing { whole: true };
    }
    asker.loose_calendars = false;
    let (model, places) = match sought {
        Ok((model, found)) => match found.outcome {
            Outcome::Bad(Some(places)) => (model, places),
            _ => return Exact::Nothing { whole: false },
        },
        Err(why) => return Exact::Beyond(why),
    };
    let Some(lead) = model.lead(&places) else {
        return Exact::Beyond("a path could not be walked again");
    };
    if lead.has_entries() && !goes_by_calendar {
        return Exact::Nothing { whole: false };
    }
    asker.aim = Aim::After(lead);
    let found = exact(asker, goal, budget, effort);
    asker.aim = Aim::Straight;
    match found {
        Exact::Path(path) if !replays(&path) => Exact::Nothing { whole: false },
        found => found,
    }
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

/// How much more of it may be spent on a lead.
const LEAD: u64 = 4;

/// The part of the budget that is spent on an example, before and after a hull is asked whether
/// there can be one: it only shows what is proved already.
const EXAMPLE: [u64; 2] = [1_000, 40];

/// Whether the widest hull proves the clause.
pub(crate) fn widely(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    loosely(asker, budget, effort) || tightly(asker, budget, effort)
}

/// Whether the widest hull proves it whenever the entries of calendars fall due.
fn loosely(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    asker.loose_calendars = asker.has_calendars();
    let is_proved = by_hull(asker, budget, effort);
    asker.loose_calendars &= is_proved;
    is_proved
}

/// The same, with the entries of calendars at their times: no other hull where there are none.
fn tightly(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    asker.has_calendars() && by_hull(asker, budget, effort)
}

fn by_hull(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    let wide = (Mode::Hull { widens: true }, Goal::Broken);
    // A hull may hold what no run meets; what is truly beyond shows again below.
    let hull = over(asker, wide, budget, effort, How::Hull);
    matches!(hull, Ok(Outcome::Complete))
}

/// Whether a search class by class, that looks for no path, proves the clause.
pub(crate) fn by_class(asker: &mut Asker<'_>, budget: &Budget<'_>, effort: &mut Effort) -> bool {
    let asked = (Mode::Inclusion, Goal::Broken);
    let found = over(asker, asked, budget, effort, How::Inclusion);
    matches!(found, Ok(Outcome::Complete))
}

/// Looks for a run that puts the clause to the test and holds: first for one in which nothing goes
/// wrong.
pub(crate) fn example(
    asker: &mut Asker<'_>,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Exact {
    let before = *effort;
    let mut found = Exact::Nothing { whole: false };
    if !asker.is_plain() {
        let plain = asker.terms.plain();
        found = exercised(&mut asker.with(&plain), budget, effort, replays);
    }
    if !matches!(found, Exact::Path(_)) {
        found = exercised(asker, budget, effort, replays);
    }
    // An example is no part of the answer.
    (effort.how, effort.classes) = (before.how, before.classes);
    found
}

/// Looks for a run that puts the clause to the test and holds. Where a hull of everything that
/// can happen, and more, has none, there is none; but who acted is not told where only the frames
/// of a wall unit are followed.
fn exercised(
    asker: &mut Asker<'_>,
    budget: &Budget<'_>,
    effort: &mut Effort,
    replays: &dyn Fn(&Path) -> bool,
) -> Exact {
    let formula = &asker.slice.plan.clauses[0].formula;
    let asks_who = formula
        .events()
        .any(|event| matches!(event, Event::Acted(_)));
    let wide = (Mode::Hull { widens: true }, Goal::Exercised);
    let [soon, late] = EXAMPLE.map(|share| part(budget, share));
    if !asker.is_plain() {
        let found = by_lead(asker, (Goal::Exercised, true), &soon, effort, replays);
        if matches!(found, Exact::Path(_)) {
            return found;
        }
    }
    let found = exact(asker, Goal::Exercised, &soon, effort);
    if matches!(found, Exact::Path(_) | Exact::Nothing { whole: true }) {
        return found;
    }
    let hull = (!asks_who).then(|| over(asker, wide, budget, effort, How::Hull));
    match hull {
        Some(Ok(Outcome::Complete)) => Exact::Nothing { whole: true },
        _ => exact(asker, Goal::Exercised, &late, effort),
    }
}

/// Whether an over-approximation may have had fewer moves than the clause counts.
fn is_miscounted(asker: &Asker<'_>, model: &Model) -> bool {
    asker.sight().counts_moves && model.has_looked_at_levels()
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
                if is_miscounted(asker, &model) {
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
    let (model, explored) = match cheapest(asker, (Rigor::Exact, goal), budget, effort, How::Exact)
    {
        Ok(found) => found,
        Err(why) => return Exact::Beyond(why),
    };
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
                && asker.aim == Aim::Straight
                && asker.slice.ghosts.is_empty()
                && !asker.slice.ignores_sheds,
        },
    }
}

/// Looks for the path with the fewest stimuli.
fn cheapest(
    asker: &mut Asker<'_>,
    (rigor, goal): (Rigor, Goal),
    budget: &Budget<'_>,
    effort: &mut Effort,
    how: How,
) -> Result<(Model, Exploration<State>), &'static str> {
    let search = Search {
        mode: Mode::Inclusion,
        order: Order::Cheapest,
        keeps_paths: true,
        goes_on: false,
    };
    loop {
        let mut model = Model::new(asker.question(rigor, goal));
        model.keep_places();
        match explore(&model, search, budget) {
            Ok(explored) => {
                note(effort, how, &explored);
                return Ok((model, explored));
            }
            Err(Halt::Heeded(source)) => asker.free_reports.push(source),
            Err(Halt::Beyond(why)) => return Err(why),
        }
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
