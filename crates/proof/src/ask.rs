//! From a room and one of its clauses to a question for the symbolic clock.

use std::sync::Arc;

use device::Illuminance;
use prover::Sight;
use prover::model::{Between, Calendar, Faults, Goal, Lead, Question, Rigor};
use prover::slice::Slice;
use room::{Plan, SourceId, SourceSettings};
use scenario::room_file::RoomFile;
use scenario::sequence_file::Assumption;
use sim::Quality;

use crate::calendar::Year;

/// What a proof is to cover beyond what a room does by itself.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Terms {
    /// Frames that may be lost at a listener.
    pub lose: u8,
    /// Frames that may arrive twice at a listener.
    pub twice: u8,
    /// Cuts of power.
    pub cuts: u8,
    /// Sources that may die, by name.
    pub dead: Vec<String>,
    /// How far the clocks of devices may be off, in parts of 10 000.
    pub tolerance: u16,
    /// The daylight outside, which stands still; if nobody says, that of the clause.
    pub daylight: Option<Illuminance>,
    /// Whether two stimuli may come in one and the same millisecond.
    pub at_once: bool,
    /// Whether buttons may be pressed while others are down.
    pub many_hands: bool,
    /// What is taken for granted besides what the sequence takes for granted, for each room.
    pub assume: Vec<Assumption>,
    /// How the room was set before it was asked: point, key and value. Scenarios say it.
    pub set: Vec<(String, String, String)>,
}

impl Terms {
    /// Whether nothing may go wrong that changes anything: a copy of a frame does not (LINK-3).
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.lose == 0 && self.cuts == 0 && self.dead.is_empty()
    }

    /// The same with nothing going wrong.
    #[must_use]
    pub(crate) fn plain(&self) -> Self {
        Self {
            lose: 0,
            cuts: 0,
            dead: Vec::new(),
            ..self.clone()
        }
    }

    /// The daylight outside at which a clause of a room is asked: darkness if nobody says.
    #[must_use]
    pub fn daylight_of(&self, room: &RoomFile, clause: u16) -> Illuminance {
        let own = || {
            room.daylight
                .get(&room.plan.clauses[usize::from(clause)].id)
        };
        let said = self.daylight.or_else(|| own().copied());
        said.unwrap_or_default()
    }

    /// What may go wrong, each in a few words; nothing when nothing may.
    #[must_use]
    pub fn allowed(&self) -> Vec<String> {
        let many = |number: u8, one: &str, many: &str| match number {
            0 => None,
            1 => Some(one.to_owned()),
            _ => Some(format!("{} {many}", number)),
        };
        let counted = [
            many(
                self.lose,
                "any one frame lost at a listener",
                "frames lost at listeners",
            ),
            many(
                self.twice,
                "any one frame heard twice",
                "frames heard twice",
            ),
            many(
                self.cuts,
                "one power cut of a second or more",
                "power cuts of a second or more",
            ),
        ];
        let dead = self.dead.iter().map(|name| format!("the death of {name}"));
        counted.into_iter().flatten().chain(dead).collect()
    }
}

/// What a search for a path is after.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Aim {
    /// What breaks the clause, or puts it to the test.
    Straight,
    /// A lead to that, in the over-approximation.
    Lead,
    /// What a lead leads to, without the reports that make up for no lost frame and, if
    /// no entry falls due there, without calendars. What is found so may be no run, which its
    /// replay tells, and that nothing is found says nothing.
    After(Lead),
}

/// A question that is being put together.
#[derive(Debug)]
pub(crate) struct Asker<'a> {
    pub(crate) room: &'a RoomFile,
    pub(crate) slice: &'a Slice,
    pub(crate) terms: &'a Terms,
    /// Sources whose reports have to be kept.
    pub(crate) free_reports: Vec<SourceId>,
    /// What a search for a path is after.
    pub(crate) aim: Aim,
    /// Whether calendars keep their order only.
    pub(crate) loose_calendars: bool,
    /// The clauses that are taken for granted: their ids and sentences.
    pub(crate) taken: Vec<(String, String)>,
}

impl<'a> Asker<'a> {
    pub(crate) fn new(room: &'a RoomFile, slice: &'a Slice, terms: &'a Terms) -> Self {
        let taken = room.assumptions.iter().chain(&terms.assume);
        Self {
            room,
            slice,
            terms,
            free_reports: Vec::new(),
            aim: Aim::Straight,
            loose_calendars: false,
            taken: taken.map(|it| (it.id.clone(), it.says.clone())).collect(),
        }
    }

    /// Whether nothing may go wrong in the slice that changes anything: a source outside it may die.
    #[must_use]
    pub(crate) fn is_plain(&self) -> bool {
        self.faults().is_none()
    }

