//! Questions that can be asked of any room: they are written as clauses in its own names, and so
//! are sliced, proved, broken and explained like clauses that somebody wrote.
//!
//! Invariant: what is asked of an output speaks of the sources that are linked to it; whatever
//! else moves it is found out and breaks the clause.

use std::fmt::Write;

use device::controller::{Drive, Link, Role};
use device::switch::Button;
use room::{OutputId, Plan, PlanController, SourceSettings};
use scenario::room_file::RoomFile;

/// The longest time that is looked at for what ends by itself.
const LONGEST: &str = "24 h";

/// The questions of a room as the text of a sequence file:
///
/// - `off-N`: an off press makes the output dark within 5 s, unless something else acts;
/// - `quiet-N`: without a stimulus the output is off in the end, whose tightest bound is the
///   least time;
/// - `still-N`: without a stimulus nothing changes in the end, which has a least time as well;
/// - `apart-N`: no button ever affects a receptacle;
/// - `acts-N`: what is linked to an output changes it on some day. Where nothing puts that to the
///   test the link is dead: it may as well not be there.
#[must_use]
pub fn questions(room: &RoomFile) -> String {
    let plan = &room.plan;
    let mut asked = String::from("title = \"Questions that can be asked of any room\"\n");
    let mut clauses = Clauses {
        text: &mut asked,
        numbers: [0; 5],
    };
    for (id, _) in (0..).map(OutputId).zip(&plan.outputs) {
        let output = Output::of(plan, id);
        clauses.off(&output);
        clauses.quiet(&output);
        clauses.apart(&output);
        clauses.acts(&output);
    }
    asked
}

/// An output with what is linked to it.
struct Output<'a> {
    plan: &'a Plan,
    name: &'a str,
    local: u8,
    at: &'a PlanController,
}

impl<'a> Output<'a> {
    fn of(plan: &'a Plan, id: OutputId) -> Self {
        let output = &plan.outputs[usize::from(id.0)];
        Self {
            plan,
            name: &output.name,
            local: output.local,
            at: &plan.controllers[usize::from(output.controller.0)],
        }
    }

    fn links(&self) -> impl Iterator<Item = &'a Link> {
        let local = self.local;
        let links = self.at.settings.links.iter();
        links.filter(move |link| link.stored && link.output == local)
    }

    fn is_receptacle(&self) -> bool {
        self.at.settings.outputs[usize::from(self.local)].drive == Drive::Receptacle
    }

    /// The buttons whose tap makes it dark, by name.
    fn off_buttons(&self) -> Vec<String> {
        let buttons = self.links().filter_map(|link| match link.role {
            Role::Button(button) => {
                let it = &self.at.settings.buttons[usize::from(button)];
                (it.kind == Button::Down).then(|| self.button(it.heard, it.number))
            }
            Role::Scene(button, level) if level.is_off() => {
                let it = &self.at.settings.buttons[usize::from(button)];
                Some(self.button(it.heard, it.number))
            }
            _ => None,
        });
        once(buttons)
    }

    /// What has to change it on some day, by name: each button, and every other source by
    /// itself. A link that only forbids, or that follows the light outside, is no such thing.
    fn doers(&self) -> Vec<String> {
        once(self.links().filter_map(|link| match link.role {
            Role::Button(button) | Role::Scene(button, _) => {
                let it = &self.at.settings.buttons[usize::from(button)];
                Some(self.button(it.heard, it.number))
            }
            Role::NoAutoOn | Role::Limit(_) => None,
            _ => {
                let heard = self.at.heard[usize::from(link.heard)];
                Some(self.plan.sources[usize::from(heard.0)].name.clone())
            }
        }))
    }

    fn button(&self, heard: u8, number: u8) -> String {
        let source = self.at.heard[usize::from(heard)];
        let unit = &self.plan.sources[usize::from(source.0)];
        format!("{}/{}", unit.name, unit.buttons[usize::from(number)])
    }

    /// The events of its sources, but for the presses of one button.
    fn events(&self, but: Option<&str>) -> Vec<String> {
        once(self.links().flat_map(|link| {
            let heard = self.at.heard[usize::from(link.heard)];
            let source = &self.plan.sources[usize::from(heard.0)];
            let name = &source.name;
            match &source.settings {
                SourceSettings::Occupancy(it) if it.sound => {
                    vec![format!("motion at {name}"), format!("sound at {name}")]
                }
                SourceSettings::Occupancy(_) => vec![format!("motion at {name}")],
                SourceSettings::Switch(_) => {
                    let buttons = source.buttons.iter();
                    let all = buttons.map(|button| format!("{name}/{button}"));
                    let all = all.filter(|button| Some(button.as_str()) != but);
                    all.flat_map(|it| [format!("{it} press"), format!("{it} release")])
                        .collect()
                }
                SourceSettings::Card(_) => vec![format!("{name} in"), format!("{name} out")],
                SourceSettings::Daylight(_) => Vec::new(),
                SourceSettings::Clock(_) => ["sweeps", "becomes in hours", "becomes after hours"]
                    .map(|it| format!("{name} {it}"))
                    .to_vec(),
                SourceSettings::Signal(it) => {
                    let [one, other] = match it.kind {
                        device::signal::Kind::NormalPower => ["lost", "present"],
                        device::signal::Kind::FireAlarm => ["sounding", "quiet"],
                        device::signal::Kind::DemandResponse => ["active", "inactive"],
                    };
                    vec![
                        format!("{name} becomes {one}"),
                        format!("{name} becomes {other}"),
                    ]
                }
            }
        }))
    }
}

