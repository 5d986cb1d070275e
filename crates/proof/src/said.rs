//! What a proof takes for granted, and what it looked at less closely than a run does, as
//! sentences.
//!
//! Invariant: whatever the question leaves out of a run stands in one of the two lists.

use device::Span;
use prover::model::{Between, Goal, Model, Rigor};
use room::{Plan, PlanSource, SourceId, SourceSettings, Stimulus};

use crate::answer::How;
use crate::ask::{Asker, Terms};

impl Asker<'_> {
    /// What is taken for granted about people, devices and days.
    pub(crate) fn assumptions(&self) -> Vec<String> {
        let plan = &self.slice.plan;
        let kinds = Kinds::of(plan);
        let mut said = vec![
            "A run begins as a scenario does: every device has power and is at rest.".to_owned(),
            faults(self.terms),
            exactness(self.terms.tolerance),
        ];
        said.extend(travel(&self.ways()));
        if kinds.switch && !self.terms.many_hands {
            said.push(
                "One button is down at a time: the next goes down when the room has heard of the \
                 release of the one before."
                    .to_owned(),
            );
        }
        if !self.terms.at_once {
            said.push("Two stimuli are a millisecond apart at least.".to_owned());
        }
        if kinds.card || kinds.signal {
            said.push(
                "A card or a signal changes again only when the room has heard of its last change."
                    .to_owned(),
            );
        }
        let wrong = (self.slice.stimuli.iter())
            .any(|(_, stimulus)| *stimulus == Stimulus::CardIn { valid: false });
        if kinds.card && !wrong {
            said.push("Nobody puts the card of another room in.".to_owned());
        }
        if kinds.clock {
            said.push(
                "A time clock is right; its days are those of 2026, in any order that they have \
                 there."
                    .to_owned(),
            );
        }
        if kinds.daylight {
            said.push(self.about_daylight());
        }
        said.push(
            "Nothing is set, taught, walk-tested or repaired, and no relay sticks.".to_owned(),
        );
        for (id, says) in &self.taken {
            said.push(format!("{id}: {says}"));
        }
        said
    }

    /// What was told apart less closely than a run tells it apart.
    pub(crate) fn abstractions(&self, how: How) -> Vec<String> {
        let plan = &self.slice.plan;
        let sight = self.sight();
        let mut said = Vec::new();
        let is_over = matches!(how, How::Hull | How::Inclusion);
        let idle = self.without_idle_reports(&mut Plan::clone(plan));
        if self.is_plain() && plan.sources.iter().any(repeats) {
            said.push(self.about_reports("Reports that repeat what is believed are left out"));
        } else if !self.is_plain() && is_over && !idle.is_empty() {
            let names = idle
                .iter()
                .map(|(id, _)| &plan.sources[usize::from(id.0)].name[..]);
            said.push(self.about_reports(&format!(
                "Reports of {} are left out but for those that follow a lost frame, which come at \
                 any moment within a report interval",
                names.collect::<Vec<_>>().join(" and ")
            )));
        }
        let mut outputs = plan.controllers.iter().flat_map(|it| &it.settings.outputs);
        if outputs.any(|it| !it.fade_on.is_zero() || !it.fade_off.is_zero()) {
            said.push("Fades that nothing looks at take no time.".to_owned());
        }
        if how == How::Hull {
            said.push(
                "All remaining times that one state may have count as one convex set of them."
                    .to_owned(),
            );
        }
        if is_over {
            said.extend(self.about_frames());
            if self.loose_calendars {
                said.push(
                    "Calendars keep the order of their entries, not the times between them."
                        .to_owned(),
                );
            }
            let dead = |source: &PlanSource| match &source.settings {
                SourceSettings::Occupancy(it) => !it.dead_time.is_zero(),
                _ => false,
            };
            if plan.sources.iter().any(dead) {
                said.push(
                    "A sensor's timers may end as much early as its dead time can hide events."
                        .to_owned(),
                );
            }
            said.push(match sight.levels {
                true => "Levels on their way stand at any level that a setting or a clause \
                         names, or between two of them."
                    .to_owned(),
                false => "No clause looks at levels: any may stand.".to_owned(),
            });
            if self.slice.ignores_sheds {
                said.push("Sheds that only lower the light are left out.".to_owned());
            }
            said.push("What happens at one instant may happen in any order there.".to_owned());
        } else if sight.levels {
            said.push(
                "Levels on their way are looked at when they pass one that a clause names; at any \
                 other moment only where a setting or a clause names them."
                    .to_owned(),
            );
        }
        said
    }

    fn about_frames(&self) -> Vec<String> {
        let plan = &self.slice.plan;
        let sight = self.sight();
        let named = |ids: &[SourceId]| {
            let names = ids
                .iter()
                .map(|id| &plan.sources[usize::from(id.0)].name[..]);
            names.collect::<Vec<_>>().join(" and ")
        };
        let mut said = Vec::new();
        let light = self.light_units(Rigor::Over, &sight);
        if !light.is_empty() {
            said.push(format!(
                "Of {} only the frames are followed: no clause sees its releases.",
                named(&light)
            ));
        }
        let prompt = self.prompt(Rigor::Over, &sight);
        if !prompt.is_empty() {
            said.push(format!(
                "Frames of {} take no time: no clause sees what happens there, and all of them \
                 take the same.",
                named(&prompt)
            ));
        }
        let model = Model::new(self.question(Rigor::Over, Goal::Broken));
        said.extend(model.exchangeable().iter().map(|group| {
            format!(
                "{} can be exchanged: of rooms that differ in which did what, one is looked at.",
                named(group)
            )
        }));
        said
    }

    fn about_daylight(&self) -> String {
        let daylight = self.slice.plan.daylight;
        let outside = match daylight.hundredths() {
            0 => "it is dark outside".to_owned(),
            _ => format!("{daylight} outside from the start on"),
        };
        format!(
            "Daylight stands still, {outside}: sensors of light take a sample when they get power \
             and no other."
        )
    }

    fn about_reports(&self, left_out: &str) -> String {
        let sources = &self.slice.plan.sources;
        let free: Vec<&str> = (self.free_reports.iter())
            .map(|id| sources[usize::from(id.0)].name.as_str())
            .collect();
        let seen = format!("{left_out}: at every state they were seen to change nothing");
        match &free[..] {
            [] => format!("{seen}."),
            free => format!(
                "{seen}, but for those of {}, which come at any moment.",
                free.join(" and ")
            ),
        }
    }

    /// How long frames may take in the slice, each span once.
    fn ways(&self) -> Vec<Between> {
        let mut ways: Vec<Between> = self.delays().into_iter().map(|(_, _, it)| it).collect();
        ways.sort_by_key(|it| (it.least, it.most));
        ways.dedup();
        ways
    }
}

