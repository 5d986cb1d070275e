//! What is written is read back: the same inputs, to the millisecond.

use std::path::Path;

use device::{Illuminance, Points, Span, signal};
use jiff::civil::date;
use proptest::prelude::*;
use proptest::sample::Index;
use room::{ControllerId, Device, OutputId, SourceSettings};
use sim::{Drift, Impairment, LinkFault, Pace, Share};

use super::*;
use crate::Sources;
use crate::script::{Script, load};
use crate::suite::Suite;

/// The rooms of the annex.
fn rooms() -> Vec<RoomFile> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[folder]).unwrap();
    suite.rooms.into_iter().filter_map(|it| it.room).collect()
}

fn room(name: &str) -> RoomFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[folder.join(name)]).unwrap();
    let mut rooms = suite.rooms.into_iter();
    rooms.next().and_then(|it| it.room).unwrap()
}

fn read_back(text: &str, room: &RoomFile) -> Script {
    let mut sources = Sources::new();
    let file = sources.add("written.toml", text);
    let mut loaded = load(&mut sources, file, room);
    let found = loaded.diagnostics.iter();
    let found: Vec<String> = found.map(|it| it.render(&sources, false)).collect();
    assert!(found.is_empty(), "{text}\n{}", found.join("\n"));
    loaded.scripts.pop().unwrap()
}

fn story(happenings: Vec<(Instant, ActWhat)>) -> Story {
    Story {
        title: "A \"quoted\" story".to_owned(),
        about: None,
        start: date(2026, 3, 2).at(8, 0, 0, 0),
        settings: Vec::new(),
        end: happenings.last().map_or(Instant::START, |last| last.0),
        happenings,
        expect: Vec::new(),
    }
}

/// Everything that can be written of a room, one of each.
fn everything(room: &RoomFile) -> Vec<ActWhat> {
    let mut all = Vec::new();
    for (id, unit) in (0..).map(SourceId).zip(&room.plan.sources) {
        let mut add = |stimulus| all.push(ActWhat::Input(Input::Stimulus(id, stimulus)));
        add(Stimulus::TeachIn);
        match &unit.settings {
            SourceSettings::Occupancy(_) => {
                add(Stimulus::Motion);
                add(Stimulus::Sound);
                add(Stimulus::WalkTest(true));
            }
            SourceSettings::Switch(_) => {
                for (button, _) in (0..).zip(&unit.buttons) {
                    add(Stimulus::Press(button));
                    add(Stimulus::Release(button));
                }
            }
            SourceSettings::Card(_) => {
                add(Stimulus::CardIn { valid: true });
                add(Stimulus::CardIn { valid: false });
                add(Stimulus::CardOut);
            }
            SourceSettings::Clock(_) => {
                add(Stimulus::Due(Entry::Opening));
                add(Stimulus::Due(Entry::Closing));
                add(Stimulus::Due(Entry::Sweep));
            }
            SourceSettings::Signal(it) if it.kind == signal::Kind::DemandResponse => {
                add(Stimulus::Shed(None));
                add(Stimulus::Shed(Some(Points::from_hundredths(2_000))));
                add(Stimulus::ShedEnd);
            }
            SourceSettings::Signal(_) => {
                add(Stimulus::Signal(true));
                add(Stimulus::Signal(false));
            }
            SourceSettings::Daylight(_) => {}
        }
        let device = Device::Source(id);
        all.extend([false, true].map(|on| ActWhat::Input(Input::Power(device, on))));
        all.extend(clocks(device));
        let mut listeners: Vec<_> = unit.listeners.iter().map(|it| Some(it.0)).collect();
        listeners.push(None);
        all.extend(listeners.into_iter().flat_map(|to| faults(id, to)));
    }
    for (id, _) in (0..).map(ControllerId).zip(&room.plan.controllers) {
        let device = Device::Controller(id);
        all.extend(clocks(device));
        all.extend([false, true].map(|on| ActWhat::Input(Input::Power(device, on))));
    }
    for (output, _) in (0..).map(OutputId).zip(&room.plan.outputs) {
        let stuck = [Some(true), Some(false), None].map(|how| Input::Stuck(output, how));
        let learn = [true, false].map(|remove| Input::Learn { output, remove });
        all.extend(stuck.into_iter().chain(learn).map(ActWhat::Input));
    }
    let light = Illuminance::from_hundredths(30_025);
    all.push(ActWhat::Input(Input::Daylight(light)));
    all
}

