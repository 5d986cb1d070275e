//! The case for rooms for a terminal: a table for each room, what broke and how, what nobody can
//! say, and what all of it rests on.

use std::collections::{BTreeMap, BTreeSet};

use device::Span;

use super::record::{
    Case, ClauseProof, Found, LinkProof, ProofVerdict, RoomProof, ScenarioProof, TightestBound,
};
use crate::table::Paint;
use crate::words::{count, short_span};

/// The case as text. `told` has the words for what broke in the runs of the counterexamples, by
/// room and clause.
#[must_use]
pub fn text(case: &Case, told: &BTreeMap<(usize, String), Vec<String>>, paint: &Paint) -> String {
    let mut text = super::sweep::tables(case, paint);
    let mut shown = BTreeSet::new();
    for (place, room) in case.rooms.iter().enumerate() {
        if let Some(setting) = &room.setting {
            // What breaks with one value breaks with the next much the same: once is enough.
            let details = room.clauses.iter().map(|clause| {
                let breaks = told.get(&(place, clause.id.clone()));
                match shown.insert((&room.file, &clause.id, clause.verdict)) {
                    true => details(clause, breaks.map_or(&[], Vec::as_slice), paint),
                    false => String::new(),
                }
            });
            let details: String = details.collect();
            if !details.is_empty() {
                text.push_str(&format!("{}, {setting}:\n{details}", room.room));
            }
            continue;
        }
        text.push_str(&format!("{}  ({})\n", room.room, room.file));
        if room.clauses.is_empty() {
            text.push_str("  its sequence has no clause: nothing can be proved\n\n");
            continue;
        }
        text.push_str(&table(room, paint));
        text.push('\n');
        for clause in &room.clauses {
            let breaks = told.get(&(place, clause.id.clone()));
            text.push_str(&details(clause, breaks.map_or(&[], Vec::as_slice), paint));
        }
        text.push_str(&slices(room));
        text.push_str(&settings(room));
    }
    text.push_str(&grounds(case));
    text.push_str(&summary(case, paint));
    text
}

/// A line for each clause of a room.
fn table(room: &RoomProof, paint: &Paint) -> String {
    let timed = room.clauses.iter().any(|it| it.time_ms.is_some());
    let ids = room.clauses.iter().map(|it| it.id.chars().count());
    let wide = ids.max().unwrap_or(0).max("clause".len());
    let mut text = format!(
        "  {:<wide$}  {:<17}  {:<8}  {:>8}",
        "clause", "verdict", "found by", "classes"
    );
    if timed {
        text.push_str(&format!("  {:>8}", "time"));
    }
    text.push('\n');
    for clause in &room.clauses {
        let verdict = format!("{} {}", clause.verdict.sign(), clause.verdict.words());
        let classes = match clause.found_by {
            Found::Links => "–".to_owned(),
            _ => grouped(clause.classes),
        };
        // A painted text is longer than it looks.
        let gap = " ".repeat(17_usize.saturating_sub(verdict.chars().count()));
        text.push_str(&format!(
            "  {:<wide$}  {}{gap}  {:<8}  {classes:>8}",
            clause.id,
            paint(clause.verdict.plain(), &verdict),
            clause.found_by.words(),
        ));
        if timed {
            text.push_str(&format!("  {:>8}", time(clause.time_ms.unwrap_or(0))));
        }
        text.push('\n');
    }
    text
}

