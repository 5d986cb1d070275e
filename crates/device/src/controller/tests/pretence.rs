//! Outputs that stand for others.

use super::rig::{Plan, Press, Rig, s};
use crate::controller::{HeardKind, Pretence, State};
use crate::{Flaw, Level, switch};

const RIGS: [switch::Button; 2] = [switch::Button::Single, switch::Button::Up];

/// One button of this kind for the first of two lamps.
fn room(kind: switch::Button, flaw: Option<Flaw>) -> (Rig, Press) {
    let mut plan = Plan::default();
    let (first, _) = (plan.lamp(), plan.lamp());
    let unit = plan.source(HeardKind::Switch);
    let button = plan.button(unit, kind, &[first]);
    plan.settings.flaw = flaw;
    (plan.rig(), button)
}

fn asked(rig: &Rig, output: u8, held: bool) -> &'static [Pretence] {
    rig.it.pretences(&rig.settings, output, 0, held)
}

#[test]
fn an_output_is_asked_only_by_a_decision_of_its_own_button() {
    for kind in RIGS {
        let deciding = |held| Pretence::deciding(kind, held);
        let (mut rig, button) = room(kind, None);
        // An *up* without a *down* decides nothing; a hold does in any case.
        assert_eq!(asked(&rig, 0, false), [Pretence::Rest]);
        assert_eq!(asked(&rig, 0, true), deciding(true));
        assert_eq!(asked(&rig, 1, true), [Pretence::Rest], "not of this button");
        rig.down(s(1), button);
        assert_eq!(asked(&rig, 0, false), deciding(false));
        assert_eq!(
            asked(&rig, 1, false),
            [Pretence::Rest],
            "not of this button"
        );
        rig.go(s(2));
        assert_eq!(
            asked(&rig, 0, false),
            [Pretence::Rest],
            "the hold has begun"
        );
        let (flawed, _) = room(kind, Some(Flaw::LoneUpActs));
        assert_eq!(asked(&flawed, 0, false), deciding(false));
    }
}

#[test]
fn a_decision_asks_of_others_what_its_gesture_reads() {
    use Pretence::{High, Low, Off, Rest, SetBack};
    use switch::Button::{Down, Scene, Single, Up};
    let (tap, hold) = (false, true);
    // SW-1: whether any is on, warns or is set back.
    assert_eq!(Pretence::deciding(Single, tap), [Off, High, SetBack]);
    // SW-2: whether all that are lit are at a trim.
    assert_eq!(Pretence::deciding(Single, hold), [Off, Low, High]);
    // SW-9: whether any is lit.
    assert_eq!(Pretence::deciding(Up, hold), [Off, High]);
    for (kind, held) in [
        (Up, tap),
        (Down, tap),
        (Down, hold),
        (Scene, tap),
        (Scene, hold),
    ] {
        assert_eq!(Pretence::deciding(kind, held), [Rest], "{kind:?}");
    }
}

#[test]
fn an_output_that_pretends_stands_so_and_runs_nothing() {
    for (pretence, state, asked, owned) in [
        (Pretence::Rest, State::Off, Level::FULL, false),
        (Pretence::Off, State::Off, Level::FULL, true),
        (
            Pretence::Low,
            State::On,
            Level::from_hundredths(1_000),
            true,
        ),
        (Pretence::High, State::On, Level::FULL, true),
        (Pretence::SetBack, State::Setback, Level::FULL, true),
    ] {
        let (mut rig, button) = room(switch::Button::Single, None);
        rig.settings.outputs[0].low_trim = Level::from_hundredths(1_000);
        rig.tap(s(1), button);
        let settings = rig.settings.clone();
        let Rig { it, bench, .. } = &mut rig;
        it.pretend(&settings, 0, pretence, Some(0), bench);
        let out = &rig.it.outputs[0];
        assert_eq!((out.state, out.asked), (state, asked), "{pretence:?}");
        assert_eq!(out.owner, owned.then_some(0), "{pretence:?}");
        let low = Level::from_hundredths(1_000);
        let setback = if state == State::Setback {
            low
        } else {
            Level::OFF
        };
        assert_eq!(out.setback, setback, "{pretence:?}");
        assert_eq!(rig.bench.running(), []);
    }
}
