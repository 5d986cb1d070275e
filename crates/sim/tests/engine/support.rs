//! Rooms for tests, put together from named parts in any order.
//!
//! Invariant: a plan does not depend on the order in which its parts were added.

use std::sync::Arc;

use device::controller::{self, Button, Drive, Heard, HeardKind, Link, Lost, Output, Role};
use device::{Illuminance, Span, signal};
use room::{
    ControllerId, LightModel, OutputId, Plan, PlanClause, PlanController, PlanOutput, PlanSource,
    SourceId, SourceSettings,
};

/// A room in the making, with one controller or several.
#[derive(Clone, Debug, Default)]
pub(crate) struct Site {
    pub(crate) sources: Vec<(String, SourceSettings)>,
    pub(crate) outputs: Vec<(String, String, Output)>,
    pub(crate) ties: Vec<Tie>,
    pub(crate) clauses: Vec<PlanClause>,
    pub(crate) light: LightModel,
    pub(crate) tune: controller::Settings,
}

/// A link in the making.
#[derive(Clone, Debug)]
pub(crate) struct Tie {
    pub(crate) source: String,
    /// The button, for wall units.
    pub(crate) button: Option<u8>,
    pub(crate) output: String,
    pub(crate) role: Role,
    pub(crate) run_on: Span,
    pub(crate) setback: Option<device::Level>,
    pub(crate) lost: Lost,
    pub(crate) stored: bool,
}

impl Site {
    pub(crate) fn source(mut self, name: &str, settings: SourceSettings) -> Self {
        self.sources.push((name.into(), settings));
        self
    }

    pub(crate) fn output(self, name: &str, output: Output) -> Self {
        self.output_of("controller", name, output)
    }

    pub(crate) fn output_of(mut self, controller: &str, name: &str, output: Output) -> Self {
        self.outputs.push((controller.into(), name.into(), output));
        self
    }

    pub(crate) fn link(self, source: &str, output: &str, role: Role) -> Self {
        self.tie(Tie::new(source, output, role))
    }

    /// Links a button; the number inside the role is put right here.
    pub(crate) fn button(self, source: &str, number: u8, output: &str) -> Self {
        let mut tie = Tie::new(source, output, Role::Button(0));
        tie.button = Some(number);
        self.tie(tie)
    }

    pub(crate) fn tie(mut self, tie: Tie) -> Self {
        self.ties.push(tie);
        self
    }

    pub(crate) fn clause(mut self, id: &str, formula: clause::Formula) -> Self {
        self.clauses.push(PlanClause {
            id: id.into(),
            formula,
        });
        self
    }

    /// The plan, sorted by name whatever the order of the parts.
    pub(crate) fn plan(&self) -> Arc<Plan> {
        let mut sources = self.sources.clone();
        sources.sort_by(|one, other| one.0.cmp(&other.0));
        let mut outputs = self.outputs.clone();
        outputs.sort_by(|one, other| one.1.cmp(&other.1));
        let mut names: Vec<String> = outputs.iter().map(|it| it.0.clone()).collect();
        names.sort();
        names.dedup();
        let mut clauses = self.clauses.clone();
        clauses.sort_by(|one, other| one.id.cmp(&other.id));

        let mut plan_outputs: Vec<_> = (outputs.iter())
            .map(|(controller, name, _)| PlanOutput {
                name: name.clone(),
                controller: ControllerId(place(&names, controller)),
                local: 0,
            })
            .collect();
        let mut listeners = vec![Vec::new(); sources.len()];
        let controllers = (0..).zip(&names).map(|(id, name)| {
            let own: Vec<u16> = (0..)
                .zip(&outputs)
                .filter(|(_, output)| output.0 == *name)
                .map(|(id, _)| id)
                .collect();
            for (local, &output) in (0..).zip(&own) {
                plan_outputs[usize::from(output)].local = local;
            }
            let local_names: Vec<_> = own
                .iter()
                .map(|&at| outputs[usize::from(at)].1.clone())
                .collect();
            let ties: Vec<_> = (self.ties.iter())
                .filter(|it| local_names.contains(&it.output))
                .collect();
            let heard: Vec<u16> = (0..)
                .zip(&sources)
                .filter(|(_, source)| ties.iter().any(|it| it.source == source.0))
                .map(|(id, _)| id)
                .collect();
            for (local, &source) in (0..).zip(&heard) {
                listeners[usize::from(source)].push((ControllerId(id), local));
            }
            let specs = own.iter().map(|&at| outputs[usize::from(at)].2.clone());
            PlanController {
                name: name.clone(),
                settings: self.settings(&sources, &heard, &ties, &local_names, specs.collect()),
                heard: heard.into_iter().map(SourceId).collect(),
                outputs: own.into_iter().map(OutputId).collect(),
            }
        });
        let controllers = controllers.collect();
        let sources = sources
            .into_iter()
            .zip(listeners)
            .map(|((name, settings), listeners)| PlanSource {
                name,
                settings,
                light: self.light.clone(),
                buttons: Vec::new(),
                mains: true,
                listeners,
            });
        Arc::new(Plan {
            name: "Annex 7".into(),
            sources: sources.collect(),
            controllers,
            outputs: plan_outputs,
            tasks: Vec::new(),
            clauses,
            daylight: Illuminance::default(),
        })
    }

