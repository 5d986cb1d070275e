//! A slice runs as the whole room does: whatever happens, its outputs stand as in the whole
//! room at each instant and its clause is judged alike, for some way in which the ghosts stood.

use std::collections::VecDeque;
use std::path::Path;
use std::sync::Arc;

use clause::Turn;
use device::controller::{Link, LoopKind, Output, OutputTimer, Role, Settings, Timer, View};
use device::{Illuminance, Level, Note, Payload, Span, switch};
use prover::Slice;
use prover::slice::{without_fades, without_reports};
use room::{Clock, Input, Origin, OutputId, Plan, Room, Slot, SlotOwner, SourceId, Stimulus, Who};
use scenario::suite::Suite;

/// A clock with frames that take no time.
#[derive(Clone, PartialEq)]
struct Numeric {
    plan: Arc<Plan>,
    now: u64,
    due: Vec<Option<(u64, Origin)>>,
    frames: VecDeque<(Input, Origin)>,
    origin: Origin,
    turns: Vec<(u16, Turn)>,
}

impl Clock for Numeric {
    fn start(&mut self, slot: Slot, span: Span) {
        self.due[usize::from(slot.0)] = Some((self.now + span.as_ms(), self.origin));
    }

    fn stop(&mut self, slot: Slot) {
        self.due[usize::from(slot.0)] = None;
    }

    fn remaining(&self, slot: Slot) -> Option<Span> {
        let (at, _) = self.due[usize::from(slot.0)]?;
        Some(Span::from_ms(at.saturating_sub(self.now)))
    }

    fn send(&mut self, source: SourceId, payload: Payload) {
        for &(listener, _) in &self.plan.sources[usize::from(source.0)].listeners {
            let frame = Input::Frame {
                listener,
                source,
                payload,
            };
            self.frames.push_back((frame, self.origin));
        }
    }

    fn note(&mut self, _: Who, _: Note) {}

    fn turn(&mut self, clause: u16, turn: Turn) {
        self.turns.push((clause, turn));
    }

    fn origin(&self) -> Origin {
        self.origin
    }
}

#[derive(Clone, PartialEq)]
struct World {
    room: Room,
    clock: Numeric,
}

impl World {
    fn new(plan: &Arc<Plan>) -> Self {
        let mut room = Room::new(Arc::clone(plan));
        let mut clock = Numeric {
            plan: Arc::clone(plan),
            now: 0,
            due: vec![None; room.slots().len()],
            frames: VecDeque::new(),
            origin: Origin::Start,
            turns: Vec::new(),
        };
        room.start(&mut clock);
        Self { room, clock }
    }

    fn next(&self) -> Option<u64> {
        self.clock.due.iter().flatten().map(|&(at, _)| at).min()
    }

    /// The first timer that is due now.
    fn pop_due(&mut self) -> Option<(Input, Origin)> {
        let now = self.clock.now;
        let slot = (self.clock.due.iter()).position(|it| it.is_some_and(|(at, _)| at <= now))?;
        let (_, origin) = self.clock.due[slot].take()?;
        Some((Input::Elapsed(Slot(slot as u16)), origin))
    }

    /// Takes one input, in every way in which the ghosts may stand.
    fn handle(mut self, input: Input, origin: Origin, ghosts: &[OutputId]) -> Vec<Self> {
        self.clock.origin = origin;
        let Some((&ghost, others)) = ghosts.split_first() else {
            self.room.handle(input, &mut self.clock);
            return vec![self];
        };
        let ways = self.room.pretences(ghost, &input);
        (ways.iter())
            .flat_map(|&pretence| {
                let mut world = self.clone();
                world
                    .room
                    .pretend(ghost, pretence, &input, &mut world.clock);
                let worlds = world.handle(input.clone(), origin, others);
                worlds.into_iter().map(|mut world| {
                    let rest = device::controller::Pretence::Rest;
                    world.room.pretend(ghost, rest, &input, &mut world.clock);
                    world
                })
            })
            .collect()
    }

