//! What a room must know to serve a clause: comparisons, roots of causes, what is watched.

use clause::{Atom, Brightness, By, Channel, Compare, Doer, Event, Names, Origin, Quantity};
use device::{Illuminance, Level};

use crate::bench::parse;

fn level(hundredths: u16) -> Level {
    Level::from_hundredths(hundredths)
}

#[test]
fn a_level_is_exact_to_half_a_per_cent() {
    let half = Compare::Is(level(5_000));
    let admitted: Vec<u16> = (4_900..5_100)
        .filter(|at| half.admits(level(*at)))
        .collect();
    assert_eq!(
        (admitted.first(), admitted.last()),
        (Some(&4_950), Some(&5_050))
    );
}

#[test]
fn comparisons_include_the_ends_they_name() {
    let answers = |compare: Compare| [49, 50, 51].map(|at| compare.admits(level(at)));
    assert_eq!(answers(Compare::AtMost(level(50))), [true, true, false]);
    assert_eq!(answers(Compare::AtLeast(level(50))), [false, true, true]);
    assert_eq!(answers(Compare::Below(level(50))), [true, false, false]);
    assert_eq!(answers(Compare::Above(level(50))), [false, false, true]);
    assert_eq!(
        answers(Compare::Between(level(50), level(50))),
        [false, true, false]
    );
    let lux = Illuminance::from_lux;
    let answers = |compare: Brightness| [49, 50, 51].map(|at| compare.admits(lux(at)));
    assert_eq!(answers(Brightness::AtMost(lux(50))), [true, true, false]);
    assert_eq!(answers(Brightness::AtLeast(lux(50))), [false, true, true]);
    assert_eq!(answers(Brightness::Below(lux(50))), [true, false, false]);
    assert_eq!(answers(Brightness::Above(lux(50))), [false, false, true]);
}

#[test]
fn a_doer_covers_its_own_origins_and_no_others() {
    let origins = [
        Origin::Start,
        Origin::Motion(1),
        Origin::Motion(2),
        Origin::Sound(1),
        Origin::Sound(2),
        Origin::Button(1, 0),
        Origin::Button(1, 1),
        Origin::Button(2, 0),
        Origin::Source(1),
        Origin::Source(2),
        Origin::Power,
        Origin::Daylight,
        Origin::Site,
    ];
    let covered = |doer: Doer| -> Vec<Origin> {
        let by = By::Only(doer);
        let others = By::NoneOf(vec![doer]);
        for origin in origins {
            assert!(By::Anyone.admits(origin));
            assert_ne!(by.admits(origin), others.admits(origin));
        }
        origins
            .into_iter()
            .filter(|origin| by.admits(*origin))
            .collect()
    };
    let whole = [
        Origin::Motion(1),
        Origin::Sound(1),
        Origin::Button(1, 0),
        Origin::Button(1, 1),
    ];
    assert_eq!(covered(Doer::Source(1))[..4], whole);
    assert_eq!(covered(Doer::Source(1))[4..], [Origin::Source(1)]);
    assert_eq!(
        covered(Doer::Channel(1, Channel::Motion)),
        [Origin::Motion(1)]
    );
    assert_eq!(
        covered(Doer::Channel(1, Channel::Sound)),
        [Origin::Sound(1)]
    );
    assert_eq!(covered(Doer::Button(1, 0)), [Origin::Button(1, 0)]);
    assert_eq!(covered(Doer::Power), [Origin::Power]);
    assert_eq!(covered(Doer::Daylight), [Origin::Daylight]);
    assert_eq!(covered(Doer::Site), [Origin::Site]);
    assert_eq!(covered(Doer::Start), [Origin::Start]);
    let two = By::NoneOf(vec![Doer::Power, Doer::Site]);
    assert!(!two.admits(Origin::Power) && !two.admits(Origin::Site) && two.admits(Origin::Start));
}

#[test]
fn the_watched_levels_are_where_an_answer_changes() {
    let watched = |text: &str, output: u16| parse(&[("never", text)]).watched_levels(output);
    let target = |levels: &[u16]| -> Vec<(Quantity, Level)> {
        levels
            .iter()
            .map(|at| (Quantity::Target, level(*at)))
            .collect()
    };
    assert_eq!(watched("desk-lights is 50 %", 0), target(&[4_950, 5_051]));
    assert_eq!(watched("desk-lights is 0.2 %", 0), target(&[71]));
    assert_eq!(watched("desk-lights is 0.5 %", 0), target(&[101]));
    assert_eq!(watched("desk-lights is 100 %", 0), target(&[9_950]));
    assert_eq!(watched("desk-lights is at most 50 %", 0), target(&[5_001]));
    assert_eq!(watched("desk-lights is above 50 %", 0), target(&[5_001]));
    assert_eq!(watched("desk-lights is at least 50 %", 0), target(&[5_000]));
    assert_eq!(watched("desk-lights is below 50 %", 0), target(&[5_000]));
    assert_eq!(watched("desk-lights is below 100 %", 0), target(&[10_000]));
    assert_eq!(watched("desk-lights is at most 100 %", 0), []);
    assert_eq!(watched("desk-lights is at least 0 %", 0), []);
    assert_eq!(
        watched("desk-lights is between 10 % and 20 %", 0),
        target(&[1_000, 2_001])
    );
    assert_eq!(watched("desk-lights is on", 0), []);
    let several = "(desk-lights is below 50 % or desk-lights shows at least 50 %) and \
                   (desk-lights is at least 50 % or door-lights asks below 5 %)";
    assert_eq!(
        watched(several, 0),
        [
            (Quantity::Target, level(5_000)),
            (Quantity::Light, level(5_000))
        ]
    );
    assert_eq!(watched(several, 2), [(Quantity::Asked, level(500))]);
    assert_eq!(watched(several, 1), []);
}

