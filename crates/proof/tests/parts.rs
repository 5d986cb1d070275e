//! What a proof may leave out of a room, and what it may not: outputs that are one with another,
//! levels between which nothing is told apart, stimuli that no clause waits for, frames and wall units that are
//! looked at less closely.

mod texts;

use clause::Formula;
use device::{Flaw, Level};
use prover::Sight;
use prover::model::Between;
use prover::slice::{Slice, levels};
use room::{ControllerId, Plan, SourceId, Stimulus};

/// Two lamps with equal settings and links.
const LAMPS: &str = r#"
name = "Room"

[outputs.left]
drive = "0-10 V"

[outputs.right]
drive = "0-10 V"

[sources.eye]
kind = "occupancy"
senses = "motion"

[[links]]
from = "eye"
to = ["left", "right"]
role = "auto-on"
"#;

const BOTH: &str = "never = \"left is on and right is on for 1 h\"";

fn plan(room: &str, clause: &str) -> Plan {
    let clause = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\n{clause}\n");
    texts::room(room, &clause).plan
}

/// How many outputs are left of the two lamps.
fn left(plan: &Plan) -> usize {
    Slice::of(plan, &[0]).outputs.len()
}

#[test]
fn equal_lamps_are_one_unless_something_tells_them_apart() {
    assert_eq!(left(&plan(LAMPS, BOTH)), 1);
    let seen = LAMPS.replace(
        "senses = \"motion\"",
        "senses = \"motion\"\nhold-off = \"200 lx\"\ndaylight = \"5 %\"\n\
         electric = { left = \"100 lx\", right = \"100 lx\" }",
    );
    assert_eq!(
        left(&plan(&seen, BOTH)),
        2,
        "a sensor sees the light of both"
    );
    let mut flawed = plan(LAMPS, BOTH);
    flawed.controllers[0].settings.flaw = Some(Flaw::SharedRunOn);
    assert_eq!(
        left(&flawed),
        2,
        "a flaw may tell the first from the second"
    );
}

#[test]
fn a_closed_loop_keeps_its_lamps_apart() {
    let limit = "[[links]]\nfrom = \"cell\"\nto = [\"left\", \"right\"]\nset-point = \"500 lx\"\n\
         night = { sensor = \"100 lx\", task = \"500 lx\" }\n\
         day = { sensor = \"500 lx\", task = \"1000 lx\" }\n";
    let cell = "[sources.cell]\nkind = \"daylight\"\ndaylight = \"5 %\"\n";
    let with = |kind: &str| plan(&format!("{LAMPS}\n{cell}{limit}loop = \"{kind}\"\n"), BOTH);
    assert_eq!(left(&with("closed")), 2, "each takes the light of both off");
}

/// Of a lamp with everything that has a level, those levels are told apart from what is just beside
/// them, and so is the border of a clause.
#[test]
fn every_level_that_something_stands_at_or_compares_with_is_told_apart() {
    let room = "name = \"Room\"\n[outputs.lamp]\ndrive = \"0-10 V\"\nlow-trim = \"11 %\"\n\
         high-trim = \"90 %\"\nwarning = \"1 min\"\nwarning-level = \"33 %\"\nshed = \"80 points\"\n\
         egress = { floor = \"29 %\" }\n\
         [sources.eye]\nkind = \"occupancy\"\n[sources.grid]\nkind = \"demand response\"\n\
         [[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"partial-on\"\nlevel = \"62 %\"\n\
         setback = \"21 %\"\n[[links]]\nfrom = \"grid\"\nto = \"lamp\"\n";
    let plan = plan(room, "never = \"lamp is above 60 % for 1 h\"");
    let formulas: Vec<&Formula> = plan.clauses.iter().map(|it| &it.formula).collect();
    let levels = levels(&plan, &formulas, false);
    let percent = |it: u16| Level::from_hundredths(it * 100);
    // Trims, preset, setback, warning, floor; half of the high trim, which is more than what a shed leaves.
    for named in [11, 90, 62, 21, 33, 29, 45] {
        let level = percent(named);
        assert!(levels.standing().contains(&level), "{named} %");
    }
    let [below, above] = [percent(59), percent(61)].map(|it| levels.stands_for(it));
    assert_ne!(below, above, "the clause tells 59 % from 61 %");
}

