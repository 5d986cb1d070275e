//! `sequence.toml`: the clauses that a room must keep.
//!
//! Invariant: the ids of a file are unique, also among the copies of a clause.

mod tables;

use std::collections::BTreeMap;

use clause::{ClauseError, Formula, Names};
use device::{Illuminance, Span};
use room::PlanClause;

pub use tables::SEQUENCE;

use crate::keys::{Located, Reader, Section, inside};
use crate::{Diagnostic, FileId, Place, Sources};

/// A clause that is taken for granted instead of being a duty.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Assumption {
    /// Its id.
    pub id: String,
    /// Its sentence.
    pub says: String,
    /// Its formal half.
    pub formula: Formula,
}

/// What a sequence says.
#[derive(Clone, Debug, Default)]
pub struct Sequence {
    /// The duties of the room, in the order of the file.
    pub clauses: Vec<PlanClause>,
    /// What is taken for granted.
    pub assumptions: Vec<Assumption>,
    /// Where each clause stands and what it says, by id.
    pub sentences: BTreeMap<String, (Place, String)>,
    /// The formal half of each clause, by id: key, text, and where the text stands.
    pub halves: BTreeMap<String, Vec<(String, String, Place)>>,
    /// The daylight outside at which a clause is to be proved, by id, where it says one.
    pub daylight: BTreeMap<String, Illuminance>,
}

/// Reads a sequence. Without `context` (the names of the room and its reaction) only its shape
/// is checked, because every name would be wrong.
pub fn read(
    sources: &Sources,
    file: FileId,
    context: Option<(Names, Span)>,
    diagnostics: &mut Vec<Diagnostic>,
) -> Sequence {
    let mut reader = Reader::new(sources, file, &SEQUENCE);
    let section = reader.read();
    diagnostics.append(&mut reader.diagnostics);
    let mut sequence = Sequence::default();
    let Some(section) = section else {
        return sequence;
    };
    for clause in section.many("clauses") {
        let Some(id) = clause.text("id") else {
            continue;
        };
        check_id(&id, sources, diagnostics);
        refuse_own_daylight(clause, diagnostics);
        let copies = clause.count("copies");
        let numbers = match copies {
            Some(count) => (1..=count).map(Some).collect(),
            None => vec![None],
        };
        for number in numbers {
            let id_here = numbered(&id.value, number, true);
            let says = clause
                .text("says")
                .map_or_else(String::new, |says| numbered(&says.value, number, false));
            let taken = sequence.sentences.get(&id_here).map(|(place, _)| *place);
            if let Some(place) = taken {
                diagnostics.push(taken_twice(&id_here, id.place, place));
                continue;
            }
            sequence
                .sentences
                .insert(id_here.clone(), (id.place, says.clone()));
            let halves = texts(clause, number).into_iter();
            let halves = halves.map(|(key, text)| (key.to_owned(), text, clause.place_of(key)));
            sequence.halves.insert(id_here.clone(), halves.collect());
            let daylight = clause.light("daylight");
            (sequence.daylight).extend(daylight.map(|light| (id_here.clone(), light)));
            let Some((names, reaction)) = &context else {
                continue;
            };
            match formula(clause, number, names, *reaction) {
                Ok(formula) if clause.yes("assume") => sequence.assumptions.push(Assumption {
                    id: id_here,
                    says,
                    formula,
                }),
                Ok(formula) => sequence.clauses.push(PlanClause {
                    id: id_here,
                    formula,
                }),
                Err(error) => {
                    diagnostics.push(clause_error(sources, clause, number, &error));
                    // The other copies say the same again.
                    break;
                }
            }
        }
    }
    sequence
}

