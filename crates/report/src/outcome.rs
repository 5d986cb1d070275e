//! From what came of a scenario to the run that reports read.

use std::collections::BTreeMap;

use room::OutputId;
use scenario::Sources;
use scenario::room_file::RoomFile;
use scenario::run::{LinkStep, Outcome, Root, Verdict as ScenarioVerdict, broken_by_links};
use scenario::script::{By, Target};
use sim::{Instant, StepId};

use crate::clock::Clock;
use crate::run::{Check, Clause, Half, Lit, Place, Run, Written};
use crate::verdict::Verdict;
use crate::words::Names;

/// The sentence of a clause, and where it stands: what a plan does not keep of it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Sentence {
    /// The sentence, as the submittal prints it.
    pub says: String,
    /// Where the clause stands.
    pub place: scenario::Place,
    /// Its formal half: each key with its text and where that stands.
    pub halves: Vec<(String, String, scenario::Place)>,
    /// The way on which the links of the room break the clause, if they do.
    pub links: Vec<LinkStep>,
}

impl Sentence {
    /// The sentences of the clauses of a room, in the order of its plan.
    ///
    /// # Panics
    ///
    /// Never: a room keeps the sentence of each of its clauses.
    #[must_use]
    pub fn all(room: &RoomFile) -> Vec<Self> {
        let sentence = |clause: &room::PlanClause| {
            let (place, says) = &room.sentences[&clause.id];
            Self {
                says: says.clone(),
                place: *place,
                halves: room.halves.get(&clause.id).cloned().unwrap_or_default(),
                links: broken_by_links(room, &clause.formula).unwrap_or_default(),
            }
        };
        room.plan.clauses.iter().map(sentence).collect()
    }

    /// The clause with its verdict.
    #[must_use]
    pub fn judged(
        &self,
        id: &str,
        sources: &Sources,
        verdict: Verdict,
        as_expected: bool,
    ) -> Clause {
        let half = |(key, text, at): &(String, String, scenario::Place)| Half {
            key: key.clone(),
            text: text.clone(),
            place: place(sources, *at),
        };
        let step = |step: &LinkStep| match step.place {
            Some(at) => format!("{} ({})", step.says, place(sources, at)),
            None => step.says.clone(),
        };
        Clause {
            id: id.to_owned(),
            says: self.says.clone(),
            place: place(sources, self.place),
            halves: self.halves.iter().map(half).collect(),
            verdict,
            as_expected,
            links: self.links.iter().map(step).collect(),
        }
    }
}

impl<'a> Run<'a> {
    /// The run behind `outcome` in a room.
    #[must_use]
    pub fn of(outcome: &'a Outcome, sources: &Sources, room: &RoomFile) -> Self {
        let script = &outcome.script;
        Self {
            names: Names::new(&script.plan),
            trace: &outcome.trace,
            clock: Clock::new(script.civil.zoned(Instant::START)),
            title: script.title.clone(),
            file: script.file.clone(),
            values: script.values.clone(),
            end: outcome.end(),
            places: places(outcome, sources),
            people: people(outcome),
            checks: checks(outcome, sources),
            clauses: clauses(outcome, sources, &Sentence::all(room)),
            settings: Some(settings(outcome, sources, room)),
        }
    }
}

impl From<ScenarioVerdict> for Verdict {
    fn from(verdict: ScenarioVerdict) -> Self {
        match verdict {
            ScenarioVerdict::Held => Self::Held,
            ScenarioVerdict::Broken => Self::Broken,
            ScenarioVerdict::Undecided => Self::Undecided,
        }
    }
}

impl From<clause::Verdict> for Verdict {
    fn from(verdict: clause::Verdict) -> Self {
        match verdict {
            clause::Verdict::Held => Self::Held,
            clause::Verdict::Broken => Self::Broken,
            clause::Verdict::NeverExercised => Self::NeverExercised,
            clause::Verdict::Open => Self::Open,
        }
    }
}

/// A place as file, line and column.
#[must_use]
pub fn place(sources: &Sources, place: scenario::Place) -> Place {
    let file = sources.file(place.file);
    let (line, column) = file.line_column(place.start);
    let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Place {
        file: file.name().to_owned(),
        line: number(line),
        column: number(column),
    }
}

fn places(outcome: &Outcome, sources: &Sources) -> BTreeMap<StepId, Place> {
    let roots = outcome.roots.iter();
    let rows = roots.filter_map(|(step, root)| Some((*step, outcome.row(*root)?)));
    rows.map(|(step, row)| (step, place(sources, row.place)))
        .collect()
}

