//! Links: which source may do what to which output.
//!
//! A link of the file may be many links of the room: lists, copies, groups and the buttons of a
//! unit are taken apart here. Invariant: no two links tie the same source (and button) to the
//! same output for the same purpose.

use device::controller::{Calibration, Loop, LoopKind, Lost, Role};
use device::{Level, Span, switch};

use super::model::{Model, OneLink};
use super::resolve::{self, Buttons, From};
use super::sources::whole_percent;
use crate::keys::{Item, Located, Section, Table, misplaced};
use crate::{Diagnostic, Place};

/// One link of the room.
#[derive(Clone, Debug, PartialEq)]
pub struct Tie {
    /// The source, by its place among the sorted names.
    pub source: usize,
    /// The button of a wall unit.
    pub button: Option<u8>,
    /// The output, by its place among the sorted names.
    pub output: usize,
    /// What the source may do; the index of a button is filled in by the plan.
    pub role: Role,
    /// How the file calls the role.
    pub role_word: &'static str,
    /// See [`device::controller::Link`].
    pub run_on: Span,
    /// See [`device::controller::Link`].
    pub setback: Option<Level>,
    /// See [`device::controller::Link`].
    pub lost: Lost,
    /// See [`device::controller::Link`].
    pub stored: bool,
    /// Where the link begins, or the scene that made it.
    pub place: Place,
    /// Which file and which of its links it comes from; `None`: from a scene.
    pub link: Option<(usize, usize)>,
}

impl Tie {
    /// In the order of the links of a controller.
    pub(crate) fn order(&self) -> (usize, Option<u8>, usize, usize) {
        (self.source, self.button, self.output, rank(self.role_word))
    }

    /// Which link of the room it is; `None`: from a scene.
    pub(crate) fn one_link(&self) -> Option<OneLink> {
        Some((self.link?, self.source, self.output))
    }
}

/// Takes the links of all files apart.
pub(crate) fn ties(
    model: &Model,
    buttons: &[Buttons],
    root: &'static Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<Tie> {
    let mut ties = Vec::new();
    for (part, file) in model.parts.iter().enumerate() {
        for (number, section) in file.root.many("links").iter().enumerate() {
            let mut reading = Reading {
                model,
                buttons,
                root,
                part,
                link: (part, number),
                diagnostics,
            };
            ties.extend(reading.link(section));
        }
    }
    ties.extend(scene_ties(model, buttons, diagnostics));
    ties.sort_by_key(|tie| (tie.order(), tie.place));
    report_twins(model, &ties, diagnostics);
    ties.dedup_by_key(|tie| tie.order());
    ties
}

/// The most links that one of the file makes; a controller has room for 255.
const MOST_TIES: usize = 10_000;

struct Reading<'a> {
    model: &'a Model,
    buttons: &'a [Buttons],
    root: &'static Table,
    part: usize,
    link: (usize, usize),
    diagnostics: &'a mut Vec<Diagnostic>,
}

