//! From a cone to a plan of its own.
//!
//! Invariant: a list of the small plan is in the order of the list it was taken from.

use std::collections::BTreeSet;
use std::sync::Arc;

use clause::{Doer, Mentions};
use device::controller::{Button, Drive, Link, Output, Role, Settings};
use device::{Flaw, Span, signal, switch};
use room::{
    ControllerId, LightModel, OutputId, Plan, PlanClause, PlanController, PlanOutput, PlanSource,
    SourceId, SourceSettings, Stimulus,
};

use super::Slice;
use super::cone::{Cone, sees_light};
use super::fold;

/// Builds the plan of a cone with these clauses.
pub(super) fn build(plan: &Plan, cone: &Cone<'_>, mentions: &Mentions, clauses: Vec<u16>) -> Slice {
    let folded = fold::folded(plan, cone, &mentions.outputs());
    let parts: Vec<Part<'_>> = (0..)
        .map(ControllerId)
        .zip(&plan.controllers)
        .filter_map(|(id, controller)| Part::of(id, controller, cone, &folded))
        .collect();
    let kept = cone.outputs.iter().copied();
    let mut outputs: Vec<OutputId> = kept.filter(|it| !folded.contains(*it)).collect();
    outputs.extend(parts.iter().filter_map(Part::ghost_output));
    outputs.sort_unstable();
    let sources: Vec<SourceId> = cone.sources.iter().copied().collect();
    let new_output = |old: OutputId| {
        outputs
            .binary_search(&old)
            .ok()
            .map(|at| OutputId(at as u16))
    };
    let new_source = |old: SourceId| {
        sources
            .binary_search(&old)
            .ok()
            .map(|at| SourceId(at as u16))
    };

    let mut small = Plan {
        name: plan.name.clone(),
        daylight: plan.daylight,
        ..Plan::default()
    };
    (small.controllers, small.outputs) = controllers(plan, &parts, &sources, &outputs);
    small.sources = (sources.iter())
        .map(|old| source(&plan.sources[usize::from(old.0)], &parts, &new_output))
        .collect();
    let numbers = |count: usize, new: &dyn Fn(u16) -> Option<u16>| -> Vec<Option<u16>> {
        (0..count as u16).map(new).collect()
    };
    let by_source = numbers(plan.sources.len(), &|old| {
        new_source(SourceId(old)).map(|it| it.0)
    });
    let stands_for = |old: OutputId| folded.as_another.get(&old).copied().unwrap_or(old);
    let by_output = numbers(plan.outputs.len(), &|old| {
        new_output(stands_for(OutputId(old))).map(|it| it.0)
    });
    small.clauses = (clauses.iter())
        .map(|old| {
            let clause = &plan.clauses[usize::from(*old)];
            let formula = clause.formula.renumbered(&by_source, &by_output);
            PlanClause {
                id: clause.id.clone(),
                formula: formula.expect("all that a clause speaks of is in its slice"),
            }
        })
        .collect();
    let ghosts = parts.iter().filter_map(Part::ghost_output);
    Slice {
        ghosts: ghosts.map(|old| new_output(old).expect(IN_SLICE)).collect(),
        stimuli: stimuli(&small, &sources, mentions),
        plan: Arc::new(small),
        sources,
        outputs,
        folded: folded.as_another.into_iter().collect(),
        outshone: folded.outshone.into_iter().collect(),
        ignores_sheds: cone.ignores_sheds(),
        controllers: parts.iter().map(|part| part.id).collect(),
        clauses,
    }
}

