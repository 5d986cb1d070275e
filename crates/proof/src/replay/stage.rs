//! The whole room under the numeric clock, to try stories on.

use std::collections::BTreeMap;
use std::sync::Arc;

use clause::Verdict;
use jiff::civil::DateTime;
use prover::slice::Slice;
use room::{Input, Plan, PlanClause, SourceId, SourceSettings, Stimulus};
use scenario::room_file::RoomFile;
use scenario::script::ActWhat;
use scenario::script::civil::Civil;
use scenario::written::Story;
use sim::{Instant, Quality, Silent, Simulation};

use super::dates::{Dates, Due};
use super::{Acts, SEED};
use crate::ask::Terms;

/// The room with the clause that is asked and those that are taken for granted.
pub(super) struct Stage<'a> {
    room: &'a RoomFile,
    wanted: Verdict,
    plan: Plan,
    /// The clocks that the path tells of.
    clocks: Vec<SourceId>,
    dates: Dates,
    /// A simulation for each way in which the clocks may show hours at the start.
    runs: BTreeMap<Vec<bool>, Simulation<Silent>>,
}

impl<'a> Stage<'a> {
    pub(super) fn new(
        room: &'a RoomFile,
        slice: &Slice,
        terms: &Terms,
        clause: u16,
        wanted: Verdict,
    ) -> Self {
        let mut plan = room.plan.clone();
        let asked = plan.clauses.swap_remove(usize::from(clause));
        let taken = room.assumptions.iter().chain(&terms.assume);
        let taken = taken.map(|it| PlanClause {
            id: it.id.clone(),
            formula: it.formula.clone(),
        });
        plan.clauses = std::iter::once(asked).chain(taken).collect();
        let clocks = slice.sources.iter().copied();
        let clocks: Vec<SourceId> = clocks
            .filter(|id| room.calendars.contains_key(id))
            .collect();
        Self {
            dates: Dates::new(room, &clocks),
            room,
            wanted,
            plan,
            clocks,
            runs: BTreeMap::new(),
        }
    }

    /// Whether a run in which this happens comes out as wanted on any day.
    pub(super) fn fits(&mut self, acts: &Acts, end: Instant) -> bool {
        self.start(acts, end).is_some()
    }

    /// The first day on which it does: one for each way in which the clocks may stand is tried.
    pub(super) fn start(&mut self, acts: &Acts, end: Instant) -> Option<DateTime> {
        let due: Vec<Due> = acts.iter().filter_map(due).collect();
        let mut tried: Vec<Vec<bool>> = Vec::new();
        let begins: Vec<DateTime> = self.dates.begins(&due, end).collect();
        for begin in begins {
            let hours = self.hours(begin);
            if tried.contains(&hours) {
                continue;
            }
            if self.comes_out(begin, &hours, acts, end) {
                return Some(begin);
            }
            tried.push(hours);
        }
        None
    }

    /// The story of what happens, with what the other clocks of the room do meanwhile.
    pub(super) fn story(&self, start: DateTime, acts: &Acts, end: Instant) -> Story {
        Story {
            title: String::new(),
            about: None,
            start,
            settings: Vec::new(),
            happenings: self.with_other_clocks(start, acts, end),
            end,
            expect: Vec::new(),
        }
    }

    /// Whether each clock counts as in hours at this moment, in their order.
    fn hours(&self, begin: DateTime) -> Vec<bool> {
        let calendars = self.room.calendars.values();
        calendars.map(|it| it.in_hours(begin)).collect()
    }

    fn comes_out(&mut self, begin: DateTime, hours: &[bool], acts: &Acts, end: Instant) -> bool {
        let acts = self.with_other_clocks(begin, acts, end);
        if !self.runs.contains_key(hours) {
            let run = self.simulation(hours);
            self.runs.insert(hours.to_vec(), run);
        }
        let Some(run) = self.runs.get_mut(hours) else {
            return false;
        };
        run.reset();
        for (at, what) in &acts {
            match what {
                ActWhat::Input(input) => run.apply(*at, input.clone()),
                ActWhat::Impair(impairment) => run.impair(*at, *impairment),
                ActWhat::Drift(drift) => run.drift(*at, *drift),
            }
        }
        run.run_until(end);
        let mut verdicts = run.room().verdicts();
        verdicts.next() == Some(self.wanted) && verdicts.all(|it| it != Verdict::Broken)
    }

    fn simulation(&self, hours: &[bool]) -> Simulation<Silent> {
        let mut plan = self.plan.clone();
        for (clock, in_hours) in self.room.calendars.keys().zip(hours) {
            let source = &mut plan.sources[usize::from(clock.0)];
            if let SourceSettings::Clock(settings) = &mut source.settings {
                settings.starts_in_hours = *in_hours;
            }
        }
        let quality = |source, listener| {
            let known = self.room.quality.get(&(source, listener));
            known.copied().unwrap_or_else(Quality::default)
        };
        Simulation::new(Arc::new(plan), SEED, quality)
    }

    fn with_other_clocks(&self, begin: DateTime, acts: &Acts, end: Instant) -> Acts {
        let mut all = acts.clone();
        let others = self.room.calendars.iter();
        let mut others = others
            .filter(|(clock, _)| !self.clocks.contains(clock))
            .peekable();
        if others.peek().is_none() {
            return all;
        }
        let Ok(civil) = Civil::new(&self.room.zone, begin) else {
            return all;
        };
        for (clock, calendar) in others {
            let entries = calendar.entries(&civil, &[], end).into_iter();
            all.extend(entries.map(|(at, entry)| {
                let due = Input::Stimulus(*clock, Stimulus::Due(entry));
                (at, ActWhat::Input(due))
            }));
        }
        all.sort_by_key(|act| act.0);
        all
    }
}

/// The entry of a clock that falls due.
fn due((at, what): &(Instant, ActWhat)) -> Option<Due> {
    match what {
        ActWhat::Input(Input::Stimulus(clock, Stimulus::Due(entry))) => Some((*at, *clock, *entry)),
        _ => None,
    }
}
