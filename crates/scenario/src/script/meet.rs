//! Rows at instants meet the room.

use std::collections::BTreeMap;
use std::sync::Arc;

use clause::Verdict;
use room::{Input, SourceId, Stimulus};
use sim::Instant;

use super::civil::Civil;
use super::company;
use super::curves::curves;
use super::deeds::{Deeds, Said};
use super::expand::Placed;
use super::lower::Scenario;
use super::phrase::{Check, Daylight, Deed, Event, FrameWord, Phrase};
use super::points::{Point, Points, button};
use super::reader::{Reader, shifted};
use super::{
    Act, ActWhat, By, Expect, FrameKind, Frames, RowCheck, RowKind, RowRef, RowWhen, Script,
    Target, calendar, conflict, lesson, settings,
};
use crate::Diagnostic;
use crate::diagnostic::{any_error, nearest};
use crate::keys::Located;
use crate::room_file::RoomFile;
use crate::words::WordError;

/// Makes the script of one run; `None` when something is wrong.
pub(super) fn script(
    scenario: &Scenario<'_>,
    placed: &[Placed],
    civil: &Civil,
    end: Instant,
    title: String,
    values: &BTreeMap<String, String>,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<Script> {
    let mut found = Vec::new();
    let people = company::people(scenario, &mut found);
    let names: Vec<String> = people.iter().map(|person| person.name.clone()).collect();
    let points = Points {
        room: scenario.room,
        people: &names,
        includes: scenario.includes,
    };
    let curves = curves(scenario, civil, &mut found);
    let deeds = Deeds::new(&points, civil, end, curves);
    let mut met = Meeting::new(scenario, deeds).take(placed);
    met.deeds.end_courses();
    found.extend(met.diagnostics);
    conflict::contradictions(&met.checks, &met.rows, &mut found);
    let people = company::busy(people, met.deeds.doings, &met.rows, &mut found);
    let mut acts = met.deeds.acts;
    let room = settings::change(
        scenario,
        met.deeds.changed,
        &met.row_texts,
        &mut acts,
        &mut found,
    );
    calendars(&room, civil, met.deeds.clocks, end, &mut acts);
    let acts = conflict::settle(acts, &met.rows, &met.repeats, &mut found);
    let notices = company::notices(scenario, &mut found);
    let expects = expects(scenario, &mut found);
    let lesson = lesson::lesson(scenario, civil, end, &mut found);
    let usable = !any_error(&found);
    diagnostics.append(&mut found);
    usable.then(|| Script {
        file: scenario.sources.file(scenario.file).name().to_owned(),
        title,
        about: scenario.read.section.text("about").map(|text| text.value),
        values: values.clone().into_iter().collect(),
        loads: room.loads(),
        plan: Arc::new(settings::start_plan(&room, civil)),
        quality: room.quality.clone(),
        civil: civil.clone(),
        end,
        rows: met.rows,
        acts,
        checks: met.checks,
        expects,
        people,
        notices,
        lesson,
    })
}

/// The entries of the calendars, and what a clock counts as when somebody sets it.
fn calendars(
    room: &RoomFile,
    civil: &Civil,
    clocks: BTreeMap<SourceId, Vec<calendar::Setting>>,
    end: Instant,
    acts: &mut Vec<Act>,
) {
    for act in acts.iter_mut() {
        if let ActWhat::Input(Input::Stimulus(source, Stimulus::ClockSet { in_hours })) =
            &mut act.what
        {
            let mut settings = clocks.get(source).into_iter().flatten();
            let shows = settings.find(|setting| setting.at == act.at);
            let calendar = room.calendars.get(source);
            *in_hours = shows
                .zip(calendar)
                .is_some_and(|(setting, calendar)| calendar.in_hours(setting.shows));
        }
    }
    for (source, calendar) in &room.calendars {
        let mut set = clocks.get(source).cloned().unwrap_or_default();
        set.sort_by_key(|setting| setting.at);
        for (at, entry) in calendar.entries(civil, &set, end) {
            acts.push(Act {
                at,
                after: false,
                what: ActWhat::Input(Input::Stimulus(*source, Stimulus::Due(entry))),
                by: By::Calendar(*source),
            });
        }
    }
}

/// Rows meeting the room one by one.
struct Meeting<'a> {
    scenario: &'a Scenario<'a>,
    rows: Vec<RowRef>,
    /// The words of each row, to point into them.
    row_texts: Vec<Located<String>>,
    /// Whether a row names more than one moment.
    repeats: Vec<bool>,
    checks: Vec<RowCheck>,
    deeds: Deeds<'a>,
    diagnostics: Vec<Diagnostic>,
}

