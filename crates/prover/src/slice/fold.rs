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
//! Not folded: what a sensor of light or a closed loop sees, because two bring more light than
//! one; and where a flaw is seeded, which may tell the first from the second.

use std::collections::BTreeMap;

use device::controller::{Link, LoopKind, Role, Settings};
use room::{OutputId, Plan};

use super::cone::{Cone, sees_light};

/// The outputs of a cone that stand as another does, each with that one: the first of its kind.
pub(super) fn folded(plan: &Plan, cone: &Cone<'_>) -> BTreeMap<OutputId, OutputId> {
    let mut folded = BTreeMap::new();
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
                Some(&(_, first)) => drop(folded.insert(*id, first)),
                None => kinds.push((local, *id)),
            }
        }
    }
    folded
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
