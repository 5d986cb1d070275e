//! From the tree of a clause to the nodes that judge it.

use alloc::vec::Vec;

use device::Span;

use crate::expr::{Clause, Expr, Form, Kind, When};
use crate::node::{Id, Memory, Node, Timed};
use crate::{Atom, By, Change, Doer, Event};

/// What judges a clause.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub(crate) struct Compiled {
    /// The nodes, operands first.
    pub(crate) nodes: Vec<Node>,
    /// What must not last longer than its allowance.
    pub(crate) lapses: Vec<Lapse>,
    /// True at the instants at which the clause is put to the test.
    pub(crate) trigger: Option<Id>,
    /// True while something asked for is owed.
    pub(crate) duty: Option<Id>,
    /// Whether a duty that has not ended at the end of the run leaves the clause open.
    pub(crate) open_while_owed: bool,
    /// What must have been true once for the clause to count as exercised.
    pub(crate) operands: Vec<Id>,
    /// How many timers there are.
    pub(crate) timers: u8,
}

/// What must not last longer than its allowance.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(crate) struct Lapse {
    /// What is wrong while it is true.
    pub(crate) bad: Id,
    /// How long it may be true.
    pub(crate) allowance: Span,
    /// Its timer and memory bit.
    pub(crate) memory: Memory,
}

impl Clause {
    /// The allowance for a condition that the clause asks for after a trigger: its own
    /// reaction, else the room's when the condition speaks of an output.
    pub(crate) fn allowance(&self, asked: &Expr, reaction: Span) -> Span {
        let room = if speaks(asked).outputs {
            reaction
        } else {
            Span::ZERO
        };
        self.reaction.unwrap_or(room)
    }

    /// The allowance for a condition that must never be true: its own reaction, else the
    /// room's when the condition ties an output to a source or to a span.
    pub(crate) fn lasting_allowance(&self, bad: &Expr, reaction: Span) -> Span {
        if bad.kind() != Kind::Condition {
            return Span::ZERO;
        }
        let spoken = speaks(bad);
        let room = if spoken.outputs && spoken.others {
            reaction
        } else {
            Span::ZERO
        };
        self.reaction.unwrap_or(room)
    }
}

/// Makes the nodes of a clause; `None` when it needs more than a monitor has.
pub(crate) fn compile(clause: &Clause, reaction: Span) -> Option<Compiled> {
    let mut builder = Builder::default();
    builder.form(clause, reaction)?;
    Some(builder.done)
}

/// Nodes under construction.
#[derive(Debug, Default)]
struct Builder {
    done: Compiled,
    bits: u8,
}

impl Builder {
    fn form(&mut self, clause: &Clause, reaction: Span) -> Option<()> {
        let scope = self.scope(clause)?;
        match &clause.form {
            Form::Always(good) => self.never(clause, &good.clone().negated(), scope, reaction),
            Form::Never(bad) => self.never(clause, bad, scope, reaction),
            Form::NeverAffects(..) => Some(()),
            Form::AtMost(count, event, span) => {
                let event = self.expr(event)?;
                let event = self.and([Some(event), scope])?;
                let timed = self.timed(span.plus(MS), *count, *count)?;
                let bad = self.node(Node::Count(event, *count, timed))?;
                self.moment(event, bad)
            }
            Form::OnlyBy(doers, change, outputs) => {
                let by_others = By::NoneOf(doers.clone());
                let bad = self.changed(*change, outputs, &by_others)?;
                let bad = self.and([Some(bad), scope])?;
                let any = self.changed(*change, outputs, &By::Anyone)?;
                let any = self.and([Some(any), scope])?;
                self.moment(any, bad)
            }
            Form::OnlyAfter(event, before) => {
                let event = self.expr(event)?;
                let event = self.and([Some(event), scope])?;
                let before = match before {
                    Expr::Lasts(inner, span) => {
                        let inner = self.expr(inner)?;
                        let timed = self.timed(*span, 1, 2)?;
                        self.node(Node::Lasted(inner, timed))?
                    }
                    other => self.expr(other)?,
                };
                let too_early = self.not(before)?;
                let bad = self.and([Some(event), Some(too_early)])?;
                self.moment(event, bad)
            }
            Form::Steady(change, outputs, span) => {
                let event = self.changed(*change, outputs, &By::Anyone)?;
                let timed = self.timed(*span, 1, 1)?;
                let before = self.node(Node::Before(event, timed))?;
                let bad = self.and([Some(event), Some(before), scope])?;
                let event = self.and([Some(event), scope])?;
                self.moment(event, bad)
            }
            Form::When(when) => self.when(clause, when, scope, reaction),
        }
    }

