//! Runs of the shipped rooms: what is proved of them must survive, and all rows must be seen.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use clause::Verdict;
use device::Illuminance;
use proof::{Budget, Observer, Terms};
use room::{Change, Input, OutputId, Plan, SourceId, SourceSettings, Stimulus};
use scenario::room_file::RoomFile;
use scenario::suite::Suite;
use sim::Full;

use crate::dice::Dice;
use crate::rows::Rows;
use crate::walk::walk;

/// A room and what is said of its clauses on some terms, in one daylight.
#[derive(Debug)]
pub(crate) struct Claims<'a> {
    room: &'a RoomFile,
    terms: Terms,
    /// Clauses that no run breaks.
    pub(crate) proved: Vec<u16>,
    /// Clauses that no run puts to the test.
    pub(crate) never: Vec<u16>,
}

struct Deaf;

impl Observer for Deaf {}

/// The rooms of the annex.
pub(crate) fn annex() -> Vec<RoomFile> {
    let annex = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[annex]).expect("the annex is there");
    suite.rooms.into_iter().filter_map(|it| it.room).collect()
}

/// What a proof says of the clauses of some rooms, on terms and with a budget: those of a room
/// that are asked at one daylight together.
pub(crate) fn claims<'a>(rooms: &'a [RoomFile], terms: &Terms, budget: Budget) -> Vec<Claims<'a>> {
    let asked: Vec<_> = rooms
        .iter()
        .flat_map(|room| {
            let mut by_daylight: BTreeMap<Illuminance, Vec<u16>> = BTreeMap::new();
            for (clause, _) in (0..).zip(&room.plan.clauses) {
                let light = terms.daylight_of(room, clause);
                by_daylight.entry(light).or_default().push(clause);
            }
            by_daylight.into_iter().map(move |(light, clauses)| {
                let terms = Terms {
                    daylight: Some(light),
                    ..terms.clone()
                };
                (room, clauses, terms)
            })
        })
        .collect();
    let answers = proof::prove_all(&asked, budget, &Deaf, &AtomicBool::new(false));
    let claims = asked
        .into_iter()
        .zip(answers)
        .map(|((room, _, terms), answers)| {
            let those = |fits: fn(&proof::Verdict) -> bool| {
                let fitting = answers.iter().filter(|it| fits(&it.verdict));
                fitting.map(|it| it.clause).collect()
            };
            Claims {
                room,
                terms,
                proved: those(|it| matches!(it, proof::Verdict::Proved(_))),
                never: those(|it| matches!(it, proof::Verdict::NeverExercised)),
            }
        });
    claims.collect()
}

impl Claims<'_> {
    /// The name of the room, and the daylight outside.
    pub(crate) fn name(&self) -> String {
        let light = self.terms.daylight.unwrap_or_default();
        format!("{} at {light}", self.room.plan.name)
    }

    /// Takes so many random steps in the room. Says how many were taken, or how a claim broke.
    pub(crate) fn survive(
        &self,
        dice: &mut Dice,
        steps: usize,
        rows: &mut Rows,
    ) -> Result<usize, String> {
        let mut taken = 0;
        while taken < steps {
            let length = LENGTH.min(steps - taken);
            let (seen, Full { trace }) = walk(self.room, &self.terms, dice, (length, &[]));
            taken += seen.steps;
            rows.look(&self.room.plan, &trace);
            for (clause, verdict) in (0..).zip(&seen.verdicts) {
                let breaks = self.proved.contains(&clause) && *verdict == Verdict::Broken;
                let tests = self.never.contains(&clause)
                    && matches!(verdict, Verdict::Broken | Verdict::Held);
                if breaks || tests {
                    let id = &self.room.plan.clauses[usize::from(clause)].id;
                    let (name, story) = (&self.room.plan.name, seen.story.join("\n  "));
                    return Err(format!(
                        "{name}, {id}, {:?}: a run says {verdict:?}\n  {story}",
                        self.terms
                    ));
                }
            }
        }
        Ok(taken)
    }
}

/// Takes so many steps of which no proof speaks: light comes and goes, relays stick, sources
/// are taught, settings are changed, power fails and frames are lost as they like.
pub(crate) fn run_wild(room: &RoomFile, dice: &mut Dice, steps: usize, rows: &mut Rows) -> usize {
    let terms = Terms {
        lose: 40,
        cuts: 20,
        at_once: true,
        many_hands: true,
        ..Terms::default()
    };
    let more = beyond_proofs(&room.plan);
    let mut taken = 0;
    while taken < steps {
        let length = LENGTH.min(steps - taken);
        let (seen, Full { trace }) = walk(room, &terms, dice, (length, &more));
        taken += seen.steps.max(1);
        rows.look(&room.plan, &trace);
    }
    taken
}

/// What may happen to a room that a proof takes for granted not to happen.
fn beyond_proofs(plan: &Plan) -> Vec<Input> {
    let mut all: Vec<Input> = [0, 50_000, 1_000_000, 2_000_000]
        .map(|light| Input::Daylight(Illuminance::from_hundredths(light)))
        .into();
    for output in (0..plan.outputs.len() as u16).map(OutputId) {
        for remove in [false, true] {
            all.push(Input::Learn { output, remove });
        }
        for stuck in [Some(true), Some(false), None] {
            all.push(Input::Stuck(output, stuck));
        }
    }
    for (id, source) in (0..).map(SourceId).zip(&plan.sources) {
        all.push(Input::Stimulus(id, Stimulus::TeachIn));
        match &source.settings {
            SourceSettings::Occupancy(settings) => {
                let shorter = device::occupancy::Settings {
                    time_delay: settings.time_delay.scaled(1, 2),
                    ..settings.clone()
                };
                let settings = settings.clone();
                for on in [true, false] {
                    all.push(Input::Stimulus(id, Stimulus::WalkTest(on)));
                }
                for settings in [shorter, settings] {
                    let settings = SourceSettings::Occupancy(settings);
                    all.push(Input::Change(Box::new(Change::Source(id, settings))));
                }
            }
            SourceSettings::Card(_) => {
                all.push(Input::Stimulus(id, Stimulus::CardIn { valid: false }));
            }
            SourceSettings::Clock(_) => {
                for in_hours in [true, false] {
                    all.push(Input::Stimulus(id, Stimulus::ClockSet { in_hours }));
                }
            }
            _ => {}
        }
    }
    all
}

/// The steps of one run: then another day begins.
const LENGTH: usize = 2_000;