/// Reads an assumption that somebody gives beside the sequence of a room: keys and texts as in a
/// clause, one after another on one line: `never = "guest-card card out within 100 ms of …"`,
/// `when = "…", then = "…"`.
///
/// # Errors
/// What is wrong with it, ready to print.
pub fn assumption(
    text: &str,
    number: usize,
    room: &crate::room_file::RoomFile,
) -> Result<Assumption, String> {
    let id = format!("assumed-{number}");
    let mut sources = Sources::new();
    // The text stands on a line of its own, so that a fault is shown where it is.
    let file = sources.add(
        "--assume",
        format!("clauses = [{{ id = \"{id}\", says = \"-\", assume = true,\n{text}\n}}]\n"),
    );
    let mut diagnostics = Vec::new();
    let context = Some((room.names(), room.reaction));
    let read = read(&sources, file, context, &mut diagnostics);
    let found = read.assumptions.into_iter().next();
    if let Some(found) = found.filter(|_| diagnostics.is_empty()) {
        return Ok(Assumption {
            says: text.to_owned(),
            ..found
        });
    }
    let rendered = diagnostics.iter().map(|it| it.render(&sources, false));
    Err(rendered.collect::<Vec<_>>().join("\n"))
}

fn check_id(id: &Located<String>, sources: &Sources, diagnostics: &mut Vec<Diagnostic>) {
    let allowed = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_');
    let wrong = id.value.char_indices().find(|(_, c)| !allowed(*c));
    if let Some((at, c)) = wrong {
        diagnostics.push(Diagnostic::error(
            "value",
            inside(sources, id.place, &id.value, at..at + c.len_utf8()),
            format!("{c:?} cannot stand in the id of a clause"),
            "write letters, digits, `-` and `.`: \"A1\", \"corridor-3.2\"",
        ));
    } else if id.value.is_empty() || id.value.len() > 24 {
        diagnostics.push(Diagnostic::error(
            "value",
            id.place,
            "an id has 1 to 24 letters",
            "write something short that documents can print: \"A1\"",
        ));
    }
}

fn taken_twice(id: &str, place: Place, other: Place) -> Diagnostic {
    let message = format!("two clauses have the id `{id}`");
    let hint = "give each clause its own id";
    Diagnostic::error("name taken twice", place, message, hint).related(other, "the other one")
}

/// What is taken for granted is so in any light.
fn refuse_own_daylight(clause: &Section, diagnostics: &mut Vec<Diagnostic>) {
    if clause.yes("assume") && clause.has("daylight") {
        diagnostics.push(Diagnostic::error(
            "clause",
            clause.place_of("daylight"),
            "what is taken for granted has no `daylight` of its own",
            "give it to the clauses that are to be proved at that daylight",
        ));
    }
}

/// The formal half of a clause: its keys and their texts.
fn texts(clause: &Section, number: Option<u64>) -> Vec<(&'static str, String)> {
    let mut texts = Vec::new();
    for (key, entry) in &clause.entries {
        if let crate::keys::Item::Text(text) = &entry.value.value
            && !["id", "says"].contains(key)
        {
            texts.push((*key, numbered(text, number, false)));
        }
    }
    texts
}

fn formula(
    clause: &Section,
    number: Option<u64>,
    names: &Names,
    reaction: Span,
) -> Result<Formula, ClauseError> {
    let texts = texts(clause, number);
    let fields: Vec<(&str, &str)> = texts
        .iter()
        .map(|(key, text)| (*key, text.as_str()))
        .collect();
    Formula::parse(&fields, names, reaction)
}

/// The error of a clause at its place in the file.
fn clause_error(
    sources: &Sources,
    clause: &Section,
    number: Option<u64>,
    error: &ClauseError,
) -> Diagnostic {
    let entry = clause.entries.get(error.key.as_str());
    let place = match entry {
        Some(entry) if error.span.is_empty() && error.span.start == 0 => entry.key,
        Some(entry) => match (&entry.value.value, number) {
            (crate::keys::Item::Text(text), None) => {
                let end = error.span.end.max(error.span.start);
                inside(sources, entry.value.place, text, error.span.start..end)
            }
            // In a copy the bytes are those of the text with its number.
            _ => entry.value.place,
        },
        None => clause.place,
    };
    Diagnostic::error("clause", place, error.message.clone(), error.hint.clone())
}

/// A text of the copy with this number; an id without a mark is numbered at its end.
fn numbered(text: &str, number: Option<u64>, is_id: bool) -> String {
    match number {
        Some(number) if text.contains('#') => text.replace('#', &number.to_string()),
        Some(number) if is_id => format!("{text}-{number}"),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests;