/// The controllers and outputs that are left, with the ids of the slice.
fn controllers(
    plan: &Plan,
    parts: &[Part<'_>],
    sources: &[SourceId],
    outputs: &[OutputId],
) -> (Vec<PlanController>, Vec<PlanOutput>) {
    let place = |at: Result<usize, usize>| at.expect(IN_SLICE) as u16;
    let mut placed: Vec<Option<PlanOutput>> = vec![None; outputs.len()];
    let controllers = (0..).map(ControllerId).zip(parts).map(|(id, part)| {
        let driven: Vec<OutputId> = (part.outputs.iter())
            .map(|local| part.controller.outputs[usize::from(*local)])
            .map(|old| OutputId(place(outputs.binary_search(&old))))
            .collect();
        for (local, output) in (0..).zip(&driven) {
            let old = outputs[usize::from(output.0)];
            placed[usize::from(output.0)] = Some(PlanOutput {
                name: plan.outputs[usize::from(old.0)].name.clone(),
                controller: id,
                local,
            });
        }
        PlanController {
            name: part.controller.name.clone(),
            settings: part.settings(),
            heard: (part.heard.iter())
                .map(|heard| part.controller.heard[usize::from(*heard)])
                .map(|old| SourceId(place(sources.binary_search(&old))))
                .collect(),
            outputs: driven,
        }
    });
    let controllers = controllers.collect();
    let outputs = placed.into_iter().map(|it| it.expect(IN_SLICE));
    (controllers, outputs.collect())
}

/// A source with the listeners that are left.
fn source(
    old: &PlanSource,
    parts: &[Part<'_>],
    new_output: &impl Fn(OutputId) -> Option<OutputId>,
) -> PlanSource {
    let listeners = old.listeners.iter().filter_map(|(controller, heard)| {
        let at = parts.iter().position(|part| part.id == *controller)?;
        let heard = parts[at].heard.binary_search(heard).ok()?;
        Some((ControllerId(at as u16), heard as u8))
    });
    let electric = old.light.electric.iter();
    let light = LightModel {
        daylight: old.light.daylight,
        electric: electric
            .filter_map(|(output, light)| Some((new_output(*output)?, *light)))
            .collect(),
    };
    PlanSource {
        light: if sees_light(&old.settings) {
            light
        } else {
            LightModel::default()
        },
        listeners: listeners.collect(),
        ..old.clone()
    }
}

/// What is left of a controller, by its old local numbers, each list sorted.
struct Part<'a> {
    id: ControllerId,
    controller: &'a PlanController,
    heard: Vec<u8>,
    buttons: Vec<u8>,
    outputs: Vec<u8>,
    links: Vec<Link>,
    ghost: Option<u8>,
}

impl<'a> Part<'a> {
    fn of(
        id: ControllerId,
        controller: &'a PlanController,
        cone: &Cone<'_>,
        folded: &fold::Folded,
    ) -> Option<Self> {
        let settings = &controller.settings;
        let in_cone = |output: &OutputId| cone.outputs.contains(output);
        let places = |of: &dyn Fn(&OutputId) -> bool| -> Vec<u8> {
            let mine = (0..).zip(&controller.outputs);
            mine.filter(|(_, output)| of(output))
                .map(|(local, _)| local)
                .collect()
        };
        let known = places(&in_cone);
        let mut outputs = places(&|it| in_cone(it) && !folded.contains(*it));
        let mut links: Vec<Link> = (settings.links.iter())
            .filter(|link| outputs.contains(&link.output))
            .filter(|link| (cone.kept_links(settings, link.output)).any(|kept| kept == *link))
            .map(|link| Link {
                run_on: run_on(settings, link),
                ..link.clone()
            })
            .collect();
        let ghost = ghost(settings, &known, &mut links);
        outputs.extend(ghost);
        outputs.sort_unstable();
        let asked = cone.heard.iter().filter(|(at, _)| *at == id);
        let mut heard: BTreeSet<u8> = asked.map(|&(_, heard)| heard).collect();
        heard.extend(links.iter().map(|link| link.heard));
        let asked = cone.buttons.iter().filter(|(at, _)| *at == id);
        let mut buttons: BTreeSet<u8> = asked.map(|&(_, button)| button).collect();
        buttons.extend(links.iter().filter_map(button_of));
        if outputs.is_empty() && heard.is_empty() {
            return None;
        }
        Some(Self {
            id,
            controller,
            heard: heard.into_iter().collect(),
            buttons: buttons.into_iter().collect(),
            outputs,
            links,
            ghost,
        })
    }

    fn ghost_output(&self) -> Option<OutputId> {
        self.ghost
            .map(|local| self.controller.outputs[usize::from(local)])
    }

    /// The settings with new local numbers.
    fn settings(&self) -> Settings {
        let old = &self.controller.settings;
        let place =
            |list: &[u8], of: u8| list.binary_search(&of).expect("what a link ties is kept") as u8;
        let mut links: Vec<Link> = (self.links.iter())
            .map(|link| Link {
                heard: place(&self.heard, link.heard),
                output: place(&self.outputs, link.output),
                role: match &link.role {
                    Role::Button(button) => Role::Button(place(&self.buttons, *button)),
                    Role::Scene(button, level) => {
                        Role::Scene(place(&self.buttons, *button), *level)
                    }
                    other => other.clone(),
                },
                ..link.clone()
            })
            .collect();
        links.sort_by_key(|link| (link.heard, button_of(link), link.output));
        Settings {
            heard: (self.heard.iter())
                .map(|heard| old.heard[usize::from(*heard)].clone())
                .collect(),
            buttons: (self.buttons.iter())
                .map(|button| &old.buttons[usize::from(*button)])
                .map(|button| Button {
                    heard: place(&self.heard, button.heard),
                    ..button.clone()
                })
                .collect(),
            links,
            outputs: (self.outputs.iter())
                .map(|output| match self.ghost {
                    Some(ghost) if ghost == *output => ghost_settings(),
                    _ => old.outputs[usize::from(*output)].clone(),
                })
                .collect(),
            ..old.clone()
        }
    }
}

/// The output that stands for those that are left out and do not stand as one of these, and its
/// links.
fn ghost(settings: &Settings, known: &[u8], links: &mut Vec<Link>) -> Option<u8> {
    let asks = |button: u8| {
        let kind = settings.buttons[usize::from(button)].kind;
        matches!(kind, switch::Button::Up | switch::Button::Single)
    };
    let shared: BTreeSet<u8> = (links.iter())
        .filter_map(|link| match link.role {
            Role::Button(button) if asks(button) => Some(button),
            _ => None,
        })
        .collect();
    let left_out: Vec<&Link> = (settings.links.iter())
        .filter(|link| link.stored && !known.contains(&link.output))
        .filter(|link| matches!(link.role, Role::Button(button) if shared.contains(&button)))
        .collect();
    let ghost = left_out.iter().map(|link| link.output).min()?;
    let mut tied = BTreeSet::new();
    for link in left_out {
        if tied.insert(button_of(link)) {
            links.push(Link {
                output: ghost,
                ..link.clone()
            });
        }
    }
    Some(ghost)
}

/// An output of which nothing goes on by itself, with room between its trims.
fn ghost_settings() -> Output {
    Output {
        fade_on: Span::ZERO,
        fade_off: Span::ZERO,
        press_hold: Span::ZERO,
        ..Output::new(Drive::ZeroToTen)
    }
}

/// The button of a link of a wall unit.
fn button_of(link: &Link) -> Option<u8> {
    match link.role {
        Role::Button(button) | Role::Scene(button, _) => Some(button),
        _ => None,
    }
}

/// The run-on that a link has: with a seeded flaw that of the first link of its source, which
/// may be left out.
fn run_on(settings: &Settings, link: &Link) -> Span {
    let occupancy = |link: &Link| {
        matches!(
            link.role,
            Role::AutoOn(_) | Role::PartialOn(_) | Role::ManualOn
        )
    };
    let first = (settings.links.iter()).find(|other| other.heard == link.heard && occupancy(other));
    match first {
        Some(first) if settings.flaw == Some(Flaw::SharedRunOn) => first.run_on,
        _ => link.run_on,
    }
}

/// What may happen at the sources of a slice.
fn stimuli(small: &Plan, old: &[SourceId], mentions: &Mentions) -> Vec<(SourceId, Stimulus)> {
    let mut all = Vec::new();
    for (id, source) in (0..).map(SourceId).zip(&small.sources) {
        let mut add = |stimulus| all.push((id, stimulus));
        match &source.settings {
            SourceSettings::Occupancy(it) => {
                add(Stimulus::Motion);
                if it.sound {
                    add(Stimulus::Sound);
                }
            }
            SourceSettings::Switch(_) => {
                for button in buttons(small, id, old[usize::from(id.0)], mentions) {
                    add(Stimulus::Press(button));
                    add(Stimulus::Release(button));
                }
            }
            SourceSettings::Card(it) => {
                add(Stimulus::CardIn { valid: true });
                if it.verifies {
                    add(Stimulus::CardIn { valid: false });
                }
                add(Stimulus::CardOut);
            }
            SourceSettings::Signal(it) if it.kind == signal::Kind::DemandResponse => {
                add(Stimulus::Shed(None));
                add(Stimulus::ShedEnd);
            }
            SourceSettings::Signal(_) => {
                add(Stimulus::Signal(true));
                add(Stimulus::Signal(false));
            }
            SourceSettings::Daylight(_) | SourceSettings::Clock(_) => {}
        }
    }
    all
}

/// The buttons of a unit that lead anywhere in the slice or are spoken of, by their numbers.
fn buttons(small: &Plan, id: SourceId, old: SourceId, mentions: &Mentions) -> BTreeSet<u8> {
    let unit = &small.sources[usize::from(id.0)];
    let linked = unit.listeners.iter().flat_map(|(controller, heard)| {
        let settings = &small.controllers[usize::from(controller.0)].settings;
        let of_unit = settings
            .buttons
            .iter()
            .filter(move |button| button.heard == *heard);
        of_unit.map(|button| button.number)
    });
    let mut found: BTreeSet<u8> = linked.collect();
    let of_unit = |&&(at, _): &&(u16, u8)| at == old.0;
    found.extend(
        mentions
            .down
            .iter()
            .filter(of_unit)
            .map(|&(_, button)| button),
    );
    for doer in mentions.doers.iter().chain(&mentions.acted) {
        match *doer {
            Doer::Button(at, button) if at == old.0 => drop(found.insert(button)),
            _ => {}
        }
    }
    for &(at, button, _) in &mentions.gestures {
        match button {
            _ if at != old.0 => {}
            Some(button) => drop(found.insert(button)),
            None => found.extend(0..unit.buttons.len() as u8),
        }
    }
    if found.is_empty() {
        // A clause speaks of the unit as a whole: that it acts is all that can be seen of it.
        found.insert(0);
    }
    found
}

const IN_SLICE: &str = "what a controller of the slice hears and drives is in the slice";
