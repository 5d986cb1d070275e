//! Two sensors that change places.

use core::hash::Hasher;
extern crate std;

use std::hash::DefaultHasher;

use super::rig::{Plan, Rig, s};
use crate::controller::{Controller, Role};
use crate::{Level, Span};

/// A wall unit and two equal sensors on two lamps; one sensor has seen somebody, who has left it a
/// moment ago, so that only its links stand otherwise than those of the other.
fn left(place: usize) -> (Rig, [u8; 2]) {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    plan.pair(&lamps);
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        for lamp in lamps {
            plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).run_on = Span::from_ms(s(9));
        }
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensors[place]);
    rig.vacant(s(1), sensors[place]);
    (rig, sensors)
}

fn hash(it: &Controller, rig: &Rig, sensor: u8) -> u64 {
    let mut hasher = DefaultHasher::new();
    it.hash_heard(&rig.settings, sensor, &mut hasher);
    hasher.finish()
}

#[test]
fn what_was_made_of_one_sensor_is_made_of_the_other() {
    let (first, [one, other]) = left(0);
    let (second, _) = left(1);
    assert_ne!(first.it, second.it);
    let mut exchanged = first.it.clone();
    exchanged.exchange(&first.settings, one, other);
    assert_eq!(exchanged, second.it);
    exchanged.exchange(&first.settings, other, one);
    assert_eq!(exchanged, first.it);
}

#[test]
fn what_is_believed_changes_places_too() {
    let (mut first, [one, other]) = left(0);
    let (mut second, _) = left(1);
    first.occupied(s(2), one);
    second.occupied(s(2), other);
    first.it.exchange(&first.settings, one, other);
    assert_eq!(first.it, second.it);
}

#[test]
fn the_hash_of_a_sensor_is_of_its_own_links_and_belief() {
    let (mut rig, [one, other]) = left(0);
    let (second, _) = left(1);
    assert_ne!(hash(&rig.it, &rig, one), hash(&rig.it, &rig, other));
    assert_eq!(hash(&rig.it, &rig, one), hash(&second.it, &second, other));
    assert_eq!(hash(&rig.it, &rig, other), hash(&second.it, &second, one));
    let before = hash(&rig.it, &rig, one);
    rig.occupied(s(2), other);
    assert_eq!(
        hash(&rig.it, &rig, one),
        before,
        "another sensor is no part of it"
    );
    rig.occupied(s(3), one);
    assert_ne!(hash(&rig.it, &rig, one), before);
}
