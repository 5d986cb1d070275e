//! What a source can reach: the answer to `S never affects X`, from the links alone.
//!
//! A source reaches the outputs that it is linked to, those that share their relay or move with
//! them, and those whose daylight limit sees the light of an output it reaches. Invariant: what
//! is not reached cannot change through the source in any run of the plan, unless somebody
//! teaches a link.

use clause::Doer;
use device::controller::Role;
use room::{Plan, SourceId, SourceSettings};

/// Whether `doer` can reach the output with this index in the plan.
pub(super) fn reaches(plan: &Plan, doer: Doer, output: u16) -> bool {
    reached(plan, doer)
        .get(usize::from(output))
        .copied()
        .unwrap_or(false)
}

/// For each output of the plan, whether `doer` can reach it.
fn reached(plan: &Plan, doer: Doer) -> Vec<bool> {
    let mut reached = match doer {
        Doer::Start => vec![false; plan.outputs.len()],
        Doer::Power | Doer::Site => vec![true; plan.outputs.len()],
        Doer::Source(_) | Doer::Channel(..) | Doer::Button(..) | Doer::Daylight => {
            let outputs = 0..plan.outputs.len();
            outputs.map(|output| linked(plan, doer, output)).collect()
        }
    };
    // Each round reaches at least one more, or it is the last.
    loop {
        let before = reached.clone();
        for (output, reached) in reached.iter_mut().enumerate() {
            *reached |= (0..plan.outputs.len()).any(|from| {
                before[from] && (moves_with(plan, from, output) || limits(plan, from, output))
            });
        }
        if reached == before {
            return reached;
        }
    }
}

/// Whether a link leads from `doer` to an output.
fn linked(plan: &Plan, doer: Doer, output: usize) -> bool {
    let place = &plan.outputs[output];
    let controller = &plan.controllers[usize::from(place.controller.0)];
    controller.settings.links.iter().any(|link| {
        let source = controller.heard[usize::from(link.heard)];
        let button = |number: u8| match link.role {
            Role::Button(index) | Role::Scene(index, _) => {
                controller.settings.buttons[usize::from(index)].number == number
            }
            _ => false,
        };
        let from = match doer {
            Doer::Source(index) | Doer::Channel(index, _) => source == SourceId(index),
            Doer::Button(index, number) => source == SourceId(index) && button(number),
            Doer::Daylight => sees_daylight(plan, source),
            Doer::Power | Doer::Site | Doer::Start => false,
        };
        link.stored && link.output == place.local && from
    })
}

fn sees_daylight(plan: &Plan, source: SourceId) -> bool {
    match &plan.sources[usize::from(source.0)].settings {
        SourceSettings::Daylight(_) => true,
        SourceSettings::Occupancy(settings) => settings.hold_off.is_some(),
        _ => false,
    }
}

/// Whether two outputs share a relay, or an asked level.
fn moves_with(plan: &Plan, one: usize, other: usize) -> bool {
    let (one, other) = (&plan.outputs[one], &plan.outputs[other]);
    if one.controller != other.controller {
        return false;
    }
    let outputs = &plan.controllers[usize::from(one.controller.0)]
        .settings
        .outputs;
    let (left, right) = (
        &outputs[usize::from(one.local)],
        &outputs[usize::from(other.local)],
    );
    (left.relay.is_some() && left.relay == right.relay)
        || (left.group.is_some() && left.group == right.group)
}

/// Whether a sensor that limits `output`, or holds it off, sees the light of `from`.
fn limits(plan: &Plan, from: usize, output: usize) -> bool {
    plan.sources.iter().enumerate().any(|(index, source)| {
        let sees = source
            .light
            .electric
            .iter()
            .any(|(lamp, _)| usize::from(lamp.0) == from);
        let index = SourceId(u16::try_from(index).unwrap_or(u16::MAX));
        sees && sees_daylight(plan, index) && linked(plan, Doer::Source(index.0), output)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sources;
    use crate::room_file::read_room;

    const ROOM: &str = r#"
name = "Three lamps"

[outputs]
desk   = { drive = "0-10 V", relay = "feed" }
shelf  = { drive = "0-10 V", relay = "feed" }
window = { drive = "0-10 V" }
hall   = { drive = "relay" }

[sources]
sensor = { kind = "occupancy" }
unit   = { kind = "switch", buttons = ["desk up/down", "hall single"] }
cell   = { kind = "daylight", daylight = "10 %", electric = { desk = "100 lx" } }

[[links]]
from = "sensor"
to   = "hall"
role = "auto-on"

[[links]]
from = "unit/desk"
to   = "desk"

[[links]]
from = "unit/hall"
to   = "hall"

[[links]]
from   = "sensor"
to     = "window"
role   = "auto-on"
stored = false

[[links]]
from  = "cell"
to    = "window"
night = { sensor = "100 lx", task = "500 lx" }
day   = { sensor = "100 lx", task = "500 lx" }
"#;

    /// The names of the outputs that `doer` reaches.
    fn names(doer: impl Fn(&Plan) -> Doer) -> Vec<String> {
        let mut sources = Sources::new();
        let file = sources.add("room.toml", ROOM);
        let (room, found) = read_room(&sources, file, None, None);
        let said: Vec<String> = found.iter().map(|it| it.render(&sources, false)).collect();
        let plan = room.unwrap_or_else(|| panic!("{}", said.join("\n"))).plan;
        let doer = doer(&plan);
        let outputs = (0..).zip(&plan.outputs);
        outputs
            .filter(|(index, _)| reaches(&plan, doer, *index))
            .map(|(_, output)| output.name.clone())
            .collect()
    }

    fn source(plan: &Plan, name: &str) -> u16 {
        let found = plan.sources.iter().position(|source| source.name == name);
        found.map(|index| index as u16).unwrap()
    }

    #[test]
    fn a_source_reaches_what_it_is_linked_to_and_not_what_it_may_be_taught() {
        assert_eq!(names(|plan| Doer::Source(source(plan, "sensor"))), ["hall"]);
    }

    #[test]
    fn a_button_reaches_the_relay_of_its_lamp_and_what_sees_its_light() {
        let unit = |number| names(move |plan| Doer::Button(source(plan, "unit"), number));
        assert_eq!(unit(0), ["desk", "shelf", "window"]);
        assert_eq!(unit(2), ["hall"]);
    }

    #[test]
    fn daylight_reaches_what_it_limits_and_power_reaches_everything() {
        assert_eq!(names(|_| Doer::Daylight), ["window"]);
        assert_eq!(names(|_| Doer::Power).len(), 4);
        assert_eq!(names(|_| Doer::Start), [""; 0]);
    }
}
