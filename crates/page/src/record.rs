//! A session as a scenario file, with checks filled in: what the outputs did, as a run gives it.
//!
//! Invariant: what is written passes in `roomrig run` with the seed of the session, or it is said
//! that it does not.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::Arc;

use clause::Verdict as ClauseVerdict;
use device::controller::Drive;
use room::{OutputId, Plan};
use scenario::run::{Outcome, Play, Verdict, run};
use scenario::script::civil::CivilError;
use scenario::script::{Script, load};
use scenario::written::{date_and_time, moment, quoted};
use scenario::{Severity, Sources};
use serde::Serialize;
use sim::{Full, Instant, OutputState, OutputView, Simulation, What};

use crate::score::{Head, Row};
use crate::{Refusal, Session, Stage};

/// A session, written as a scenario.
#[derive(Clone, Debug, Serialize)]
pub struct Record {
    /// The text of the file.
    pub toml: String,
    /// A name for the file.
    pub file: String,
    /// Whether it passes in `run`.
    pub passes: bool,
    /// How it came out.
    pub verdict: &'static str,
    /// How many checks were filled in.
    pub checks: usize,
}

/// What is needed to write a session: nothing of the room that runs.
#[derive(Clone, Debug)]
pub struct Draft {
    stage: Arc<Stage>,
    head: Head,
    rows: Vec<Row>,
    end: Instant,
    seed: u64,
}

/// A check that was filled in.
#[derive(Clone, Debug, Eq, Ord, PartialEq, PartialOrd)]
struct Filled {
    at: Instant,
    says: String,
    outputs: Vec<String>,
}

impl Session {
    /// The rows so far, ready to be written.
    #[must_use]
    pub fn draft(&self, title: &str) -> Draft {
        let title = title.trim();
        let mut head = self.head.clone();
        if !title.is_empty() {
            head.title = title.to_owned();
        }
        Draft {
            stage: Arc::clone(&self.stage),
            head,
            rows: self.rows_so_far().to_vec(),
            end: self.now(),
            seed: self.seed(),
        }
    }
}

impl Draft {
    /// Writes the session: runs it, fills in what the outputs did, and runs what was written.
    ///
    /// # Errors
    ///
    /// When the rows make no scenario.
    pub fn write(&self) -> Result<Record, Refusal> {
        if self.end == Instant::START {
            return Err(Refusal::new(
                "nothing has happened yet",
                "do something, or let the clock run, and save then",
            ));
        }
        let bare = self.script(&self.text(&[], &[])?)?;
        let mut checks = self.fill(&bare);
        let first = run(&self.script(&self.text(&checks, &[])?)?, self.seed);
        let broken = broken(&first);
        for _ in 0..TRIES {
            let text = self.text(&checks, &broken)?;
            let outcome = run(&self.script(&text)?, self.seed);
            let failed = failed(&outcome);
            if failed.is_empty() {
                return Ok(self.record(text, &checks, outcome.verdict));
            }
            // A check that cannot be met in words is better left out than wrong.
            checks.retain(|check| !failed.contains(&(check.at, check.says.clone())));
        }
        let text = self.text(&checks, &broken)?;
        let outcome = run(&self.script(&text)?, self.seed);
        Ok(self.record(text, &checks, outcome.verdict))
    }

    fn record(&self, toml: String, checks: &[Filled], verdict: Verdict) -> Record {
        Record {
            toml,
            file: file_name(&self.head.title),
            passes: verdict == Verdict::Held,
            verdict: match verdict {
                Verdict::Held => "held",
                Verdict::Broken => "broken",
                Verdict::Undecided => "undecided",
            },
            checks: checks.iter().map(|check| check.outputs.len()).sum(),
        }
    }

    pub(crate) fn script(&self, text: &str) -> Result<Arc<Script>, Refusal> {
        let mut sources = Sources::clone(&self.stage.sources);
        let file = sources.add(self.stage.session_file(), text);
        let loaded = load(&mut sources, file, &self.stage.room);
        let is_error = |it: &&scenario::Diagnostic| it.severity == Severity::Error;
        if let Some(wrong) = loaded.diagnostics.iter().find(is_error) {
            return Err(Refusal::from(wrong));
        }
        let script = loaded.scripts.into_iter().next();
        script
            .map(Arc::new)
            .ok_or_else(|| Refusal::new("the rows make no scenario", ""))
    }

