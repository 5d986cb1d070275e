//! Random clauses over a random room, of every form.

use crate::dice::Dice;
use crate::rooms::{Output, Room, Source};

/// The keys and texts of a clause.
pub(crate) type Fields = Vec<(&'static str, String)>;

/// A clause over a room; now and then it is one that cannot be read.
pub(crate) fn clause(dice: &mut Dice, room: &Room) -> Fields {
    let mut talk = Talk { dice, room };
    let mut fields = talk.form();
    let dice = &mut *talk.dice;
    if dice.one_in(8) {
        let during = talk.condition(1);
        fields.push(("while", during));
    }
    let dice = &mut *talk.dice;
    if dice.one_in(6) && fields[0].0 != "only" {
        let unless = match dice.one_in(2) {
            true => talk.condition(1),
            false => talk.event(0),
        };
        fields.push(("unless", unless));
    }
    fields
}

struct Talk<'a> {
    dice: &'a mut Dice,
    room: &'a Room,
}

impl Talk<'_> {
    fn form(&mut self) -> Fields {
        let depth = self.dice.below(3);
        match self.dice.below(16) {
            0 => vec![("always", self.condition(depth + 1))],
            1 | 2 => vec![("never", self.condition(depth))],
            3 | 4 => vec![("never", self.event(depth))],
            5 => {
                let (count, event) = (1 + self.dice.below(3), self.event(0));
                let span = self.span();
                vec![(
                    "never",
                    format!("more than {count} ({event}) within {span}"),
                )]
            }
            6 => {
                let (doer, verb) = (self.doer(), self.verb());
                let output = self.output().name.clone();
                vec![("only", format!("{doer} {verb} {output}"))]
            }
            7 => {
                let (event, before, span) = (self.event(0), self.condition(1), self.span());
                vec![(
                    "always",
                    format!("({event}) only after ({before}) for {span}"),
                )]
            }
            8 => {
                let (event, before, span) = (self.event(0), self.event(0), self.span());
                vec![(
                    "always",
                    format!("({event}) only after no ({before}) for {span}"),
                )]
            }
            9 => {
                let (output, span) = (self.output().name.clone(), self.span());
                vec![("always", format!("{output} does not change for {span}"))]
            }
            10 => {
                let (doer, output) = (self.doer(), self.output().name.clone());
                let does = self.dice.one(&["turns on", "turns off", "affects"]);
                vec![("always", format!("{doer} never {does} {output}"))]
            }
            _ => self.when(depth),
        }
    }

    fn when(&mut self, depth: usize) -> Fields {
        let trigger = match self.dice.one_in(2) {
            true => self.event(depth),
            false => format!("({}) becomes true", self.condition(depth)),
        };
        let mut fields = vec![("when", trigger), ("then", self.condition(depth / 2))];
        match self.dice.below(6) {
            0 => {}
            1 | 2 => fields.push(("within", self.span())),
            3 => fields.push(("for", self.span())),
            4 => {
                fields.push(("for", self.span()));
                fields.push(("until", self.event(0)));
            }
            _ => {
                if self.dice.one_in(2) {
                    fields.push(("within", self.span()));
                }
                fields.push(("until", self.mixed()));
            }
        }
        if self.dice.one_in(4) {
            fields.push(("reaction", "0 s".to_owned()));
        }
        fields
    }

    fn mixed(&mut self) -> String {
        match self.dice.one_in(2) {
            true => self.condition(0),
            false => self.event(0),
        }
    }

    fn condition(&mut self, depth: usize) -> String {
        if depth == 0 {
            return match self.dice.below(3) {
                0 => self.source_state(),
                _ => self.output_state(),
            };
        }
        match self.dice.below(7) {
            0 => format!("not ({})", self.condition(depth - 1)),
            1 | 2 => {
                let joint = self.dice.one(&["and", "or"]);
                let (one, other) = (self.condition(depth - 1), self.condition(depth - 1));
                format!("({one}) {joint} ({other})")
            }
            3 => format!("({}) for {}", self.condition(depth - 1), self.span()),
            4 | 5 => format!("no ({}) for {}", self.event(0), self.span()),
            _ => self.condition(depth - 1),
        }
    }

    fn event(&mut self, depth: usize) -> String {
        if depth == 0 {
            return self.plain_event();
        }
        match self.dice.below(6) {
            0 => {
                let (event, condition) = (self.event(depth - 1), self.condition(depth - 1));
                format!("({event}) and ({condition})")
            }
            1 => {
                let (one, other) = (self.event(depth - 1), self.event(depth - 1));
                format!("({one}) or ({other})")
            }
            2 | 3 => {
                let (late, early) = (self.event(0), self.event(0));
                format!("({late}) within {} of ({early})", self.span())
            }
            4 => format!("({}) becomes true", self.condition(depth)),
            _ => self.event(depth - 1),
        }
    }

    fn plain_event(&mut self) -> String {
        match self.dice.below(4) {
            0 => {
                let (doer, verb) = (self.doer(), self.verb());
                let output = self.output().name.clone();
                let verb = verb.replace("turn", "turns").replace("change", "changes");
                let verb = verb.replace("raise", "raises").replace("lower", "lowers");
                format!("{doer} {verb} {output}")
            }
            1 => {
                let output = self.output().clone();
                let what = self.dice.one(&[
                    "turns on",
                    "turns off",
                    "changes",
                    "rises",
                    "falls",
                    "becomes occupied",
                    "becomes vacant",
                    "warns",
                ]);
                format!("{} {what}", output.name)
            }
            _ => self.stimulus(),
        }
    }

    fn stimulus(&mut self) -> String {
        let source = self.source();
        let name = &source.name;
        match source.kind {
            "occupancy" => match self.dice.below(4) {
                0 if source.sound => format!("sound at {name}"),
                1 => {
                    let state = self.dice.one(&["occupied", "vacant"]);
                    format!("{name} becomes {state}")
                }
                _ => format!("motion at {name}"),
            },
            "switch" => {
                let (button, _) = self.dice.one(&source.buttons);
                let what = self.dice.one(&["press", "release", "tap", "tap", "hold"]);
                format!("{button} {what}")
            }
            "card" => format!(
                "{name} {}",
                self.dice.one(&["card in", "card out", "in", "out"])
            ),
            "clock" => match self.dice.one_in(2) {
                true => format!("{name} sweeps"),
                false => format!("{name} becomes after hours"),
            },
            "normal power" => format!("{name} becomes lost"),
            "fire alarm" => format!("{name} becomes sounding"),
            "demand response" => format!("{name} becomes active"),
            _ => format!("{name} becomes lost"),
        }
    }

    fn source_state(&mut self) -> String {
        let source = self.source();
        let name = &source.name;
        let states: &[&str] = match source.kind {
            "occupancy" => &[
                "occupied", "occupied", "vacant", "vacant", "unknown", "lost",
            ],
            "switch" => {
                let (button, _) = self.dice.one(&source.buttons);
                return format!("{button} is down");
            }
            "card" => &["in", "out", "unknown", "lost"],
            "clock" => &["in hours", "after hours"],
            "normal power" => &["present", "lost", "unknown"],
            "fire alarm" => &["sounding", "quiet"],
            "demand response" => &["active", "inactive"],
            _ => &["lost", "unknown"],
        };
        format!("{name} is {}", self.dice.one(states))
    }

    fn output_state(&mut self) -> String {
        let output = self.output().clone();
        let name = &output.name;
        if output.dims() && self.dice.one_in(3) {
            let verb = self.dice.one(&["is", "asks", "shows", "is"]);
            let how = self
                .dice
                .one(&["at most", "at least", "below", "above", ""]);
            let level = self
                .dice
                .one(&["10 %", "20 %", "40 %", "50 %", "70 %", "100 %"]);
            return format!("{name} {verb} {how} {level}").replace("  ", " ");
        }
        let states: &[&str] = match output.drive {
            "dry contact" => &["closed", "open", "occupied", "vacant"],
            "receptacle" => &["on", "off", "occupied", "vacant"],
            _ => &[
                "on",
                "on",
                "off",
                "off",
                "occupied",
                "vacant",
                "in warning",
                "in setback",
                "latched",
                "by hand",
                "in emergency",
                "closed",
            ],
        };
        format!("{name} is {}", self.dice.one(states))
    }

    fn doer(&mut self) -> String {
        let source = self.source();
        match source.kind {
            "occupancy" if source.sound && self.dice.one_in(2) => {
                format!("{} {}", source.name, self.dice.one(&["motion", "sound"]))
            }
            "switch" if self.dice.one_in(2) => self.dice.one(&source.buttons).0,
            _ => source.name,
        }
    }

    fn verb(&mut self) -> &'static str {
        self.dice.one(&[
            "turn on", "turn off", "turn on", "turn off", "change", "raise", "lower",
        ])
    }

    /// A span that stands in the room, or the sum or twice of such, or just beside it.
    fn span(&mut self) -> String {
        let mut ms = match self.room.spans.is_empty() || self.dice.one_in(6) {
            true => self.dice.one(&[1, 10, 500, 1_000, 20_000, 3_600_000]),
            false => self.dice.one(&self.room.spans),
        };
        match self.dice.below(6) {
            0 | 1 => ms += self.dice.one(&self.room.spans),
            2 => ms *= 2,
            _ => {}
        }
        let beside: i64 = self.dice.one(&[0, 0, 1, -1, 10, 11, 1_000, 1_001]);
        let ms = ms.saturating_add_signed(beside).max(1);
        format!("{ms} ms")
    }

    fn output(&mut self) -> &Output {
        // Most clauses are about the first output, which most links lead to.
        let place = match self.dice.one_in(2) {
            true => 0,
            false => self.dice.below(self.room.outputs.len()),
        };
        &self.room.outputs[place]
    }

    fn source(&mut self) -> Source {
        self.dice.one(&self.room.sources)
    }
}
