//! Static checks: what is wrong with a room before anything happens in it.
//!
//! Each finding names its rule, its place, why, and what to do. A check is not a certificate:
//! [`CAUTIONS`] are printed with the findings. Invariant: copies of one thing say it once.

mod code;
mod effect;
mod links;
mod load;
mod place;
mod rules;
mod safety;
mod timing;

use device::controller::Output;
use room::OutputId;

pub use rules::{RULES, Rule, rules_reference};

use crate::Diagnostic;
use crate::diagnostic::sort;
use crate::room_file::{RoomFile, Thing, Tie};
use crate::site::Room;

/// What every check is printed with, one line each.
pub const CAUTIONS: [&str; 4] = [
    "A check of files is no evidence of listing, wiring, ratings or life safety.",
    "Local codes, the makers' instructions and licensed practice come first.",
    "Loads are sums of the watts given: inrush, heat and continuous duty are not in them.",
    "Limits of codes are shown with the edition they are from; editions differ by state and year.",
];

/// Checks a room that was read without an error. Sorted by place.
#[must_use]
pub fn check(room: &RoomFile) -> Vec<Diagnostic> {
    let mut findings = Vec::new();
    let checked = Checked { room };
    links::check(&checked, &mut findings);
    load::check(&checked, &mut findings);
    safety::check(&checked, &mut findings);
    timing::check(&checked, &mut findings);
    effect::check(&checked, &mut findings);
    place::check(&checked, &mut findings);
    code::check(&checked, &mut findings);
    sort(&mut findings);
    // Copies stand at one place; what is said of one is said of all.
    findings.dedup_by(|next, kept| {
        next.rule == kept.rule && next.place == kept.place && next.severity == kept.severity
    });
    findings
}

/// Checks rooms that were found together. A room of a site is checked within its site, because
/// what it looks like alone (a sensor that only the site listens to) is not how it is.
#[must_use]
pub fn check_all(rooms: &[Room]) -> Vec<Diagnostic> {
    let within_site = |room: &Room| {
        let site = |other: &&Room| other.is_site && room.folder.parent() == Some(&other.folder);
        let site = rooms.iter().find(site);
        !room.is_site && site.is_some_and(|site| site.room.is_some())
    };
    let alone = rooms.iter().filter(|room| !within_site(room));
    let mut findings: Vec<Diagnostic> = alone
        .filter_map(|room| room.room.as_ref())
        .flat_map(check)
        .collect();
    sort(&mut findings);
    findings
}

/// A room with the questions that checks ask of it.
struct Checked<'a> {
    room: &'a RoomFile,
}

impl<'a> Checked<'a> {
    /// Every output: its number, its keys and its settings.
    fn outputs(&self) -> impl Iterator<Item = (usize, &'a Thing, &'a Output)> {
        let room = self.room;
        let things = room.model.outputs.iter().enumerate();
        things.map(move |(number, thing)| (number, thing, settings(room, number)))
    }

    /// The settings of one output.
    fn output(&self, number: usize) -> &'a Output {
        settings(self.room, number)
    }

    /// The links of an output.
    fn ties_of(&self, output: usize) -> impl Iterator<Item = &'a Tie> {
        self.room
            .ties
            .iter()
            .filter(move |tie| tie.output == output)
    }

    /// The source of a link.
    fn source(&self, tie: &Tie) -> &'a Thing {
        &self.room.model.sources[tie.source]
    }

    /// What a button of a link is made for.
    fn button(&self, tie: &Tie) -> Option<device::switch::Button> {
        let number = usize::from(tie.button?);
        self.room.buttons[tie.source].kinds.get(number).copied()
    }
}

fn settings(room: &RoomFile, output: usize) -> &Output {
    let plan = &room.plan;
    let id = OutputId(u16::try_from(output).unwrap_or(u16::MAX));
    let output = &plan.outputs[usize::from(id.0)];
    let controller = &plan.controllers[usize::from(output.controller.0)];
    &controller.settings.outputs[usize::from(output.local)]
}

#[cfg(test)]
mod tests;
