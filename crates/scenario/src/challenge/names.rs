//! What the things of a plan are called in the words of a fault.

use device::controller::{Link, Role};
use room::{ControllerId, Plan};

pub(super) fn source_name(plan: &Plan, controller: ControllerId, heard: u8) -> &str {
    let source = plan.controllers[usize::from(controller.0)].heard[usize::from(heard)];
    &plan.sources[usize::from(source.0)].name
}

pub(super) fn output_name(plan: &Plan, controller: ControllerId, output: u8) -> &str {
    let output = plan.controllers[usize::from(controller.0)].outputs[usize::from(output)];
    &plan.outputs[usize::from(output.0)].name
}

/// The button of a link, where it is of one: `/zone-a up`.
pub(super) fn part_words(plan: &Plan, controller: ControllerId, link: &Link) -> String {
    let (Role::Button(index) | Role::Scene(index, _)) = link.role else {
        return String::new();
    };
    let controller = &plan.controllers[usize::from(controller.0)];
    let source = controller.heard[usize::from(link.heard)];
    let number = controller.settings.buttons[usize::from(index)].number;
    let names = &plan.sources[usize::from(source.0)].buttons;
    let name = names.get(usize::from(number)).map_or("", String::as_str);
    format!("/{name}")
}

pub(super) fn role_words(role: &Role) -> &'static str {
    match role {
        Role::AutoOn(_) => "auto-on",
        Role::PartialOn(_) => "partial-on",
        Role::ManualOn => "manual-on",
        Role::Button(_) => "button",
        Role::Scene(..) => "scene",
        Role::Card(_) => "welcome",
        Role::Limit(_) => "limit",
        Role::Emergency => "emergency",
        Role::Shed => "shed",
        Role::Sweep { .. } => "sweep",
        Role::Opening(_) => "opening",
        Role::NoAutoOn => "no auto-on",
        Role::OffAfterHours(_) => "off after hours",
    }
}