fn clocks(device: Device) -> [ActWhat; 5] {
    let slow = Pace::slow(Share::from_parts(25));
    let fine = [-1, 3_000_012_i32].map(|off| Pace::WHOLE.saturating_add_signed(off));
    let [fast, slower] = fine.map(Pace::from_parts);
    [
        Pace::fast(Share::from_parts(300)),
        slow,
        Pace::RIGHT,
        fast,
        slower,
    ]
    .map(|pace| ActWhat::Drift(Drift { device, pace }))
}

fn faults(source: SourceId, listener: Option<ControllerId>) -> Vec<ActWhat> {
    let faults = [
        LinkFault::LoseNext(1),
        LinkFault::LoseNext(3),
        LinkFault::CopyNext(1),
        LinkFault::LateNext(1, Span::from_ms(1_250)),
        LinkFault::Lose(Share::from_parts(2_050)),
        LinkFault::Copy(Share::ALL),
        LinkFault::Reorder(true),
        LinkFault::OnTime(true),
        LinkFault::Lose(Share::NONE),
    ];
    let impair = |fault| {
        ActWhat::Impair(Impairment {
            source,
            listener,
            fault,
        })
    };
    faults.map(impair).to_vec()
}

/// What happens in the order of time, at each instant in a fixed order.
fn sorted(happenings: &[(Instant, ActWhat)]) -> Vec<(Instant, String)> {
    let mut all: Vec<_> = happenings
        .iter()
        .map(|(at, what)| (*at, format!("{what:?}")))
        .collect();
    all.sort();
    all
}

fn came_out(script: &Script) -> Vec<(Instant, ActWhat)> {
    assert!(script.acts.iter().all(|act| !act.after));
    let acts = script.acts.iter();
    acts.map(|act| (act.at, act.what.clone())).collect()
}

