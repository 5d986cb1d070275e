//! Monitors against the definitions, on random clauses and random runs.

use clause::Verdict;

use crate::model::{Cond, Dice, FORMS, Form, Mixed, Model, Pulse, Trace, judge, model};

#[test]
fn monitors_say_broken_when_the_definitions_do() {
    for (form, name) in FORMS.iter().enumerate() {
        let mut dice = Dice(form as u64);
        let (mut broken, mut all) = (0, 0);
        for _ in 0..300 {
            let model = model(form, &mut dice);
            let formula = model.formula();
            for _ in 0..4 {
                let trace = Trace::random(&mut dice);
                let judged = judge(&formula, &trace, &mut dice);
                let defined = model.broken_at(&trace);
                assert_eq!(judged.broken_at, defined, "{:?} {trace:?}", model.fields());
                let verdict = judged.monitor.verdict(&formula);
                assert_eq!(verdict == Verdict::Broken, defined.is_some(), "{model:?}");
                all += 1;
                broken += usize::from(defined.is_some());
            }
        }
        assert!(
            broken * 10 > all,
            "{name}: only {broken} of {all} runs break the clause"
        );
        assert!(
            broken * 10 < all * 9,
            "{name}: {broken} of {all} runs break the clause"
        );
    }
}

// The definitions, sample by sample.

impl Cond {
    /// The value at each sample.
    fn values(&self, run: &Trace) -> Vec<bool> {
        match self {
            Self::Signal(signal) => run.conditions[*signal].clone(),
            Self::Not(inner) => inner.values(run).iter().map(|value| !value).collect(),
            Self::And(one, other) => both(&one.values(run), &other.values(run), |a, b| a && b),
            Self::Or(one, other) => both(&one.values(run), &other.values(run), |a, b| a || b),
            Self::Lasts(inner, span) => {
                let inner = inner.values(run);
                let lasts = |at: u64| at >= *span && (at - span..=at).all(|t| inner[t as usize]);
                (0..run.length()).map(lasts).collect()
            }
            Self::Quiet(event, span) => {
                let event = event.values(run);
                let quiet = |at: u64| {
                    let from = (at + 1).saturating_sub(*span);
                    !(from..=at).any(|t| event[t as usize])
                };
                (0..run.length()).map(quiet).collect()
            }
        }
    }
}

impl Pulse {
    fn values(&self, run: &Trace) -> Vec<bool> {
        match self {
            Self::Signal(signal) => run.events[*signal].clone(),
            Self::With(event, cond) => both(&event.values(run), &cond.values(run), |a, b| a && b),
            Self::Either(one, other) => both(&one.values(run), &other.values(run), |a, b| a || b),
            Self::Follows(later, span, earlier) => {
                let earlier = earlier.values(run);
                let recent = |at: u64| (at.saturating_sub(*span)..=at).any(|t| earlier[t as usize]);
                let recent: Vec<bool> = (0..run.length()).map(recent).collect();
                both(&later.values(run), &recent, |a, b| a && b)
            }
            Self::Becomes(cond) => rises(&cond.values(run)),
        }
    }
}

impl Mixed {
    fn values(&self, run: &Trace) -> Vec<bool> {
        match self {
            Self::Cond(cond) => cond.values(run),
            Self::Pulse(pulse) => pulse.values(run),
            Self::Either(pulse, cond) => both(&pulse.values(run), &cond.values(run), |a, b| a || b),
        }
    }

    fn trigger_values(&self, run: &Trace) -> Vec<bool> {
        match self {
            Self::Cond(cond) => rises(&cond.values(run)),
            Self::Pulse(pulse) => pulse.values(run),
            Self::Either(pulse, cond) => {
                both(&pulse.values(run), &rises(&cond.values(run)), |a, b| a || b)
            }
        }
    }
}

impl Model {
    fn scope(&self, run: &Trace) -> Vec<bool> {
        let always = vec![true; run.length() as usize];
        let during = self
            .during
            .as_ref()
            .map_or(always.clone(), |d| d.values(run));
        let unless = self.unless.as_ref().map(|unless| unless.values(run));
        let unless = unless.unwrap_or_else(|| vec![false; run.length() as usize]);
        both(&during, &unless, |during, unless| during && !unless)
    }

