//! How the points of a room stood over time, for checks and pictures.
//!
//! Invariant: between two entries of an output only its light (and what moves along with it)
//! changes, in a straight line.

use device::{Fault, Illuminance, Level, Note};
use room::{LightModel, OutputId, SourceId, Who};
use sim::{Instant, OutputView, Trace, What};

use crate::script::Script;

/// How the points of a room stood over time.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub(crate) struct History {
    /// Of each output: how it stood, from when on.
    outputs: Vec<Vec<(Instant, OutputView)>>,
    /// Of each source: what it believed, from when on.
    sources: Vec<Vec<(Instant, SourceBelief)>>,
    /// The daylight outside, from when on.
    daylight: Vec<(Instant, Illuminance)>,
    /// Faults as they were reported (`true`) and ended.
    faults: Vec<(Instant, Who, Fault, bool)>,
}

/// What an occupancy sensor believes.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(crate) enum SourceBelief {
    /// Somebody is there.
    Occupied,
    /// Nobody is there.
    #[default]
    Vacant,
    /// It does not know: without power, warming up, or just warm.
    Unknown,
}

impl History {
    pub(super) fn new(script: &Script, trace: &Trace, seen: &[(Instant, Vec<OutputView>)]) -> Self {
        let mut history = Self {
            outputs: vec![Vec::new(); script.plan.outputs.len()],
            sources: vec![Vec::new(); script.plan.sources.len()],
            ..Self::default()
        };
        for step in &trace.steps {
            match step.what {
                What::Output(id, ref view) => {
                    put(&mut history.outputs[usize::from(id.0)], step.at, **view);
                }
                What::Daylight(lux) => put(&mut history.daylight, step.at, lux),
                What::Note(who, note) => history.note(step.at, who, note),
                _ => {}
            }
        }
        for (at, views) in seen {
            for (entries, view) in history.outputs.iter_mut().zip(views) {
                let place = entries.partition_point(|(known, _)| known <= at);
                if place == 0 || entries[place - 1].0 < *at {
                    entries.insert(place, (*at, *view));
                }
            }
        }
        history
    }

    /// How an output stood at the end of `at`.
    ///
    /// # Panics
    /// When the run recorded nothing of the output, which it does at its start.
    #[must_use]
    pub(crate) fn output(&self, id: OutputId, at: Instant) -> OutputView {
        let entries = &self.outputs[usize::from(id.0)];
        let place = entries.partition_point(|(since, _)| *since <= at);
        let (since, view) = entries[place.saturating_sub(1)];
        on_its_way(view, since, at)
    }