fn people(outcome: &Outcome) -> BTreeMap<StepId, String> {
    let roots = outcome.roots.iter();
    let rows = roots.filter_map(|(step, root)| match root {
        Root::Person { .. } => Some((*step, outcome.row(*root)?)),
        Root::Row(_) | Root::Calendar(_) => None,
    });
    rows.map(|(step, row)| (step, format!("{} {}", row.point, row.says)))
        .collect()
}

/// Where settings stand: in the room's file, and at the rows that set them in this run.
fn settings(outcome: &Outcome, sources: &Sources, room: &RoomFile) -> Written {
    let mut known = Written::new();
    for (name, key, at) in room.settings() {
        let places = known.entry((name, key.to_owned())).or_default();
        places.push((Instant::START, place(sources, at)));
    }
    let script = &outcome.script;
    for (index, row) in script.rows.iter().enumerate() {
        let Some((key, _)) = row.says.split_once('=') else {
            continue;
        };
        // What a row sets at the start is no act: the room was set up so.
        let acts = script.acts.iter().filter(|act| act.by == By::Row(index));
        let mut moments: Vec<Instant> = acts.map(|act| act.at).collect();
        if moments.is_empty() {
            moments.push(Instant::START);
        }
        for name in room.members(&row.point) {
            let places = known.entry((name, key.trim().to_owned())).or_default();
            let new = moments.iter().map(|at| (*at, place(sources, row.place)));
            places.extend(new);
        }
    }
    for places in known.values_mut() {
        places.sort_by_key(|(since, _)| *since);
    }
    known
}

fn checks(outcome: &Outcome, sources: &Sources) -> Vec<Check> {
    let plan = &outcome.script.plan;
    let checks = outcome.script.checks.iter().zip(&outcome.checks);
    let judged = checks.filter_map(|(asked, judged)| {
        let row = outcome.script.rows.get(asked.row)?;
        let from = asked.windows.first()?.from;
        let to = asked.windows.last()?.to;
        let failure = judged.failure.as_ref();
        let point = match asked.target {
            Target::Output(id) => plan.outputs.get(usize::from(id.0)).map(|at| &at.name),
            Target::Source(id) => plan.sources.get(usize::from(id.0)).map(|at| &at.name),
            Target::Controller(id) => plan.controllers.get(usize::from(id.0)).map(|at| &at.name),
            Target::Task(_) | Target::Person(_) => None,
        };
        Some(Check {
            place: place(sources, row.place),
            point: point.unwrap_or(&row.point).clone(),
            says: row.says.clone(),
            from,
            to,
            verdict: failure.map_or(Verdict::Held, |_| Verdict::Broken),
            at: failure.map_or(to, |failure| failure.at),
            found: failure.map_or_else(String::new, |failure| failure.found.clone()),
            as_expected: judged.as_expected,
            lit: lit(outcome, asked.target, failure.map(|failure| failure.at)),
        })
    });
    judged.collect()
}

/// The light that a check on a place or a person is about; none for a person who is not there.
fn lit(outcome: &Outcome, target: Target, failed: Option<Instant>) -> Option<Lit> {
    let plan = &outcome.script.plan;
    match target {
        Target::Task(task) => {
            let model = &plan.tasks.get(task)?.light;
            let outputs = model.electric.iter();
            Some(Lit {
                outputs: outputs.map(|(id, full)| (*id, Some(*full))).collect(),
                daylight: model.daylight,
            })
        }
        Target::Person(person) => {
            let at = failed?;
            let stays = outcome.script.people[person].stays(outcome.end());
            let there = stays.iter().any(|(from, to)| *from <= at && at < *to);
            let outputs = (0..).map(OutputId).take(plan.outputs.len());
            let lamps = outputs.filter(|id| scenario::run::lights(plan, *id));
            there.then(|| Lit {
                outputs: lamps.map(|id| (id, None)).collect(),
                daylight: 0,
            })
        }
        Target::Output(_) | Target::Source(_) | Target::Controller(_) => None,
    }
}