    /// True while the clause is judged: `while` holds and `unless` does not.
    fn scope(&mut self, clause: &Clause) -> Option<Option<Id>> {
        let during = match &clause.during {
            Some(during) => Some(self.expr(during)?),
            None => None,
        };
        let unless = match &clause.unless {
            Some(unless) => {
                let unless = self.expr(unless)?;
                Some(self.not(unless)?)
            }
            None => None,
        };
        if during.is_none() && unless.is_none() {
            return Some(None);
        }
        self.and([during, unless]).map(Some)
    }

    /// `never P`, and `always P` by its opposite.
    fn never(
        &mut self,
        clause: &Clause,
        bad: &Expr,
        scope: Option<Id>,
        reaction: Span,
    ) -> Option<()> {
        let id = self.expr(bad)?;
        let judged = self.and([Some(id), scope])?;
        let allowance = clause.lasting_allowance(bad, reaction);
        self.lapse(judged, allowance)?;
        let parts = conjuncts(bad, true);
        let mut operands = Vec::new();
        match parts.as_slice() {
            [(only, positive)] => probes(only, *positive, &mut operands),
            several => operands = near_misses(several),
        }
        for operand in operands {
            let operand = self.expr(&operand)?;
            let operand = self.and([Some(operand), scope])?;
            self.operand(operand)?;
        }
        Some(())
    }

    /// `when T then Q …`.
    fn when(
        &mut self,
        clause: &Clause,
        when: &When,
        scope: Option<Id>,
        reaction: Span,
    ) -> Option<()> {
        let trigger = self.expr(&when.trigger.as_trigger())?;
        let asked = self.expr(&when.then)?;
        let missing = self.not(asked)?;
        let mut released = Vec::new();
        if let Some(until) = &when.until {
            released.push(self.expr(until)?);
        }
        if let Some(scope) = scope {
            released.push(self.not(scope)?);
        }
        let tested = self.and([Some(trigger), scope])?;
        self.done.trigger = Some(tested);
        self.operand(tested)?;
        let allowance = clause.allowance(&when.then, reaction);
        if when.until.is_none() && when.lasting.is_none() {
            let deadline = when.within.or(clause.reaction).unwrap_or(reaction);
            released.push(asked);
            let owed = self.latch(trigger, &released, None)?;
            self.done.duty = Some(owed);
            return self.lapse(owed, deadline);
        }
        let owed = self.latch(trigger, &released, when.lasting)?;
        self.done.duty = Some(owed);
        self.done.open_while_owed = when.lasting.is_some();
        let Some(deadline) = when.within else {
            let bad = self.and([Some(owed), Some(missing)])?;
            return self.lapse(bad, allowance);
        };
        let over = self.not(owed)?;
        let reached = self.and([Some(owed), Some(asked)])?;
        let met = self.latch(reached, &[over], None)?;
        let not_met = self.not(met)?;
        let waiting = self.and([Some(owed), Some(not_met)])?;
        self.lapse(waiting, deadline)?;
        let lost = self.and([Some(met), Some(missing)])?;
        self.lapse(lost, allowance)
    }

