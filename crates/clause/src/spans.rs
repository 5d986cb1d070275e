//! The spans in a clause, and the one that is its bound.
//!
//! Invariant: the spans of a clause are counted in one fixed order, whatever their lengths.

use alloc::vec::Vec;

use device::Span;

use crate::Formula;
use crate::compile::compile;
use crate::expr::{Clause, Expr, Form};

/// A span that stands in a clause.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Bound {
    /// What the span is.
    pub kind: BoundKind,
    /// Where it stands.
    pub place: BoundPlace,
    /// How long it is.
    pub span: Span,
    /// On which side of its tightest value the clause holds.
    pub sense: Sense,
}

/// What a span in a clause is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum BoundKind {
    /// `then Q within D`.
    Within,
    /// `then Q for D`.
    For,
    /// The reaction that the clause names itself.
    Reaction,
    /// `P for D`.
    Lasts,
    /// `no E for D`.
    Quiet,
    /// `E2 within D of E1`.
    Follows,
    /// `more than N E within D`.
    AtMost,
    /// `X does not change for D`.
    Steady,
}

/// Where a span stands.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum BoundPlace {
    /// In what is asked for or forbidden, `then` included.
    Asked,
    /// In what puts the clause to the test: under `when`, or before `only after`.
    Trigger,
    /// After `only after`.
    After,
    /// Under `until`.
    Until,
    /// Under `while`.
    While,
    /// Under `unless`.
    Unless,
}

/// What a longer span does to a clause.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Sense {
    /// It makes the clause weaker: the clause holds from its tightest value on.
    From,
    /// It makes the clause stronger: the clause holds up to its tightest value.
    UpTo,
}

impl Sense {
    const fn reversed(self) -> Self {
        match self {
            Self::From => Self::UpTo,
            Self::UpTo => Self::From,
        }
    }
}

impl Formula {
    /// Every span of the clause; the place in this list is the index that [`Self::with_span`]
    /// and [`Self::asked`] mean.
    ///
    /// The sense of a span follows from where it stands: `P for D` and `no E for D` are true
    /// less often the longer D is, `E2 within D of E1` more often. Under `when` a condition
    /// stands for its becoming true, and a longer span then moves the trigger later instead of
    /// taking it away; the sense given is that of a response that has come before the later
    /// trigger and stays.
    #[must_use]
    pub fn spans(&self) -> Vec<Bound> {
        let mut clause = self.clause().clone();
        let mut found = Vec::new();
        visit(&mut clause, &mut |bound, _| found.push(bound));
        found
    }

    /// The clause with another length for the span of this index; `None` when there is no such
    /// span, or when two spans that were one become two and no longer fit into one monitor.
    ///
    /// The limits that the language sets (a `for` longer than the reaction) are the caller's.
    #[must_use]
    pub fn with_span(&self, index: usize, span: Span) -> Option<Self> {
        let mut clause = self.clause().clone();
        let (mut at, mut found) = (0, false);
        visit(&mut clause, &mut |_, held| {
            if at == index {
                *held = span;
                found = true;
            }
            at += 1;
        });
        if !found {
            return None;
        }
        let compiled = compile(&clause, self.reaction())?;
        Some(Self::from_parts(clause, self.reaction(), compiled))
    }

    /// The index of the span that is the bound of the clause: what the clause is about, and
    /// what its tightest value is asked of.
    ///
    /// `within` before `for` after `then`; else the first `P for D` or `no E for D` of the
    /// trigger; else the first of the other spans but the reaction, what is asked for before
    /// scopes and releases.
    #[must_use]
    pub fn asked(&self) -> Option<usize> {
        let spans = self.spans();
        let rank = |bound: &Bound| match (bound.kind, bound.place) {
            (BoundKind::Within, _) => Some(0),
            (BoundKind::For, _) => Some(1),
            (BoundKind::Lasts | BoundKind::Quiet, BoundPlace::Trigger) => Some(2),
            (BoundKind::Reaction, _) => None,
            (_, BoundPlace::Asked | BoundPlace::After | BoundPlace::Trigger) => Some(3),
            (_, BoundPlace::Until | BoundPlace::While | BoundPlace::Unless) => Some(4),
        };
        let ranked = spans.iter().enumerate();
        let ranked = ranked.filter_map(|(index, bound)| Some((rank(bound)?, index)));
        ranked.min().map(|(_, index)| index)
    }
}

/// Calls `found` for each span of a clause.
fn visit(clause: &mut Clause, found: &mut impl FnMut(Bound, &mut Span)) {
    use BoundKind as Kind;
    use BoundPlace as Place;
    use Sense::{From, UpTo};
    match &mut clause.form {
        Form::Always(good) => inside(good, Place::Asked, UpTo, found),
        Form::Never(bad) => inside(bad, Place::Asked, From, found),
        Form::NeverAffects(..) | Form::OnlyBy(..) => {}
        Form::AtMost(_, event, span) => {
            inside(event, Place::Asked, From, found);
            tell(Kind::AtMost, Place::Asked, UpTo, span, found);
        }
        Form::OnlyAfter(event, before) => {
            inside(event, Place::Trigger, From, found);
            inside(before, Place::After, UpTo, found);
        }
        Form::Steady(_, _, span) => tell(Kind::Steady, Place::Asked, UpTo, span, found),
        Form::When(when) => {
            inside(&mut when.trigger, Place::Trigger, From, found);
            inside(&mut when.then, Place::Asked, UpTo, found);
            if let Some(span) = &mut when.within {
                tell(Kind::Within, Place::Asked, From, span, found);
            }
            if let Some(span) = &mut when.lasting {
                tell(Kind::For, Place::Asked, UpTo, span, found);
            }
            if let Some(until) = &mut when.until {
                inside(until, Place::Until, UpTo, found);
            }
        }
    }
    if let Some(during) = &mut clause.during {
        inside(during, Place::While, From, found);
    }
    if let Some(unless) = &mut clause.unless {
        inside(unless, Place::Unless, UpTo, found);
    }
    if let Some(reaction) = &mut clause.reaction {
        tell(Kind::Reaction, Place::Asked, From, reaction, found);
    }
}

/// Calls `found` for each span of an expression; `sense` is that of a span which makes the
/// expression true less often.
fn inside(
    expr: &mut Expr,
    place: BoundPlace,
    sense: Sense,
    found: &mut impl FnMut(Bound, &mut Span),
) {
    match expr {
        Expr::Atom(_) | Expr::Event(_) => {}
        Expr::Not(inner) => inside(inner, place, sense.reversed(), found),
        Expr::Becomes(inner) => inside(inner, place, sense, found),
        Expr::And(parts) | Expr::Or(parts) => {
            for part in parts {
                inside(part, place, sense, found);
            }
        }
        Expr::Lasts(inner, span) => {
            tell(BoundKind::Lasts, place, sense, span, found);
            inside(inner, place, sense, found);
        }
        Expr::Quiet(event, span) => {
            tell(BoundKind::Quiet, place, sense, span, found);
            inside(event, place, sense.reversed(), found);
        }
        Expr::Follows(later, span, earlier) => {
            inside(later, place, sense, found);
            tell(BoundKind::Follows, place, sense.reversed(), span, found);
            inside(earlier, place, sense, found);
        }
    }
}

fn tell(
    kind: BoundKind,
    place: BoundPlace,
    sense: Sense,
    span: &mut Span,
    found: &mut impl FnMut(Bound, &mut Span),
) {
    let bound = Bound {
        kind,
        place,
        span: *span,
        sense,
    };
    found(bound, span);
}

#[cfg(test)]
mod tests;