    /// When the definitions say that the run breaks the clause.
    pub(crate) fn broken_at(&self, run: &Trace) -> Option<u64> {
        let scope = self.scope(run);
        let with_scope = |values: Vec<bool>| both(&values, &scope, |value, scope| value && scope);
        let not = |values: &[bool]| -> Vec<bool> { values.iter().map(|value| !value).collect() };
        let and_not = |one: &[bool], other: &[bool]| both(one, other, |a, b| a && !b);
        match &self.form {
            Form::Always(good) => {
                let bad = with_scope(not(&good.values(run)));
                lasted(&bad, self.allowance(good.speaks(), false))
            }
            Form::Never(bad) => {
                let allowance = self.allowance(bad.speaks(), false);
                lasted(&with_scope(bad.values(run)), allowance)
            }
            Form::NeverEvent(bad) => lasted(&with_scope(bad.values(run)), 0),
            Form::AtMost(count, event, span) => {
                let event = with_scope(event.values(run));
                let too_many = |at: u64| {
                    let window = at.saturating_sub(*span)..=at;
                    let count_there = window.filter(|t| event[*t as usize]).count() as u64;
                    event[at as usize] && count_there > *count
                };
                lasted(&(0..run.length()).map(too_many).collect::<Vec<_>>(), 0)
            }
            Form::OnlyBy => lasted(&with_scope(run.events[5].clone()), 0),
            Form::OnlyAfter(event, before, span) => {
                let before = before.values(run);
                let was = |at: u64| at >= *span && (at - span..at).all(|t| before[t as usize]);
                let was: Vec<bool> = (0..run.length()).map(was).collect();
                lasted(&and_not(&with_scope(event.values(run)), &was), 0)
            }
            Form::OnlyAfterQuiet(event, before, span) => {
                let quiet = Cond::Quiet(Box::new(before.clone()), *span).values(run);
                lasted(&and_not(&with_scope(event.values(run)), &quiet), 0)
            }
            Form::Steady(span) => {
                let changes = both(&run.events[4], &run.events[5], |a, b| a || b);
                let soon = |at: u64| {
                    let from = (at + 1).saturating_sub(*span);
                    changes[at as usize] && (from..at).any(|t| changes[t as usize])
                };
                lasted(&with_scope((0..run.length()).map(soon).collect()), 0)
            }
            _ => self.broken_after_trigger(run),
        }
    }

    /// The same for `when T then Q …`.
    fn broken_after_trigger(&self, run: &Trace) -> Option<u64> {
        let scope = self.scope(run);
        let and_not = |one: &[bool], other: &[bool]| both(one, other, |a, b| a && !b);
        match &self.form {
            Form::Within(trigger, then, within) => {
                let deadline = within.unwrap_or(self.reaction);
                let (trigger, then) = (trigger.trigger_values(run), then.values(run));
                let met = both(&then, &scope, |then, scope| then || !scope);
                let lag = if deadline == 0 { 0 } else { deadline + 1 };
                (0..run.length().saturating_sub(lag))
                    .find(|at| {
                        let window = *at..=at + deadline;
                        trigger[*at as usize] && !window.clone().any(|t| met[t as usize])
                    })
                    .map(|at| at + lag)
            }
            Form::For(trigger, then, span, until) => {
                let clear = self.released(until.as_ref(), run);
                let owed = owed(&trigger.trigger_values(run), &clear, *span);
                let bad = and_not(&owed, &then.values(run));
                lasted(&bad, self.allowance(then.speaks(), true))
            }
            Form::Until(trigger, then, until) => {
                let clear = self.released(Some(until), run);
                let owed = owed(&trigger.trigger_values(run), &clear, u64::MAX);
                let bad = and_not(&owed, &then.values(run));
                lasted(&bad, self.allowance(then.speaks(), true))
            }
            Form::WithinUntil(trigger, then, within, until) => {
                let clear = self.released(Some(until), run);
                let owed = owed(&trigger.trigger_values(run), &clear, u64::MAX);
                let asked = then.values(run);
                let mut met = vec![false; asked.len()];
                for at in 0..asked.len() {
                    let before = at > 0 && met[at - 1];
                    met[at] = owed[at] && (asked[at] || before);
                }
                let late = lasted(&and_not(&owed, &met), *within);
                let allowance = self.allowance(then.speaks(), true);
                let lost = lasted(&and_not(&met, &asked), allowance);
                late.into_iter().chain(lost).min()
            }
            _ => None,
        }
    }

    fn released(&self, until: Option<&Mixed>, run: &Trace) -> Vec<bool> {
        let scope = self.scope(run);
        match until {
            Some(until) => both(&until.values(run), &scope, |until, scope| until || !scope),
            None => scope.iter().map(|scope| !scope).collect(),
        }
    }
}

fn rises(values: &[bool]) -> Vec<bool> {
    let rises = |at: usize| at > 0 && values[at] && !values[at - 1];
    (0..values.len()).map(rises).collect()
}

fn both(one: &[bool], other: &[bool], of: impl Fn(bool, bool) -> bool) -> Vec<bool> {
    one.iter().zip(other).map(|(a, b)| of(*a, *b)).collect()
}

/// Where an obligation is in force: a trigger less than `span` ago, not cleared since.
fn owed(trigger: &[bool], clear: &[bool], span: u64) -> Vec<bool> {
    let owed = |at: usize| {
        let since = (0..=at).rev().take_while(|t| !clear[*t]);
        since
            .take_while(|t| ((at - t) as u64) < span)
            .any(|t| trigger[t])
    };
    (0..trigger.len()).map(owed).collect()
}

/// When `bad` has lasted longer than `allowance`.
fn lasted(bad: &[bool], allowance: u64) -> Option<u64> {
    let lag = if allowance == 0 { 0 } else { allowance + 1 };
    (0..(bad.len() as u64).saturating_sub(lag))
        .find(|at| (*at..=at + allowance).all(|t| bad[t as usize]))
        .map(|at| at + lag)
}
