//! The lane of a source: what happens at it, what it believes, its timers, its lost frames.

use device::{Note, Span};
use room::{SourceId, SourceSettings, Stimulus, Who};
use sim::{StepId, What};

use super::super::{Fill, FrameFate, Item, Lane, LaneSort, Shape, Tick};
use super::bursts::{self, Stimulated};
use super::{Builder, curve, push, stairs};
use crate::causes::tells;
use crate::words::{self, TimerLane};

impl Builder<'_> {
    /// The lane of a source.
    pub(super) fn source(&self, id: SourceId) -> Lane {
        let names = &self.run.names;
        let steps = &self.shares.sources[usize::from(id.0)];
        let mut tracks = Vec::new();
        for (tick, name) in [
            (Tick::Motion, "motion"),
            (Tick::Sound, "sound"),
            (Tick::Due, "calendar"),
            (Tick::Other, "events"),
        ] {
            push(&mut tracks, name, "", self.ticks(id, steps, tick));
        }
        push(&mut tracks, "buttons", "", self.presses(id, steps));
        push(&mut tracks, "card", "", self.cards(steps));
        push(&mut tracks, "signal", "", self.signals(id, steps));
        push(
            &mut tracks,
            "occupancy",
            "what the sensor believes",
            self.beliefs(id, steps),
        );
        self.measured(steps, &mut tracks);
        self.timer_tracks(TimerLane::Source(id), &mut tracks);
        push(
            &mut tracks,
            "frames",
            "frames that were not taken",
            self.frames(steps),
        );
        push(&mut tracks, "power", "", self.power(steps));
        push(&mut tracks, "faults", "", self.faults(steps));
        Lane {
            name: names.source(id).to_owned(),
            kind: names.settings(id).map_or("", words::source_kind).to_owned(),
            sort: LaneSort::Source,
            tracks,
        }
    }

    fn ticks(&self, id: SourceId, steps: &[StepId], wanted: Tick) -> Vec<Item> {
        let stimuli = steps.iter().filter_map(|step| {
            let What::Stimulus(_, stimulus) = *self.what(*step)? else {
                return None;
            };
            (tick_of(stimulus) == Some(wanted)).then(|| {
                let (effect, idle) = self.effect(id, &[*step]);
                Stimulated {
                    at: self.at(*step),
                    tick: wanted,
                    says: words::stimulus(&self.run.names, id, stimulus),
                    idle,
                    effect,
                    place: self.place(*step),
                }
            })
        });
        bursts::gather(stimuli.collect())
    }

    /// The row that put a step into the run, in words; empty where none did.
    fn place(&self, step: StepId) -> String {
        let place = self.run.places.get(&step);
        place.map_or_else(String::new, ToString::to_string)
    }

    /// What stimuli brought about at once, in words, and whether that was nothing at all.
    fn effect(&self, id: SourceId, stimuli: &[StepId]) -> (String, bool) {
        let names = &self.run.names;
        let (mut told, mut timers, mut refused) = (Vec::new(), Vec::new(), Vec::new());
        let caused = stimuli
            .iter()
            .flat_map(|step| self.effects.at_once(self.run, *step));
        for (_, step) in caused {
            match step.what {
                What::Note(who @ Who::Source(_), note @ (Note::Occupied | Note::Unknown))
                | What::Note(who @ Who::Source(_), note @ Note::WarmingUp(_)) => {
                    told.push(format!("{} {}", names.who(who), names.note(who, note)));
                }
                What::Note(who @ Who::Output(_), note) if tells(note) => {
                    told.push(format!("{} {}", names.who(who), names.note(who, note)));
                }
                What::Note(who, Note::Ignored(why)) => {
                    let subject = match who {
                        Who::Source(source) if source == id => String::new(),
                        who => format!("{}: ", names.who(who)),
                    };
                    refused.push(format!("{subject}nothing happens: {}", words::ignored(why)));
                }
                What::Started(slot, span) if !names.timer(slot).quiet => {
                    let timer = names.timer(slot);
                    timers.push(format!("{} starts anew ({span})", timer.name));
                }
                _ => {}
            }
        }
        let idle = told.is_empty() && timers.is_empty() && !refused.is_empty();
        let mut all = if told.is_empty() { timers } else { told };
        all.extend(refused);
        let mut seen = Vec::new();
        all.retain(|words| {
            let fresh = !seen.contains(words);
            seen.push(words.clone());
            fresh
        });
        let more = all.len().saturating_sub(EFFECTS_AT_MOST);
        all.truncate(EFFECTS_AT_MOST);
        if more > 0 {
            all.push(format!("and {more} more"));
        }
        (all.join("; "), idle)
    }

    fn presses(&self, id: SourceId, steps: &[StepId]) -> Vec<Item> {
        let mut items = Vec::new();
        let mut down: Vec<(u8, StepId)> = Vec::new();
        for step in steps {
            match self.what(*step) {
                Some(What::Stimulus(_, Stimulus::Press(number))) => down.push((*number, *step)),
                Some(What::Stimulus(_, Stimulus::Release(number))) => {
                    let pressed = down.iter().position(|(held, _)| held == number);
                    let from = pressed.map_or(*step, |index| down.remove(index).1);
                    items.push(self.press(id, *number, from, Some(*step)));
                }
                _ => {}
            }
        }
        for (number, from) in down {
            items.push(self.press(id, number, from, None));
        }
        items.sort_by_key(|item| item.from);
        items
    }

    fn press(&self, id: SourceId, number: u8, down: StepId, up: Option<StepId>) -> Item {
        let names = &self.run.names;
        let from = self.at(down);
        let to = up.map_or(self.run.end, |up| self.at(up));
        let lasted = to.since(from);
        let held = lasted > self.threshold(id);
        let button = match names.button(id, number) {
            "" => format!("button {}", u16::from(number) + 1),
            name => name.to_owned(),
        };
        let says = match (up, held) {
            (Some(up), _) if up == down => format!("{button} comes up alone"),
            (None, _) => format!("{button} is held down"),
            (Some(_), true) => format!("{button} is held for {}", words::short_span(lasted)),
            (Some(_), false) => format!("tap on {button}"),
        };
        let stimuli: Vec<StepId> = [Some(down), up.filter(|up| *up != down)]
            .into_iter()
            .flatten()
            .collect();
        let (mut reason, idle) = self.effect(id, &stimuli);
        let place = self.place(down);
        if !place.is_empty() {
            reason.push_str(&format!(" ({place})"));
        }
        Item {
            number: 0,
            from,
            to,
            goes_on: up.is_none(),
            says,
            reason,
            shape: Shape::Press {
                gesture: words::button_gesture(names, id, number),
                held,
                idle,
            },
        }
    }

    /// The shortest hold threshold of whoever hears a source.
    fn threshold(&self, id: SourceId) -> Span {
        let plan = self.run.names.plan;
        let listeners = plan
            .sources
            .get(usize::from(id.0))
            .map(|source| &source.listeners);
        let thresholds = listeners.into_iter().flatten().filter_map(|(listener, _)| {
            let controller = plan.controllers.get(usize::from(listener.0))?;
            Some(controller.settings.hold_threshold)
        });
        thresholds.min().unwrap_or(Span::from_ms(500))
    }

    fn cards(&self, steps: &[StepId]) -> Vec<Item> {
        self.spans(steps, |what| match what {
            What::Stimulus(_, Stimulus::CardIn { valid: true }) => {
                Some(Some((Fill::Solid, "card in".to_owned())))
            }
            What::Stimulus(_, Stimulus::CardIn { valid: false }) => {
                Some(Some((Fill::Slants, "wrong card in".to_owned())))
            }
            What::Stimulus(_, Stimulus::CardOut) => Some(None),
            _ => None,
        })
    }

    fn signals(&self, id: SourceId, steps: &[StepId]) -> Vec<Item> {
        let Some(SourceSettings::Signal(settings)) = self.run.names.settings(id) else {
            return Vec::new();
        };
        let (rest, says) = match settings.kind {
            device::signal::Kind::NormalPower => (true, "normal power lost"),
            device::signal::Kind::FireAlarm => (false, "fire alarm"),
            device::signal::Kind::DemandResponse => (false, "shed"),
        };
        self.spans(steps, |what| match what {
            What::Stimulus(_, Stimulus::Signal(on)) if *on == rest => Some(None),
            What::Stimulus(_, Stimulus::ShedEnd) => Some(None),
            What::Stimulus(_, Stimulus::Signal(_) | Stimulus::Shed(_)) => {
                Some(Some((Fill::Slants, says.to_owned())))
            }
            _ => None,
        })
    }

    fn beliefs(&self, id: SourceId, steps: &[StepId]) -> Vec<Item> {
        self.spans(steps, |what| match what {
            What::Note(Who::Source(who), note) if *who == id => match note {
                Note::Occupied => Some(Some((Fill::Solid, "occupied".to_owned()))),
                Note::Vacant => Some(None),
                Note::Unknown => Some(Some((Fill::Dots, "unknown".to_owned()))),
                Note::WarmingUp(_) => Some(Some((Fill::Slants, "warming up".to_owned()))),
                _ => None,
            },
            What::Power(_, false) => Some(None),
            _ => None,
        })
    }

    fn measured(&self, steps: &[StepId], tracks: &mut Vec<super::Track>) {
        let seen = steps.iter().filter_map(|id| match self.what(*id)? {
            What::Note(_, Note::Measured(seen)) => Some((self.at(*id), seen.hundredths())),
            _ => None,
        });
        let points = stairs(seen, self.run.end);
        if let Some((from, _)) = points.first().copied() {
            tracks.push(curve(
                "reports",
                "measured and reported",
                from,
                self.run.end,
                points,
            ));
        }
    }

    /// Frames that were not taken; those that follow each other closely are one item.
    fn frames(&self, steps: &[StepId]) -> Vec<Item> {
        let names = &self.run.names;
        let mut items: Vec<Item> = Vec::new();
        let mut counts: Vec<usize> = Vec::new();
        for id in steps {
            let Some(What::Dropped(listener, source, payload, why)) = self.what(*id) else {
                continue;
            };
            let (at, to) = (self.at(*id), names.controller(*listener));
            let fate = match why {
                sim::Drop::Lost => FrameFate::Lost,
                sim::Drop::Old => FrameFate::Copy,
                sim::Drop::NoPower => FrameFate::NoPower,
            };
            let why = words::dropped(*why);
            if let (Some(last), Some(count)) = (items.last_mut(), counts.last_mut())
                && last.shape == Shape::Frame(fate)
                && at.since(last.to) <= bursts::APART
            {
                *count += 1;
                last.to = at;
                last.says = format!("{count} frames to {to}: {why}");
                continue;
            }
            counts.push(1);
            items.push(Item {
                number: 0,
                from: at,
                to: at,
                goes_on: false,
                says: format!(
                    "{} frame to {to}: {why}",
                    words::payload(names, *source, *payload)
                ),
                reason: self.reason(*id),
                shape: Shape::Frame(fate),
            });
        }
        items
    }
}

/// The sign of a stimulus; `None` for those that are drawn as bars.
const fn tick_of(stimulus: Stimulus) -> Option<Tick> {
    match stimulus {
        Stimulus::Motion => Some(Tick::Motion),
        Stimulus::Sound => Some(Tick::Sound),
        Stimulus::Due(_) | Stimulus::ClockSet { .. } => Some(Tick::Due),
        Stimulus::WalkTest(_) | Stimulus::TeachIn => Some(Tick::Other),
        Stimulus::Press(_)
        | Stimulus::Release(_)
        | Stimulus::CardIn { .. }
        | Stimulus::CardOut
        | Stimulus::Signal(_)
        | Stimulus::Shed(_)
        | Stimulus::ShedEnd => None,
    }
}

/// What is told of one stimulus before the rest is only counted.
const EFFECTS_AT_MOST: usize = 6;
