//! Flaws of firmware, seeded one by one into rooms of the annex: the clause that a flaw is about
//! is broken by a scenario of six stimuli at most, and proved where there is no flaw.

mod annex;
mod asked;

use device::Flaw;
use proof::{Answer, Budget, Terms, Verdict};
use scenario::challenge::Fault;
use scenario::sequence_file::assumption;

/// More than a person would read: whoever is told why must be able to see it.
const MOST: usize = 6;

/// A flaw, the room and the clause that notice it, and what is allowed to go wrong.
struct Case {
    flaw: Flaw,
    room: &'static str,
    clause: &'static str,
    terms: Terms,
}

fn case(flaw: Flaw, room: &'static str, clause: &'static str) -> Case {
    Case {
        flaw,
        room,
        clause,
        terms: Terms::default(),
    }
}

/// What the symbolic clock says of the clause of a case, with the flaw or without.
fn answer(case: &Case, flaw: Option<Flaw>) -> Answer {
    let mut room = annex::room(case.room);
    if let Some(flaw) = flaw {
        let sound = room.plan.clone();
        Fault::Firmware(flaw).seed(&mut room.plan);
        assert_ne!(
            room.plan, sound,
            "{flaw:?} changes nothing in {}",
            case.room
        );
    }
    let budget = Budget {
        transitions: 2_000_000,
        ..Budget::default()
    };
    asked::answer(&room, case.clause, &case.terms, budget)
}

/// The flaw is noticed, and the clause holds without it.
#[track_caller]
fn is_caught(case: Case) {
    let (flaw, clause) = (case.flaw, case.clause);
    match answer(&case, Some(flaw)).verdict {
        Verdict::Broken(witness) => assert!(
            witness.happenings <= MOST,
            "{flaw:?} at {clause} takes {}:\n{}",
            witness.happenings,
            witness.text
        ),
        other => panic!("{flaw:?} is not noticed by {clause}: {other:?}"),
    }
    let verdict = answer(&case, None).verdict;
    assert!(
        matches!(verdict, Verdict::Proved(_)),
        "{clause} without {flaw:?}: {verdict:?}"
    );
}

macro_rules! caught {
    ($($name:ident: $flaw:ident, $room:literal, $clause:literal;)*) => {$(
        #[test]
        fn $name() {
            is_caught(case(Flaw::$flaw, $room, $clause));
        }
    )*};
}

caught! {
    sound_that_turns_on_is_caught: SoundTurnsOn, "private-office", "A4";
    sound_that_rearms_its_window_is_caught: SoundRearmsWindow, "private-office", "A10";
    a_window_that_never_closes_is_caught: WindowNeverCloses, "private-office", "A10";
    vacant_on_the_first_of_two_is_caught: VacantOnFirst, "private-office", "A9";
    a_run_on_shared_by_links_is_caught: SharedRunOn, "three-offices", "T4.201";
    a_run_on_that_is_not_forgotten_is_caught: RunOnNotForgotten, "three-offices", "T4.201";
    an_off_by_hand_that_is_forgotten_is_caught: HandOffForgotten, "private-office", "A2";
    a_latch_that_is_never_cleared_is_caught: LatchNeverCleared, "private-office", "A12";
    a_grace_after_an_off_by_hand_is_caught: GraceAfterHandOff, "private-office", "A2";
    an_off_press_eaten_by_a_warning_is_caught: OffEatenByWarning, "hall", "H9";
    a_missing_press_hold_is_caught: PressHoldMissing, "private-office", "A8";
    a_preset_that_lowers_a_level_set_by_hand_is_caught: PresetBeatsHand, "private-office", "A11";
    a_setback_that_lights_a_dark_lamp_is_caught: SetbackLightsDark, "warehouse", "W7-1";
    a_linger_that_is_not_cancelled_is_caught: LingerNotCancelled, "guest-room", "G9";
    a_scene_without_a_card_is_caught: SceneIgnoresCaptive, "guest-room", "G2";
    an_override_without_end_is_caught: EndlessOverride, "hall", "H4";
    a_ramp_without_end_is_caught: EndlessRamp, "private-office", "A5";
    a_floor_that_yields_is_caught: FloorYields, "corridor", "C1";
    an_emergency_that_is_not_full_is_caught: EmergencyNotFull, "corridor", "C5";
    a_contact_without_minimum_times_is_caught: NoMinimumTimes, "guest-room", "G8";
}

/// It shows where a press may be lost, and the clause holds there.
#[test]
fn a_lone_up_that_acts_is_caught() {
    let mut case = case(Flaw::LoneUpActs, "private-office", "A13");
    case.terms.lose = 1;
    is_caught(case);
}

/// It shows where a sensor may die, and the clause holds there for one that hears nothing: sound
/// may keep a room an hour and a quarter, and what dies then is missed a little later.
#[test]
fn a_lost_sensor_that_holds_for_ever_is_caught() {
    let mut case = case(Flaw::LostHolds, "private-office", "A10");
    case.terms.dead = vec!["wall-sensor".to_owned()];
    let deaf = "never = \"sound at wall-sensor\"";
    let deaf = assumption(deaf, 1, &annex::room(case.room)).expect("an assumption of the room");
    case.terms.assume = vec![deaf];
    is_caught(case);
}
