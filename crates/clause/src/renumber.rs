//! The same clause over other numbers: for a part of a room, or for a room with two of its
//! sources exchanged.

use alloc::collections::BTreeMap;
use alloc::vec::Vec;

use crate::compile::compile;
use crate::expr::{Clause, Expr, Form};
use crate::node::Node;
use crate::{Atom, By, Doer, Event, Formula};

impl Formula {
    /// The clause with new numbers: the number in the place of each old one. `None` when the
    /// clause speaks of something that has no new number.
    ///
    /// Different numbers must stay different; then a monitor of the new clause keeps the same
    /// bits and timers.
    #[must_use]
    pub fn renumbered(&self, sources: &[Option<u16>], outputs: &[Option<u16>]) -> Option<Self> {
        let mut numbers = Numbers {
            sources,
            outputs,
            missing: false,
        };
        let mut clause = self.clause().clone();
        numbers.clause(&mut clause);
        if numbers.missing {
            return None;
        }
        let compiled = compile(&clause, self.reaction())?;
        Some(Self::from_parts(clause, self.reaction(), compiled))
    }

    /// Whether the clause is the same with these two sources exchanged, and no memory of its
    /// monitor tells them apart: then a room in which they are exchanged is judged alike by a
    /// monitor in the same state. What was exercised is not looked at.
    #[must_use]
    pub fn treats_alike(&self, one: u16, other: u16) -> bool {
        let all = 0..=self
            .mentions()
            .sources()
            .last()
            .copied()
            .unwrap_or(0)
            .max(one)
            .max(other);
        let exchanged: Vec<Option<u16>> = all
            .map(|source| match source {
                source if source == one => Some(other),
                source if source == other => Some(one),
                source => Some(source),
            })
            .collect();
        let outputs: Vec<Option<u16>> = self
            .mentions()
            .outputs()
            .last()
            .map_or(Vec::new(), |most| (0..=*most).map(Some).collect());
        let Some(exchanged) = self.renumbered(&exchanged, &outputs) else {
            return false;
        };
        let mut terms = BTreeMap::new();
        let (was, is) = (self.terms(&mut terms), exchanged.terms(&mut terms));
        let (before, after) = (self.compiled(), exchanged.compiled());
        let of = |terms: &[usize], id: Option<u8>| id.map(|id| terms[usize::from(id)]);
        let waiting = |node: &Node| {
            !matches!(
                node,
                Node::Atom(_) | Node::Event(_) | Node::Not(_) | Node::And(_) | Node::Or(_)
            )
        };
        before.nodes.len() == after.nodes.len()
            && (before.nodes.iter().enumerate())
                .all(|(at, node)| !waiting(node) || was[at] == is[at])
            && (before.lapses.iter().zip(&after.lapses))
                .all(|(one, two)| of(&was, Some(one.bad)) == of(&is, Some(two.bad)))
            && of(&was, before.trigger) == of(&is, after.trigger)
            && of(&was, before.duty) == of(&is, after.duty)
    }

    /// A number for the meaning of each node; the order of operands does not count.
    fn terms(&self, known: &mut BTreeMap<Term, usize>) -> Vec<usize> {
        let mut terms: Vec<usize> = Vec::new();
        for node in &self.compiled().nodes {
            let several = |ids: &[u8]| {
                let mut parts: Vec<usize> = ids.iter().map(|id| terms[usize::from(*id)]).collect();
                parts.sort_unstable();
                parts
            };
            let one = |id: &u8| alloc::vec![terms[usize::from(*id)]];
            let term = match node {
                Node::Atom(atom) => Term::Atom(*atom),
                Node::Event(event) => Term::Event(sorted(event)),
                Node::Not(id) => Term::Made(0, one(id), 0, 0),
                Node::And(ids) => Term::Made(1, several(ids), 0, 0),
                Node::Or(ids) => Term::Made(2, several(ids), 0, 0),
                Node::Lasts(id, timed) => {
                    Term::Made(3, one(id), timed.span.as_ms(), timed.memory.bit)
                }
                Node::Lasted(id, timed) => {
                    Term::Made(4, one(id), timed.span.as_ms(), timed.memory.bit)
                }
                Node::Quiet(id, timed) => {
                    Term::Made(5, one(id), timed.span.as_ms(), timed.memory.bit)
                }
                Node::Before(id, timed) => {
                    Term::Made(6, one(id), timed.span.as_ms(), timed.memory.bit)
                }
                Node::Becomes(id, bit) => Term::Made(7, one(id), 0, *bit),
                Node::Latch(set, clear, span, memory) => {
                    let mut parts = one(set);
                    parts.extend(clear.iter().flat_map(one));
                    Term::Made(8, parts, span.map_or(0, device::Span::as_ms), memory.bit)
                }
                Node::Count(id, _, timed) => {
                    Term::Made(9, one(id), timed.span.as_ms(), timed.memory.bit)
                }
            };
            let next = known.len();
            terms.push(*known.entry(term).or_insert(next));
        }
        terms
    }
}

