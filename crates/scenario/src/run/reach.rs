//! What a source can reach: the answer to `S never affects X`, from the links alone.
//!
//! A source reaches the outputs that it is linked to, those that share their relay or move with
//! them, and those whose daylight limit sees the light of an output it reaches. Invariant: what
//! is not reached cannot change through the source in any run of the plan, unless somebody
//! teaches a link.

use clause::{Doer, Formula};
use device::controller::{Output, Role};
use room::{Plan, SourceId, SourceSettings};

use crate::Place;
use crate::room_file::RoomFile;

/// One step of the way on which a source reaches an output.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct LinkStep {
    /// What ties the two, in words.
    pub says: String,
    /// Where the link stands, if it is one.
    pub place: Option<Place>,
}

/// Whether `doer` can reach the output with this index in the plan.
pub(super) fn reaches(plan: &Plan, doer: Doer, output: u16) -> bool {
    let reached = reached(plan, doer);
    reached
        .get(usize::from(output))
        .is_some_and(Option::is_some)
}

/// How a doer comes to reach an output.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum By {
    /// By a link of its own, or because it reaches everything.
    Itself,
    /// Another output takes this one with it.
    With(usize),
    /// The light of another output falls on a sensor that is linked to this one.
    Light(usize, SourceId),
}

/// For each output of the plan, how `doer` reaches it, if it does.
fn reached(plan: &Plan, doer: Doer) -> Vec<Option<By>> {
    let outputs = 0..plan.outputs.len();
    let mut reached: Vec<Option<By>> = match doer {
        Doer::Start => vec![None; plan.outputs.len()],
        Doer::Power | Doer::Site => vec![Some(By::Itself); plan.outputs.len()],
        Doer::Source(_) | Doer::Channel(..) | Doer::Button(..) | Doer::Daylight => outputs
            .map(|output| linked(plan, doer, output).then_some(By::Itself))
            .collect(),
    };
    // Each round reaches at least one more, or it is the last.
    loop {
        let before = reached.clone();
        for (output, reached) in reached.iter_mut().enumerate() {
            let from = (0..plan.outputs.len()).filter(|from| before[*from].is_some());
            *reached = reached.or_else(|| from.filter_map(|from| takes(plan, from, output)).next());
        }
        if reached == before {
            return reached;
        }
    }
}

/// How an output that is reached makes another one reached.
fn takes(plan: &Plan, from: usize, output: usize) -> Option<By> {
    match moves_with(plan, from, output) {
        true => Some(By::With(from)),
        false => limits(plan, from, output).map(|sensor| By::Light(from, sensor)),
    }
}

/// The way on which a clause of the form `S never affects X` is broken by the links of a room,
/// from the source on; `None` when they do not break it, and for every other form.
#[must_use]
pub fn broken_by_links(room: &RoomFile, formula: &Formula) -> Option<Vec<LinkStep>> {
    let (doers, outputs) = formula.never_affects()?;
    let ways = doers.iter().flat_map(|doer| {
        let reached = reached(&room.plan, *doer);
        let way = move |output: &u16| way(room, *doer, &reached, usize::from(*output));
        outputs.iter().filter_map(way)
    });
    ways.min_by_key(Vec::len)
}

fn way(
    room: &RoomFile,
    doer: Doer,
    reached: &[Option<By>],
    mut output: usize,
) -> Option<Vec<LinkStep>> {
    let mut steps = Vec::new();
    let name = |output: usize| &room.plan.outputs[output].name;
    while let Some(by) = *reached.get(output)? {
        let (says, place, from) = match by {
            By::Itself => {
                let (says, place) = first_step(room, doer, output);
                (says, place, None)
            }
            By::With(from) => {
                let what = match shares_relay(&room.plan, from, output) {
                    true => "on one relay",
                    false => "in one group",
                };
                let says = format!("{} is {what} with {}", name(output), name(from));
                (says, None, Some(from))
            }
            By::Light(from, sensor) => {
                let place = tie(room, Doer::Source(sensor.0), output);
                let sensor = &room.plan.sources[usize::from(sensor.0)].name;
                let (lamp, limited) = (name(from), name(output));
                let says = format!("{sensor} sees the light of {lamp} and is linked to {limited}");
                (says, place, Some(from))
            }
        };
        steps.push(LinkStep { says, place });
        match from {
            Some(from) => output = from,
            None => {
                steps.reverse();
                return Some(steps);
            }
        }
    }
    None
}