    /// Makes sure that an output is asked and capped as another is, and never above it.
    fn outshines(&self, by: OutputId, output: OutputId) {
        let [above, below] = [by, output].map(|it| self.room.view(it, &self.clock));
        let stands = |it: &View| (it.state, it.asked, it.closed, it.occupied, it.by_hand);
        assert_eq!(stands(&above), stands(&below));
        assert!(above.target >= below.target, "{above:?} {below:?}");
        for timer in [OutputTimer::Ramp, OutputTimer::Shed] {
            let [above, below] = [by, output].map(|it| {
                let at = &self.room.plan().outputs[usize::from(it.0)];
                let of_it = Timer::Output(at.local, timer);
                let slot = SlotOwner::Controller(at.controller, of_it);
                self.clock.remaining(self.room.slots().slot(slot))
            });
            assert_eq!(above, below, "{timer:?}");
        }
    }

    /// One whole instant, in every way.
    fn instant(mut self, at: u64, inputs: &[Input], ghosts: &[OutputId]) -> Vec<Self> {
        self.clock.now = at;
        self.clock.turns.clear();
        for input in inputs {
            let origin = Origin::of(input);
            self.clock.frames.push_back((input.clone(), origin));
        }
        let (mut open, mut done) = (vec![self], Vec::new());
        while let Some(mut world) = open.pop() {
            let next = world.clock.frames.pop_front();
            match next.or_else(|| world.pop_due()) {
                Some((input, origin)) => open.extend(world.handle(input, origin, ghosts)),
                None => {
                    world.room.settle(&mut world.clock);
                    done.push(world);
                }
            }
        }
        done
    }
}

/// Numbers that look random (the constants are Knuth's).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = (self.0)
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides
    }
}

/// What may happen in a whole room.
fn alphabet(plan: &Plan) -> Vec<Input> {
    let outputs: Vec<OutputId> = (0..plan.outputs.len() as u16).map(OutputId).collect();
    let sources: Vec<SourceId> = (0..plan.sources.len() as u16).map(SourceId).collect();
    let whole = Slice::with(plan, &[], &outputs, &sources);
    let stimuli = whole.stimuli.iter().copied().chain(whole.entries());
    let mut all: Vec<Input> = stimuli.map(|(id, it)| Input::Stimulus(id, it)).collect();
    all.extend([0, 200, 1_000, 20_000].map(|lux| Input::Daylight(Illuminance::from_lux(lux))));
    all
}

/// What an input of the whole room is in a slice.
fn in_slice(slice: &Slice, input: &Input) -> Option<Input> {
    let Input::Stimulus(id, stimulus) = *input else {
        return Some(input.clone());
    };
    let id = SourceId(slice.sources.binary_search(&id).ok()? as u16);
    let known = slice.stimuli.contains(&(id, stimulus)) || matches!(stimulus, Stimulus::Due(_));
    known.then_some(Input::Stimulus(id, stimulus))
}

/// Runs a room and one of its slices side by side.
fn compare(plan: &Arc<Plan>, clause: u16, seed: u64, steps: usize) {
    let slice = Slice::of(plan, &[clause]);
    let mut inputs = alphabet(plan);
    if !slice.folded.is_empty() || !slice.outshone.is_empty() {
        // Loops that differ are alike as long as daylight stands still.
        inputs.retain(|input| !matches!(input, Input::Daylight(_)));
    }
    if slice.ignores_sheds {
        // A shed changes from where a ramp goes, which only a clock with any way carries.
        inputs.retain(|input| !matches!(input, Input::Stimulus(_, Stimulus::Shed(_))));
    }
    let mut dice = Dice(seed);
    let mut whole = World::new(plan);
    let mut small = vec![World::new(&slice.plan)];
    let gaps = [1, 60, 200, 499, 501, 2_000, 30_000, 600_000, 1_500_000];
    let mut now = 0;
    let id = &plan.clauses[usize::from(clause)].id;
    for _ in 0..steps {
        let until = now + gaps[dice.roll(gaps.len())];
        let chosen = inputs[dice.roll(inputs.len())].clone();
        loop {
            let due = small
                .iter()
                .filter_map(World::next)
                .chain(whole.next())
                .min();
            now = due.map_or(until, |due| due.min(until)).max(now);
            let happens = if now == until {
                vec![chosen.clone()]
            } else {
                Vec::new()
            };
            let mapped: Vec<Input> = (happens.iter())
                .filter_map(|input| in_slice(&slice, input))
                .collect();
            whole = whole.instant(now, &happens, &[]).remove(0);
            for (output, by) in &slice.outshone {
                whole.outshines(*by, *output);
            }
            let mut next: Vec<World> = Vec::new();
            for world in small {
                for world in world.instant(now, &mapped, &slice.ghosts) {
                    if agrees(&whole, &world, &slice, clause) && !next.contains(&world) {
                        next.push(world);
                    }
                }
            }
            assert!(
                !next.is_empty(),
                "{}: {id} at {now}: {happens:?} seed {seed}, slice {}",
                plan.name,
                slice.said()
            );
            small = next;
            if now == until {
                break;
            }
        }
    }
}