#[test]
fn a_clause_names_each_condition_and_event_once() {
    let formula = parse(&[
        ("when", "motion at wall-sensor or card is in"),
        ("then", "desk-lights is on"),
        (
            "until",
            "card out or motion at wall-sensor and not card is in",
        ),
    ]);
    let atoms: Vec<&Atom> = formula.atoms().collect();
    let events: Vec<&Event> = formula.events().collect();
    assert_eq!((atoms.len(), events.len()), (2, 2));
}

#[test]
fn a_clause_says_whether_it_counts_further_than_to_two() {
    let counts = |text: &str| parse(&[("never", text)]).counts_beyond_two();
    assert!(!counts("more than 1 card in within 5 s"));
    assert!(counts("more than 2 card in within 5 s"));
    assert!(!counts("desk-lights is on for 5 s"));
}

#[test]
fn what_several_clauses_speak_of_is_taken_together() {
    let of = |text: &str| parse(&[("never", text)]).mentions();
    let clauses = [
        "desk-lights is on",
        "desk-outlet asks above 50 %",
        "wall-button turns off door-lights",
        "card is in",
        "photo is below 9 lx",
        "motion at wall-sensor",
        "wall-unit/film tap",
        "wall-button/down is down",
    ];
    let mut together = of(clauses[0]);
    for clause in &clauses[1..] {
        together.merge(of(clause));
    }
    together.merge(parse(&[("always", "grid never affects desk-lights")]).mentions());
    let all = format!("({})", clauses.join(") or ("));
    let mut expected = of(&all);
    // Alone, each clause also asks whether its sources acted and its outputs changed.
    expected.acted.clone_from(&together.acted);
    expected.changes.clone_from(&together.changes);
    expected.doers.insert(Doer::Source(2));
    expected.unaffected.insert(0);
    assert_eq!(together, expected);
    assert!(together.acted.contains(&Doer::Source(8)));
    assert!(together.changes.contains(&(1, clause::Change::Changes)));
}

#[test]
fn power_daylight_and_a_change_on_site_are_no_sources() {
    for doer in ["power", "daylight", "the site", "the start"] {
        let text = format!("{doer} turns on desk-lights");
        let sources = parse(&[("never", &text)]).mentions().sources();
        assert!(sources.is_empty(), "{doer}: {sources:?}");
    }
}

#[test]
fn a_monitor_has_as_few_timers_as_the_clause_has_spans() {
    let timers = |fields: &[(&str, &str)]| parse(fields).timers();
    assert_eq!(timers(&[("never", "card is in")]), 0);
    assert_eq!(timers(&[("never", "card is in"), ("reaction", "5 s")]), 1);
    assert_eq!(
        timers(&[("never", "card is in for 5 s or card is in for 5 s")]),
        1
    );
    assert_eq!(
        timers(&[("never", "card is in for 5 s or card is in for 6 s")]),
        2
    );
    assert_eq!(
        timers(&[("never", "card is in for 5 s or not no card in for 5 s")]),
        2
    );
    assert_eq!(timers(&[("never", "more than 3 card in within 5 s")]), 3);
    assert_eq!(
        timers(&[("always", "desk-lights does not change for 5 s")]),
        1
    );
    assert_eq!(
        timers(&[("always", "card in only after photo is lost for 5 s")]),
        1
    );
    let when = ("when", "card in");
    let then = ("then", "desk-lights is on");
    assert_eq!(timers(&[when, then]), 1);
    assert_eq!(timers(&[when, then, ("for", "5 s")]), 2);
    assert_eq!(timers(&[when, then, ("until", "card out")]), 1);
    assert_eq!(
        timers(&[when, then, ("within", "5 s"), ("until", "card out")]),
        2
    );
}

#[test]
fn words_with_a_meaning_of_their_own_are_no_names() {
    for word in [
        "not", "no", "any", "all", "none", "motion", "sound", "sweep", "the", "in",
    ] {
        assert!(Names::is_reserved(word), "{word}");
    }
    assert!(!Names::is_reserved("desk-lights"));
}