fn clauses(outcome: &Outcome, sources: &Sources, sentences: &[Sentence]) -> Vec<Clause> {
    let planned = outcome.script.plan.clauses.iter().zip(&outcome.clauses);
    let clauses = planned.zip(sentences).map(|((planned, judged), sentence)| {
        let verdict = judged.verdict.into();
        sentence.judged(&planned.id, sources, verdict, judged.as_expected())
    });
    clauses.collect()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::failure::Failure;
    use crate::record::Scenario;
    use crate::timeline::Timeline;

    const ROOM: &str = r#"
name = "Office 112"
time-zone = "Europe/London"

[outputs.desk-lights]
drive    = "0-10 V"
load     = "96 W"
low-trim = "10 %"

[outputs.desk-outlet]
drive = "receptacle"
load  = "180 W"

[sources.wall-sensor]
kind         = "occupancy"
senses       = ["motion", "sound"]
time-delay   = "15 min"
sound-window = "60 min"

[sources.wall-button]
kind    = "switch"
buttons = "up/down"

[[links]]
from  = "wall-sensor"
to    = "desk-lights"
role  = "partial-on"
level = "50 %"

[[links]]
from = "wall-sensor"
to   = "desk-outlet"
role = "auto-on"

[[links]]
from = "wall-button"
to   = "desk-lights"

[people.ana]
"#;

    const SEQUENCE: &str = r#"
[[clauses]]
id    = "A1"
says  = "The wall button never changes the receptacle."
never = "wall-button changes desk-outlet"

[[clauses]]
id   = "A2"
says = "Nobody's light is ever above half."
always = "desk-lights is at most 50 %"
"#;

    const SCENARIO: &str = r#"
title = "Ana works, raises the light and leaves"
start = "2026-03-02 08:00"
rows = [
  ["08:00:00", "ana", "enters"],
  ["08:00:05", "desk-lights", "is 50 %"],
  ["08:10:00", "wall-button", "tap up"],
  ["08:10:01", "desk-lights", "is 50 %"],
  ["08:30:00", "ana", "leaves"],
  ["09:00:00", "desk-outlet", "is off"],
]
"#;

    /// The outcome of the scenario, with the files and its room.
    fn outcome() -> (Outcome, Sources, RoomFile) {
        outcome_of(ROOM, SCENARIO)
    }

    fn outcome_of(room: &str, scenario: &str) -> (Outcome, Sources, RoomFile) {
        outcome_in(room, SEQUENCE, scenario)
    }

    fn outcome_in(room: &str, sequence: &str, scenario: &str) -> (Outcome, Sources, RoomFile) {
        let mut sources = Sources::new();
        let room = sources.add("office/room.toml", room);
        let sequence = sources.add("office/sequence.toml", sequence);
        let file = sources.add("office/ana.toml", scenario);
        let (room, wrong) = scenario::room_file::read_room(&sources, room, Some(sequence), None);
        let errors: Vec<String> = wrong.iter().map(|it| it.render(&sources, false)).collect();
        let room = room.unwrap_or_else(|| panic!("{}", errors.join("\n")));
        let loaded = scenario::script::load(&mut sources, file, &room);
        let wrong = loaded.diagnostics.iter();
        let errors: Vec<String> = wrong.map(|it| it.render(&sources, false)).collect();
        let script = loaded.scripts.into_iter().next();
        let script = script.unwrap_or_else(|| panic!("{}", errors.join("\n")));
        (scenario::run::run(&Arc::new(script), 0), sources, room)
    }

    #[test]
    fn what_broke_in_a_scenario_is_told_with_rows_and_people() {
        let (outcome, sources, room) = outcome();
        let run = Run::of(&outcome, &sources, &room);
        let failures = Failure::find(&run);
        let texts: Vec<String> = failures.iter().map(|failure| failure.text(100)).collect();
        insta::assert_snapshot!(texts.join("\n"));
    }

    #[test]
    fn verdicts_places_and_marks_come_from_the_outcome() {
        let (outcome, sources, room) = outcome();
        let run = Run::of(&outcome, &sources, &room);
        let record = Scenario::of(&run, 0, outcome.verdict.into(), &Failure::find(&run));
        assert_eq!(record.verdict, Verdict::Broken);
        let fared: Vec<Verdict> = record.clauses.iter().map(|clause| clause.verdict).collect();
        assert_eq!(fared[1], Verdict::Broken);
        assert_eq!(record.clauses[1].place.file, "office/sequence.toml");
        let missed: Vec<u32> = record
            .checks
            .iter()
            .filter(|check| !check.as_expected)
            .map(|it| it.place.line)
            .collect();
        assert_eq!(missed, [8]);
        let timeline = Timeline::of(&run);
        let broken = timeline
            .items()
            .iter()
            .filter(|(_, _, item)| item.is_broken())
            .count();
        assert_eq!(broken, 2);
    }

    /// The room with a daylight sensor that limits its lights, and a desk that both reach.
    fn daylit() -> String {
        let more = r#"
[sources.window-cell]
kind = "daylight"
daylight = "10 %"

[[links]]
from = "window-cell"
to = "desk-lights"
loop = "open"
night = { sensor = "0 lx", task = "500 lx" }
day = { sensor = "1000 lx", task = "500 lx" }

[places.desk]
daylight = "5 %"
electric = { desk-lights = "500 lx" }
"#;
        format!("{ROOM}{more}")
    }

    const DAYLIT: &str = r#"
title = "The sky clears"
start = "2026-03-02 08:00"
rows = [
  ["start", "room", "daylight 4000 lx"],
  ["08:01", "wall-sensor", "motion"],
  ["08:02", "wall-button", "tap up"],
  ["08:05", "room", "daylight 9000 lx"],
  ["08:09", "desk", "is at least 900 lx"],
  ["08:09", "desk-lights", "is 80 %"],
  ["08:10", "ana", "is in the dark"],
  ["08:11", "ana", "enters"],
  ["08:12", "ana", "leaves"],
  ["08:13", "ana", "is in the dark"],
]
"#;

    fn told(room: &str, scenario: &str) -> Vec<(String, Vec<String>)> {
        let (outcome, sources, room) = outcome_of(room, scenario);
        let run = Run::of(&outcome, &sources, &room);
        let failures = Failure::find(&run).into_iter();
        failures.map(|it| (it.says, it.chain)).collect()
    }

    #[test]
    fn a_moved_daylight_limit_is_told_in_three_lines_above_what_switched_the_lamp() {
        let (outcome, sources, room) = outcome_of(&daylit(), DAYLIT);
        let run = Run::of(&outcome, &sources, &room);
        let lights = run.output("desk-lights").unwrap();
        let why = crate::why::Why::of(&run, lights, Instant::from_ms(9 * 60_000));
        assert_eq!(
            why.chain_lines(&run),
            [
                "  08:05:00.010  the daylight limit of desk-lights moved from 60 % to 10 %",
                "\u{2190} 08:05:00.010  window-cell saw 900 lx",
                "\u{2190} 08:05:00      daylight is 9000 lx outside (office/ana.toml:8:3)",
                "  08:02:00.110  desk-lights is asked for 100 %",
                "\u{2190} 08:02:00.110  release of up from wall-button",
                "\u{2190} 08:02:00.100  up is released at wall-button (office/ana.toml:7:3)",
            ]
        );
        let next = why.next_lines(&run).join("\n");
        assert!(!next.contains("arrives"), "{next}");
    }

    #[test]
    fn a_place_is_explained_by_the_lamps_and_the_daylight_that_reach_it() {
        let told = told(&daylit(), DAYLIT);
        let (_, chain) = told
            .iter()
            .find(|(says, _)| says.starts_with("desk is"))
            .unwrap();
        assert_eq!(
            chain[0],
            "desk-lights gives 50 lx here, at full 500 lx: is on, asked 100 %, target 10 %, \
             light 10 %, occupied, by hand"
        );
        assert!(chain[1].contains("limit of desk-lights moved"), "{chain:?}");
        assert_eq!(
            chain.last().unwrap(),
            "daylight gives 450 lx here: it is 9000 lx outside (office/ana.toml:8:3)"
        );
    }

    #[test]
    fn somebody_who_is_not_there_is_not_said_to_sit_in_the_dark() {
        let told = told(&daylit(), DAYLIT);
        let of: Vec<_> = told
            .iter()
            .filter(|(says, _)| says.starts_with("ana"))
            .collect();
        assert_eq!(
            of[0].0,
            "ana is in the dark at 08:10:00, but ana had not entered yet (enters at 08:11:00)"
        );
        assert_eq!(
            of[1].0,
            "ana is in the dark at 08:13:00, but ana had left at 08:12:00"
        );
        assert!(of[0].1.is_empty() && of[1].1.is_empty(), "{of:?}");
    }

    #[test]
    fn settings_are_told_with_the_line_that_sets_them_in_this_run() {
        let set = r#"
title = "Set"
start = "2026-03-02 08:00"
rows = [
  ["08:00:01", "wall-sensor", "motion"],
  ["08:59", "desk-outlet", "is on"],
  ["08:30", "wall-button", "tap up"],
  ["08:59", "desk-lights", "is on"],
]
"#;
        let chain = |scenario: &str, point: &str| {
            let all = told(ROOM, scenario);
            let found = all.iter().find(|(says, _)| says.starts_with(point));
            found.unwrap().1.join("\n")
        };
        let lines = |scenario: &str| chain(scenario, "desk-outlet is on");
        let delay = "15 min time delay of wall-sensor ended (room.toml:17)";
        assert!(lines(set).contains(delay), "{}", lines(set));
        let row = "[\n  [\"start\", \"wall-sensor\", \"time-delay = 20 min\"],";
        let here = lines(&set.replacen('[', row, 1));
        let delay = "20 min time delay of wall-sensor ended (ana.toml:5)";
        assert!(here.contains(delay), "{here}");
        let lights = chain(set, "desk-lights is on");
        let hold = "15 min press hold of desk-lights ended (default)";
        assert!(lights.contains(hold), "{lights}");
        // What is set later says nothing of a timer that ran before.
        let later = set.replacen(
            "\n]",
            "\n  [\"08:50\", \"wall-sensor\", \"time-delay = 5 min\"],\n]",
            1,
        );
        assert!(
            lines(&later).contains("(room.toml:17)"),
            "{}",
            lines(&later)
        );
    }

    #[test]
    fn levels_warnings_and_fades_are_told_with_the_line_that_sets_them() {
        let room = ROOM.replace(
            "drive    = \"0-10 V\"",
            "drive = \"0-10 V\"\nwarning = \"30 s\"\nfade-off = \"4 s\"\nfade-on = \"1 s\"",
        );
        assert_ne!(room, ROOM);
        let line = |key: &str| {
            let at = room.lines().position(|line| line.starts_with(key));
            format!("(room.toml:{})", at.unwrap() + 1)
        };
        let scenario = r#"
title = "Set"
start = "2026-03-02 08:00"
rows = [
  ["08:00:01", "wall-sensor", "motion"],
  ["08:05", "desk-lights", "is off"],
  ["08:20", "desk-lights", "is on"],
]
"#;
        let all = told(&room, scenario);
        let on = all[0].1.join("\n");
        assert!(
            on.contains(&format!("turned on at 50 % {}", line("level"))),
            "{on}"
        );
        let off = all[1].1.join("\n");
        assert!(
            off.contains(&format!(
                "30 s warning of desk-lights ended {}",
                line("warning")
            )),
            "{off}"
        );
    }

    #[test]
    fn a_broken_clause_points_at_its_half_and_shows_only_what_it_names() {
        let (outcome, sources, room) = outcome();
        let run = Run::of(&outcome, &sources, &room);
        let failures = Failure::find(&run);
        let clause = failures.iter().find(|it| it.says.starts_with("clause A2"));
        let clause = clause.unwrap();
        assert_eq!(clause.place, "office/sequence.toml:10:10");
        assert_eq!(
            clause.chain[0],
            "asked: always = \"desk-lights is at most 50 %\""
        );
        assert!(clause.chain[1].starts_with("found: desk-lights is on, asked 100 %"));
        let names: Vec<&str> = (clause.close_up.lanes.iter())
            .map(|lane| lane.name.as_str())
            .collect();
        assert_eq!(names, ["wall-button", "desk-lights", "sequence"]);
    }

    #[test]
    fn a_clause_that_the_links_break_tells_the_links_and_no_moment() {
        let never = SEQUENCE.replace(
            "never = \"wall-button changes desk-outlet\"",
            "always = \"wall-button never affects desk-outlet\"",
        );
        let room = ROOM.replace(
            "from = \"wall-button\"\nto   = \"desk-lights\"",
            "from = \"wall-button\"\nto   = \"desk-outlet\"",
        );
        let (outcome, sources, room) = outcome_in(&room, &never, SCENARIO);
        let run = Run::of(&outcome, &sources, &room);
        let failures = Failure::find(&run);
        let broken = failures.iter().find(|it| it.says.starts_with("clause A1"));
        assert_eq!(
            broken.unwrap().text(100),
            "\u{2717} clause A1 by the links: The wall button never changes the receptacle.\n     \
             at  office/sequence.toml:5:10\n    \
             why  asked: always = \"wall-button never affects desk-outlet\"\n         \
             wall-button is linked to desk-outlet (office/room.toml:35:1)\n"
        );
    }
}
