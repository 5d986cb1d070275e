//! The tightest bound of a clause that is proved.
//!
//! Invariant: the bound that is told was proved by itself, and one millisecond tighter was asked
//! and not proved; the sense of the span only says which way to look.

use clause::{BoundPlace, Formula, Sense};
use device::Span;
use prover::model::Goal;
use prover::slice::Slice;
use scenario::room_file::RoomFile;

use crate::answer::{Effort, Tightest};
use crate::ask::{Asker, Terms};
use crate::ladder::{self, Budget, Exact};
use crate::prove::with_assumptions;
use crate::replay;

/// A first proof that took more steps than this is not done two dozen times more.
const LONGEST_FIRST: u64 = 300_000;
/// How many proofs of the size of the first one may be spent.
const PROOFS: u64 = 25;
/// What a proof counts for at least: the smallest differ by more than their own size.
const LEAST_SIZE: u64 = 2_000;
/// What the search for a run that breaks the next tighter bound may take at least.
const LEAST_SEARCH: u64 = 50_000;
/// A bound beyond this is none: no room is watched longer.
const LONGEST: Span = Span::from_minutes(60 * 24 * 14);

/// What came of looking for the tightest bound.
#[derive(Debug)]
pub(crate) enum Found {
    /// The clause names no span that could be tighter.
    NoSpan,
    /// The tightest bound.
    Bound(Tightest),
    /// There is none, or it was not looked for: why.
    None(&'static str),
}

const SPENT: &str = "not found in two dozen proofs of the size of the first";

/// How closely a span is looked at.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Rung {
    /// By the widest hull.
    Hull,
    /// By classes too, where the hull does not prove it.
    Classes,
}

/// A clause of a room, asked with one span after the other.
pub(crate) struct Prober<'a> {
    pub(crate) room: &'a RoomFile,
    pub(crate) terms: &'a Terms,
    pub(crate) clause: u16,
    pub(crate) budget: Budget<'a>,
    /// What is left to spend.
    left: u64,
    /// What one proof may take.
    each: u64,
}

impl<'a> Prober<'a> {
    /// A prober that may spend some proofs of this size.
    pub(crate) fn new(
        (room, terms, clause): (&'a RoomFile, &'a Terms, u16),
        budget: Budget<'a>,
        first: u64,
    ) -> Self {
        let size = first.max(LEAST_SIZE);
        Self {
            room,
            terms,
            clause,
            budget,
            left: size * PROOFS,
            each: size * 4,
        }
    }

    /// The tightest bound of the clause, which is proved and whose proof took `first` steps.
    pub(crate) fn tightest(mut self, first: u64) -> Found {
        let formula = &self.room.plan.clauses[usize::from(self.clause)].formula;
        let Some(index) = formula.asked() else {
            return Found::NoSpan;
        };
        if first > LONGEST_FIRST {
            return Found::None("not looked for: the first proof was too long to repeat");
        }
        let bound = formula.spans()[index];
        let with = |span| formula.with_span(index, span);
        let ends = match bound.sense {
            Sense::From => self.below(bound.span, &with),
            Sense::UpTo => self.above(bound.span, &with),
        };
        let (holds, fails) = match ends {
            Ok(ends) => ends,
            Err(why) => return Found::None(why),
        };
        let found = self.between((holds, fails), &with, Rung::Hull);
        let found = found.and_then(|found| self.closer(found, fails, &with));
        match found {
            Some((holds, fails)) => Found::Bound(Tightest {
                asked: bound.span,
                holds,
                longer: bound.sense == Sense::From,
                sharp: with(fails).is_some_and(|formula| self.breaks(&formula)),
                follows: bound.place != BoundPlace::Trigger,
            }),
            None => Found::None(SPENT),
        }
    }