/// Whether the outputs of a slice stand as in the whole room, and its clause was judged alike.
fn agrees(whole: &World, small: &World, slice: &Slice, clause: u16) -> bool {
    let turns = |world: &World, clause: u16| -> Vec<Turn> {
        let turns = world.clock.turns.iter().filter(|(of, _)| *of == clause);
        turns.map(|(_, turn)| *turn).collect()
    };
    let view = |world: &World, output: OutputId| world.room.view(output, &world.clock);
    let kept = (0..).map(OutputId).zip(slice.outputs.iter().copied());
    let twins = (slice.folded.iter()).map(|&(twin, as_it)| {
        let place = slice.outputs.binary_search(&as_it);
        let place = place.expect("a twin stands as an output that is kept");
        (OutputId(place as u16), twin)
    });
    turns(whole, clause) == turns(small, 0)
        && (kept.filter(|(new, _)| !slice.ghosts.contains(new)))
            .chain(twins)
            .all(|(new, old)| view(whole, old) == view(small, new))
}

fn annex() -> Vec<Arc<Plan>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[folder]).expect("the scenarios are there");
    let rooms = suite.rooms.into_iter().filter_map(|room| room.room);
    rooms.map(|room| Arc::new(room.plan)).collect()
}

#[test]
fn a_slice_of_the_annex_runs_as_its_room_does() {
    for plan in annex() {
        for clause in 0..plan.clauses.len() as u16 {
            compare(&plan, clause, u64::from(clause) + 7, 300);
        }
    }
}

/// Runs the slices of the annex with the settings of every controller changed.
fn compare_changed(change: impl Fn(&mut Settings), ghosts: bool) {
    for mut plan in annex() {
        for controller in &mut Arc::make_mut(&mut plan).controllers {
            change(&mut controller.settings);
        }
        for clause in 0..plan.clauses.len() as u16 {
            if !ghosts || !Slice::of(&plan, &[clause]).ghosts.is_empty() {
                let steps = if ghosts { 1_000 } else { 200 };
                compare(&plan, clause, u64::from(clause) + 99, steps);
            }
        }
    }
}

/// SW-1, SW-2: the decisions of a single button ask most of the outputs that are left out.
#[test]
fn a_slice_of_a_room_with_single_buttons_runs_as_its_room_does() {
    let single = |settings: &mut Settings| {
        for button in &mut settings.buttons {
            if button.kind == switch::Button::Up {
                button.kind = switch::Button::Single;
            }
        }
    };
    compare_changed(single, true);
}

/// Makes all outputs of a controller like its first.
fn like_the_first(settings: &mut Settings, tied: Option<u8>) {
    let Some(first) = settings.outputs.first().cloned() else {
        return;
    };
    for output in &mut settings.outputs {
        *output = Output {
            relay: tied,
            group: tied,
            ..first.clone()
        };
    }
    let count = settings.outputs.len() as u8;
    let links = settings.links.iter().filter(|link| link.output == 0);
    settings.links = links
        .flat_map(|link| {
            (0..count).map(|output| Link {
                output,
                ..link.clone()
            })
        })
        .collect();
}

/// Outputs with equal settings and equal links stand alike, on one relay and in one group or each
/// by itself: one of them is kept, and what is asked of the others is asked of it.
#[test]
fn twins_stand_alike_in_the_whole_room() {
    for tied in [None, Some(0)] {
        let alike = |settings: &mut Settings| like_the_first(settings, tied);
        compare_changed(alike, false);
        let folded = annex().into_iter().map(|mut plan| {
            let controllers = &mut Arc::make_mut(&mut plan).controllers;
            controllers
                .iter_mut()
                .for_each(|it| alike(&mut it.settings));
            let clauses = 0..plan.clauses.len() as u16;
            clauses
                .map(|it| Slice::of(&plan, &[it]).folded.len())
                .sum::<usize>()
        });
        assert!(folded.filter(|folded| *folded > 0).count() > 3);
    }
}