    /// A form that is put to the test, and answered, at single instants.
    fn moment(&mut self, tested: Id, bad: Id) -> Option<()> {
        self.done.trigger = Some(tested);
        self.operand(tested)?;
        self.lapse(bad, Span::ZERO)
    }

    /// Any of the outputs changes like this.
    fn changed(&mut self, change: Change, outputs: &[u16], by: &By) -> Option<Id> {
        let mut events = Vec::new();
        for output in outputs {
            events.push(self.node(Node::Event(Event::Output(*output, change, by.clone())))?);
        }
        self.or(events)
    }

    /// The node of an expression.
    fn expr(&mut self, expr: &Expr) -> Option<Id> {
        match expr {
            Expr::Atom(atom) => self.node(Node::Atom(*atom)),
            Expr::Event(event) => self.node(Node::Event(event.clone())),
            Expr::Not(inner) => {
                let inner = self.expr(inner)?;
                self.not(inner)
            }
            Expr::And(parts) => {
                let parts: Option<Vec<Id>> = parts.iter().map(|part| self.expr(part)).collect();
                self.node(Node::And(parts?))
            }
            Expr::Or(parts) => {
                let parts: Option<Vec<Id>> = parts.iter().map(|part| self.expr(part)).collect();
                self.or(parts?)
            }
            Expr::Lasts(inner, span) => {
                let inner = self.expr(inner)?;
                self.timed_node(*span, 2, |timed| Node::Lasts(inner, timed))
            }
            Expr::Quiet(event, span) => {
                let event = self.expr(event)?;
                self.timed_node(*span, 1, |timed| Node::Quiet(event, timed))
            }
            Expr::Follows(later, span, earlier) => {
                let later = self.expr(&later.as_trigger())?;
                let earlier = self.expr(&earlier.as_trigger())?;
                let quiet =
                    self.timed_node(span.plus(MS), 1, |timed| Node::Quiet(earlier, timed))?;
                let recent = self.not(quiet)?;
                self.and([Some(later), Some(recent)])
            }
            Expr::Becomes(inner) => {
                let inner = self.expr(inner)?;
                let known = |node: &Node| matches!(node, Node::Becomes(id, _) if *id == inner);
                if let Some(place) = self.done.nodes.iter().position(known) {
                    return u8::try_from(place).ok();
                }
                let memory = self.memory(0, 1)?;
                self.node(Node::Becomes(inner, memory.bit))
            }
        }
    }

    /// A node that waits, or the one like it that is there already.
    fn timed_node(&mut self, span: Span, bits: u8, make: impl Fn(Timed) -> Node) -> Option<Id> {
        let like = |node: &Node| match node {
            Node::Lasts(_, timed) | Node::Quiet(_, timed) => {
                timed.span == span && make(*timed) == *node
            }
            _ => false,
        };
        if let Some(place) = self.done.nodes.iter().position(like) {
            return u8::try_from(place).ok();
        }
        let timed = self.timed(span, 1, bits)?;
        self.node(make(timed))
    }

    /// A latch without a timer, or with one when it ends by itself.
    fn latch(&mut self, set: Id, clear: &[Id], span: Option<Span>) -> Option<Id> {
        let clear = match clear {
            [] => None,
            several => Some(self.or(several.to_vec())?),
        };
        let memory = self.memory(u8::from(span.is_some()), 1)?;
        self.node(Node::Latch(set, clear, span, memory))
    }

    fn not(&mut self, operand: Id) -> Option<Id> {
        self.node(Node::Not(operand))
    }

    fn and<const N: usize>(&mut self, operands: [Option<Id>; N]) -> Option<Id> {
        let operands: Vec<Id> = operands.into_iter().flatten().collect();
        match operands.as_slice() {
            [only] => Some(*only),
            _ => self.node(Node::And(operands)),
        }
    }

    fn or(&mut self, operands: Vec<Id>) -> Option<Id> {
        match operands.as_slice() {
            [only] => Some(*only),
            _ => self.node(Node::Or(operands)),
        }
    }