/// What there is to say of a clause beyond its line; nothing of most.
fn details(clause: &ClauseProof, breaks: &[String], paint: &Paint) -> String {
    let head = |what: &str| {
        let sign = paint(clause.verdict.plain(), clause.verdict.sign());
        format!("{sign} {} {what}: {}\n", clause.id, clause.says)
    };
    let mut text = String::new();
    match (clause.verdict, &clause.scenario) {
        (ProofVerdict::Broken, Some(scenario)) => {
            text.push_str(&head("is broken"));
            text.push_str(&shown(scenario));
            for broken in breaks {
                text.push('\n');
                text.push_str(broken);
            }
        }
        (ProofVerdict::Broken, None) => {
            text.push_str(&head("is broken"));
            text.push_str("  broken by the links:\n");
            for link in &clause.links {
                text.push_str(&format!("    {}\n", link.words()));
            }
        }
        (ProofVerdict::NeverExercised, _) => {
            text.push_str(&head("can never be put to the test"));
        }
        (ProofVerdict::Undecided, _) => {
            text.push_str(&head("is undecided"));
            if let Some(reason) = &clause.reason {
                text.push_str(&format!("  {reason}\n"));
            }
        }
        (ProofVerdict::Proved, _) => {}
    }
    if let Some(bound) = clause.tightest {
        text.push_str(&format!("  {} {}\n", clause.id, bound.words()));
    }
    if let Some(why) = &clause.no_tightest {
        text.push_str(&format!("  {}: tightest bound: {why}\n", clause.id));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text
}

impl LinkProof {
    /// `wall-button/up is linked to desk-lights (room.toml:45:1)`.
    #[must_use]
    pub fn words(&self) -> String {
        match &self.at {
            Some(at) => format!("{} ({}:{}:{})", self.says, at.file, at.line, at.column),
            None => self.says.clone(),
        }
    }
}

impl TightestBound {
    /// The bound in words: `holds from 75 min 0.011 s; it asks for 76 min`.
    #[must_use]
    pub fn words(self) -> String {
        let holds = short_span(Span::from_ms(self.holds_ms));
        let asked = short_span(Span::from_ms(self.asked_ms));
        let way = if self.longer { "from" } else { "up to" };
        let tighter = if self.longer { "less" } else { "more" };
        let mut text = match self.holds_ms == self.asked_ms {
            true => format!("holds {way} {holds}, as it asks"),
            false => format!("holds {way} {holds}; it asks for {asked}"),
        };
        if !self.follows && self.holds_ms != self.asked_ms {
            text.push_str(" (both were proved, the spans between were not looked at)");
        }
        if !self.sharp {
            text.push_str(&format!(
                " (1 ms {tighter} is not proved, nor seen to break)"
            ));
        }
        text
    }
}

/// The rows of a scenario, with how long it is and where it stands.
fn shown(scenario: &ScenarioProof) -> String {
    let happenings = usize::try_from(scenario.happenings).unwrap_or(usize::MAX);
    let mut text = format!(
        "  broken by {} in {}",
        count(happenings, "happening", "happenings"),
        short_span(Span::from_ms(scenario.lasts_ms))
    );
    if let Some(file) = &scenario.file {
        text.push_str(&format!(", written to {file}"));
    }
    text.push_str(":\n");
    for row in scenario.rows() {
        text.push_str(&format!("    {row}\n"));
    }
    text
}

impl ScenarioProof {
    /// The lines of the file that are rows.
    pub fn rows(&self) -> impl Iterator<Item = &str> {
        let lines = self.text.lines().map(str::trim);
        lines.filter(|line| line.starts_with("[\""))
    }
}

/// The parts of the room that were looked at, each with its clauses.
fn slices(room: &RoomProof) -> String {
    let mut text = String::new();
    for (slice, ids) in once(room.clauses.iter().map(|it| (&it.id, it.slice.iter()))) {
        text.push_str(&format!("  {} looked at {slice}\n", all_of(&ids, room)));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text
}

/// What the settings of a room do, if that was asked.
fn settings(room: &RoomProof) -> String {
    let lines = super::settings_lines(&room.settings);
    let mut text: String = lines.iter().map(|line| format!("  {line}\n")).collect();
    if !text.is_empty() {
        text.push('\n');
    }
    text
}

/// What the answers rest on.
fn grounds(case: &Case) -> String {
    let mut text = String::new();
    for ground in Ground::of(case) {
        text.push_str(&format!("{}:\n", ground.title));
        for (sentence, whose) in ground.said {
            match whose.is_empty() {
                true => text.push_str(&format!("  {sentence}\n")),
                false => text.push_str(&format!("  {sentence}  ({whose})\n")),
            }
        }
        text.push('\n');
    }
    text
}

/// One list of what the answers rest on.
pub(crate) struct Ground {
    /// What it lists.
    pub(crate) title: &'static str,
    /// Each sentence once, with its clauses where it is not said of all.
    pub(crate) said: Vec<(String, String)>,
}

impl Ground {
    /// The lists of a case that are not empty.
    pub(crate) fn of(case: &Case) -> Vec<Self> {
        let lists: [(&str, List); 2] = [
            ("Taken for granted", |it| &it.assumptions),
            (
                "Looked at less closely than a run does (this may lose a proof, never make one up)",
                |it| &it.abstractions,
            ),
        ];
        let all = lists.map(|(title, list)| {
            let clauses = || case.rooms.iter().flat_map(|room| &room.clauses);
            let searched = clauses().filter(|it| !list(it).is_empty()).count();
            let said = once(clauses().map(|it| (&it.id, list(it).iter())));
            let whose = |ids: &[&str]| match (ids.len() == searched, case.rooms.len()) {
                (true, _) => String::new(),
                (false, 1) => ids.join(", "),
                (false, _) => count(ids.len(), "clause", "clauses"),
            };
            let said = said.iter();
            Self {
                title,
                said: said
                    .map(|(it, ids)| ((*it).to_owned(), whose(ids)))
                    .collect(),
            }
        });
        all.into_iter().filter(|it| !it.said.is_empty()).collect()
    }
}

/// A list of sentences of a clause.
type List = fn(&ClauseProof) -> &[String];

/// The last lines: how many clauses fared how, and what the answers are no evidence of.
fn summary(case: &Case, paint: &Paint) -> String {
    let total = case.total();
    if total == 0 {
        return "there is no clause to prove\n".to_owned();
    }
    let counted = ProofVerdict::ALL.iter().filter_map(|verdict| {
        let number = case.count(*verdict);
        let words = format!("{number} {}", verdict.words());
        (number > 0).then(|| paint(verdict.plain(), &words))
    });
    let counted: Vec<String> = counted.collect();
    let allowed = match &case.terms.allowed[..] {
        [] => "nothing goes wrong".to_owned(),
        allowed => format!("allowed: {}", allowed.join(", ")),
    };
    format!(
        "{} ({allowed}): {}\n{CAUTION}\n",
        count(total, "clause", "clauses"),
        counted.join(", ")
    )
}

/// Sentences, each once, with the ids of the clauses that say them.
fn once<'a>(
    all: impl Iterator<Item = (&'a String, impl Iterator<Item = &'a String>)>,
) -> Vec<(&'a str, Vec<&'a str>)> {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for (id, sentences) in all {
        for sentence in sentences {
            match said.iter_mut().find(|(known, _)| known == sentence) {
                Some((_, ids)) => ids.push(id),
                None => said.push((sentence, vec![id])),
            }
        }
    }
    said
}

fn all_of(ids: &[&str], room: &RoomProof) -> String {
    match ids.len() == room.clauses.len() && ids.len() > 1 {
        true => "every clause".to_owned(),
        false => ids.join(", "),
    }
}

/// A number with its thousands apart.
pub(crate) fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

/// A time that something took: `0.0 s`, `12.3 s`.
pub(crate) fn time(ms: u64) -> String {
    format!("{}.{} s", ms / 1_000, ms % 1_000 / 100)
}

/// What a proof is not, in egress and electrical matters.
pub(crate) const CAUTION: &str = "\
Proved is the control logic as this program runs it, on these terms. It is no evidence of listing,
wiring, ratings, coverage of sensors or life safety: for egress light and receptacles the local code
and licensed practice come first.";