    /// What the outputs did: at the start of the second after each row and after each change.
    fn fill(&self, script: &Arc<Script>) -> Vec<Filled> {
        let mut play = Play::new(script, self.seed);
        let plan = Arc::clone(&script.plan);
        let mut simulation: Simulation<Full> = Simulation::new(plan, self.seed, play.quality());
        let mut give = |simulation: &mut Simulation<Full>, to: Instant| {
            while let Some(act) = play.next_act(to) {
                act.give(simulation);
            }
            simulation.run_until(to);
        };
        // The first run finds out when something changes; the second looks.
        let mut ahead = simulation.clone();
        give(&mut ahead, self.end);
        let changes = changes(&ahead);
        let looks = self.looks(&changes);
        let mut play = Play::new(script, self.seed);
        let mut said = vec![String::new(); script.plan.outputs.len()];
        let mut filled = Vec::new();
        for at in looks {
            while let Some(act) = play.next_act(at) {
                act.give(&mut simulation);
            }
            simulation.run_until(at);
            if at == self.end {
                // At the end everything is said once more.
                said.fill(String::new());
            }
            filled.extend(news(&simulation, &mut said, at));
        }
        filled
    }

    /// The moments at which the outputs are looked at.
    fn looks(&self, changes: &BTreeSet<Instant>) -> BTreeSet<Instant> {
        let next_second = |at: Instant| Instant::from_ms((at.as_ms() / 1_000 + 1) * 1_000);
        let mut looks: BTreeSet<Instant> =
            self.rows.iter().map(|row| next_second(row.at)).collect();
        let by_themselves = changes.iter().map(|at| next_second(*at));
        if looks.len() + changes.len() <= MOST_LOOKS {
            looks.extend(by_themselves);
        }
        looks.retain(|at| *at < self.end);
        let mut looks: BTreeSet<Instant> = looks.into_iter().take(MOST_LOOKS).collect();
        looks.insert(self.end);
        looks
    }

    /// The text of the scenario.
    fn text(&self, checks: &[Filled], broken: &[String]) -> Result<String, Refusal> {
        let civil = self.stage.civil(self.head.start)?;
        let late = |error: CivilError| Refusal::new(error.to_string(), "save earlier");
        let time = |at: Instant| moment(&civil, at).map_err(late);
        let mut rows: Vec<((Instant, bool), [String; 3])> = Vec::new();
        for row in &self.rows {
            let at = row.time(Some(self.end), &civil).map_err(late)?;
            rows.push((
                (row.at, false),
                [quoted(&at), quoted(&row.point), quoted(&row.says)],
            ));
        }
        for check in checks {
            let outputs = match check.outputs.as_slice() {
                [one] => quoted(one),
                several => {
                    let quoted: Vec<String> = several.iter().map(|it| quoted(it)).collect();
                    format!("[{}]", quoted.join(", "))
                }
            };
            let at = quoted(&time(check.at)?);
            rows.push(((check.at, true), [at, outputs, quoted(&check.says)]));
        }
        // What happens at an instant stands before what must be so at its end.
        rows.sort_by_key(|(at, _)| *at);
        let mut text = format!("title = {}\n", quoted(&self.head.title));
        let whole = "a string takes everything";
        if self.seed != 0 {
            let about = format!("Recorded with --seed {}.", self.seed);
            writeln!(text, "about = {}", quoted(&about)).expect(whole);
        }
        writeln!(text, "start = {}", quoted(&date_and_time(self.head.start))).expect(whole);
        writeln!(text, "end   = {}", quoted(&time(self.end)?)).expect(whole);
        match broken {
            [] => {}
            [one] => writeln!(text, "expect = {}", quoted(one)).expect(whole),
            several => {
                let quoted: Vec<String> = several.iter().map(|it| quoted(it)).collect();
                writeln!(text, "expect = [{}]", quoted.join(", ")).expect(whole);
            }
        }
        text.push_str("rows = [\n");
        let width = |column: usize| {
            // A list may be long, and stands out by itself.
            let single = rows
                .iter()
                .map(|(_, row)| &row[column])
                .filter(|it| !it.starts_with('['));
            let lengths = single.map(|it| it.chars().count());
            lengths.max().unwrap_or(0).min(WIDEST) + 1
        };
        let (first, second) = (width(0), width(1));
        for (_, [at, point, says]) in &rows {
            let (at, point) = (format!("{at},"), format!("{point},"));
            writeln!(text, "  [{at:first$} {point:second$} {says}],").expect(whole);
        }
        text.push_str("]\n");
        text.push_str(self.head.tables.trim_end());
        if !self.head.tables.trim().is_empty() {
            text.push('\n');
        }
        Ok(text)
    }
}