/// Where nobody sees that a level moves, it makes no difference where between two trims a preset
/// stands; but it does where a shed may leave half of it (OUT-14), or a sensor sees its light.
#[test]
fn a_preset_is_told_apart_only_where_anything_hangs_on_it() {
    let room = "name = \"Room\"\n[outputs.lamp]\ndrive = \"0-10 V\"\nlow-trim = \"11 %\"\n\
         high-trim = \"90 %\"\nwarning = \"1 min\"\nwarning-level = \"33 %\"\n\
         egress = { floor = \"29 %\" }\n[sources.eye]\nkind = \"occupancy\"\n\
         [[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"partial-on\"\nlevel = \"62 %\"\n\
         setback = \"21 %\"\n";
    let told = |more: &str, moves: bool| -> Vec<u16> {
        let plan = plan(
            &format!("{room}{more}"),
            "never = \"lamp is above 60 % for 1 h\"",
        );
        let formulas: Vec<&Formula> = plan.clauses.iter().map(|it| &it.formula).collect();
        let levels = levels(&plan, &formulas, moves);
        let standing = levels.standing().iter().map(|it| it.hundredths());
        let named = [0, 11, 21, 29, 33, 62, 90, 100];
        named
            .into_iter()
            .filter(|it| standing.clone().any(|level| level == it * 100))
            .collect()
    };
    let all = [0, 11, 21, 29, 33, 62, 90, 100];
    assert_eq!(told("", false), [0, 11, 29, 90, 100]);
    assert_eq!(told("", true), all);
    let grid = "[sources.grid]\nkind = \"demand response\"\n\
                [[links]]\nfrom = \"grid\"\nto = \"lamp\"\n";
    assert_eq!(
        told(grid, false),
        [0, 11, 29, 90, 100],
        "15 points leave more than half"
    );
    let seen = "[sources.cell]\nkind = \"daylight\"\nelectric = { lamp = \"100 lx\" }\n\
                [[links]]\nfrom = \"cell\"\nto = \"lamp\"\n";
    assert_eq!(told(seen, false), all);
}

#[test]
fn what_may_happen_has_both_ways() {
    let room = "name = \"Room\"\n[outputs.lamp]\ndrive = \"0-10 V\"\n\
         [sources.grid]\nkind = \"demand response\"\n\
         [sources.card]\nkind = \"card\"\nverifies = true\n\
         [sources.pad]\nkind = \"switch\"\nbuttons = \"single\"\n\
         [[links]]\nfrom = \"grid\"\nto = \"lamp\"\n[[links]]\nfrom = \"card\"\nto = \"lamp\"\n\
         [[links]]\nfrom = \"pad\"\nto = \"lamp\"\n";
    let plan = plan(room, "never = \"lamp is above 57 % for 1 h\"");
    let slice = Slice::of(&plan, &[0]);
    let happens: Vec<Stimulus> = slice.stimuli.iter().map(|(_, it)| *it).collect();
    for stimulus in [
        Stimulus::Shed(None),
        Stimulus::ShedEnd,
        Stimulus::CardIn { valid: true },
        Stimulus::CardIn { valid: false },
        Stimulus::CardOut,
        Stimulus::Press(0),
        Stimulus::Release(0),
    ] {
        assert!(happens.contains(&stimulus), "{stimulus:?} of {happens:?}");
    }
}

fn takes(least: u64, most: u64) -> Between {
    Between {
        least: device::Span::from_ms(least),
        most: device::Span::from_ms(most),
    }
}

/// Frames count as prompt where nothing tells their time, and a wall unit as its frames where
/// nothing sees its releases.
#[test]
fn what_tells_the_time_of_a_frame_is_heeded() {
    let room = "name = \"Room\"\n[outputs.lamp]\ndrive = \"relay\"\n\
         [sources.eye]\nkind = \"occupancy\"\n[sources.pad]\nkind = \"switch\"\nbuttons = \"single\"\n\
         [[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"auto-on\"\n\
         [[links]]\nfrom = \"pad\"\nto = \"lamp\"\n";
    let (eye, pad) = (SourceId(0), SourceId(1));
    let even = |_: SourceId, _: ControllerId| takes(10, 10);
    let mut plan = plan(room, "never = \"lamp is on for 1 h\"");
    let of = |plan: &Plan| Sight::of(plan.clauses.iter().map(|it| &it.formula));
    let sight = of(&plan);
    assert_eq!(sight.prompt(&plan, even), [eye]);
    assert_eq!(sight.prompt(&plan, |_, _| takes(10, 11)), [], "jitter");
    assert_eq!(
        sight.prompt(&plan, |_, _| takes(0, 0)),
        [],
        "no time at all"
    );
    assert_eq!(sight.light_units(&plan, even), [pad]);
    for source in &mut plan.sources {
        source.listeners.push((ControllerId(1), 0));
    }
    let uneven = |_: SourceId, to: ControllerId| takes(10 + u64::from(to.0), 10 + u64::from(to.0));
    assert_eq!(sight.prompt(&plan, uneven), [], "unlike times");
    assert_eq!(sight.light_units(&plan, even), [], "two listeners");
    let seen = self::plan(
        room,
        "when = \"pad release\"\nthen = \"lamp is on\"\nwithin = \"1 s\"",
    );
    assert_eq!(
        of(&seen).light_units(&seen, even),
        [],
        "its releases are seen"
    );
    let named = self::plan(room, "never = \"pad turns on lamp\"");
    assert_eq!(of(&named).doers.len(), 1, "who acted is told apart");
}
