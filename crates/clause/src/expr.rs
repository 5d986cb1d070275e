//! What a clause says, as a tree: expressions and the form around them.
//!
//! Invariant: built through [`Expr::all`] and [`Expr::any`], a tree has no `and` directly in
//! an `and`, no `or` directly in an `or`, and neither with a single operand. So writing a tree
//! out and reading it back gives the same tree.

use alloc::boxed::Box;
use alloc::vec::Vec;

use device::Span;

use crate::{Atom, Change, Doer, Event};

/// A condition, an event, or a mixture.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) enum Expr {
    /// A condition of the room.
    Atom(Atom),
    /// An event of the room.
    Event(Event),
    /// The condition does not hold.
    Not(Box<Expr>),
    /// All of these.
    And(Vec<Expr>),
    /// At least one of these.
    Or(Vec<Expr>),
    /// The condition has held for this long (`P for D`).
    Lasts(Box<Expr>, Span),
    /// The event has not happened for this long (`no E for D`).
    Quiet(Box<Expr>, Span),
    /// The event, at most this long after the other (`E2 within D of E1`).
    Follows(Box<Expr>, Span, Box<Expr>),
    /// The condition becomes true.
    Becomes(Box<Expr>),
}

/// Whether an expression is true for a while or only at instants.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Kind {
    /// True for a while.
    Condition,
    /// True only at the instants at which something happens.
    Event,
    /// A condition or an event (`E or P`).
    Mixed,
}

/// A clause: its form and the scope in which it is judged.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) struct Clause {
    /// What is asked for.
    pub(crate) form: Form,
    /// Judged only while this holds.
    pub(crate) during: Option<Expr>,
    /// Excused when this is so.
    pub(crate) unless: Option<Expr>,
    /// The reaction that the clause names itself.
    pub(crate) reaction: Option<Span>,
}

/// The forms of a clause.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) enum Form {
    /// `always P`.
    Always(Expr),
    /// `never P`.
    Never(Expr),
    /// `never more than N E within D`.
    AtMost(u8, Expr, Span),
    /// `S never affects X`.
    NeverAffects(Vec<Doer>, Vec<u16>),
    /// `only S1, S2 change X`.
    OnlyBy(Vec<Doer>, Change, Vec<u16>),
    /// `E only after P for D`.
    OnlyAfter(Expr, Expr),
    /// `X does not change for D`: after each such change no other for this long.
    Steady(Change, Vec<u16>, Span),
    /// `when T then Q …`.
    When(Box<When>),
}

/// The parts of `when T then Q within D / for D / until R`.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) struct When {
    /// T.
    pub(crate) trigger: Expr,
    /// Q.
    pub(crate) then: Expr,
    /// The deadline by which Q is met.
    pub(crate) within: Option<Span>,
    /// How long Q stays.
    pub(crate) lasting: Option<Span>,
    /// What releases Q.
    pub(crate) until: Option<Expr>,
}

impl Expr {
    /// All of `parts`, flat.
    pub(crate) fn all(parts: Vec<Self>) -> Self {
        let mut flat = Vec::new();
        for part in parts {
            match part {
                Self::And(inner) => flat.extend(inner),
                other => flat.push(other),
            }
        }
        match flat.pop() {
            Some(only) if flat.is_empty() => only,
            Some(last) => {
                flat.push(last);
                Self::And(flat)
            }
            None => Self::And(flat),
        }
    }

    /// At least one of `parts`, flat.
    pub(crate) fn any(parts: Vec<Self>) -> Self {
        let mut flat = Vec::new();
        for part in parts {
            match part {
                Self::Or(inner) => flat.extend(inner),
                other => flat.push(other),
            }
        }
        match flat.pop() {
            Some(only) if flat.is_empty() => only,
            Some(last) => {
                flat.push(last);
                Self::Or(flat)
            }
            None => Self::Or(flat),
        }
    }

    /// The opposite of a condition.
    pub(crate) fn negated(self) -> Self {
        match self {
            Self::Not(inner) => *inner,
            other => Self::Not(Box::new(other)),
        }
    }

    /// Whether this is true for a while or only at instants.
    pub(crate) fn kind(&self) -> Kind {
        match self {
            Self::Atom(_) | Self::Not(_) | Self::Lasts(..) | Self::Quiet(..) => Kind::Condition,
            Self::Event(_) | Self::Follows(..) | Self::Becomes(_) => Kind::Event,
            Self::And(parts) => {
                if parts.iter().any(|part| part.kind() == Kind::Event) {
                    Kind::Event
                } else if parts.iter().any(|part| part.kind() == Kind::Mixed) {
                    Kind::Mixed
                } else {
                    Kind::Condition
                }
            }
            Self::Or(parts) => {
                if parts.iter().all(|part| part.kind() == Kind::Event) {
                    Kind::Event
                } else if parts.iter().all(|part| part.kind() == Kind::Condition) {
                    Kind::Condition
                } else {
                    Kind::Mixed
                }
            }
        }
    }

    /// This expression as a trigger: a condition stands for its becoming true, and so do all
    /// conditions in an `or` with events together.
    pub(crate) fn as_trigger(&self) -> Self {
        match (self.kind(), self) {
            (Kind::Event, _) => self.clone(),
            (Kind::Mixed, Self::Or(parts)) => {
                let lasts = |part: &Self| part.kind() == Kind::Condition;
                let (lasting, others): (Vec<_>, Vec<_>) = parts.iter().cloned().partition(lasts);
                let mut triggers: Vec<Self> = others.iter().map(Self::as_trigger).collect();
                if !lasting.is_empty() {
                    triggers.push(Self::any(lasting).as_trigger());
                }
                Self::any(triggers)
            }
            (Kind::Mixed, Self::And(parts)) => {
                let sharpened = |part: &Self| match part.kind() {
                    Kind::Mixed => part.as_trigger(),
                    _ => part.clone(),
                };
                Self::all(parts.iter().map(sharpened).collect())
            }
            _ => Self::Becomes(Box::new(self.clone())),
        }
    }

    /// Calls `visit` on this expression and on everything in it, outside in.
    pub(crate) fn walk<'a>(&'a self, visit: &mut impl FnMut(&'a Self)) {
        visit(self);
        match self {
            Self::Atom(_) | Self::Event(_) => {}
            Self::Not(inner)
            | Self::Lasts(inner, _)
            | Self::Quiet(inner, _)
            | Self::Becomes(inner) => inner.walk(visit),
            Self::And(parts) | Self::Or(parts) => {
                for part in parts {
                    part.walk(visit);
                }
            }
            Self::Follows(later, _, earlier) => {
                later.walk(visit);
                earlier.walk(visit);
            }
        }
    }
}