    /// The bound of the hull, or the one of the classes where they prove a tighter one.
    fn closer(
        &mut self,
        (holds, fails): (Span, Span),
        last: Span,
        with: &With<'_>,
    ) -> Option<(Span, Span)> {
        if fails == last || !self.proves(with(fails), Rung::Classes)? {
            return Some((holds, fails));
        }
        self.between((fails, last), with, Rung::Classes)
    }

    /// A span that holds, and a shorter one that does not.
    fn below(&mut self, asked: Span, with: &With<'_>) -> Result<(Span, Span), &'static str> {
        let least = Span::from_ms(1);
        match self.proves(with(least), Rung::Classes) {
            Some(false) if least < asked => Ok((asked, least)),
            Some(false) => Err("a millisecond is the shortest span"),
            Some(true) => Err("it holds for a span of any length"),
            None => Err(SPENT),
        }
    }

    /// A span that holds, and a longer one that does not.
    fn above(&mut self, asked: Span, with: &With<'_>) -> Result<(Span, Span), &'static str> {
        let mut holds = asked;
        while holds < LONGEST {
            let longer = Span::from_ms((holds.as_ms() * 2).max(1));
            match self.proves(with(longer), Rung::Classes) {
                Some(false) => return Ok((holds, longer)),
                Some(true) => holds = longer,
                None => return Err(SPENT),
            }
        }
        Err("it holds for a span of any length up to a fortnight and more")
    }

    /// A span that holds and one that does not, a millisecond apart.
    fn between(
        &mut self,
        (mut holds, mut fails): (Span, Span),
        with: &With<'_>,
        rung: Rung,
    ) -> Option<(Span, Span)> {
        while holds.as_ms().abs_diff(fails.as_ms()) > 1 {
            let middle = holds.as_ms().midpoint(fails.as_ms());
            let middle = Span::from_ms(middle);
            match self.proves(with(middle), rung)? {
                true => holds = middle,
                false => fails = middle,
            }
        }
        Some((holds, fails))
    }

    /// Whether cheap searches prove the clause so; `None` when nothing is left to spend.
    fn proves(&mut self, formula: Option<Formula>, rung: Rung) -> Option<bool> {
        let Some(formula) = formula else {
            return Some(false);
        };
        if self.left == 0 || self.budget.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return None;
        }
        let (plan, clauses) = with_assumptions(self.room, self.terms, self.clause, &formula);
        let slice = Slice::of(&plan, &clauses);
        let mut asker = Asker::new(self.room, &slice, self.terms);
        let mut effort = Effort::default();
        let brief = self.brief();
        let proved = ladder::widely(&mut asker, &brief, &mut effort)
            || (rung == Rung::Classes && ladder::by_class(&mut asker, &brief, &mut effort));
        self.left = self.left.saturating_sub(effort.transitions.max(1));
        Some(proved)
    }

    /// Whether a run breaks the clause so.
    fn breaks(&mut self, formula: &Formula) -> bool {
        let (plan, clauses) = with_assumptions(self.room, self.terms, self.clause, formula);
        let slice = Slice::of(&plan, &clauses);
        let mut asker = Asker::new(self.room, &slice, self.terms);
        let effort = &mut Effort::default();
        let mut budget = self.budget;
        let most = (self.each / 4 * PROOFS).max(LEAST_SEARCH);
        budget.limits.transitions = most.min(budget.limits.transitions);
        match ladder::exact(&mut asker, Goal::Broken, &budget, effort) {
            Exact::Path(path) => {
                let mut room = self.room.clone();
                room.plan.clauses[usize::from(self.clause)].formula = formula.clone();
                let wanted = clause::Verdict::Broken;
                replay::refine(&room, &slice, self.terms, self.clause, &path, wanted).is_ok()
            }
            _ => false,
        }
    }

    fn brief(&self) -> Budget<'a> {
        let mut brief = self.budget;
        brief.limits.transitions = self.each.min(brief.limits.transitions);
        brief
    }
}

/// The clause with another span; nothing when it does not fit into a monitor.
type With<'a> = dyn Fn(Span) -> Option<Formula> + 'a;