    /// Adds a node, or finds the equal one that is there already.
    fn node(&mut self, node: Node) -> Option<Id> {
        let known = self.done.nodes.iter().position(|other| *other == node);
        let place = known.unwrap_or(self.done.nodes.len());
        if place >= NODES {
            return None;
        }
        if known.is_none() {
            self.done.nodes.push(node);
        }
        u8::try_from(place).ok()
    }

    fn lapse(&mut self, bad: Id, allowance: Span) -> Option<()> {
        let memory = if allowance.is_zero() {
            self.memory(0, 0)?
        } else {
            self.memory(1, 1)?
        };
        self.done.lapses.push(Lapse {
            bad,
            allowance,
            memory,
        });
        Some(())
    }

    fn operand(&mut self, id: Id) -> Option<()> {
        if !self.done.operands.contains(&id) {
            self.done.operands.push(id);
        }
        (self.done.operands.len() <= OPERANDS).then_some(())
    }

    fn timed(&mut self, span: Span, timers: u8, bits: u8) -> Option<Timed> {
        let memory = self.memory(timers, bits)?;
        Some(Timed { span, memory })
    }

    /// Takes the next timers and memory bits.
    fn memory(&mut self, timers: u8, bits: u8) -> Option<Memory> {
        let memory = Memory {
            timer: self.done.timers,
            bit: self.bits,
        };
        self.done.timers += timers;
        self.bits += bits;
        (self.done.timers <= TIMERS && self.bits <= BITS).then_some(memory)
    }
}

/// What an expression speaks of.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
struct Spoken {
    /// An output.
    outputs: bool,
    /// A source, or a span of time.
    others: bool,
}

fn speaks(expr: &Expr) -> Spoken {
    let mut spoken = Spoken::default();
    expr.walk(&mut |part| match part {
        Expr::Atom(Atom::Output(..) | Atom::Level(..)) | Expr::Event(Event::Output(..)) => {
            spoken.outputs = true;
        }
        Expr::Atom(_) | Expr::Event(_) => spoken.others = true,
        Expr::Lasts(..) | Expr::Quiet(..) | Expr::Follows(..) => spoken.others = true,
        Expr::Not(_) | Expr::And(_) | Expr::Or(_) | Expr::Becomes(_) => {}
    });
    spoken
}

/// The parts that are all so when `expr` is (or, not `positive`, is not).
fn conjuncts(expr: &Expr, positive: bool) -> Vec<(&Expr, bool)> {
    match (expr, positive) {
        (Expr::Not(inner), _) => conjuncts(inner, !positive),
        (Expr::And(parts), true) | (Expr::Or(parts), false) => parts
            .iter()
            .flat_map(|part| conjuncts(part, positive))
            .collect(),
        _ => Vec::from([(expr, positive)]),
    }
}

/// What shows that a run came near to these parts being so together: each was so by itself.
///
/// Beside `S turns on X` a condition counts only at an instant at which S acted, or X turned on
/// by whomever: at another it says nothing about what S does to X.
fn near_misses(parts: &[(&Expr, bool)]) -> Vec<Expr> {
    let done: Vec<Expr> = parts
        .iter()
        .filter(|(_, positive)| *positive)
        .filter_map(|(part, _)| attempt(part))
        .collect();
    let alone = |(part, positive): &(&Expr, bool)| match positive {
        true => (*part).clone(),
        false => (*part).clone().negated(),
    };
    let with_change = |part: Expr| match part.kind() {
        Kind::Condition => Expr::all(done.iter().cloned().chain([part]).collect()),
        Kind::Event | Kind::Mixed => part,
    };
    parts.iter().map(alone).map(with_change).collect()
}

