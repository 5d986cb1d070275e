//! Reminders of energy codes, each with the edition that its limit is from.
//!
//! They are cautions, never errors: editions are adopted with changes, and exceptions need a
//! look at the building. Limits marked "from memory" were not seen in the code itself.

use device::{Level, Span};

use super::Checked;
use crate::Diagnostic;
use crate::room_file::{Thing, Tie, asked_level};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, thing, output) in checked.outputs() {
        let part = &checked.room.model.parts[thing.part];
        for tie in checked.ties_of(number) {
            common_practice(checked, tie, findings);
        }
        let Some(code) = part.deciding("energy-code").word("energy-code") else {
            continue;
        };
        // Contacts serve air and heat, which these rules do not speak of.
        if thing.section.word("drive") == Some("dry contact") {
            continue;
        }
        let has_space = part.root.table.key("space").is_some();
        let look = Look {
            checked,
            code,
            space: if has_space {
                part.root.word("space")
            } else {
                None
            },
            thing,
            lights: output.drive.lights(),
        };
        for tie in checked.ties_of(number) {
            look.time_delay(tie, findings);
            look.turn_on(tie, findings);
            look.setback(tie, findings);
            look.longest_override(tie, findings);
        }
        look.manual_off(number, findings);
    }
}

/// One output under one code.
struct Look<'a> {
    checked: &'a Checked<'a>,
    code: &'static str,
    space: Option<&'static str>,
    thing: &'a Thing,
    lights: bool,
}

impl Look<'_> {
    /// The longest time to off, and where the number is from.
    fn limit(&self) -> (Span, &'static str) {
        let minutes = Span::from_minutes;
        match (self.code, self.space) {
            ("IECC 2018", Some("open office")) => (minutes(20), "IECC 2018 C405.2.1.3"),
            ("IECC 2015", _) => (minutes(30), "IECC 2015 C405.2.1"),
            ("IECC 2018", _) => (minutes(30), "IECC 2018 C405.2.1.1, as one state adopted it"),
            ("IECC 2021", _) => (minutes(20), "IECC 2021 C405.2.1.1"),
            ("California 2013", _) => (minutes(30), "California 2013, acceptance form"),
            ("California 2016", _) => (minutes(20), "California 2016, acceptance form"),
            ("ASHRAE 90.1-2013", _) => (minutes(20), "ASHRAE 90.1-2013, from memory"),
            ("ASHRAE 90.1-2016", _) => (minutes(20), "ASHRAE 90.1-2016, from memory"),
            _ => (minutes(20), "ASHRAE 90.1-2019, from memory"),
        }
    }

    fn time_delay(&self, tie: &Tie, findings: &mut Vec<Diagnostic>) {
        let source = self.checked.source(tie);
        if source.section.word("kind") != Some("occupancy") {
            return;
        }
        let delay = source.section.span("time-delay").unwrap_or(Span::ZERO);
        let warning = if self.lights && tie.setback.is_none() {
            self.thing.section.span("warning").unwrap_or(Span::ZERO)
        } else {
            Span::ZERO
        };
        let whole = delay.plus(tie.run_on).plus(warning);
        let (limit, edition) = self.limit();
        if whole > limit {
            findings.push(
                Diagnostic::caution(
                    "time delay above the code's",
                    tie.place,
                    format!(
                        "`{}` falls {whole} after the last motion; {edition} allows {limit}",
                        self.thing.name
                    ),
                    "time delay, run-on and warning count together: shorten one",
                )
                .related(
                    source.section.place_of("time-delay"),
                    format!("the delay: {delay}"),
                ),
            );
        }
    }

    fn turn_on(&self, tie: &Tie, findings: &mut Vec<Diagnostic>) {
        if !self.lights || !matches!(tie.role_word, "auto-on" | "partial-on") {
            return;
        }
        let Some(level) = asked_level(&tie.role) else {
            return;
        };
        let public = match self.space {
            // A warehouse has a rule of its own: back to full, but aisle by aisle.
            Some("corridor" | "stair" | "restroom" | "lobby" | "warehouse") => true,
            Some("parking") => self.code == "IECC 2021",
            _ => false,
        };
        if self.code.starts_with("IECC") && level > Level::from_percent(50) && !public {
            findings.push(Diagnostic::caution(
                "turns on above the code's level",
                tie.place,
                format!(
                    "`{}` turns on by itself at {level}; {} C405.2.1.1 allows 50 % of power",
                    self.thing.name, self.code
                ),
                "use role = \"partial-on\" or \"manual-on\", or say what space it is",
            ));
        }
    }

    fn setback(&self, tie: &Tie, findings: &mut Vec<Diagnostic>) {
        let Some(setback) = tie.setback else {
            return;
        };
        let (limit, edition) = match (self.space, self.code) {
            (Some("open office"), "IECC 2018" | "IECC 2021") => (20, "IECC 2018 C405.2.1.3"),
            (Some("warehouse"), _) => (50, "IECC as adopted, and California"),
            (Some("corridor"), "IECC 2021") => (50, "IECC 2021 C405.2.1.4"),
            _ => return,
        };
        if setback > Level::from_percent(limit) {
            findings.push(Diagnostic::caution(
                "setback above the code's",
                tie.place,
                format!("the setback is {setback}; {edition} allows {limit} %"),
                format!("write setback = \"{limit} %\""),
            ));
        }
    }

    fn longest_override(&self, tie: &Tie, findings: &mut Vec<Diagnostic>) {
        let device::controller::Role::Sweep {
            longest_override, ..
        } = tie.role
        else {
            return;
        };
        let source = self.checked.source(tie);
        if longest_override > Span::from_hours(2) {
            findings.push(Diagnostic::caution(
                "override above the code's",
                tie.place,
                format!("an override of {longest_override}; codes allow 2 h over 5 000 ft²"),
                "shorten longest-override; halls, shops and laboratories have exceptions",
            ));
        }
        let reserve = source.section.span("reserve").unwrap_or(Span::ZERO);
        if reserve < Span::from_hours(10) {
            findings.push(Diagnostic::caution(
                "clock reserve below the code's",
                source.section.place_of("reserve"),
                format!("the clock keeps time {reserve} without power; codes ask for 10 h"),
                "write reserve = \"10 h\" (Washington State's IECC)",
            ));
        }
    }

    /// Whoever is in the room can always turn its lights off.
    fn manual_off(&self, number: usize, findings: &mut Vec<Diagnostic>) {
        let personal = matches!(
            self.space,
            Some("private office" | "open office" | "classroom" | "conference room")
        );
        let by_hand = |tie: &Tie| matches!(tie.role_word, "button" | "scene");
        if self.lights && personal && !self.checked.ties_of(number).any(by_hand) {
            findings.push(Diagnostic::caution(
                "no manual off",
                self.thing.place,
                format!(
                    "nobody in the room can turn `{}` off by hand",
                    self.thing.name
                ),
                format!("{} asks for a manual control: link a switch", self.code),
            ));
        }
    }
}

/// Partial-on outside what is common in the trade.
fn common_practice(checked: &Checked<'_>, tie: &Tie, findings: &mut Vec<Diagnostic>) {
    let output = checked.output(tie.output);
    if tie.role_word != "partial-on" || !output.drive.dims() {
        return;
    }
    let Some(level) = asked_level(&tie.role) else {
        return;
    };
    if level < Level::from_percent(30) || level > Level::from_percent(70) {
        findings.push(Diagnostic::caution(
            "unusual partial-on",
            tie.place,
            format!("partial-on at {level}; common practice is 30 % to 70 %"),
            "write a level from 30 % to 70 %, or role = \"auto-on\"",
        ));
    }
}