/// Texts, each once, in their first order.
fn once(all: impl Iterator<Item = String>) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for one in all {
        if !said.contains(&one) {
            said.push(one);
        }
    }
    said
}

/// Clauses that are being written.
struct Clauses<'a> {
    text: &'a mut String,
    /// How many there are of each kind.
    numbers: [u16; 5],
}

impl Clauses<'_> {
    fn off(&mut self, output: &Output<'_>) {
        let name = output.name;
        for button in output.off_buttons() {
            let others = output.events(Some(&button)).join(" or ");
            let says = format!("{name} is off 5 s after {button}, unless something else acts.");
            let mut keys = vec![
                ("when", format!("{button} tap")),
                ("then", format!("{name} is off")),
                ("within", "5 s".to_owned()),
            ];
            if !others.is_empty() {
                // What acts while the button is down comes before the tap, which is its release.
                keys.push(("unless", format!("not (no ({others}) for 0.6 s)")));
            }
            self.write(0, "off", &says, &keys);
        }
    }

    fn quiet(&mut self, output: &Output<'_>) {
        let name = output.name;
        let events = output.events(None).join(" or ");
        if events.is_empty() {
            return;
        }
        let quiet = format!("no ({events}) for {LONGEST}");
        let says = format!("{name} is off when nothing has acted on it for {LONGEST}.");
        let keys = [
            ("when", format!("({quiet}) becomes true")),
            ("then", format!("{name} is off")),
            ("reaction", "0 s".to_owned()),
        ];
        self.write(1, "quiet", &says, &keys);
        let says = format!("{name} changes no more when nothing has acted on it for {LONGEST}.");
        let keys = [
            ("when", format!("{name} changes")),
            ("then", format!("not ({quiet})")),
            ("reaction", "0 s".to_owned()),
        ];
        self.write(2, "still", &says, &keys);
    }

    fn apart(&mut self, output: &Output<'_>) {
        if !output.is_receptacle() {
            return;
        }
        let name = output.name;
        let sources = output.plan.sources.iter();
        for unit in sources.filter(|it| matches!(it.settings, SourceSettings::Switch(_))) {
            let says = format!("No button of {} ever affects {name}.", unit.name);
            let keys = [("always", format!("{} never affects {name}", unit.name))];
            self.write(3, "apart", &says, &keys);
        }
    }

    fn acts(&mut self, output: &Output<'_>) {
        let name = output.name;
        for doer in output.doers() {
            let says = format!("The link from {doer} to {name} is not dead: it does something.");
            let keys = [
                ("when", format!("{doer} changes {name}")),
                ("then", format!("{name} is on or {name} is off")),
                ("reaction", "0 s".to_owned()),
            ];
            self.write(4, "acts", &says, &keys);
        }
    }

    fn write(&mut self, kind: usize, word: &str, says: &str, keys: &[(&str, String)]) {
        self.numbers[kind] += 1;
        let number = self.numbers[kind];
        let text = &mut self.text;
        let mut line = |line: std::fmt::Arguments<'_>| {
            writeln!(text, "{line}").expect("a string takes everything");
        };
        line(format_args!("\n[[clauses]]\nid = \"{word}-{number}\""));
        line(format_args!("says = {says:?}"));
        for (key, value) in keys {
            line(format_args!("{key} = {value:?}"));
        }
    }
}