    /// The instants after `from` up to and including `to` at which an entry of an output begins.
    pub(crate) fn output_changes(
        &self,
        id: OutputId,
        from: Instant,
        to: Instant,
    ) -> impl Iterator<Item = Instant> + '_ {
        let entries = &self.outputs[usize::from(id.0)];
        let start = entries.partition_point(|(since, _)| *since <= from);
        let inside = entries[start..].iter().map(|(since, _)| *since);
        inside.take_while(move |since| *since <= to)
    }

    /// What an occupancy sensor believed at the end of `at`.
    #[must_use]
    pub(crate) fn source(&self, id: SourceId, at: Instant) -> SourceBelief {
        value(&self.sources[usize::from(id.0)], at).unwrap_or_default()
    }

    /// The instants after `from` up to and including `to` at which a sensor changed its mind.
    pub(crate) fn source_changes(
        &self,
        id: SourceId,
        from: Instant,
        to: Instant,
    ) -> impl Iterator<Item = Instant> + '_ {
        let entries = self.sources[usize::from(id.0)].iter();
        let instants = entries.map(|(since, _)| *since);
        instants.filter(move |since| *since > from && *since <= to)
    }

    /// The daylight outside at the end of `at`.
    #[must_use]
    pub(crate) fn daylight(&self, at: Instant) -> Illuminance {
        value(&self.daylight, at).unwrap_or_default()
    }

    /// The instants after `from` up to and including `to` at which the daylight changed.
    pub(crate) fn daylight_changes(
        &self,
        from: Instant,
        to: Instant,
    ) -> impl Iterator<Item = Instant> + '_ {
        let instants = self.daylight.iter().map(|(since, _)| *since);
        instants.filter(move |since| *since > from && *since <= to)
    }

    /// The light at a point at the end of `at`, by the linear room of DAY.
    #[must_use]
    pub(crate) fn light(&self, model: &LightModel, at: Instant) -> Illuminance {
        let day = u64::from(self.daylight(at).hundredths()) * u64::from(model.daylight) / 10_000;
        let electric = model.electric.iter().map(|(output, full)| {
            let light = self.output(*output, at).light.now;
            u64::from(full.hundredths()) * u64::from(light.hundredths()) / 10_000
        });
        let lux = day + electric.sum::<u64>();
        Illuminance::from_hundredths(u32::try_from(lux).unwrap_or(u32::MAX))
    }

    /// The faults that stand at the end of `at`, in the order they came.
    #[must_use]
    pub(crate) fn faults(&self, at: Instant) -> Vec<(Who, Fault)> {
        let mut standing: Vec<(Who, Fault)> = Vec::new();
        for &(since, who, fault, began) in &self.faults {
            if since > at {
                break;
            }
            standing.retain(|known| *known != (who, fault));
            if began {
                standing.push((who, fault));
            }
        }
        standing
    }

    /// The instants after `from` up to and including `to` at which a fault came or went.
    pub(crate) fn fault_changes(
        &self,
        from: Instant,
        to: Instant,
    ) -> impl Iterator<Item = Instant> + '_ {
        let instants = self.faults.iter().map(|(since, ..)| *since);
        instants.filter(move |since| *since > from && *since <= to)
    }

    fn note(&mut self, at: Instant, who: Who, note: Note) {
        match note {
            Note::Fault(fault) => self.faults.push((at, who, fault, true)),
            Note::FaultEnded(fault) => self.faults.push((at, who, fault, false)),
            _ => {}
        }
        let Who::Source(id) = who else {
            return;
        };
        let belief = match note {
            Note::Occupied => SourceBelief::Occupied,
            Note::Vacant => SourceBelief::Vacant,
            Note::Unknown | Note::WarmingUp(_) | Note::Power(false) => SourceBelief::Unknown,
            _ => return,
        };
        put(&mut self.sources[usize::from(id.0)], at, belief);
    }
}

/// How an output that was recorded at `since` stands at `at`.
fn on_its_way(mut view: OutputView, since: Instant, at: Instant) -> OutputView {
    let way = view.light;
    let gone = at.since(since);
    if way.within.is_zero() || gone.is_zero() {
        return view;
    }
    let left = way.within.minus(gone);
    let now = way.now.towards(way.to, left, way.within);
    // Of a fade the target stands; of a ramp or a moving limit the target goes along, and what
    // is asked too unless a limit keeps them apart.
    if view.target != way.to {
        if view.asked == view.target {
            view.asked = now;
        }
        view.target = now;
    }
    view.light.now = now;
    view.light.within = left;
    view
}

/// The first instant after `since` at which the light of `view` is at or beyond `level`, seen
/// from where it is; `None` when it does not get there.
pub(super) fn reaches(view: &OutputView, since: Instant, level: Level) -> Option<Instant> {
    let way = view.light;
    let rising = way.to > way.now;
    let there = |light: Level| {
        if rising {
            light >= level
        } else {
            light <= level
        }
    };
    if way.within.is_zero() || there(way.now) || !there(way.to) {
        return None;
    }
    // The light is monotone on its way, so halving finds the first instant exactly.
    let (mut before, mut reached) = (0, way.within.as_ms());
    while before + 1 < reached {
        let middle = before + (reached - before) / 2;
        let left = device::Span::from_ms(way.within.as_ms() - middle);
        if there(way.now.towards(way.to, left, way.within)) {
            reached = middle;
        } else {
            before = middle;
        }
    }
    Some(since.after(device::Span::from_ms(reached)))
}

fn put<T>(entries: &mut Vec<(Instant, T)>, at: Instant, value: T) {
    match entries.last_mut() {
        Some((last, entry)) if *last == at => *entry = value,
        _ => entries.push((at, value)),
    }
}

fn value<T: Copy>(entries: &[(Instant, T)], at: Instant) -> Option<T> {
    let place = entries.partition_point(|(since, _)| *since <= at);
    place.checked_sub(1).map(|last| entries[last].1)
}
