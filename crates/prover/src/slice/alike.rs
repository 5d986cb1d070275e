//! Sources that can be exchanged.

use device::controller::{Link, Role};
use room::{Plan, PlanSource, SourceId};

/// The groups of two and more sources that can be exchanged without changing the plan, the
/// links or any of its clauses: equal settings, equal listeners, equal links to the same
/// outputs, and no clause whose monitor tells them apart. Wall units whose buttons differ in
/// number are told apart by their links.
#[must_use]
pub fn symmetric(plan: &Plan) -> Vec<Vec<SourceId>> {
    let mut groups: Vec<Vec<SourceId>> = Vec::new();
    for id in (0..plan.sources.len() as u16).map(SourceId) {
        let group = (groups.iter_mut()).find(|group| group.iter().all(|of| alike(plan, *of, id)));
        match group {
            Some(group) => group.push(id),
            None => groups.push(vec![id]),
        }
    }
    groups.retain(|group| group.len() > 1);
    groups
}

fn alike(plan: &Plan, one: SourceId, other: SourceId) -> bool {
    let source = |id: SourceId| &plan.sources[usize::from(id.0)];
    let (a, b) = (source(one), source(other));
    let listeners = |it: &PlanSource| -> Vec<_> { it.listeners.iter().map(|it| it.0).collect() };
    a.settings == b.settings
        && a.light == b.light
        && a.buttons.len() == b.buttons.len()
        && a.mains == b.mains
        && listeners(a) == listeners(b)
        && (a.listeners.iter().zip(&b.listeners)).all(|(of_a, of_b)| {
            let settings = &plan.controllers[usize::from(of_a.0.0)].settings;
            let heard = |heard: u8| &settings.heard[usize::from(heard)];
            let links = |of: u8| -> Vec<Link> {
                let links = settings.links.iter().filter(|link| link.heard == of);
                links.map(|link| numbered(plan, of_a.0.0, link)).collect()
            };
            let buttons = |of: u8| -> Vec<_> {
                let buttons = settings.buttons.iter().filter(|button| button.heard == of);
                buttons.map(|button| (button.number, button.kind)).collect()
            };
            heard(of_a.1) == heard(of_b.1)
                && links(of_a.1) == links(of_b.1)
                && buttons(of_a.1) == buttons(of_b.1)
        })
        && (plan.clauses.iter()).all(|clause| clause.formula.treats_alike(one.0, other.0))
}

/// A link that does not say which source it is of: a button by its number on its unit.
fn numbered(plan: &Plan, controller: u16, link: &Link) -> Link {
    let buttons = &plan.controllers[usize::from(controller)].settings.buttons;
    let number = |button: u8| buttons[usize::from(button)].number;
    Link {
        heard: 0,
        role: match &link.role {
            Role::Button(button) => Role::Button(number(*button)),
            Role::Scene(button, level) => Role::Scene(number(*button), *level),
            other => other.clone(),
        },
        ..link.clone()
    }
}