/// DAY-7, DAY-8: while daylight stands still the zones of a relay and a group are asked alike, and one
/// under a higher limit is never below another, so what is left of the others is left out.
#[test]
fn zones_under_lower_limits_are_not_missed() {
    let plans = annex();
    let office = plans.iter().find(|plan| plan.name == "Open office 120");
    for lux in [3_000, 10_000, 40_000, 300_000] {
        let mut plan = Plan::clone(office.expect("it is in the annex"));
        plan.daylight = Illuminance::from_lux(lux);
        let plan = Arc::new(plan);
        let clauses = 0..plan.clauses.len() as u16;
        let left_out = clauses
            .clone()
            .map(|it| Slice::of(&plan, &[it]).outshone.len());
        assert_eq!(left_out.sum::<usize>(), 5, "of P2, P4, P6 and P7");
        for clause in clauses {
            compare(&plan, clause, u64::from(clause) + 3, 1_000);
        }
    }
}

/// A zone that a clause speaks of stays, and so does one of another group or relay.
#[test]
fn zones_are_outshone_by_companions_only() {
    let plans = annex();
    let office = plans.iter().find(|plan| plan.name == "Open office 120");
    let full_daylight = 6;
    let left_out = |change: &dyn Fn(&mut Plan)| {
        let mut plan = Plan::clone(office.expect("it is in the annex"));
        plan.daylight = Illuminance::from_lux(10_000);
        change(&mut plan);
        Slice::of(&plan, &[full_daylight]).outshone.len()
    };
    assert_eq!(left_out(&|_| {}), 1);
    let zones = |plan: &mut Plan, change: fn(&mut Output)| {
        let outputs = &mut plan.controllers[0].settings.outputs;
        outputs.iter_mut().for_each(change);
    };
    assert_eq!(left_out(&|plan| zones(plan, |it| it.group = None)), 0);
    assert_eq!(left_out(&|plan| zones(plan, |it| it.relay = None)), 0);
    assert_eq!(
        left_out(&|plan| plan.controllers[0].settings.outputs[2].low_trim = Level::from_percent(5)),
        0
    );
    assert_eq!(
        left_out(&|plan| plan.sources.iter_mut().for_each(|it| {
            it.light.electric = vec![(OutputId(1), Illuminance::from_lux(300))];
        })),
        0
    );
}

/// Loops that differ are alike in the dark only where their sensor sees no lamp.
#[test]
fn zones_whose_sensor_sees_a_lamp_are_no_twins() {
    let plans = annex();
    let office = plans.iter().find(|plan| plan.name == "Open office 120");
    let mut plan = Plan::clone(office.expect("it is in the annex"));
    assert_eq!(Slice::of(&plan, &[0]).folded.len(), 2);
    let lamp = (OutputId(0), Illuminance::from_lux(300));
    for source in &mut plan.sources {
        source.light.electric = vec![lamp];
    }
    assert_eq!(Slice::of(&plan, &[0]).folded, []);
}

/// OUT-2: what is wanted of one output of a relay is wanted of all.
#[test]
fn a_slice_of_a_room_with_relays_runs_as_its_room_does() {
    let relays = |settings: &mut Settings| {
        for (index, output) in (0..).zip(&mut settings.outputs) {
            output.relay = Some(index / 2);
        }
    };
    compare_changed(relays, false);
}

/// DAY-8: the lit outputs of a group move together.
#[test]
fn a_slice_of_a_room_with_groups_runs_as_its_room_does() {
    let groups = |settings: &mut Settings| {
        for (index, output) in (0_u8..).zip(&mut settings.outputs) {
            output.group = Some(0);
            output.high_trim = Level::from_percent(100 - 10 * u16::from(index));
        }
    };
    compare_changed(groups, false);
}