    fn settings(
        &self,
        sources: &[(String, SourceSettings)],
        heard: &[u16],
        ties: &[&Tie],
        outputs: &[String],
        specs: Vec<Output>,
    ) -> controller::Settings {
        let local = |name: &str| {
            let is = |&id: &u16| sources[usize::from(id)].0 == name;
            u8::try_from(heard.iter().position(is).unwrap()).unwrap()
        };
        let mut buttons: Vec<_> = ties
            .iter()
            .filter_map(|tie| Some((local(&tie.source), tie.button?)))
            .collect();
        buttons.sort_unstable();
        buttons.dedup();
        let mut links: Vec<_> = ties
            .iter()
            .map(|tie| {
                let heard = local(&tie.source);
                let button = tie.button.map(|number| {
                    let is = |&it: &(u8, u8)| it == (heard, number);
                    u8::try_from(buttons.iter().position(is).unwrap()).unwrap()
                });
                let role = match (&tie.role, button) {
                    (Role::Button(_), Some(button)) => Role::Button(button),
                    (Role::Scene(_, level), Some(button)) => Role::Scene(button, *level),
                    (role, _) => role.clone(),
                };
                let link = Link {
                    heard,
                    output: place(outputs, &tie.output).try_into().unwrap(),
                    role,
                    run_on: tie.run_on,
                    setback: tie.setback,
                    lost: tie.lost,
                    stored: tie.stored,
                };
                (heard, button, link.output, format!("{:?}", tie.role), link)
            })
            .collect();
        links.sort_by(|one, other| {
            (one.0, one.1, one.2, &one.3).cmp(&(other.0, other.1, other.2, &other.3))
        });
        controller::Settings {
            heard: heard
                .iter()
                .map(|&id| hears(&sources[usize::from(id)].1))
                .collect(),
            buttons: buttons
                .into_iter()
                .map(|(local, number)| {
                    let id = heard[usize::from(local)];
                    let SourceSettings::Switch(unit) = &sources[usize::from(id)].1 else {
                        panic!("only wall units have buttons");
                    };
                    Button {
                        heard: local,
                        number,
                        kind: unit.buttons[usize::from(number)],
                    }
                })
                .collect(),
            links: links.into_iter().map(|it| it.4).collect(),
            outputs: specs,
            ..self.tune.clone()
        }
    }
}

impl Tie {
    pub(crate) fn new(source: &str, output: &str, role: Role) -> Self {
        Self {
            source: source.into(),
            button: None,
            output: output.into(),
            role,
            run_on: Span::ZERO,
            setback: None,
            lost: Lost::Vacant,
            stored: true,
        }
    }
}

/// A lamp that dims, without fades.
pub(crate) fn lamp() -> Output {
    Output {
        fade_on: Span::ZERO,
        fade_off: Span::ZERO,
        press_hold: Span::ZERO,
        ..Output::new(Drive::ZeroToTen)
    }
}

/// The source of this name in a plan.
pub(crate) fn source(plan: &Plan, name: &str) -> SourceId {
    let at = plan.sources.iter().position(|it| it.name == name).unwrap();
    SourceId(at.try_into().unwrap())
}

/// The output of this name in a plan.
pub(crate) fn output(plan: &Plan, name: &str) -> OutputId {
    let at = plan.outputs.iter().position(|it| it.name == name).unwrap();
    OutputId(at.try_into().unwrap())
}

/// How a controller hears a source: three reports and the clocks' tolerance (OUT-11).
fn hears(settings: &SourceSettings) -> Heard {
    let silence = |report: Option<Span>| report.map(|report| report.scaled(16, 5));
    let (kind, report) = match settings {
        SourceSettings::Occupancy(it) => (HeardKind::Occupancy, it.report),
        SourceSettings::Switch(_) => (HeardKind::Switch, None),
        SourceSettings::Card(it) => (HeardKind::Card { captive: false }, it.report),
        SourceSettings::Daylight(it) => (HeardKind::Daylight, Some(it.report)),
        SourceSettings::Clock(it) => (HeardKind::Clock, it.report),
        SourceSettings::Signal(it) => match it.kind {
            signal::Kind::NormalPower => (HeardKind::NormalPower, it.report),
            signal::Kind::FireAlarm => (HeardKind::FireAlarm, it.report),
            signal::Kind::DemandResponse => (HeardKind::DemandResponse, it.report),
        },
    };
    Heard {
        kind,
        silence: silence(report),
    }
}

fn place(names: &[String], name: &str) -> u16 {
    let at = names.iter().position(|it| it == name).unwrap();
    at.try_into().unwrap()
}