#[test]
fn everything_that_can_happen_in_a_room_of_the_annex_can_be_written() {
    for room in rooms() {
        let happenings = everything(&room).into_iter().zip(1..);
        let mut happenings: Vec<_> = happenings
            .map(|(what, second)| (Instant::from_ms(second * 1_001), what))
            .collect();
        let minute = Instant::from_ms(3_600_000);
        let devices = room.plan.on_mains().into_iter();
        happenings
            .extend(devices.map(|device| (minute, ActWhat::Input(Input::Power(device, false)))));
        let story = Story {
            // A Sunday, on which nothing is due at this hour.
            start: date(2026, 3, 1).at(8, 0, 0, 0),
            ..story(happenings)
        };
        let text = story.write(&room).unwrap();
        let script = read_back(&text, &room);
        assert_eq!(
            sorted(&came_out(&script)),
            sorted(&story.happenings),
            "{text}"
        );
        assert_eq!(script.end, story.end);
        assert_eq!(script.title, story.title);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn a_random_story_comes_out_as_it_went_in(
        room in any::<Index>(),
        picks in prop::collection::vec((any::<Index>(), 0_u64..4, 0_u64..5_000_000), 0..24),
        hour in 0_i8..24,
        night in any::<bool>(),
    ) {
        thread_local! {
            static ROOMS: Vec<RoomFile> = rooms();
        }
        ROOMS.with(|rooms| {
            let room = room.get(rooms);
            let all = everything(room);
            let mut at = 0;
            let mut happenings: Vec<(Instant, ActWhat)> = Vec::new();
            for (pick, grain, gap) in picks {
                at += 1 + gap / [1, 100, 1_000, 60_000][grain as usize]
                    * [1, 100, 1_000, 60_000][grain as usize];
                happenings.push((Instant::from_ms(at), pick.get(&all).clone()));
            }
            // The clocks go back in the early hours of this day.
            let day = if night { date(2026, 10, 25) } else { date(2026, 3, 4) };
            let start = day.at(hour, 0, 0, 0);
            let mut story = Story { start, ..story(happenings) };
            let civil = Civil::new(&room.zone, start).unwrap();
            for (clock, calendar) in &room.calendars {
                let due = calendar.entries(&civil, &[], story.end).into_iter();
                story.happenings.extend(due.map(|(at, entry)| {
                    (at, ActWhat::Input(Input::Stimulus(*clock, Stimulus::Due(entry))))
                }));
            }
            story.happenings.sort_by_key(|it| it.0);
            let text = story.write(room).unwrap();
            let script = read_back(&text, room);
            assert_eq!(sorted(&came_out(&script)), sorted(&story.happenings), "{text}");
            assert_eq!(script.end, story.end);
        });
    }
}

fn at(seconds: u64, stimulus: Stimulus) -> (Instant, ActWhat) {
    let what = ActWhat::Input(Input::Stimulus(SourceId(0), stimulus));
    (Instant::from_ms(seconds * 1_000), what)
}

#[test]
fn a_story_reads_like_one_that_a_person_wrote() {
    let room = room("private-office");
    // By name the button comes before the sensor.
    let motion = (
        Instant::from_ms(60_000),
        ActWhat::Input(Input::Stimulus(SourceId(1), Stimulus::Motion)),
    );
    let release = |ms| {
        let what = ActWhat::Input(Input::Stimulus(SourceId(0), Stimulus::Release(0)));
        (Instant::from_ms(ms), what)
    };
    let mut story = story(vec![
        motion.clone(),
        at(120, Stimulus::Press(0)),
        release(120_100),
        at(180, Stimulus::Press(0)),
        release(183_500),
        at(240, Stimulus::Press(0)),
        (Instant::from_ms(250_010), motion.1),
        release(260_000),
    ]);
    story.title = "The lights stay on".to_owned();
    story.settings = vec![(
        "wall-sensor".to_owned(),
        "time-delay".to_owned(),
        "20 min".to_owned(),
    )];
    story.end = Instant::from_ms(86_400_000);
    story.expect = vec![(Verdict::Broken, "A5".to_owned())];
    let text = story.write(&room).unwrap();
    assert_eq!(
        text,
        r#"title = "The lights stay on"
start = "2026-03-02 08:00"
end   = "day 2 08:00"
expect = "broken A5"
rows = [
  ["start",        "wall-sensor", "time-delay = 20 min"],
  ["08:01",        "wall-sensor", "motion"],
  ["08:02",        "wall-button", "tap up"],
  ["08:03",        "wall-button", "hold up for 3.5 s"],
  ["08:04",        "wall-button", "press up"],
  ["08:04:10.010", "wall-sensor", "motion"],
  ["08:04:20",     "wall-button", "release up"],
]
"#
    );
    assert_eq!(read_back(&text, &room).expects.len(), 1);
}

#[test]
fn a_calendar_that_does_more_than_the_story_is_refused() {
    let hall = room("hall");
    let story = Story {
        // A Monday: the hall opens at eight.
        start: date(2026, 3, 2).at(7, 0, 0, 0),
        end: Instant::from_ms(7_200_000),
        ..story(Vec::new())
    };
    assert_eq!(
        story.write(&hall).unwrap_err().to_string(),
        "the calendar of `hall-clock` runs Opening at 08:00:00"
    );
}

#[test]
fn what_no_row_can_say_is_refused() {
    let office = room("private-office");
    let unsaid = [
        Input::Elapsed(room::Slot(0)),
        Input::Stimulus(SourceId(0), Stimulus::Press(9)),
    ];
    for input in unsaid {
        let story = story(vec![(Instant::from_ms(1), ActWhat::Input(input))]);
        assert!(matches!(story.write(&office), Err(Unwritten::NoWords(_))));
    }
    let early = vec![at(2, Stimulus::Press(0)), at(1, Stimulus::Release(0))];
    assert_eq!(story(early).write(&office), Err(Unwritten::OutOfOrder));
}