/// How many outputs are in the slice of the first output of the open office, with only its
/// daylight loops left, of this kind, and with a sensor that sees no light of theirs or all.
fn limited(kind: LoopKind, sees: bool) -> usize {
    let plans = annex();
    let office = plans.iter().find(|plan| plan.name == "Open office 120");
    let mut plan = Plan::clone(office.expect("it is in the annex"));
    plan.clauses.clear();
    for controller in &mut plan.controllers {
        controller
            .settings
            .outputs
            .iter_mut()
            .for_each(|it| it.relay = None);
        controller
            .settings
            .links
            .retain_mut(|link| match &mut link.role {
                Role::Limit(constants) => {
                    constants.kind = kind;
                    true
                }
                _ => false,
            });
    }
    let all = (0..plan.outputs.len() as u16).map(OutputId);
    let light = all.map(|output| (output, Illuminance::from_lux(300)));
    let light: Vec<_> = light.filter(|_| sees).collect();
    for source in &mut plan.sources {
        source.light.electric.clone_from(&light);
    }
    let slice = Slice::with(&plan, &[], &[OutputId(1)], &[]);
    assert_eq!(
        slice.sources.len(),
        1,
        "the daylight sensor and nothing else"
    );
    slice.outputs.len()
}

/// DAY-3: a closed loop takes off what the lights that it limits bring.
#[test]
fn a_loop_brings_in_the_lights_that_its_sensor_sees_or_takes_off() {
    assert_eq!(limited(LoopKind::Open, false), 1);
    assert!(limited(LoopKind::Closed, false) > 1);
    assert!(limited(LoopKind::Open, true) > 1);
}

/// OUT-22: where the light is spoken of, its fades stay, and only there.
#[test]
fn the_fades_that_a_clause_sees_stay() {
    let plans = annex();
    let office = plans.iter().find(|plan| plan.name == "Net store");
    let mut plan = Plan::clone(office.expect("it is in the annex"));
    let names = clause::Names {
        outputs: plan
            .outputs
            .iter()
            .map(|output| output.name.clone())
            .collect(),
        ..clause::Names::default()
    };
    for (text, relay) in [("aisle-2 shows 50 %", None), ("aisle-1 is closed", Some(0))] {
        let fields = [("never", text)];
        let formula = clause::Formula::parse(&fields, &names, Span::from_seconds(1));
        plan.clauses.truncate(1);
        plan.clauses[0].formula = formula.expect("it is right");
        for output in [0, 1] {
            plan.controllers[0].settings.outputs[output].relay = relay;
        }
        let mut reduced = plan.clone();
        without_fades(&mut reduced);
        let outputs = &reduced.controllers[0].settings.outputs;
        let fading: Vec<bool> = outputs.iter().map(|it| !it.fade_off.is_zero()).collect();
        assert_eq!(fading, [relay.is_some(), true, false, false], "{text}");
    }
}

/// What is taken away from a plan for a proof without faults changes nothing that a clause sees.
#[test]
fn a_reduced_slice_of_the_annex_is_judged_as_the_slice_is() {
    for plan in annex() {
        let inputs = alphabet(&plan);
        for clause in 0..plan.clauses.len() as u16 {
            let mut dice = Dice(u64::from(clause) + 5);
            let mut reduced = Plan::clone(&plan);
            reduced.clauses = vec![plan.clauses[usize::from(clause)].clone()];
            let whole = Arc::new(reduced.clone());
            without_fades(&mut reduced);
            without_reports(&mut reduced);
            assert_ne!(reduced, *whole, "there is something to take away");
            let mut worlds = [World::new(&whole), World::new(&Arc::new(reduced))];
            let mut now = 0;
            for _ in 0..200 {
                let until = now + [60, 700, 30_000, 600_000][dice.roll(4)];
                let chosen = inputs[dice.roll(inputs.len())].clone();
                while now < until {
                    let due = worlds.iter().filter_map(World::next).min();
                    now = due.map_or(until, |due| due.min(until));
                    let happens = if now == until {
                        vec![chosen.clone()]
                    } else {
                        Vec::new()
                    };
                    worlds = worlds.map(|world| world.instant(now, &happens, &[]).remove(0));
                    let [one, other] = &worlds;
                    let id = &whole.clauses[0].id;
                    assert_eq!(
                        one.clock.turns, other.clock.turns,
                        "{id} at {now}: {happens:?}"
                    );
                    let verdicts = worlds.each_ref().map(|it| it.room.verdicts().next());
                    assert_eq!(verdicts[0], verdicts[1], "{id} at {now}: {happens:?}");
                }
            }
        }
    }
}