impl<'a> Meeting<'a> {
    fn new(scenario: &'a Scenario<'a>, deeds: Deeds<'a>) -> Self {
        Self {
            scenario,
            rows: Vec::new(),
            row_texts: Vec::new(),
            repeats: Vec::new(),
            checks: Vec::new(),
            deeds,
            diagnostics: Vec::new(),
        }
    }

    fn take(mut self, placed: &[Placed]) -> Self {
        for row in placed {
            self.row(row);
        }
        self
    }

    fn row(&mut self, placed: &Placed) {
        for name in &placed.points {
            let points = match self.deeds.points.find(&name.value) {
                Ok(points) => points,
                Err(error) => {
                    let diagnostic = self.scenario.word("unknown name", name, error);
                    self.diagnostics.push(diagnostic);
                    continue;
                }
            };
            for (index, said) in placed.phrases.iter().enumerate() {
                self.rows.push(RowRef {
                    place: placed.place,
                    time: placed.time.value.clone(),
                    point: name.value.clone(),
                    says: said.text.value.clone(),
                    when: row_when(placed, &said.phrase),
                });
                self.row_texts.push(said.text.clone());
                self.repeats.push(!placed.when.once);
                for point in &points {
                    if let Err(error) = self.said(placed, name, index, point) {
                        let diagnostic = self.scenario.word("row", &said.text, error);
                        self.diagnostics.push(diagnostic);
                        break;
                    }
                }
            }
        }
    }

    fn said(
        &mut self,
        placed: &Placed,
        name: &Located<String>,
        index: usize,
        point: &Point,
    ) -> Result<(), WordError> {
        let said = &placed.phrases[index];
        let kind = self.deeds.points.kind(point);
        if !said.phrase.suits(kind) {
            return Err(unsuited(&said.text.value, &name.value, kind));
        }
        let row = self.rows.len() - 1;
        match &said.phrase {
            Phrase::Deed(deed) if !placed.fails => self.deeds.add(Said {
                deed,
                point,
                name: &name.value,
                text: &said.text.value,
                when: &placed.when,
                row,
            }),
            Phrase::Deed(_) => Err(WordError::whole(
                &said.text.value,
                "only a check can be expected to fail",
                "remove the fourth column",
            )),
            Phrase::Check(check) => {
                if placed.when.after {
                    return Err(WordError::whole(
                        &said.text.value,
                        "a check looks at the end of its instant in any case",
                        "remove `after`",
                    ));
                }
                let target = target(point);
                let frames = self.frames(check, target, &said.text.value)?;
                self.checks.push(RowCheck {
                    row,
                    target,
                    check: check.clone(),
                    frames,
                    windows: said.windows.clone(),
                    fails: placed.fails,
                });
                Ok(())
            }
        }
    }

    /// Which frames a check is about.
    fn frames(
        &self,
        check: &Check,
        target: Target,
        text: &str,
    ) -> Result<Option<Frames>, WordError> {
        let at = |name: &str| {
            let start = text.rfind(name).unwrap_or(0);
            move |error| shifted(error, start)
        };
        let (Check::Happens(event, ..) | Check::Never(event, _)) = check else {
            return Ok(None);
        };
        let plan = &self.scenario.room.plan;
        let (source, listener, word) = match (event, target) {
            (Event::Sends(word), Target::Source(source)) => (source, None, word),
            (Event::Hears(name, word), Target::Output(output)) => {
                let controller = plan.outputs[usize::from(output.0)].controller;
                let source = self.deeds.points.source(name).map_err(at(name))?;
                (source, Some(controller), word)
            }
            (Event::Hears(name, word), Target::Controller(controller)) => {
                let source = self.deeds.points.source(name).map_err(at(name))?;
                (source, Some(controller), word)
            }
            _ => return Ok(None),
        };
        let unit = &plan.sources[usize::from(source.0)];
        let kind = match word {
            None => None,
            Some(FrameWord::Down(name)) => {
                Some(FrameKind::Down(button(unit, "", name).map_err(at(name))?))
            }
            Some(FrameWord::Up(name)) => {
                Some(FrameKind::Up(button(unit, "", name).map_err(at(name))?))
            }
            Some(word) => Some(frame_kind(word)),
        };
        Ok(Some(Frames {
            source,
            listener,
            kind,
        }))
    }
}

