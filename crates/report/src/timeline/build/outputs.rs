//! The lane of an output: its light, its state, its marks, its timers.

use device::{Level, Note, Span};
use room::{OutputId, Who};
use sim::{Instant, OutputState, OutputView, StepId, What};

use super::super::{Fill, Item, Lane, LaneSort, Shape, Tick, Track};
use super::{Builder, push};
use crate::run::light_after;
use crate::words::{self, Kind, TimerLane};

impl Builder<'_> {
    /// The lane of an output.
    pub(super) fn output(&self, id: OutputId) -> Lane {
        let steps = &self.shares.outputs[usize::from(id.0)];
        let views: Vec<(StepId, OutputView)> = steps
            .iter()
            .filter_map(|step| match self.what(*step)? {
                What::Output(_, view) => Some((*step, **view)),
                _ => None,
            })
            .collect();
        let plan = self.run.names.plan;
        let named = &plan.outputs[usize::from(id.0)];
        let controller = plan.controllers.get(usize::from(named.controller.0));
        let settings = controller
            .and_then(|controller| controller.settings.outputs.get(usize::from(named.local)));
        let drive = settings.map(|settings| settings.drive);
        let kind = self.run.names.kind(id);
        let mut tracks = Vec::new();
        // Where a contact is asked to stand, or a receptacle is fed, is worth a track of its own
        // only where it differs from the state.
        let differs = views.iter().any(|(_, view)| kind.differs(view));
        match kind {
            Kind::Light => tracks.push(Track {
                name: "light".to_owned(),
                says: String::new(),
                tall: true,
                verdict: None,
                throughout: false,
                items: self.light(&views),
            }),
            Kind::Receptacle if differs => {
                let fed = |view: &OutputView| view.closed.then_some((Fill::Outline, "fed"));
                push(&mut tracks, "power", "", self.view_spans(&views, fed));
            }
            Kind::Contact if differs => {
                let asked = |view: &OutputView| {
                    let asked = view.state != OutputState::Off;
                    asked.then_some((Fill::Outline, kind.switched(true)))
                };
                push(&mut tracks, "asked", "", self.view_spans(&views, asked));
            }
            Kind::Receptacle | Kind::Contact => {}
        }
        self.mark_tracks(kind, &views, &mut tracks);
        self.timer_tracks(TimerLane::Output(id), &mut tracks);
        push(&mut tracks, "relay", "", self.stuck(steps));
        push(&mut tracks, "events", "", self.events(id, steps));
        push(&mut tracks, "faults", "", self.faults(steps));
        Lane {
            name: named.name.clone(),
            kind: drive.map_or("", words::drive).to_owned(),
            sort: LaneSort::Output,
            tracks,
        }
    }

    /// State and marks as spans.
    fn mark_tracks(&self, kind: Kind, views: &[(StepId, OutputView)], tracks: &mut Vec<Track>) {
        let state = |view: &OutputView| {
            let fill = match view.state {
                _ if kind == Kind::Contact => view.closed.then_some(Fill::Solid),
                OutputState::Off => None,
                OutputState::On => Some(Fill::Solid),
                OutputState::Setback => Some(Fill::Dots),
                OutputState::Warning => Some(Fill::Slants),
            };
            fill.map(|fill| (fill, kind.state(view)))
        };
        let mark = |set: bool, fill, name| set.then_some((fill, name));
        push(tracks, "state", "", self.view_spans(views, state));
        let occupied = |view: &OutputView| mark(view.occupied, Fill::Outline, "occupied");
        push(tracks, "occupied", "", self.view_spans(views, occupied));
        let latch = |view: &OutputView| mark(view.latch, Fill::Outline, "latch");
        push(
            tracks,
            "latch",
            "off by hand",
            self.view_spans(views, latch),
        );
        let by_hand = |view: &OutputView| mark(view.by_hand, Fill::Outline, "by hand");
        push(
            tracks,
            "by hand",
            "a level set by hand",
            self.view_spans(views, by_hand),
        );
        let emergency = |view: &OutputView| mark(view.emergency, Fill::Slants, "emergency");
        push(tracks, "emergency", "", self.view_spans(views, emergency));
    }

    fn view_spans(
        &self,
        views: &[(StepId, OutputView)],
        begins: impl Fn(&OutputView) -> Option<(Fill, &'static str)>,
    ) -> Vec<Item> {
        let steps: Vec<StepId> = views.iter().map(|(step, _)| *step).collect();
        self.spans(&steps, |what| match what {
            What::Output(_, view) => Some(begins(view).map(|(fill, name)| (fill, name.to_owned()))),
            _ => None,
        })
    }

    fn light(&self, views: &[(StepId, OutputView)]) -> Vec<Item> {
        let mut pieces: Vec<LightPiece> = Vec::new();
        for (index, (step, view)) in views.iter().enumerate() {
            let from = self.at(*step);
            let to = views
                .get(index + 1)
                .map_or(self.run.end, |(next, _)| self.at(*next));
            let corners = corners(view, from, to);
            match pieces.last_mut() {
                Some(last) if last.goes_on_as(view, from) => {
                    last.view = *view;
                    last.points.extend(corners.into_iter().skip(1));
                }
                _ => pieces.push(LightPiece {
                    step: *step,
                    view: *view,
                    points: corners,
                    steps: 1,
                }),
            }
        }
        let gathered = gather(pieces);
        let count = gathered.len();
        let items = gathered.into_iter().enumerate();
        items
            .map(|(index, piece)| self.light_item(piece, index + 1 == count))
            .collect()
    }

    fn light_item(&self, piece: LightPiece, last: bool) -> Item {
        let (from, first) = piece.points[0];
        let (to, end) = piece.points[piece.points.len() - 1];
        let reached = piece.points.iter().find(|(_, level)| *level == end);
        let reached = reached.map_or(to, |(at, _)| *at);
        let says = if piece.steps > 1 {
            format!("light moves from {first} to {end} in {} steps", piece.steps)
        } else if first != end {
            let span = words::short_span(reached.since(from));
            let stays = if reached < to { ", then stays" } else { "" };
            format!("light goes from {first} to {end} in {span}{stays}")
        } else if end.is_off() {
            "dark".to_owned()
        } else {
            format!("light at {end}")
        };
        let target = piece.view.target;
        let says = if target == end {
            says
        } else {
            format!("{says}, target {target}")
        };
        Item {
            number: 0,
            from,
            to,
            goes_on: last,
            says,
            reason: self.reason(piece.step),
            shape: Shape::Light {
                points: piece.points,
                target,
                state: piece.view.state,
            },
        }
    }

    fn stuck(&self, steps: &[StepId]) -> Vec<Item> {
        self.spans(steps, |what| match what {
            What::Stuck(_, Some(true)) => Some(Some((Fill::Cross, "stuck closed".to_owned()))),
            What::Stuck(_, Some(false)) => Some(Some((Fill::Cross, "stuck open".to_owned()))),
            What::Stuck(_, None) => Some(None),
            _ => None,
        })
    }

    /// Things that an output notes and that no bar or curve shows.
    fn events(&self, id: OutputId, steps: &[StepId]) -> Vec<Item> {
        let who = Who::Output(id);
        let mut items = Vec::new();
        for step in steps {
            let says = match self.what(*step) {
                Some(What::Note(_, note)) if is_event(*note) => self.run.names.note(who, *note),
                Some(what @ What::Learn(_)) => self.run.names.predicate(what),
                _ => continue,
            };
            let at = self.at(*step);
            items.push(Item {
                number: 0,
                from: at,
                to: at,
                goes_on: false,
                says,
                reason: self.reason(*step),
                shape: Shape::Ticks {
                    at: vec![at],
                    tick: Tick::Other,
                    idle: false,
                },
            });
        }
        items
    }
}

