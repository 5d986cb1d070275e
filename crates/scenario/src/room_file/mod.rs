//! `room.toml` and `site.toml`: what stands in a room, read into a plan.
//!
//! Reading goes in three steps: key tables type every value ([`crate::keys`]), the model gives
//! everything its full name and place, and the plan numbers it. Invariant: a plan is only given
//! out when no error was found.

mod links;
mod model;
mod outputs;
mod places;
mod plan;
mod read;
mod resolve;
mod setting;
mod sources;
mod tables;

use std::collections::BTreeMap;
use std::fmt;

use device::{Illuminance, Span};
use room::{ControllerId, OutputId, Plan, SourceId};
use sim::Quality;

pub use links::Tie;
pub use read::{Part, read_room, read_site};
pub use setting::{ChangeError, Knob};
pub(crate) use tables::LIGHT;
pub use tables::{ROOM, SITE};

pub(crate) use model::{Model, Thing};
pub(crate) use outputs::rating;
pub(crate) use places::position;
pub(crate) use plan::{asked_level, full};
pub(crate) use resolve::Buttons;

use crate::keys::Table;
use crate::script::calendar::Calendar;
use crate::script::people::NoticeTable;
use crate::sequence_file::Assumption;
use crate::{Place, keys::Section};

/// A room, or a site with its rooms, as the files say it.
#[derive(Clone)]
pub struct RoomFile {
    /// What stands in it, with the clauses that are monitored.
    pub plan: Plan,
    /// Where each clause of the plan stands and what it says, by id.
    pub sentences: BTreeMap<String, (Place, String)>,
    /// The formal half of each clause, by id: key, text, and where the text stands.
    pub halves: BTreeMap<String, Vec<(String, String, Place)>>,
    /// The daylight outside at which a clause is to be proved, by id, where it says one.
    pub daylight: BTreeMap<String, Illuminance>,
    /// Clauses that are taken for granted.
    pub assumptions: Vec<Assumption>,
    /// How long clauses let an output react, unless they say otherwise.
    pub reaction: Span,
    /// The time zone, by its name in the bundled database.
    pub zone: String,
    /// The calendars of its time clocks.
    pub calendars: BTreeMap<SourceId, Calendar>,
    /// Names that stand for several outputs: groups, relays, all copies of one.
    pub groups: BTreeMap<String, Vec<OutputId>>,
    /// Its places.
    pub places: Vec<String>,
    /// What sensors notice at its places, where that is not everything.
    pub notices: NoticeTable,
    /// Its people and their places.
    pub people: BTreeMap<String, Option<String>>,
    /// How well frames travel, where that is not the default.
    pub quality: BTreeMap<(SourceId, ControllerId), Quality>,
    /// Every link, with its place in the file.
    pub ties: Vec<Tie>,
    pub(crate) buttons: Vec<Buttons>,
    pub(crate) model: Model,
    pub(crate) root: &'static Table,
}

impl fmt::Debug for RoomFile {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("RoomFile")
            .field("plan", &self.plan)
            .finish_non_exhaustive()
    }
}

impl RoomFile {
    /// The keys and the place of a source.
    #[must_use]
    pub fn source_keys(&self, source: SourceId) -> (&Section, Place) {
        let thing = &self.model.sources[usize::from(source.0)];
        (&thing.section, thing.place)
    }

    /// The keys and the place of an output.
    #[must_use]
    pub fn output_keys(&self, output: OutputId) -> (&Section, Place) {
        let thing = &self.model.outputs[usize::from(output.0)];
        (&thing.section, thing.place)
    }

    /// Every setting that the files give: of what (`desk-lights`, `wall-sensor to air`), its key,
    /// and where it stands.
    #[must_use]
    pub fn settings(&self) -> Vec<(String, &'static str, Place)> {
        let model = &self.model;
        let things = [&model.outputs, &model.sources, &model.controllers];
        let things = things.into_iter().flatten();
        let mut all: Vec<(String, &'static str, Place)> = things
            .flat_map(|thing| {
                let keys = thing.section.entries.iter();
                keys.map(|(key, entry)| (thing.name.clone(), *key, entry.key))
            })
            .collect();
        for tie in &self.ties {
            let link = tie.one_link().and_then(|one| model.link(&one));
            let (source, output) = (&model.sources[tie.source], &model.outputs[tie.output]);
            let name = format!("{} to {}", source.name, output.name);
            let keys = link.into_iter().flat_map(|link| &link.entries);
            all.extend(keys.map(|(key, entry)| (name.clone(), *key, entry.key)));
        }
        all
    }

    /// What a row calls `name`: one thing, or all copies of one; else just the name.
    #[must_use]
    pub fn members(&self, name: &str) -> Vec<String> {
        let model = &self.model;
        let things = model.outputs.iter().chain(&model.sources);
        let named = things.filter(|thing| thing.name == name || thing.base == name);
        let named: Vec<String> = named.map(|thing| thing.name.clone()).collect();
        if named.is_empty() {
            vec![name.to_owned()]
        } else {
            named
        }
    }

    /// Whether what a row calls `named` is, or has among it, the point `point`: a thing, a copy
    /// of one, or a link between two.
    #[must_use]
    pub fn means(&self, named: &str, point: &str) -> bool {
        let unit = |text: &str| {
            text.split_once('/')
                .map_or(text.to_owned(), |it| it.0.to_owned())
        };
        let one = |named: &str, point: &str| {
            named == point || self.members(named).iter().any(|member| member == point)
        };
        match (named.split_once(" to "), point.split_once(" to ")) {
            (Some((from, to)), Some((source, output))) => {
                let (from, to) = (from.trim(), to.trim());
                (one(from, source) || one(&unit(from), source)) && one(to, output)
            }
            (None, None) => one(named, point),
            _ => false,
        }
    }

    /// What each output switches at full, with what hangs on it downstream, in milliwatts;
    /// `None` where the file gives no load.
    #[must_use]
    pub fn loads(&self) -> Vec<Option<u64>> {
        let load = |thing: &Thing| {
            let own = thing.section.power("load")?.0;
            let downstream = thing
                .section
                .given("downstream")
                .and_then(|_| thing.section.power("downstream"));
            Some(own + downstream.map_or(0, |power| power.0))
        };
        self.model.outputs.iter().map(load).collect()
    }

    /// What the file says of the room in a sentence, if it does.
    #[must_use]
    pub fn says(&self) -> Option<String> {
        let root = &self.model.parts.first()?.root;
        root.text("says").map(|text| text.value)
    }

    /// How large the room is: width, depth and height in millimetres; no height where the file
    /// gives none.
    #[must_use]
    pub fn size(&self) -> Option<(u64, u64, Option<u64>)> {
        let root = &self.model.parts.first()?.root;
        root.table.key("size")?;
        let size = root.table("size")?;
        let length = |key| size.length(key).map(|length| length.0);
        Some((length("width")?, length("depth")?, length("height")))
    }

    /// Where a source, an output or a place is: millimetres from the front left corner, to the
    /// right and to the back; `None` where the file does not say.
    #[must_use]
    pub fn position(&self, name: &str) -> Option<(u64, u64)> {
        let model = &self.model;
        let things = [&model.outputs, &model.sources, &model.places];
        let mut named = things.into_iter().flatten().filter(|it| it.name == name);
        let place = position(&named.next()?.section)?;
        Some(place.0)
    }

    /// The names that clauses of the room may use.
    #[must_use]
    pub fn names(&self) -> clause::Names {
        plan::names(self)
    }
}

#[cfg(test)]
mod tests;

#[cfg(test)]
mod corpus;

#[cfg(test)]
mod mutation;