/// The moments at which an output came to stand otherwise.
fn changes(simulation: &Simulation<Full>) -> BTreeSet<Instant> {
    let mut last: BTreeMap<OutputId, (OutputState, device::Level, bool)> = BTreeMap::new();
    let mut changes = BTreeSet::new();
    for step in &simulation.trace().steps {
        if let What::Output(id, ref view) = step.what {
            let shown = (view.state, view.target, view.closed);
            if last.insert(id, shown) != Some(shown) {
                changes.insert(step.at);
            }
        }
    }
    changes
}

/// What is to be said of the outputs at a moment and was not said before.
fn news(simulation: &Simulation<Full>, said: &mut [String], at: Instant) -> Vec<Filled> {
    let plan = simulation.plan();
    let mut by_words: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for ((id, output), said) in (0..).map(OutputId).zip(&plan.outputs).zip(said) {
        let words = words(plan, id, &simulation.view(id));
        if *said != words {
            by_words
                .entry(words.clone())
                .or_default()
                .push(output.name.clone());
            *said = words;
        }
    }
    let filled = by_words
        .into_iter()
        .map(|(says, outputs)| Filled { at, says, outputs });
    filled.collect()
}

/// How an output stands, as a check says it.
fn words(plan: &Plan, id: OutputId, view: &OutputView) -> String {
    let output = &plan.outputs[usize::from(id.0)];
    let controller = &plan.controllers[usize::from(output.controller.0)];
    let drive = controller.settings.outputs[usize::from(output.local)].drive;
    match (drive, view.state) {
        (Drive::Contact, _) if view.closed => "is closed".to_owned(),
        (Drive::Contact, _) => "is open".to_owned(),
        (_, OutputState::Off) => "is off".to_owned(),
        (_, OutputState::Warning) => "is in warning".to_owned(),
        (drive, _) if drive.dims() => format!("is {}", view.target),
        (_, OutputState::Setback) => "is in setback".to_owned(),
        (_, OutputState::On) => "is on".to_owned(),
    }
}

/// The clauses that broke, as a scenario expects them to.
fn broken(outcome: &Outcome) -> Vec<String> {
    let clauses = outcome.script.plan.clauses.iter().zip(&outcome.clauses);
    let broken = clauses.filter(|(_, it)| it.verdict == ClauseVerdict::Broken);
    broken
        .map(|(clause, _)| format!("broken {}", clause.id))
        .collect()
}

/// The checks that were not met.
fn failed(outcome: &Outcome) -> Vec<(Instant, String)> {
    let checks = outcome.script.checks.iter().zip(&outcome.checks);
    let failed = checks.filter(|(_, judged)| !judged.as_expected);
    let told = failed.filter_map(|(check, _)| {
        let row = outcome.script.rows.get(check.row)?;
        Some((check.windows.first()?.from, row.says.clone()))
    });
    told.collect()
}

/// A name for a file, from a title: `somebody-reads-quietly.toml`.
fn file_name(title: &str) -> String {
    let mut name = String::new();
    for letter in title.to_lowercase().chars() {
        match letter {
            'a'..='z' | '0'..='9' => name.push(letter),
            _ if name.is_empty() || name.ends_with('-') => {}
            _ => name.push('-'),
        }
    }
    let name: String = name.chars().take(LONGEST_NAME).collect();
    match name.trim_matches('-') {
        "" | "room" | "site" | "sequence" => "a-session.toml".to_owned(),
        name => format!("{name}.toml"),
    }
}

/// How often checks that fail are taken out.
const TRIES: usize = 3;

/// At how many moments outputs are looked at, at most.
const MOST_LOOKS: usize = 400;

/// How wide a column of the file becomes at most.
const WIDEST: usize = 40;

/// How long the name of a file becomes.
const LONGEST_NAME: usize = 60;