/// For what somebody does to an output: that they acted, or that anyone did the same.
fn attempt(expr: &Expr) -> Option<Expr> {
    match expr {
        Expr::Event(Event::Output(output, change, By::Only(doer))) => {
            let acted = Expr::Event(Event::Acted(*doer));
            let done = Expr::Event(Event::Output(*output, *change, By::Anyone));
            Some(Expr::any(Vec::from([acted, done])))
        }
        Expr::Or(parts) => {
            let parts: Option<Vec<Expr>> = parts.iter().map(attempt).collect();
            Some(Expr::any(parts?))
        }
        _ => None,
    }
}

/// What shows that a run put `expr` to the test, when `expr` itself must not be true (or, not
/// `positive`, must not be false).
fn probes(expr: &Expr, positive: bool, found: &mut Vec<Expr>) {
    match expr {
        Expr::Atom(Atom::Output(output, _) | Atom::Level(output, _, _)) => {
            let event = Event::Output(*output, Change::Changes, By::Anyone);
            found.push(Expr::Event(event));
        }
        Expr::Atom(Atom::Source(source, _) | Atom::Illuminance(source, _)) => {
            found.push(Expr::Event(Event::Acted(Doer::Source(*source))));
        }
        Expr::Atom(Atom::ButtonDown(unit, button)) => {
            found.push(Expr::Event(Event::Acted(Doer::Button(*unit, *button))));
        }
        Expr::Event(Event::Output(output, change, by)) => {
            if let By::Only(doer) = by {
                found.push(Expr::Event(Event::Acted(*doer)));
            }
            let event = match by {
                By::Anyone => Event::Output(*output, Change::Changes, By::Anyone),
                _ => Event::Output(*output, *change, By::Anyone),
            };
            found.push(Expr::Event(event));
        }
        Expr::Event(Event::Source(source, _) | Event::Button(source, _, _)) => {
            found.push(Expr::Event(Event::Acted(Doer::Source(*source))));
        }
        Expr::Event(Event::Acted(doer)) => found.push(Expr::Event(Event::Acted(*doer))),
        Expr::Not(inner) => probes(inner, !positive, found),
        Expr::And(parts) | Expr::Or(parts) => {
            for part in parts {
                probes(part, positive, found);
            }
        }
        Expr::Lasts(inner, _) if positive => found.push((**inner).clone()),
        Expr::Lasts(inner, _) | Expr::Becomes(inner) => probes(inner, positive, found),
        Expr::Quiet(event, _) => found.push((**event).clone()),
        Expr::Follows(later, _, earlier) => {
            found.push((**later).clone());
            found.push((**earlier).clone());
        }
    }
}

/// How many nodes one pass can judge.
const NODES: usize = 128;

/// How many timers a mask can name.
const TIMERS: u8 = 32;

/// How many memory bits a monitor has.
const BITS: u8 = 64;

/// How many operands a monitor can have seen.
const OPERANDS: usize = 32;

/// One millisecond: what makes a span include its end.
const MS: Span = Span::from_ms(1);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Names, OutputState, parse};

    #[test]
    fn a_clause_has_no_node_that_it_does_not_need() {
        let names = Names {
            outputs: Vec::from(["desk-lights".into()]),
            ..Names::default()
        };
        let fields = [
            ("when", "desk-lights turns on"),
            ("then", "desk-lights is on"),
            ("for", "9 s"),
            ("until", "desk-lights is latched"),
        ];
        let reaction = Span::from_seconds(1);
        let clause = parse::clause(&fields, &names, reaction).expect("it is right");
        let compiled = compile(&clause, reaction).expect("it is short");
        let event = Event::Output(0, Change::TurnsOn, By::Anyone);
        let memory = Memory { timer: 0, bit: 0 };
        assert_eq!(
            compiled.nodes,
            [
                Node::Event(event),
                Node::Atom(Atom::Output(0, OutputState::On)),
                Node::Not(1),
                Node::Atom(Atom::Output(0, OutputState::Latched)),
                Node::Latch(0, Some(3), Some(Span::from_seconds(9)), memory),
                Node::And(Vec::from([4, 2])),
            ]
        );
    }
}