/// A piece of a light curve on its way to a timeline.
struct LightPiece {
    step: StepId,
    view: OutputView,
    points: Vec<(Instant, Level)>,
    /// How many views it stands for.
    steps: usize,
}

impl LightPiece {
    /// Whether the light just goes on when the output is seen again: only a mark has changed.
    fn goes_on_as(&self, view: &OutputView, at: Instant) -> bool {
        let level = self.points.last().map(|point| point.1);
        let same = self.view.state == view.state && self.view.target == view.target;
        let moves_on = self.view.light.to == view.light.to;
        let on_the_way = self.points.last().is_some_and(|point| point.0 == at);
        same && moves_on && on_the_way && level == Some(view.light.now)
    }

    fn lasts(&self) -> Span {
        let last = self.points[self.points.len() - 1].0;
        last.since(self.points[0].0)
    }
}

/// The corners of a light curve from one view until the next.
fn corners(view: &OutputView, from: Instant, to: Instant) -> Vec<(Instant, Level)> {
    let whole = to.since(from);
    let mut points = vec![(from, view.light.now)];
    if view.light.within.is_zero() {
        points[0].1 = view.light.to;
    } else if view.light.within < whole {
        points.push((from.after(view.light.within), view.light.to));
    }
    points.push((to, light_after(view, whole)));
    points
}

/// Gathers the many small steps of a light that follows daylight into one piece.
fn gather(pieces: Vec<LightPiece>) -> Vec<LightPiece> {
    let mut gathered: Vec<LightPiece> = Vec::new();
    let mut run: Vec<LightPiece> = Vec::new();
    for piece in pieces {
        let short = run
            .last()
            .is_none_or(|last| last.lasts() <= STEP && last.view.state == piece.view.state);
        if !short {
            gathered.append(&mut joined(std::mem::take(&mut run)));
        }
        run.push(piece);
    }
    gathered.append(&mut joined(run));
    gathered
}

fn joined(mut run: Vec<LightPiece>) -> Vec<LightPiece> {
    if run.len() < STEPS_AT_LEAST {
        return run;
    }
    let rest = run.split_off(1);
    for piece in rest {
        run[0].points.extend(piece.points);
        run[0].view = piece.view;
        run[0].steps += 1;
    }
    run
}

const fn is_event(note: Note) -> bool {
    matches!(
        note,
        Note::PassedOver
            | Note::Override(_)
            | Note::Learning(_)
            | Note::Taught(_)
            | Note::Waits(_)
            | Note::SettingChanged
    )
}

/// Views at most this far apart are steps of one movement.
const STEP: Span = Span::from_seconds(60);
/// Fewer steps are shown one by one.
const STEPS_AT_LEAST: usize = 5;