impl Reading<'_> {
    fn link(&mut self, section: &Section) -> Vec<Tie> {
        let mut section = section.clone();
        let mut ends = Vec::new();
        for from in section.texts("from") {
            match resolve::source(self.model, self.part, &from) {
                Ok(found) => ends.push((from, found)),
                Err(diagnostic) => self.diagnostics.push(*diagnostic),
            }
        }
        let Some(kind) = self.one_kind(&ends) else {
            // The names after `to` are looked up all the same, so that all faults show at once.
            self.outputs_of(&section);
            return Vec::new();
        };
        let Some(role) = self.role(&mut section, kind) else {
            self.outputs_of(&section);
            return Vec::new();
        };
        let mut ties = Vec::new();
        let outputs = self.outputs_of(&section);
        let sources: usize = ends
            .iter()
            .map(|(_, found)| found.sources.members.len())
            .sum();
        let targets: usize = outputs.iter().map(|(_, found)| found.members.len()).sum();
        if sources.saturating_mul(targets) > MOST_TIES {
            self.diagnostics.push(Diagnostic::error(
                "too large",
                section.place,
                format!("a link of {sources} sources to {targets} outputs"),
                format!("one [[links]] makes at most {MOST_TIES} links: write several"),
            ));
            return Vec::new();
        }
        for (from, found) in &ends {
            let chosen = self.chosen_buttons(from, found, kind);
            for (to, targets) in &outputs {
                for (&source, button) in found
                    .sources
                    .members
                    .iter()
                    .flat_map(|source| chosen.iter().map(move |button| (source, *button)))
                {
                    for output in self.paired(from, found, source, to, targets) {
                        let changed = self.model.changed_links.get(&(self.link, source, output));
                        let tie = match changed.cloned() {
                            Some(mut own) => self
                                .role(&mut own, kind)
                                .map(|role| self.tie(&own, role, source, button, output)),
                            None => Some(self.tie(&section, role, source, button, output)),
                        };
                        ties.extend(tie);
                    }
                }
            }
        }
        ties
    }

    fn outputs_of(&mut self, section: &Section) -> Vec<(Located<String>, resolve::Found)> {
        let mut outputs = Vec::new();
        for to in section.texts("to") {
            match resolve::outputs(self.model, self.part, &to) {
                Ok(found) => outputs.push((to, found)),
                Err(diagnostic) => self.diagnostics.push(*diagnostic),
            }
        }
        outputs
    }

    /// The kind of all sources of a link.
    fn one_kind(&mut self, ends: &[(Located<String>, From)]) -> Option<&'static str> {
        let kind = |found: &From| {
            let first = found.sources.members.first()?;
            self.model.sources[*first].section.word("kind")
        };
        let (first, found) = ends.first()?;
        let wanted = kind(found)?;
        for (other, found) in &ends[1..] {
            if kind(found).is_some_and(|kind| !share_roles(kind, wanted)) {
                self.diagnostics.push(
                    Diagnostic::error(
                        "sources of two kinds in one link",
                        other.place,
                        format!("`{}` is not a source of the kind \"{wanted}\"", other.value),
                        "write a [[links]] table for each kind of source",
                    )
                    .related(first.place, "because of this"),
                );
                return None;
            }
        }
        Some(wanted)
    }

    /// The role: as given, or the only one that the kind of source has.
    fn role(&mut self, section: &mut Section, kind: &'static str) -> Option<&'static str> {
        let (known, implied): (&[&'static str], Option<&'static str>) = match kind {
            "occupancy" => (&["auto-on", "partial-on", "manual-on"], None),
            "clock" => (&["sweep", "opening", "no-auto-on", "off-after-hours"], None),
            "switch" => (&["button"], Some("button")),
            "card" => (&["welcome"], Some("welcome")),
            "daylight" => (&["limit"], Some("limit")),
            "demand response" => (&["shed"], Some("shed")),
            _ => (&["emergency"], Some("emergency")),
        };
        let quoted: Vec<String> = known.iter().map(|role| format!("\"{role}\"")).collect();
        let all = crate::diagnostic::one_of(quoted.iter().map(String::as_str));
        let Some(role) = section.word("role").or(implied) else {
            // A role that could not be read has its own message.
            if !section.has("role") && section.role_is_missing() {
                self.diagnostics.push(Diagnostic::error(
                    "missing key",
                    section.place,
                    format!("a link of a source of the kind \"{kind}\" needs a role"),
                    format!("add a line: role = {all}"),
                ));
            }
            return None;
        };
        if !known.contains(&role) {
            self.diagnostics.push(Diagnostic::error(
                "role of another kind of source",
                section.place_of("role"),
                format!("a source of the kind \"{kind}\" has no role \"{role}\""),
                format!("write role = {all}"),
            ));
            return None;
        }
        if !section.has("role") {
            let found = misplaced(self.root, section, role);
            self.diagnostics.extend(found);
        }
        Some(role)
    }

    /// The buttons that a link is about; `None` for sources without buttons.
    fn chosen_buttons(
        &mut self,
        from: &Located<String>,
        found: &From,
        kind: &str,
    ) -> Vec<Option<u8>> {
        if kind != "switch" {
            if !found.button.is_empty() {
                self.diagnostics.push(Diagnostic::error(
                    "unknown name",
                    from.place,
                    format!("a source of the kind \"{kind}\" has no buttons"),
                    "write its name without a slash",
                ));
            }
            return vec![None];
        }
        let Some(unit) = found
            .sources
            .members
            .first()
            .map(|unit| &self.buttons[*unit])
        else {
            return Vec::new();
        };
        let chosen = unit.select(&found.button);
        if unit.names.is_empty() {
            // What was written for its buttons was not understood, and that was said.
            return Vec::new();
        }
        if chosen.is_empty() || chosen.iter().any(|number| self.is_scene(unit, *number)) {
            let choices = unit.choices();
            let hint = if choices.is_empty() {
                "a scene button needs no link: its scene names the outputs".to_owned()
            } else {
                let choices = choices.iter().map(String::as_str);
                format!(
                    "what may stand after the slash: {}",
                    crate::diagnostic::one_of(choices)
                )
            };
            self.diagnostics.push(Diagnostic::error(
                "unknown name",
                from.place,
                format!("`{}` names no button that can be linked", from.value),
                hint,
            ));
            return Vec::new();
        }
        chosen.into_iter().map(Some).collect()
    }

    fn is_scene(&self, unit: &Buttons, number: u8) -> bool {
        unit.kinds.get(usize::from(number)) == Some(&switch::Button::Scene)
    }

    /// The outputs of one source: each copy its own when both have equally many copies.
    fn paired(
        &mut self,
        from: &Located<String>,
        found: &From,
        source: usize,
        to: &Located<String>,
        targets: &resolve::Found,
    ) -> Vec<usize> {
        let sources = &self.model.sources;
        let outputs = &self.model.outputs;
        let (Some((number, count)), true, true) =
            (sources[source].copy, found.sources.copies, targets.copies)
        else {
            return targets.members.clone();
        };
        let own = |output: &usize| outputs[*output].copy == Some((number, count));
        let paired: Vec<usize> = targets.members.iter().copied().filter(own).collect();
        if paired.is_empty() && number == 1 {
            let other = targets.members.len();
            self.diagnostics.push(
                Diagnostic::error(
                    "copies that do not pair",
                    to.place,
                    format!("{count} copies of the source and {other} of the output"),
                    "write the same number of copies, or a list of single names",
                )
                .related(from.place, "these"),
            );
        }
        paired
    }

    fn tie(
        &mut self,
        section: &Section,
        role_word: &'static str,
        source: usize,
        button: Option<u8>,
        output: usize,
    ) -> Tie {
        Tie {
            source,
            button,
            output,
            role: self.role_settings(section, role_word),
            role_word,
            run_on: section.span("run-on").unwrap_or(Span::ZERO),
            setback: section.level("setback"),
            lost: match section.word("lost") {
                Some("occupied") => Lost::Occupied,
                _ => Lost::Vacant,
            },
            stored: section.yes("stored"),
            place: section.place,
            link: Some(self.link),
        }
    }

    fn role_settings(&mut self, section: &Section, role: &str) -> Role {
        let level = |otherwise| section.level("level").unwrap_or(otherwise);
        match role {
            "auto-on" => Role::AutoOn(level(Level::FULL)),
            "partial-on" => Role::PartialOn(level(Level::from_percent(50))),
            "manual-on" => Role::ManualOn,
            "welcome" => Role::Card(level(Level::FULL)),
            "limit" => Role::Limit(self.daylight_loop(section)),
            "sweep" => Role::Sweep {
                warning: section.span("warning").unwrap_or(Span::ZERO),
                longest_override: section.span("longest-override").unwrap_or(Span::ZERO),
            },
            "opening" => Role::Opening(level(Level::FULL)),
            "no-auto-on" => Role::NoAutoOn,
            "off-after-hours" => {
                Role::OffAfterHours(section.span("after-hours-off").unwrap_or(Span::ZERO))
            }
            "emergency" => Role::Emergency,
            "shed" => Role::Shed,
            _ => Role::Button(0),
        }
    }

    fn daylight_loop(&mut self, section: &Section) -> Loop {
        let standard = Loop::default();
        let reading = |key: &str| {
            let table = section.table(key)?;
            Some((table.light("sensor")?, table.light("task")?))
        };
        let calibration = match (reading("night"), reading("day")) {
            (Some((night_sensor, night_task)), Some((day_sensor, day_task))) => Some(Calibration {
                night_sensor,
                night_task,
                day_sensor,
                day_task,
            }),
            _ => None,
        };
        if section.has("night") != section.has("day") {
            let (given, missing) = if section.has("night") {
                ("night", "day")
            } else {
                ("day", "night")
            };
            let diagnostic = Diagnostic::error(
                "missing key",
                section.place_of(given),
                "a calibration takes two readings",
                format!("add {missing} = {{ sensor = \"100 lx\", task = \"400 lx\" }}"),
            );
            if !self.diagnostics.contains(&diagnostic) {
                self.diagnostics.push(diagnostic);
            }
        }
        let mut found = Vec::new();
        let dead_band_percent = whole_percent(section, "dead-band", &mut found);
        self.diagnostics.extend(found);
        Loop {
            kind: match section.word("loop") {
                Some("open") => LoopKind::Open,
                _ => LoopKind::Closed,
            },
            set_point: section.light("set-point").unwrap_or(standard.set_point),
            calibration,
            dead_band_percent,
            fade_down: section.span("fade-down").unwrap_or(standard.fade_down),
            fade_up: section.span("fade-up").unwrap_or(standard.fade_up),
            dark_after: section.span("dark-after"),
        }
    }
}

impl Section {
    /// Whether a role is missing, rather than given and refused.
    fn role_is_missing(&self) -> bool {
        !self.refused.contains(&"role")
    }
}

/// Whether two kinds of source may do the same to outputs.
fn share_roles(one: &str, other: &str) -> bool {
    let emergency = |kind| matches!(kind, "normal power" | "fire alarm");
    one == other || emergency(one) && emergency(other)
}

/// The links of scene buttons: to every output that the scene names.
fn scene_ties(model: &Model, buttons: &[Buttons], diagnostics: &mut Vec<Diagnostic>) -> Vec<Tie> {
    let mut ties = Vec::new();
    let mut used = vec![false; model.scenes.len()];
    for (source, unit) in buttons.iter().enumerate() {
        let part = model.sources[source].part;
        for (number, name) in &unit.scenes {
            let here = |scene: &super::model::Scene| {
                scene.map.name.value == name.value && scene.part == part
            };
            let Some(at) = model.scenes.iter().position(here) else {
                diagnostics.push(unknown_scene(model, part, name));
                continue;
            };
            used[at] = true;
            let scene = &model.scenes[at];
            for (output, level) in &scene.map.values {
                let Ok(found) = resolve::outputs(model, part, output) else {
                    continue;
                };
                let Item::Level(level) = level.value else {
                    continue;
                };
                ties.extend(found.members.into_iter().map(|output_at| Tie {
                    source,
                    button: Some(*number),
                    output: output_at,
                    role: Role::Scene(0, level),
                    role_word: "scene",
                    run_on: Span::ZERO,
                    setback: None,
                    lost: Lost::Vacant,
                    stored: true,
                    place: output.place,
                    link: None,
                }));
            }
        }
    }
    for (scene, used) in model.scenes.iter().zip(used) {
        for (output, _) in &scene.map.values {
            if let Err(diagnostic) = resolve::outputs(model, scene.part, output) {
                diagnostics.push(*diagnostic);
            }
        }
        if !used {
            let name = &scene.map.name;
            diagnostics.push(Diagnostic::warning(
                "scene without a button",
                name.place,
                format!("no button recalls the scene `{}`", name.value),
                format!("add \"{} scene\" to the buttons of a switch", name.value),
            ));
        }
    }
    ties
}

fn unknown_scene(model: &Model, part: usize, name: &Located<String>) -> Diagnostic {
    let known = model.scenes.iter().filter(|scene| scene.part == part);
    let names: Vec<&str> = known.map(|scene| scene.map.name.value.as_str()).collect();
    let hint = match crate::diagnostic::nearest(&name.value, names.iter().copied()) {
        Some(near) => format!("did you mean \"{near} scene\"?"),
        None => format!("add [scenes.{}] and a level for each output", name.value),
    };
    Diagnostic::error(
        "unknown name",
        name.place,
        format!("there is no scene called `{}`", name.value),
        hint,
    )
}

fn report_twins(model: &Model, ties: &[Tie], diagnostics: &mut Vec<Diagnostic>) {
    for pair in ties.windows(2) {
        let [first, second] = pair else {
            continue;
        };
        if first.order() == second.order() && first.role_word != "scene" {
            let diagnostic = Diagnostic::error(
                "linked twice",
                second.place,
                format!(
                    "`{}` is linked to `{}` twice",
                    model.sources[second.source].name, model.outputs[second.output].name
                ),
                "keep one of the two links",
            )
            .related(first.place, "the other one");
            // Copies say the same again and again.
            let said = |d: &Diagnostic| d.rule == "linked twice" && d.place == second.place;
            if !diagnostics.iter().any(said) {
                diagnostics.push(diagnostic);
            }
        }
    }
}

/// Roles of one rank exclude each other between a source and an output.
fn rank(role: &str) -> usize {
    match role {
        "auto-on" | "partial-on" | "manual-on" => 0,
        "button" => 1,
        "scene" => 2,
        "welcome" => 3,
        "limit" => 4,
        "emergency" => 5,
        "shed" => 6,
        "sweep" => 7,
        "opening" => 8,
        "no-auto-on" => 9,
        _ => 10,
    }
}