    /// The same on other terms.
    pub(crate) fn with<'b>(&self, terms: &'b Terms) -> Asker<'b>
    where
        'a: 'b,
    {
        Asker {
            free_reports: self.free_reports.clone(),
            ..Asker::new(self.room, self.slice, terms)
        }
    }

    /// The question, seen with this rigor.
    #[must_use]
    pub(crate) fn question(&self, rigor: Rigor, goal: Goal) -> Question {
        let mut plan = self.plan();
        let mut makes_up = Vec::new();
        if self.is_plain() {
            prover::slice::without_reports(&mut plan);
        } else if rigor == Rigor::Over || self.aim != Aim::Straight {
            makes_up = self.without_idle_reports(&mut plan);
        }
        // A source whose reports are not left out has them when they are due.
        let comes_at_will = |id: &SourceId| {
            let settings = &plan.sources[usize::from(id.0)].settings;
            !prover::slice::repeats_itself(settings)
        };
        let free_reports = self.free_reports.iter().copied();
        let free_reports = free_reports.filter(comes_at_will).collect();
        let sight = self.sight();
        let loose_calendars = self.loose_calendars && rigor == Rigor::Over;
        prover::slice::without_fades(&mut plan);
        let formulas: Vec<_> = plan.clauses.iter().map(|it| &it.formula).collect();
        let moves = rigor == Rigor::Exact || sight.moves;
        let levels = prover::slice::levels(&plan, &formulas, moves);
        let prompt = self.prompt(rigor, &sight);
        let light_units = self.light_units(rigor, &sight);
        Question {
            stimuli: self.slice.stimuli.clone(),
            ghosts: self.slice.ghosts.clone(),
            calendars: match &self.aim {
                Aim::After(lead) if !lead.has_entries() => Vec::new(),
                _ => self.calendars(loose_calendars),
            },
            loose_calendars,
            entries_cost: self.aim != Aim::Straight && !self.is_plain(),
            lead: match &self.aim {
                Aim::After(lead) => Some(lead.clone()),
                _ => None,
            },
            delays: self.delays(),
            faults: self.faults(),
            tolerance: self.terms.tolerance,
            one_hand: !self.terms.many_hands,
            apart: !self.terms.at_once,
            rigor,
            goal,
            levels,
            watches_levels: sight.levels,
            follows_levels: sight.moves,
            remembered: match rigor {
                Rigor::Over => sight.seen_last,
                Rigor::Exact => Vec::new(),
            },
            doers: sight.doers,
            free_reports,
            makes_up,
            prompt,
            seen_presses: sight.presses,
            light_units,
            plan: Arc::new(plan),
        }
    }

    /// The plan of the slice. A clock for which nothing ever falls due stands all year as it does on
    /// the first of January.
    pub(crate) fn plan(&self) -> Plan {
        let mut plan = Plan::clone(&self.slice.plan);
        for (source, old) in plan.sources.iter_mut().zip(&self.slice.sources) {
            let SourceSettings::Clock(settings) = &mut source.settings else {
                continue;
            };
            if let Some(calendar) = self.room.calendars.get(old) {
                let year = Year::new(self.room, calendar);
                if year.moments.is_empty() {
                    settings.starts_in_hours = calendar.in_hours(year.civil.start());
                }
            }
        }
        plan
    }

    /// Leaves out the reports that make up for no lost frame: the sources that make up for one.
    pub(crate) fn without_idle_reports(&self, plan: &mut Plan) -> Vec<(SourceId, device::Span)> {
        if self.terms.cuts > 0 {
            return Vec::new();
        }
        let delay = self.delay();
        let slowest = |source, listener| delay(source, listener).most;
        let (faults, tolerance) = (self.faults(), self.terms.tolerance);
        prover::slice::without_idle_reports(plan, &faults, tolerance, slowest)
    }

    pub(crate) fn sight(&self) -> Sight {
        Sight::of(self.slice.plan.clauses.iter().map(|it| &it.formula))
    }

    /// The light units of the question.
    pub(crate) fn light_units(&self, rigor: Rigor, sight: &Sight) -> Vec<SourceId> {
        if rigor == Rigor::Exact || self.terms.cuts > 0 || self.terms.many_hands {
            return Vec::new();
        }
        sight.light_units(&self.slice.plan, self.delay())
    }

    /// The prompt sources of the question.
    pub(crate) fn prompt(&self, rigor: Rigor, sight: &Sight) -> Vec<SourceId> {
        if rigor == Rigor::Exact || self.terms.cuts > 0 {
            return Vec::new();
        }
        sight.prompt(&self.slice.plan, self.delay())
    }

    /// How long a frame of a source takes to a listener.
    fn delay(&self) -> impl Fn(SourceId, room::ControllerId) -> Between {
        let delays = self.delays();
        move |source, listener| {
            let mut known = delays.iter();
            let known = known.find(|(from, to, _)| (*from, *to) == (source, listener));
            known.map_or_else(Between::default, |(_, _, between)| *between)
        }
    }

    pub(crate) fn has_calendars(&self) -> bool {
        self.slice
            .sources
            .iter()
            .any(|source| self.room.calendars.contains_key(source))
    }

    fn calendars(&self, loose: bool) -> Vec<Calendar> {
        let clocks = (0..).map(SourceId).zip(&self.slice.sources);
        clocks
            .filter_map(|(id, old)| {
                let calendar = self.room.calendars.get(old)?;
                Some(Year::new(self.room, calendar).graph(id, calendar, loose))
            })
            .filter(|calendar| !calendar.moments.is_empty())
            .collect()
    }

    pub(crate) fn delays(&self) -> Vec<(SourceId, room::ControllerId, Between)> {
        let slice = self.slice;
        let sources = (0..)
            .map(SourceId)
            .zip(&slice.plan.sources)
            .zip(&slice.sources);
        sources
            .flat_map(|((id, source), old)| {
                source.listeners.iter().map(move |(listener, _)| {
                    let way = (*old, slice.controllers[usize::from(listener.0)]);
                    let quality = self.room.quality.get(&way).copied().unwrap_or_default();
                    (id, *listener, between(quality))
                })
            })
            .collect()
    }

    fn faults(&self) -> Faults {
        let named = |name: &String| {
            let sources = (0..).map(SourceId).zip(&self.slice.plan.sources);
            let mut found = sources.filter(|(_, source)| source.name == *name);
            found.next().map(|(id, _)| id)
        };
        Faults {
            lose: self.terms.lose,
            cuts: self.terms.cuts,
            dead: self.terms.dead.iter().filter_map(named).collect(),
        }
    }
}

/// What a link of this quality makes of the time of a frame.
fn between(quality: Quality) -> Between {
    Between {
        least: quality.delay,
        most: quality.delay.plus(quality.jitter),
    }
}