/// What stands in a slice.
struct Kinds {
    switch: bool,
    card: bool,
    signal: bool,
    clock: bool,
    daylight: bool,
}

impl Kinds {
    fn of(plan: &Plan) -> Self {
        let any = |is: fn(&SourceSettings) -> bool| plan.sources.iter().any(|it| is(&it.settings));
        Self {
            switch: any(|it| matches!(it, SourceSettings::Switch(_))),
            card: any(|it| matches!(it, SourceSettings::Card(_))),
            signal: any(|it| matches!(it, SourceSettings::Signal(_))),
            clock: any(|it| matches!(it, SourceSettings::Clock(_))),
            daylight: any(|it| matches!(it, SourceSettings::Daylight(_))),
        }
    }
}

/// Whether a source repeats what it believes.
fn repeats(source: &PlanSource) -> bool {
    let may_repeat = match &source.settings {
        SourceSettings::Occupancy(it) => it.repeat.is_some(),
        _ => false,
    };
    may_repeat || prover::slice::repeats_itself(&source.settings)
}

/// What may go wrong, and what may not.
fn faults(terms: &Terms) -> String {
    let mut never = Vec::new();
    if terms.lose == 0 {
        never.push("no frame is lost");
    }
    if terms.twice == 0 {
        never.push("none is heard twice");
    }
    if terms.cuts == 0 {
        never.push("no power fails");
    }
    if terms.dead.is_empty() {
        never.push("no source dies");
    }
    let allowed = terms.allowed();
    let mut said = match &allowed[..] {
        [] => String::new(),
        allowed => format!("Allowed: {}", allowed.join(", ")),
    };
    if !never.is_empty() {
        said.push_str(if said.is_empty() { "" } else { "; otherwise " });
        said.push_str(&never.join(", "));
    }
    said.push('.');
    said[..1].to_uppercase() + &said[1..]
}

fn exactness(tolerance: u16) -> String {
    match tolerance {
        0 => "The devices count time exactly.".to_owned(),
        off => format!(
            "Every device counts every span up to {} % too short or too long: those that start in it \
             at one instant by one share, each time anew.",
            hundredths(off)
        ),
    }
}

/// A share in parts of 10 000 as per cent.
fn hundredths(share: u16) -> String {
    let text = format!("{}.{:02}", share / 100, share % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn travel(ways: &[Between]) -> Option<String> {
    let span = |way: &Between| match way.least == way.most {
        true => short(way.least),
        false => format!("{} to {}", short(way.least), short(way.most)),
    };
    match ways {
        [] => None,
        [one] => Some(format!("A frame takes {}.", span(one))),
        several => {
            let spans: Vec<String> = several.iter().map(span).collect();
            Some(format!("A frame takes {}, by its way.", spans.join(" or ")))
        }
    }
}

fn short(span: Span) -> String {
    match span.as_ms() {
        ms @ 0..1_000 => format!("{ms} ms"),
        _ => span.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn terms(lose: u8, cuts: u8, dead: &[&str]) -> Terms {
        Terms {
            lose,
            cuts,
            dead: dead.iter().map(|it| (*it).to_owned()).collect(),
            ..Terms::default()
        }
    }

    #[test]
    fn what_may_go_wrong_is_one_sentence() {
        assert_eq!(
            faults(&terms(0, 0, &[])),
            "No frame is lost, none is heard twice, no power fails, no source dies."
        );
        assert_eq!(
            faults(&terms(1, 2, &["wall-sensor"])),
            "Allowed: any one frame lost at a listener, 2 power cuts of a second or more, the \
             death of wall-sensor; otherwise none is heard twice."
        );
    }

    #[test]
    fn inexact_clocks_and_ways_are_told_with_their_bounds() {
        assert_eq!(exactness(0), "The devices count time exactly.");
        assert!(exactness(550).contains("up to 5.5 % too short or too long"));
        let way = |least, most| Between {
            least: Span::from_ms(least),
            most: Span::from_ms(most),
        };
        assert_eq!(travel(&[]), None);
        let one = travel(&[way(10, 10)]);
        assert_eq!(one.as_deref(), Some("A frame takes 10 ms."));
        let two = travel(&[way(10, 10), way(50, 2_000)]);
        assert_eq!(
            two.as_deref(),
            Some("A frame takes 10 ms or 50 ms to 2 s, by its way.")
        );
    }
}
