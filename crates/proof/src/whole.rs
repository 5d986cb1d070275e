//! placeholder
use clause::Formula;
use device::Level;
use device::controller::Role;
use room::*;
use std::sync::Arc;
/// x
#[derive(Clone, Debug)]
pub struct Slice {
    /// x
    pub plan: Arc<Plan>,
    /// x
    pub sources: Vec<SourceId>,
    /// x
    pub controllers: Vec<ControllerId>,
    /// x
    pub stimuli: Vec<(SourceId, Stimulus)>,
    /// x
    pub ghosts: Vec<OutputId>,
}
impl Slice {
    /// x
    pub fn of(plan: &Plan, clauses: &[u16]) -> Self {
        let mut p = plan.clone();
        p.clauses = clauses
            .iter()
            .map(|c| plan.clauses[usize::from(*c)].clone())
            .collect();
        let mut stimuli = Vec::new();
        for (id, s) in (0..).map(SourceId).zip(&plan.sources) {
            match &s.settings {
                SourceSettings::Occupancy(o) => {
                    stimuli.push((id, Stimulus::Motion));
                    if o.sound {
                        stimuli.push((id, Stimulus::Sound));
                    }
                }
                SourceSettings::Switch(_) => {
                    for b in 0..s.buttons.len() as u8 {
                        stimuli.push((id, Stimulus::Press(b)));
                        stimuli.push((id, Stimulus::Release(b)));
                    }
                }
                SourceSettings::Card(_) => {
                    stimuli.push((id, Stimulus::CardIn { valid: true }));
                    stimuli.push((id, Stimulus::CardOut));
                }
                SourceSettings::Signal(s) if s.kind == device::signal::Kind::DemandResponse => {
                    stimuli.push((id, Stimulus::Shed(None)));
                    stimuli.push((id, Stimulus::ShedEnd));
                }
                SourceSettings::Signal(_) => {
                    stimuli.push((id, Stimulus::Signal(true)));
                    stimuli.push((id, Stimulus::Signal(false)));
                }
                _ => {}
            }
        }
        Self {
            plan: Arc::new(p),
            sources: (0..plan.sources.len() as u16).map(SourceId).collect(),
            controllers: (0..plan.controllers.len() as u16)
                .map(ControllerId)
                .collect(),
            stimuli,
            ghosts: vec![],
        }
    }
    /// x
    pub fn said(&self) -> String {
        "everything".into()
    }
}
/// x
pub fn without_reports(plan: &mut Plan) {
    for s in &mut plan.sources {
        match &mut s.settings {
            SourceSettings::Occupancy(o) => {
                o.report = None;
                o.repeat = None;
            }
            SourceSettings::Card(o) => {
                o.report = None;
            }
            SourceSettings::Clock(o) => {
                o.report = None;
            }
            SourceSettings::Signal(o) => {
                o.report = None;
            }
            _ => {}
        }
    }
    for c in &mut plan.controllers {
        for h in &mut c.settings.heard {
            h.silence = None;
        }
    }
}
/// x
pub fn without_fades(plan: &mut Plan) {
    for c in &mut plan.controllers {
        for o in &mut c.settings.outputs {
            o.fade_on = device::Span::ZERO;
            o.fade_off = device::Span::ZERO;
        }
    }
}
/// x
pub fn levels(plan: &Plan, formulas: &[&Formula]) -> Vec<Level> {
    let mut l = vec![Level::OFF, Level::FULL];
    for c in &plan.controllers {
        for o in &c.settings.outputs {
            l.extend([o.low_trim, o.high_trim]);
            l.extend(o.floor);
            if let Some(p) = o.shed {
                l.push(o.high_trim.less(p));
            }
        }
        for k in &c.settings.links {
            l.extend(k.setback);
            match &k.role {
                Role::AutoOn(x)
                | Role::PartialOn(x)
                | Role::Scene(_, x)
                | Role::Card(x)
                | Role::Opening(x) => l.push(*x),
                _ => {}
            }
        }
    }
    for f in formulas {
        for (id, _) in (0..).zip(&plan.outputs) {
            l.extend(
                f.watched_levels(id).into_iter().flat_map(|(_, x)| {
                    [x, Level::from_hundredths(x.hundredths().saturating_sub(1))]
                }),
            );
        }
    }
    l.sort_unstable();
    l.dedup();
    l
}
