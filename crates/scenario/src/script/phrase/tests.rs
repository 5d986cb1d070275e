//! Every phrase of a row, and what is said of phrases that are wrong.

use device::{Illuminance, Level, Span};

use super::*;

fn read(text: &str) -> Phrase {
    Phrase::read(text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn state(what: What) -> State {
    State { not: false, what }
}

#[test]
fn deeds_are_read_as_people_write_them() {
    let cases = [
        ("motion", Deed::Motion),
        ("Motion", Deed::Motion),
        ("tap", Deed::Tap(String::new(), Span::from_ms(100))),
        (
            "tap zone-a up",
            Deed::Tap("zone-a up".into(), Span::from_ms(100)),
        ),
        (
            "tap up for 200 ms",
            Deed::Tap("up".into(), Span::from_ms(200)),
        ),
        (
            "hold up for 2 s",
            Deed::Hold("up".into(), Span::from_seconds(2)),
        ),
        ("press film scene", Deed::Press("film scene".into())),
        ("set to 09:00", Deed::ClockSet(Some(Span::from_hours(9)))),
        (
            "sheds 20 points",
            Deed::Shed(Some(Points::from_hundredths(2_000))),
        ),
        (
            "daylight 300 lx",
            Deed::Daylight(Daylight::Is(Illuminance::from_lux(300))),
        ),
        (
            "daylight 0 lx to 500 lx",
            Deed::Daylight(Daylight::Line(
                Illuminance::default(),
                Illuminance::from_lux(500),
            )),
        ),
        (
            "daylight arc up to 20000 lx",
            Deed::Daylight(Daylight::Arc(Illuminance::from_lux(20_000))),
        ),
        ("next frame lost", Deed::Frames(FrameFault::Lost(1))),
        ("next 3 frames lost", Deed::Frames(FrameFault::Lost(3))),
        (
            "20 % of frames lost",
            Deed::Frames(FrameFault::ShareLost(Level::from_percent(20))),
        ),
        (
            "next frame late by 2 s",
            Deed::Frames(FrameFault::Late(1, Span::from_seconds(2))),
        ),
        ("relay freed", Deed::Stuck(None)),
        (
            "time-delay = 20 min",
            Deed::Setting {
                key: "time-delay".into(),
                value: "20 min".into(),
            },
        ),
        (
            "walks to desk-2",
            Deed::Person(Activity::WalksTo("desk-2".into())),
        ),
    ];
    for (text, deed) in cases {
        assert_eq!(read(text), Phrase::Deed(deed), "{text}");
    }
}

#[test]
fn checks_of_states_are_read_as_people_write_them() {
    let half = Level::from_percent(50);
    let becomes = |what| Event::Becomes(state(what));
    let cases = [
        ("is on", Check::Is(state(What::On))),
        (
            "is not on",
            Check::Is(State {
                not: true,
                what: What::On,
            }),
        ),
        (
            "is 50 %",
            Check::Is(state(What::Level(Scale::Target, Compare::Exactly(half)))),
        ),
        (
            "is at most 50 %",
            Check::Is(state(What::Level(Scale::Target, Compare::AtMost(half)))),
        ),
        (
            "asks at least 50 %",
            Check::Is(state(What::Level(Scale::Asked, Compare::AtLeast(half)))),
        ),
        (
            "shows between 50 % and 60 %",
            Check::Is(state(What::Level(
                Scale::Light,
                Compare::Between(half, Level::from_percent(60)),
            ))),
        ),
        (
            "is at least 500 lx",
            Check::Is(state(What::Lux(Compare::AtLeast(Illuminance::from_lux(
                500,
            ))))),
        ),
        (
            "stays on for 20 min",
            Check::Stays(state(What::On), Extent::For(Span::from_minutes(20))),
        ),
        (
            "turns off within 5 s",
            Check::Happens(
                becomes(What::Off),
                None,
                Extent::Within(Span::from_seconds(5)),
            ),
        ),
        (
            "turns on at most 2 times within 1 h",
            Check::Happens(
                becomes(What::On),
                Some(Compare::AtMost(2)),
                Extent::Within(Span::from_hours(1)),
            ),
        ),
        (
            "never turns on for 10 min",
            Check::Never(becomes(What::On), Extent::For(Span::from_minutes(10))),
        ),
    ];
    for (text, check) in cases {
        assert_eq!(read(text), Phrase::Check(check), "{text}");
    }
}

#[test]
fn checks_of_events_and_totals_are_read_as_people_write_them() {
    let cases = [
        ("does not change", Check::Never(Event::Changes, Extent::Row)),
        (
            "sends 3 frames within 10 min",
            Check::Happens(
                Event::Sends(None),
                Some(Compare::Exactly(3)),
                Extent::Within(Span::from_minutes(10)),
            ),
        ),
        (
            "sends occupied twice within 1 min",
            Check::Happens(
                Event::Sends(Some(FrameWord::Occupied)),
                Some(Compare::Exactly(2)),
                Extent::Within(Span::from_minutes(1)),
            ),
        ),
        (
            "sends nothing for 10 min",
            Check::Never(Event::Sends(None), Extent::For(Span::from_minutes(10))),
        ),
        (
            "hears vacant from wall-sensor",
            Check::Happens(
                Event::Hears("wall-sensor".into(), Some(FrameWord::Vacant)),
                None,
                Extent::Row,
            ),
        ),
        ("reports lost", Check::Is(state(What::Reports(Fault::Lost)))),
        (
            "used at most 1.2 kWh",
            Check::Total(Total::Energy(Compare::AtMost(1_200_000))),
        ),
        (
            "was on at most 20 % of the time",
            Check::Total(Total::ShareOn(Compare::AtMost(Level::from_percent(20)))),
        ),
        (
            "was on at most 2 h",
            Check::Total(Total::TimeOn(Compare::AtMost(Span::from_hours(2)))),
        ),
        (
            "turned on twice",
            Check::Total(Total::Turned(true, Compare::Exactly(2))),
        ),
    ];
    for (text, check) in cases {
        assert_eq!(read(text), Phrase::Check(check), "{text}");
    }
}

#[test]
fn a_phrase_that_is_not_one_is_refused_where_it_stands() {
    let cases = [
        ("", "missing", ""),
        ("moton", "neither", "`motion`"),
        ("is bright", "not a state", "is on"),
        ("is", "missing", "50 %"),
        ("is 150 %", "more than 100 %", "0 to 100"),
        (
            "is between 60 % and 40 %",
            "nothing lies between",
            "smaller",
        ),
        (
            "stays on from 08:00 to 09:00",
            "first column",
            "08:00 to 09:00",
        ),
        ("hold up", "how long", "hold up for 2 s"),
        ("hold up for 0 s", "no time at all", "2 s"),
        ("sends vacancy", "kind of frame", "vacant"),
        ("reports smoke", "not a fault", "stuck relay"),
        ("next frame", "next frames", "lost"),
        ("sheds 200 points", "points", "1 to 100"),
        ("time-delay =", "new value", "room.toml"),
        ("turned on", "how many times", "2 times"),
        (
            "is on at 09:00",
            "not understood after `is on`",
            "first column",
        ),
        ("used at most 120", "energy", "120 Wh"),
        ("turns on 3 within 5 s", "`times` is missing", "3 times"),
    ];
    for (text, message, hint) in cases {
        let error = Phrase::read(text).unwrap_err();
        assert!(error.message.contains(message), "{text}: {}", error.message);
        assert!(error.hint.contains(hint), "{text}: {}", error.hint);
        assert!(error.range.end <= text.len(), "{text}: {:?}", error.range);
    }
}

#[test]
fn every_example_of_a_kind_is_read_and_suits_it() {
    use PointKind as K;
    for kind in [
        K::Occupancy,
        K::Switch,
        K::Card,
        K::Daylight,
        K::Clock,
        K::NormalPower,
        K::FireAlarm,
        K::DemandResponse,
        K::Output,
        K::Controller,
        K::Task,
        K::Person,
        K::Room,
        K::Link,
    ] {
        for example in kind.examples() {
            assert!(read(example).suits(kind), "{example} at {}", kind.name());
        }
    }
}