/// What the way begins with.
fn first_step(room: &RoomFile, doer: Doer, output: usize) -> (String, Option<Place>) {
    let plan = &room.plan;
    let to = &plan.outputs[output].name;
    let source = |index: u16| plan.sources[usize::from(index)].name.as_str();
    let says = match doer {
        Doer::Source(index) | Doer::Channel(index, _) => {
            format!("{} is linked to {to}", source(index))
        }
        Doer::Button(index, number) => {
            let unit = &plan.sources[usize::from(index)];
            let button = unit
                .buttons
                .get(usize::from(number))
                .map_or("", String::as_str);
            format!("{}/{button} is linked to {to}", unit.name)
        }
        Doer::Daylight => format!("a sensor that sees daylight is linked to {to}"),
        Doer::Power => format!("power reaches every output, and so {to}"),
        Doer::Site => format!("what is set on site reaches every output, and so {to}"),
        Doer::Start => format!("the start reaches {to}"),
    };
    (says, tie(room, doer, output))
}

/// Where the link from a doer to an output stands.
fn tie(room: &RoomFile, doer: Doer, output: usize) -> Option<Place> {
    let ties = room
        .ties
        .iter()
        .filter(|tie| tie.stored && tie.output == output);
    let mut from = ties.filter(|tie| match doer {
        Doer::Source(index) | Doer::Channel(index, _) => tie.source == usize::from(index),
        Doer::Button(index, number) => {
            tie.source == usize::from(index) && tie.button == Some(number)
        }
        Doer::Daylight => {
            u16::try_from(tie.source).is_ok_and(|index| sees_daylight(&room.plan, SourceId(index)))
        }
        Doer::Power | Doer::Site | Doer::Start => false,
    });
    from.next().map(|tie| tie.place)
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
    let group = |left: &Output, right: &Output| left.group.is_some() && left.group == right.group;
    shares_relay(plan, one, other) || both(plan, one, other).is_some_and(|(l, r)| group(l, r))
}

fn shares_relay(plan: &Plan, one: usize, other: usize) -> bool {
    let relay = |left: &Output, right: &Output| left.relay.is_some() && left.relay == right.relay;
    both(plan, one, other).is_some_and(|(left, right)| relay(left, right))
}

/// The settings of two outputs of one controller.
fn both(plan: &Plan, one: usize, other: usize) -> Option<(&Output, &Output)> {
    let (one, other) = (&plan.outputs[one], &plan.outputs[other]);
    if one.controller != other.controller {
        return None;
    }
    let settings = &plan.controllers[usize::from(one.controller.0)].settings;
    let of = |local: u8| &settings.outputs[usize::from(local)];
    Some((of(one.local), of(other.local)))
}

/// The sensor that limits `output`, or holds it off, and sees the light of `from`.
fn limits(plan: &Plan, from: usize, output: usize) -> Option<SourceId> {
    let sources = (0..).map(SourceId).zip(&plan.sources);
    let mut sensors = sources.filter(|(id, source)| {
        let mut lamps = source.light.electric.iter();
        lamps.any(|(lamp, _)| usize::from(lamp.0) == from)
            && sees_daylight(plan, *id)
            && linked(plan, Doer::Source(id.0), output)
    });
    sensors.next().map(|(id, _)| id)
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

    /// The room with a sequence.
    fn room(sequence: Option<&str>) -> (Sources, RoomFile) {
        let mut sources = Sources::new();
        let file = sources.add("room.toml", ROOM);
        let sequence = sequence.map(|it| sources.add("sequence.toml", it));
        let (room, found) = read_room(&sources, file, sequence, None);
        let said: Vec<String> = found.iter().map(|it| it.render(&sources, false)).collect();
        (
            sources,
            room.unwrap_or_else(|| panic!("{}", said.join("\n"))),
        )
    }

    /// The names of the outputs that `doer` reaches.
    fn names(doer: impl Fn(&Plan) -> Doer) -> Vec<String> {
        let plan = room(None).1.plan;
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

    /// The way on which a clause is broken, each step with the line of its link.
    fn told(clause: &str) -> Option<Vec<String>> {
        let text = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\nalways = \"{clause}\"");
        let (sources, room) = room(Some(&text));
        let steps = broken_by_links(&room, &room.plan.clauses[0].formula)?;
        let told = |step: LinkStep| match step.place {
            Some(place) => format!("{} ({})", step.says, sources.position(place)),
            None => step.says,
        };
        Some(steps.into_iter().map(told).collect())
    }

    #[test]
    fn a_broken_never_affects_tells_the_links_on_the_way() {
        let way = told("unit/desk never affects window").unwrap();
        assert_eq!(
            way,
            [
                "unit/desk up is linked to desk (room.toml:20:1)",
                "cell sees the light of desk and is linked to window (room.toml:34:1)",
            ]
        );
        assert_eq!(
            told("unit never affects shelf").unwrap(),
            [
                "unit is linked to desk (room.toml:20:1)",
                "shelf is on one relay with desk",
            ]
        );
        assert_eq!(told("sensor never affects window"), None);
        assert_eq!(
            told("power never affects hall").unwrap(),
            ["power reaches every output, and so hall"]
        );
    }

    #[test]
    fn of_several_ways_the_shortest_is_told() {
        assert_eq!(
            told("unit never affects any of window, hall")
                .unwrap()
                .len(),
            1
        );
    }
}
