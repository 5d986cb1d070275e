//! Checks and clauses as marks where they held or broke.

use clause::Turn;
use device::Span;
use sim::{StepId, What};

use super::super::{Item, Lane, LaneSort, Shape, Track};
use super::Builder;
use crate::run::Check;
use crate::verdict::Verdict;
use crate::words;

impl Builder<'_> {
    /// Adds what was judged: checks to the lanes of their points, clauses to a lane of their own.
    pub(super) fn judge(&self, lanes: &mut Vec<Lane>) {
        let mut elsewhere = Vec::new();
        for check in &self.run.checks {
            let item = self.check(check);
            let lane = lanes.iter_mut().find(|lane| lane.name == check.point);
            let Some(lane) = lane else {
                elsewhere.push(item);
                continue;
            };
            match lane.tracks.iter_mut().find(|track| track.name == CHECKS) {
                Some(track) => track.items.push(item),
                None => super::push(&mut lane.tracks, CHECKS, "", vec![item]),
            }
        }
        if !elsewhere.is_empty() {
            let mut tracks = Vec::new();
            super::push(&mut tracks, CHECKS, "", elsewhere);
            lanes.push(Lane {
                name: "other checks".to_owned(),
                kind: "scenario".to_owned(),
                sort: LaneSort::Checks,
                tracks,
            });
        }
        for track in lanes.iter_mut().flat_map(|lane| &mut lane.tracks) {
            track.items.sort_by_key(|item| item.from);
        }
        if !self.run.clauses.is_empty() {
            lanes.push(Lane {
                name: "sequence".to_owned(),
                kind: "clauses".to_owned(),
                sort: LaneSort::Clauses,
                tracks: self.clauses(),
            });
        }
    }

    fn check(&self, check: &Check) -> Item {
        let mut says = format!("{} {}", check.point, check.says);
        says.push_str(&format!(": {}", check.verdict));
        if !check.found.is_empty() {
            says.push_str(&format!(
                ", {} at {}",
                check.found,
                self.run.clock.label(check.at)
            ));
        }
        let why = match (check.verdict, self.run.output(&check.point)) {
            (Verdict::Broken, Some(output)) => {
                let view = self.run.view(output, check.at);
                view.map_or_else(String::new, |(step, _)| self.reason(step))
            }
            _ => String::new(),
        };
        let gap = if why.is_empty() { "" } else { " " };
        Item {
            number: 0,
            from: check.from,
            to: check.to,
            goes_on: false,
            says,
            reason: format!("{why}{gap}({})", check.place),
            shape: Shape::Check(check.verdict),
        }
    }

    fn clauses(&self) -> Vec<Track> {
        let plan = self.run.names.plan;
        let clauses = self.run.clauses.iter();
        clauses
            .map(|clause| {
                let number = plan
                    .clauses
                    .iter()
                    .position(|planned| planned.id == clause.id);
                let number = number.and_then(|index| u16::try_from(index).ok());
                let items = number.map_or_else(Vec::new, |number| self.duties(number));
                Track {
                    name: clause.id.clone(),
                    says: clause.says.clone(),
                    tall: false,
                    verdict: Some(clause.verdict),
                    throughout: clause.verdict == Verdict::Held && items.is_empty(),
                    items,
                }
            })
            .collect()
    }

    /// The obligations of a clause, from trigger to verdict.
    fn duties(&self, number: u16) -> Vec<Item> {
        let mut items: Vec<Item> = Vec::new();
        let mut open: Option<StepId> = None;
        for (id, step) in self.run.steps() {
            match step.what {
                What::Clause(of, turn) if of == number => match turn {
                    Turn::Triggered => open = open.or(Some(id)),
                    Turn::Held => {
                        let from = open.take().unwrap_or(id);
                        self.met(&mut items, from, id);
                    }
                    Turn::Broken => {
                        let from = open.take().unwrap_or(id);
                        items.push(self.duty(from, Some(id), Verdict::Broken));
                    }
                },
                _ => {}
            }
        }
        if let Some(from) = open {
            items.push(self.duty(from, None, Verdict::Open));
        }
        items
    }

    /// Adds an obligation that was met; those that follow each other closely are one item.
    fn met(&self, items: &mut Vec<Item>, from: StepId, to: StepId) {
        let at = self.at(from);
        match items.last_mut() {
            Some(last)
                if last.shape == Shape::Duty(Verdict::Held) && at.since(last.to) <= APART =>
            {
                last.to = self.at(to);
                last.says = "met, several times".to_owned();
            }
            _ => items.push(self.duty(from, Some(to), Verdict::Held)),
        }
    }

    fn duty(&self, from: StepId, to: Option<StepId>, verdict: Verdict) -> Item {
        let ends = to.map_or(self.run.end, |to| self.at(to));
        let lasted = ends.since(self.at(from));
        let within = if lasted.is_zero() {
            String::new()
        } else {
            format!(" {} after its trigger", words::short_span(lasted))
        };
        let says = match verdict {
            Verdict::Held => format!("met{within}"),
            Verdict::Broken => format!("broken{within}"),
            Verdict::Open => "triggered, and open at the end of the run".to_owned(),
            Verdict::NeverExercised | Verdict::Undecided => verdict.words().to_owned(),
        };
        Item {
            number: 0,
            from: self.at(from),
            to: ends,
            goes_on: to.is_none(),
            says,
            reason: self.reason(to.unwrap_or(from)),
            shape: Shape::Duty(verdict),
        }
    }
}

const CHECKS: &str = "checks";
/// Obligations met at most this far apart are shown as one.
const APART: Span = Span::from_minutes(5);