fn row_when(placed: &Placed, phrase: &Phrase) -> RowWhen {
    let kind = match phrase {
        Phrase::Check(_) => RowKind::Check,
        Phrase::Deed(Deed::Daylight(daylight)) if !matches!(daylight, Daylight::Is(_)) => {
            RowKind::Course
        }
        Phrase::Deed(_) if placed.when.until.is_some() => RowKind::Course,
        Phrase::Deed(_) => RowKind::Deed,
    };
    RowWhen {
        moments: match kind {
            RowKind::Check => Vec::new(),
            RowKind::Deed | RowKind::Course => placed.when.at.clone(),
        },
        after: placed.when.after,
        kind,
    }
}

fn unsuited(text: &str, point: &str, kind: super::phrase::PointKind) -> WordError {
    let examples = kind.examples().iter().map(|example| format!("`{example}`"));
    let examples: Vec<String> = examples.collect();
    let examples = crate::diagnostic::one_of(examples.iter().map(String::as_str));
    let kind = kind.name();
    WordError::whole(
        text,
        format!("`{}` cannot be said of `{point}`, {kind}", text.trim()),
        format!("of {kind} a row can say {examples}"),
    )
}

fn target(point: &Point) -> Target {
    match point {
        Point::Output(id) => Target::Output(*id),
        Point::Source(id, _) => Target::Source(*id),
        Point::Controller(id) => Target::Controller(*id),
        Point::Task(at) => Target::Task(*at),
        Point::Person(at) => Target::Person(*at),
        Point::Room | Point::Link(..) => unreachable!("nothing is checked of the room or a link"),
    }
}

fn frame_kind(word: &FrameWord) -> FrameKind {
    match word {
        FrameWord::Occupied => FrameKind::Occupied,
        FrameWord::Vacant => FrameKind::Vacant,
        FrameWord::Unknown => FrameKind::Unknown,
        FrameWord::CardIn => FrameKind::CardIn,
        FrameWord::CardOut => FrameKind::CardOut,
        FrameWord::WrongCard => FrameKind::WrongCard,
        FrameWord::Illuminance => FrameKind::Illuminance,
        FrameWord::InHours => FrameKind::InHours,
        FrameWord::AfterHours => FrameKind::AfterHours,
        FrameWord::Sweep => FrameKind::Sweep,
        FrameWord::TimeLost => FrameKind::TimeLost,
        FrameWord::Shed => FrameKind::Shed,
        FrameWord::ShedEnd => FrameKind::ShedEnd,
        FrameWord::TeachIn => FrameKind::TeachIn,
        FrameWord::Down(_) | FrameWord::Up(_) => {
            unreachable!("frames of buttons are looked up by their names")
        }
    }
}

fn expects(scenario: &Scenario<'_>, diagnostics: &mut Vec<Diagnostic>) -> Vec<Expect> {
    let mut expects = Vec::new();
    for text in scenario.read.section.texts("expect") {
        match expect(scenario, &text) {
            Ok(expect) => expects.push(expect),
            Err(error) => diagnostics.push(scenario.word("expect", &text, error)),
        }
    }
    expects
}

fn expect(scenario: &Scenario<'_>, text: &Located<String>) -> Result<Expect, WordError> {
    let mut reader = Reader::new(&text.value);
    let verdicts = [
        ("broken", Verdict::Broken),
        ("held", Verdict::Held),
        ("never exercised", Verdict::NeverExercised),
        ("open", Verdict::Open),
    ];
    let Some(verdict) = reader.one_of(&verdicts) else {
        return Err(WordError::new(
            reader.rest_range(),
            format!("`{}` is not something to expect", text.value),
            "write `broken A4`, `held A4` or `never exercised A4`; a check that is expected to \
             fail has a fourth column \"fails\"",
        ));
    };
    let here = reader.rest_range();
    let id = reader.rest();
    let clauses = &scenario.room.plan.clauses;
    let Some(clause) = clauses.iter().position(|clause| clause.id == id) else {
        let ids: Vec<&str> = clauses.iter().map(|clause| clause.id.as_str()).collect();
        let hint = match (nearest(id, ids.iter().copied()), ids.as_slice()) {
            (Some(near), _) => format!("did you mean `{near}`?"),
            (None, []) => "the room has no clauses: write them in sequence.toml".to_owned(),
            (None, ids) => format!(
                "the clauses are {}",
                crate::diagnostic::all_of(ids.iter().copied())
            ),
        };
        let message = if id.is_empty() {
            "which clause is missing".to_owned()
        } else {
            format!("there is no clause `{id}`")
        };
        return Err(WordError::new(here, message, hint));
    };
    Ok(Expect {
        clause: u16::try_from(clause).expect("a plan numbers its clauses in 16 bits"),
        verdict,
        place: text.place,
    })
}
