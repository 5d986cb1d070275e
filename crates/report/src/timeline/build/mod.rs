//! From a trace to a timeline.

mod bursts;
mod outputs;
mod sources;
mod timers;
mod verdicts;

use device::Note;
use room::{Device, OutputId, SourceId, Who};
use sim::{Instant, StepId, What};

use super::{Fill, Item, Lane, LaneSort, Shape, Timeline, Track};
use crate::causes::{Chain, Effects};
use crate::run::Run;
use crate::words::{self, TimerLane};

impl Timeline {
    /// Lays out a run.
    #[must_use]
    pub fn of(run: &Run<'_>) -> Self {
        let builder = Builder {
            run,
            effects: Effects::of(run),
            shares: Shares::of(run),
        };
        let mut lanes = Vec::new();
        lanes.extend(builder.daylight());
        let plan = run.names.plan;
        for id in (0..).map(SourceId).take(plan.sources.len()) {
            lanes.push(builder.source(id));
        }
        for (index, controller) in plan.controllers.iter().enumerate() {
            lanes.extend(builder.controller(index, &controller.name));
        }
        for id in (0..).map(OutputId).take(plan.outputs.len()) {
            lanes.push(builder.output(id));
        }
        builder.judge(&mut lanes);
        let mut timeline = Self {
            title: run.title.clone(),
            room: plan.name.clone(),
            file: run.label(),
            clock: run.clock.clone(),
            from: Instant::START,
            to: run.end,
            lanes,
        };
        timeline.number_items();
        timeline
    }

    /// Numbers the items by time, then by place.
    fn number_items(&mut self) {
        let mut items: Vec<&mut Item> = self
            .lanes
            .iter_mut()
            .flat_map(|lane| lane.tracks.iter_mut())
            .flat_map(|track| track.items.iter_mut())
            .collect();
        items.sort_by_key(|item| item.from);
        for (number, item) in (1..).zip(items) {
            item.number = number;
        }
    }
}

/// Lays out one run.
struct Builder<'r> {
    run: &'r Run<'r>,
    effects: Effects,
    shares: Shares,
}

/// The steps that each lane shows.
struct Shares {
    sources: Vec<Vec<StepId>>,
    outputs: Vec<Vec<StepId>>,
    controllers: Vec<Vec<StepId>>,
    slots: Vec<Vec<StepId>>,
}

impl Shares {
    fn of(run: &Run<'_>) -> Self {
        let plan = run.names.plan;
        let mut shares = Self {
            sources: vec![Vec::new(); plan.sources.len()],
            outputs: vec![Vec::new(); plan.outputs.len()],
            controllers: vec![Vec::new(); plan.controllers.len()],
            slots: Vec::new(),
        };
        for (id, step) in run.steps() {
            let share = match step.what {
                What::Stimulus(source, _)
                | What::Dropped(_, source, ..)
                | What::Power(Device::Source(source), _)
                | What::Note(Who::Source(source), _) => shares.sources.get_mut(source.0 as usize),
                What::Power(Device::Controller(at), _) | What::Note(Who::Controller(at), _) => {
                    shares.controllers.get_mut(at.0 as usize)
                }
                What::Stuck(output, _)
                | What::Learn(output)
                | What::Output(output, _)
                | What::Note(Who::Output(output), _) => shares.outputs.get_mut(output.0 as usize),
                What::Started(slot, _) | What::Stopped(slot) | What::Elapsed(slot) => {
                    let slot = usize::from(slot.0);
                    if shares.slots.len() <= slot {
                        shares.slots.resize(slot + 1, Vec::new());
                    }
                    shares.slots.get_mut(slot)
                }
                What::Daylight(_)
                | What::Change
                | What::Impaired(_)
                | What::Drifts(_)
                | What::Sent(..)
                | What::Arrived(..)
                | What::Note(Who::Clause(_) | Who::Room, _)
                | What::Clause(..) => None,
            };
            if let Some(share) = share {
                share.push(id);
            }
        }
        shares
    }
}

