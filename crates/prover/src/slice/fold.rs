//! Outputs that stand alike whatever happens.
//!
//! Of two outputs of one controller with equal settings and equal links, each input of a run is
//! for both or for neither: a frame is heard by the controller and goes along the links, which
//! are equal; a timer of the one runs for as long as a timer of the other, and elapses at the
//! same instant. So at the end of each instant they stand alike, by induction. An open daylight
//! loop that leaves full light in the dark as it is does nothing where daylight stands still in
//! the dark and its sensor sees no lamp, so loops that differ in their readings make no difference
//! there.
//!
//! # Companions in the shade of another
//!
//! Daylight stands still in a proof, so open loops of one sensor that differ in their day readings
//! only come to limits that stand, all at one pace: of such outputs of one group and one relay none
//! is ever above the one with the highest limit. What an output is asked is the same for all, because a ramp moves the lit outputs of a group from the
//! highest of them (DAY-8), and they go dark together (DAY-7), the highest last. So one of which no
//! clause speaks is left out where another of them has the same limit or a higher one.
//!
//! Not folded: what a sensor of light or a closed loop sees, because two bring more light than
//! one; and where a flaw is seeded, which may tell the first from the second.

use std::collections::{BTreeMap, BTreeSet};

use device::Level;
use device::controller::{Link, LoopKind, Role, Settings};
use room::{OutputId, Plan, PlanController};

use super::cone::{Cone, sees_light};

/// The outputs of a cone that are left out.
#[derive(Clone, Debug, Default)]
pub(super) struct Folded {
    /// Those that stand as another does, each with that one: the first of its kind.
    pub(super) as_another: BTreeMap<OutputId, OutputId>,
    /// Those of which no clause speaks and that another outshines, each with that one.
    pub(super) outshone: BTreeMap<OutputId, OutputId>,
}

impl Folded {
    pub(super) fn contains(&self, output: OutputId) -> bool {
        self.as_another.contains_key(&output) || self.outshone.contains_key(&output)
    }
}

/// The outputs of a cone that are left out; `spoken`: of which the clauses speak.
pub(super) fn folded(plan: &Plan, cone: &Cone<'_>, spoken: &BTreeSet<u16>) -> Folded {
    let mut folded = Folded::default();
    let seen = |output: OutputId| {
        let sensors = plan.sources.iter().filter(|it| sees_light(&it.settings));
        let mut lights = sensors.flat_map(|it| &it.light.electric);
        lights.any(|(of, _)| *of == output)
    };
    for controller in &plan.controllers {
        let settings = &controller.settings;
        if settings.flaw.is_some() {
            continue;
        }
        let idle = |link: &Link| {
            let source = controller.heard[usize::from(link.heard)];
            let light = &plan.sources[usize::from(source.0)].light;
            let is_dark = plan.daylight.hundredths() == 0 && light.electric.is_empty();
            matches!(&link.role, Role::Limit(it) if is_dark && it.is_idle_in_the_dark())
        };
        let in_cone = (0..).zip(&controller.outputs);
        let in_cone = in_cone.filter(|(_, id)| cone.outputs.contains(id) && !seen(**id));
        let mut kinds: Vec<(u8, OutputId)> = Vec::new();
        for (local, id) in in_cone {
            if is_metered(settings, local) {
                continue;
            }
            let first =
                (kinds.iter()).find(|(first, _)| alike(cone, settings, &idle, *first, local));
            match first {
                Some(&(_, first)) => drop(folded.as_another.insert(*id, first)),
                None => kinds.push((local, *id)),
            }
        }
        let limit = |local: u8| limit(plan, cone, controller, local);
        for &(local, id) in kinds.iter().filter(|(_, id)| !spoken.contains(&id.0)) {
            let Some(own) = limit(local) else { continue };
            let brighter = kinds.iter().filter(|&&(other, _)| {
                limit(other).is_some_and(|it| (it, local) > (own, other))
                    && are_companions(cone, settings, local, other)
            });
            let brightest = brighter.max_by_key(|(other, _)| (limit(*other), u8::MAX - other));
            if let Some((_, other)) = brightest {
                folded.outshone.insert(id, *other);
            }
        }
    }
    folded
}

/// The limit at which the one open daylight loop of an output stands.
fn limit(plan: &Plan, cone: &Cone<'_>, controller: &PlanController, local: u8) -> Option<Level> {
    let mut limits = (cone.kept_links(&controller.settings, local)).filter_map(|link| {
        let Role::Limit(constants) = &link.role else {
            return None;
        };
        let source = controller.heard[usize::from(link.heard)];
        let light = &plan.sources[usize::from(source.0)].light;
        let seen = light.of_daylight(plan.daylight);
        (light.electric.is_empty()).then(|| constants.standing_limit(seen))?
    });
    let only = limits.next()?;
    limits.next().is_none().then_some(only)
}

/// Whether what two outputs of a controller are asked, and how far a shed caps them, is the same at
/// the end of every instant, because they differ in the day readings of their loops at most.
pub(crate) fn are_asked_alike(settings: &Settings, one: u8, other: u8) -> bool {
    let links = |output: u8| {
        let links = settings.links.iter().filter(|link| link.output == output);
        links.cloned().collect::<Vec<_>>()
    };
    let closed = |link: &Link| matches!(&link.role, Role::Limit(it) if it.kind == LoopKind::Closed);
    settings.flaw.is_none()
        && !links(one).iter().any(closed)
        && differ_by_day(settings, [links(one), links(other)], [one, other])
}

/// Whether two outputs of a controller are of one group and one relay, and their settings and links
/// differ in the day readings of daylight loops at most.
pub(super) fn differ_by_day(settings: &Settings, links: [Vec<Link>; 2], outputs: [u8; 2]) -> bool {
    let [one, other] = outputs.map(|output| &settings.outputs[usize::from(output)]);
    let [of_one, of_other] = links.map(|links| {
        let without_day = links.into_iter().map(|link| Link {
            output: 0,
            role: match &link.role {
                Role::Limit(constants) => Role::Limit(constants.without_day()),
                role => role.clone(),
            },
            ..link
        });
        without_day.collect::<Vec<_>>()
    });
    one == other && one.group.is_some() && one.relay.is_some() && of_one == of_other
}

fn are_companions(cone: &Cone<'_>, settings: &Settings, one: u8, other: u8) -> bool {
    let links = [one, other].map(|it| cone.kept_links(settings, it).cloned().collect());
    differ_by_day(settings, links, [one, other])
}

/// Whether a closed daylight loop takes the light of an output off what its sensor sees.
fn is_metered(settings: &Settings, output: u8) -> bool {
    let closed = |link: &Link| matches!(&link.role, Role::Limit(it) if it.kind == LoopKind::Closed);
    let mut links = settings.links.iter();
    links.any(|link| link.output == output && closed(link))
}

fn alike(
    cone: &Cone<'_>,
    settings: &Settings,
    idle: &impl Fn(&Link) -> bool,
    one: u8,
    other: u8,
) -> bool {
    let spec = |output: u8| &settings.outputs[usize::from(output)];
    // The links that do anything in the dark, whichever output they are of.
    let acting = |output: u8| -> Vec<Link> {
        let links = cone.kept_links(settings, output);
        let acting = links.filter(|link| !idle(link));
        acting
            .map(|link| Link {
                output: 0,
                ..link.clone()
            })
            .collect()
    };
    spec(one) == spec(other) && acting(one) == acting(other)
}