/// What a node means: a leaf, or its kind, operands, span and first memory bit.
#[derive(Clone, Debug, Eq, Ord, PartialEq, PartialOrd)]
enum Term {
    Atom(Atom),
    Event(Event),
    Made(u8, Vec<usize>, u64, u8),
}

/// An event whose doers stand in order.
fn sorted(event: &Event) -> Event {
    let mut event = event.clone();
    if let Event::Output(_, _, By::NoneOf(doers)) = &mut event {
        doers.sort_unstable();
    }
    event
}

/// The new numbers, by the old ones.
struct Numbers<'a> {
    sources: &'a [Option<u16>],
    outputs: &'a [Option<u16>],
    missing: bool,
}

impl Numbers<'_> {
    fn clause(&mut self, clause: &mut Clause) {
        match &mut clause.form {
            Form::Always(expr) | Form::Never(expr) | Form::AtMost(_, expr, _) => self.expr(expr),
            Form::NeverAffects(doers, outputs) | Form::OnlyBy(doers, _, outputs) => {
                doers.iter_mut().for_each(|doer| self.doer(doer));
                outputs.iter_mut().for_each(|output| self.output(output));
            }
            Form::OnlyAfter(event, before) => {
                self.expr(event);
                self.expr(before);
            }
            Form::Steady(_, outputs, _) => {
                outputs.iter_mut().for_each(|output| self.output(output));
            }
            Form::When(when) => {
                self.expr(&mut when.trigger);
                self.expr(&mut when.then);
                when.until.iter_mut().for_each(|until| self.expr(until));
            }
        }
        for scope in [&mut clause.during, &mut clause.unless]
            .into_iter()
            .flatten()
        {
            self.expr(scope);
        }
    }

    fn expr(&mut self, expr: &mut Expr) {
        match expr {
            Expr::Atom(Atom::Output(output, _) | Atom::Level(output, ..)) => self.output(output),
            Expr::Atom(
                Atom::Source(source, _)
                | Atom::Illuminance(source, _)
                | Atom::ButtonDown(source, _),
            ) => self.source(source),
            Expr::Event(event) => self.event(event),
            Expr::Not(inner)
            | Expr::Lasts(inner, _)
            | Expr::Quiet(inner, _)
            | Expr::Becomes(inner) => self.expr(inner),
            Expr::And(parts) | Expr::Or(parts) => {
                parts.iter_mut().for_each(|part| self.expr(part));
            }
            Expr::Follows(later, _, earlier) => {
                self.expr(later);
                self.expr(earlier);
            }
        }
    }

    fn event(&mut self, event: &mut Event) {
        match event {
            Event::Source(source, _) | Event::Button(source, ..) => self.source(source),
            Event::Output(output, _, by) => {
                self.output(output);
                match by {
                    By::Anyone => {}
                    By::Only(doer) => self.doer(doer),
                    By::NoneOf(doers) => doers.iter_mut().for_each(|doer| self.doer(doer)),
                }
            }
            Event::Acted(doer) => self.doer(doer),
        }
    }

    fn doer(&mut self, doer: &mut Doer) {
        match doer {
            Doer::Source(source) | Doer::Channel(source, _) | Doer::Button(source, _) => {
                self.source(source);
            }
            Doer::Power | Doer::Daylight | Doer::Site | Doer::Start => {}
        }
    }

    fn source(&mut self, source: &mut u16) {
        Self::number(self.sources, source, &mut self.missing);
    }

    fn output(&mut self, output: &mut u16) {
        Self::number(self.outputs, output, &mut self.missing);
    }

    fn number(numbers: &[Option<u16>], number: &mut u16, missing: &mut bool) {
        match numbers.get(usize::from(*number)).copied().flatten() {
            Some(new) => *number = new,
            None => *missing = true,
        }
    }
}