impl Builder<'_> {
    /// Why a step happened, in one line.
    fn reason(&self, step: StepId) -> String {
        Chain::back_from(self.run, step).line(self.run)
    }

    /// The step's instant.
    fn at(&self, step: StepId) -> Instant {
        self.run.step(step).map_or(Instant::START, |step| step.at)
    }

    fn what(&self, step: StepId) -> Option<&What> {
        self.run.step(step).map(|step| &step.what)
    }

    /// A span that may last until the end of the run.
    fn span(&self, from: StepId, to: Option<Instant>, fill: Fill, says: &str) -> Item {
        Item {
            number: 0,
            from: self.at(from),
            to: to.unwrap_or(self.run.end),
            goes_on: to.is_none(),
            says: says.to_owned(),
            reason: self.reason(from),
            shape: Shape::Span(fill, says.to_owned()),
        }
    }

    /// The spans of a condition that steps begin and end; `begins` says what begins at a step,
    /// if anything, and `None` leaves things as they are.
    fn spans(
        &self,
        steps: &[StepId],
        begins: impl Fn(&What) -> Option<Option<(Fill, String)>>,
    ) -> Vec<Item> {
        let mut items = Vec::new();
        let mut open: Option<(StepId, Fill, String)> = None;
        for id in steps {
            let Some(next) = self.what(*id).and_then(&begins) else {
                continue;
            };
            let same = match (&open, &next) {
                (Some((_, fill, says)), Some((new_fill, new_says))) => {
                    fill == new_fill && says == new_says
                }
                (None, None) => true,
                _ => false,
            };
            if same {
                continue;
            }
            if let Some((from, fill, says)) = open.take() {
                items.push(self.span(from, Some(self.at(*id)), fill, &says));
            }
            open = next.map(|(fill, says)| (*id, fill, says));
        }
        if let Some((from, fill, says)) = open {
            items.push(self.span(from, None, fill, &says));
        }
        items
    }

    /// The daylight outside; `None` when the run has none.
    fn daylight(&self) -> Option<Lane> {
        let steps = self.run.steps();
        let points = stairs(
            steps.filter_map(|(_, step)| match step.what {
                What::Daylight(outside) => Some((step.at, outside.hundredths())),
                _ => None,
            }),
            self.run.end,
        );
        let (from, _) = *points.first()?;
        Some(Lane {
            name: "daylight".to_owned(),
            kind: "outside".to_owned(),
            sort: LaneSort::Outside,
            tracks: vec![curve(
                "outside",
                "daylight outside",
                from,
                self.run.end,
                points,
            )],
        })
    }

    /// What a controller reports of itself; `None` when nothing ever was.
    fn controller(&self, index: usize, name: &str) -> Option<Lane> {
        let steps = self.shares.controllers.get(index)?;
        let mut tracks = Vec::new();
        push(&mut tracks, "power", "", self.power(steps));
        push(&mut tracks, "faults", "", self.faults(steps));
        (!tracks.is_empty()).then(|| Lane {
            name: name.to_owned(),
            kind: "controller".to_owned(),
            sort: LaneSort::Outside,
            tracks,
        })
    }

    fn power(&self, steps: &[StepId]) -> Vec<Item> {
        self.spans(steps, |what| match what {
            What::Power(_, true) => Some(None),
            What::Power(_, false) => Some(Some((Fill::Cross, "no power".to_owned()))),
            _ => None,
        })
    }

    fn faults(&self, steps: &[StepId]) -> Vec<Item> {
        let mut items = Vec::new();
        for id in steps {
            let Some(What::Note(_, note)) = self.what(*id) else {
                continue;
            };
            let (wrong, begins) = match note {
                Note::Fault(wrong) => (*wrong, true),
                Note::FaultEnded(wrong) => (*wrong, false),
                _ => continue,
            };
            let began = if begins { "fault" } else { "fault ended" };
            items.push(Item {
                number: 0,
                from: self.at(*id),
                to: self.at(*id),
                goes_on: false,
                says: format!("{began}: {}", words::fault(wrong)),
                reason: self.reason(*id),
                shape: Shape::Fault(begins),
            });
        }
        items
    }

    /// The timers that stand in a lane, each on its own track.
    fn timer_tracks(&self, lane: TimerLane, tracks: &mut Vec<Track>) {
        for (slot, steps) in (0..).zip(&self.shares.slots) {
            let timer = self.run.names.timer(room::Slot(slot));
            if timer.lane != lane || timer.quiet {
                continue;
            }
            // The column of names is narrow.
            let short = timer.name.replacen(" for ", " \u{b7} ", 1);
            let name = match timer.sign {
                "" => short,
                sign => format!("{} {sign}", timer.name),
            };
            push(tracks, &name, "", self.timer_bars(&timer, steps));
        }
    }
}

/// The corners of a quantity that stands until it is set anew.
fn stairs(set: impl Iterator<Item = (Instant, u32)>, end: Instant) -> Vec<(Instant, u32)> {
    let mut points: Vec<(Instant, u32)> = Vec::new();
    for (at, value) in set {
        match points.last().copied() {
            Some((_, last)) if last == value => {}
            Some((_, last)) => points.extend([(at, last), (at, value)]),
            None => points.push((at, value)),
        }
    }
    if let Some((_, last)) = points.last().copied() {
        points.push((end, last));
    }
    points
}

/// Adds a track when it has anything to show.
fn push(tracks: &mut Vec<Track>, name: &str, says: &str, items: Vec<Item>) {
    if !items.is_empty() {
        tracks.push(Track {
            name: name.to_owned(),
            says: says.to_owned(),
            tall: false,
            verdict: None,
            throughout: false,
            items,
        });
    }
}

/// A track with one curve of illuminance.
fn curve(name: &str, says: &str, from: Instant, to: Instant, points: Vec<(Instant, u32)>) -> Track {
    let levels = points.iter().map(|point| point.1);
    let least = device::Illuminance::from_hundredths(levels.clone().min().unwrap_or(0));
    let most = device::Illuminance::from_hundredths(levels.max().unwrap_or(0));
    let says = if least == most {
        format!("{says} {most}")
    } else {
        format!("{says} from {least} to {most}")
    };
    Track {
        name: name.to_owned(),
        says: String::new(),
        tall: true,
        verdict: None,
        throughout: false,
        items: vec![Item {
            number: 0,
            from,
            to,
            goes_on: false,
            says,
            reason: String::new(),
            shape: Shape::Curve(points),
        }],
    }
}
