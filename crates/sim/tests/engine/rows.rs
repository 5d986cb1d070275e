//! The rows that only a whole room can show: order at one instant, links, lost sources.

use std::sync::Arc;

use device::controller::{Drive, Output, Role, Warning};
use device::{Fault, Ignored, Level, Note, Payload, Span, card, clock, occupancy, signal, switch};
use room::{ControllerId, Device, Input, Plan, SourceSettings, Stimulus, Who};
use sim::{
    Coming, Drop, Full, Impairment, Instant, LinkFault, OutputState, Quality, Simulation, Trace,
    What,
};

use crate::support::{Site, Tie, lamp, output, source};

const MINUTE: u64 = 60_000;
const HOUR: u64 = 60 * MINUTE;
/// One frame from a source to its listener.
const LINK: u64 = 10;

fn sensor() -> occupancy::Settings {
    occupancy::Settings {
        sound: true,
        report: None,
        ..occupancy::Settings::default()
    }
}

/// A dual-technology sensor, a button and a lamp.
fn office() -> Site {
    let button = switch::Settings {
        buttons: vec![switch::Button::Single],
        ..switch::Settings::default()
    };
    Site::default()
        .source("wall-sensor", SourceSettings::Occupancy(sensor()))
        .source("wall-button", SourceSettings::Switch(button))
        .output("desk-lights", lamp())
        .link("wall-sensor", "desk-lights", Role::AutoOn(Level::FULL))
        .button("wall-button", 0, "desk-lights")
}

/// The same with a sensor that says every so often how it stands.
pub(crate) fn office_that_reports() -> Site {
    let sensor = occupancy::Settings::default();
    let mut site = office();
    site.sources[0].1 = SourceSettings::Occupancy(sensor);
    site
}

fn begin(plan: &Arc<Plan>) -> Simulation<Full> {
    Simulation::new(Arc::clone(plan), 0, |_, _| Quality::default())
}

fn at(ms: u64) -> Instant {
    Instant::from_ms(ms)
}

fn of(plan: &Plan, name: &str, stimulus: Stimulus) -> Input {
    Input::Stimulus(source(plan, name), stimulus)
}

/// When something was noted.
fn noted(trace: &Trace, who: Who, note: Note) -> Vec<u64> {
    let is = |step: &&sim::Step| step.what == What::Note(who, note);
    trace
        .steps
        .iter()
        .filter(is)
        .map(|step| step.at.as_ms())
        .collect()
}

fn sensor_notes(simulation: &Simulation<Full>, note: Note) -> Vec<u64> {
    let who = Who::Source(source(simulation.plan(), "wall-sensor"));
    noted(simulation.trace(), who, note)
}

fn lamp_notes(simulation: &Simulation<Full>, note: Note) -> Vec<u64> {
    let who = Who::Output(output(simulation.plan(), "desk-lights"));
    noted(simulation.trace(), who, note)
}

/// The first check value of OCC: noise without end, last motion at 0:00.
#[test]
fn two_stage_hold_ends_an_hour_and_a_quarter_after_the_last_motion() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    for second in 1..2 * 3_600 {
        simulation.apply(
            at(second * 1_000),
            of(&plan, "wall-sensor", Stimulus::Sound),
        );
    }
    simulation.run_until(at(2 * HOUR));
    assert_eq!(sensor_notes(&simulation, Note::WindowClosed)[0], HOUR);
    assert_eq!(sensor_notes(&simulation, Note::Vacant), [75 * MINUTE]);
    assert_eq!(
        lamp_notes(&simulation, Note::TurnedOff),
        [75 * MINUTE + LINK]
    );
}

/// ORD-1: sound at exactly W still counts.
#[test]
fn one_sound_at_exactly_the_end_of_the_window_holds_for_a_whole_time_delay() {
    for (last, vacant) in [(HOUR, 75 * MINUTE), (HOUR + 1, 59 * MINUTE + 15 * MINUTE)] {
        let plan = office().plan();
        let mut simulation = begin(&plan);
        simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
        for minute in (14..60).step_by(15) {
            simulation.apply(
                at(minute * MINUTE),
                of(&plan, "wall-sensor", Stimulus::Sound),
            );
        }
        simulation.apply(at(last), of(&plan, "wall-sensor", Stimulus::Sound));
        simulation.run_until(at(2 * HOUR));
        assert_eq!(sensor_notes(&simulation, Note::Vacant), [vacant]);
        assert_eq!(lamp_notes(&simulation, Note::TurnedOff), [vacant + LINK]);
    }
}

/// ORD-1: motion at exactly T still counts; ORD-3: marked *after*, it comes too late.
#[test]
fn motion_at_exactly_the_end_of_the_time_delay_counts_unless_it_is_marked_after() {
    let plan = office().plan();
    let t = 15 * MINUTE;
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    let mut late = simulation.clone();
    simulation.apply(at(t), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(t + t));
    assert_eq!(sensor_notes(&simulation, Note::Vacant), [t + t]);
    late.apply_after(at(t), of(&plan, "wall-sensor", Stimulus::Motion));
    late.run_until(at(t + t));
    assert_eq!(sensor_notes(&late, Note::Vacant), [t, t + t]);
    assert_eq!(sensor_notes(&late, Note::Occupied), [0, t]);
}

/// ORD-1: power before stimuli, whichever row is given first.
#[test]
fn a_power_cut_goes_before_motion_at_the_same_instant() {
    let plan = office().plan();
    let cut = Input::Power(Device::Source(source(&plan, "wall-sensor")), false);
    let motion = of(&plan, "wall-sensor", Stimulus::Motion);
    for rows in [[cut.clone(), motion.clone()], [motion, cut]] {
        let mut simulation = begin(&plan);
        for row in rows {
            simulation.apply(at(MINUTE), row);
        }
        simulation.run_until(at(HOUR));
        let ignored = Note::Ignored(Ignored::NoPower);
        assert_eq!(sensor_notes(&simulation, ignored), [MINUTE]);
        assert!(sensor_notes(&simulation, Note::Occupied).is_empty());
    }
}

/// ORD-1: a frame that arrives as a run-on ends still holds the output.
#[test]
fn an_arriving_frame_goes_before_a_timer_of_the_same_instant() {
    let run_on = 10 * MINUTE;
    let mut site = office();
    site.ties[0].run_on = Span::from_ms(run_on);
    let plan = site.plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    let end = 15 * MINUTE + run_on;
    simulation.apply(at(end), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(end + MINUTE));
    assert!(lamp_notes(&simulation, Note::TurnedOff).is_empty());
    let mut late = begin(&plan);
    late.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    late.apply(at(end + 1), of(&plan, "wall-sensor", Stimulus::Motion));
    late.run_until(at(end + MINUTE));
    assert_eq!(lamp_notes(&late, Note::TurnedOff), [end + LINK]);
}

/// ORD-1: within a kind by source, then output, then slot name, never by place in the file.
#[test]
fn timers_that_elapse_together_go_by_name() {
    let build = |names: [&str; 3]| {
        let mut site = Site::default();
        for name in names {
            site = site
                .source(name, SourceSettings::Occupancy(sensor()))
                .output(&format!("{name}-lamp"), lamp())
                .link(name, &format!("{name}-lamp"), Role::AutoOn(Level::FULL));
        }
        site.plan()
    };
    let mut traces = Vec::new();
    for names in [["a", "b", "c"], ["c", "a", "b"], ["b", "c", "a"]] {
        let plan = build(names);
        let mut simulation = begin(&plan);
        for name in names {
            simulation.apply(at(0), of(&plan, name, Stimulus::Motion));
        }
        simulation.run_until(at(HOUR));
        traces.push(simulation.into_trace());
    }
    assert_eq!(traces[0], traces[1]);
    assert_eq!(traces[0], traces[2]);
    let vacant: Vec<_> = (traces[0].steps.iter())
        .filter_map(|step| match step.what {
            What::Note(Who::Source(id), Note::Vacant) => Some(id.0),
            _ => None,
        })
        .collect();
    assert_eq!(vacant, [0, 1, 2]);
}

/// OUT-15: of a card's end and a tap at one instant the card has the last word, whatever the
/// names; without a captive reader, so that only the order decides.
#[test]
fn of_two_causes_at_one_instant_the_stronger_has_the_last_word() {
    for (card, unit) in [("a-card", "b-unit"), ("b-card", "a-unit")] {
        let reader = card::Settings {
            linger: Span::ZERO,
            ..card::Settings::default()
        };
        let button = switch::Settings {
            buttons: vec![switch::Button::Up],
            ..switch::Settings::default()
        };
        let plan = Site::default()
            .source(card, SourceSettings::Card(reader))
            .source(unit, SourceSettings::Switch(button))
            .output("room-lights", lamp())
            .link(card, "room-lights", Role::Card(Level::FULL))
            .button(unit, 0, "room-lights")
            .plan();
        let mut simulation = begin(&plan);
        simulation.apply(at(0), of(&plan, card, Stimulus::CardIn { valid: true }));
        simulation.apply(at(5_000), of(&plan, unit, Stimulus::Press(0)));
        simulation.apply(at(5_100), of(&plan, unit, Stimulus::Release(0)));
        simulation.apply(at(5_100), of(&plan, card, Stimulus::CardOut));
        simulation.run_until(at(6_000));
        let lights = output(&plan, "room-lights");
        assert_eq!(simulation.view(lights).state, OutputState::Off, "{card}");
    }
}

/// LINK-3: a copied *up* is one tap, not two.
#[test]
fn a_copy_of_a_frame_is_ignored() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    let button = source(&plan, "wall-button");
    let fault = LinkFault::CopyNext(2);
    simulation.impair(
        at(0),
        Impairment {
            source: button,
            listener: None,
            fault,
        },
    );
    simulation.apply(at(1_000), of(&plan, "wall-button", Stimulus::Press(0)));
    simulation.apply(at(1_200), of(&plan, "wall-button", Stimulus::Release(0)));
    simulation.run_until(at(5_000));
    assert_eq!(
        lamp_notes(&simulation, Note::TurnedOn(Level::FULL)),
        [1_200 + LINK]
    );
    assert!(lamp_notes(&simulation, Note::TurnedOff).is_empty());
    let copy = What::Dropped(ControllerId(0), button, Payload::Up(0), Drop::Old);
    assert!(
        simulation
            .trace()
            .steps
            .iter()
            .any(|step| step.what == copy)
    );
}

/// LINK-3: a late *vacant* does not undo the *occupied* that overtook it.
#[test]
fn a_frame_older_than_one_taken_is_ignored() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    let from = source(&plan, "wall-sensor");
    let t = 15 * MINUTE;
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    let fault = LinkFault::LateNext(1, Span::from_ms(500));
    simulation.impair(
        at(t - 1),
        Impairment {
            source: from,
            listener: None,
            fault,
        },
    );
    simulation.apply(at(t + 200), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(t + MINUTE));
    assert!(lamp_notes(&simulation, Note::TurnedOff).is_empty());
    let late = What::Dropped(ControllerId(0), from, Payload::Vacant, Drop::Old);
    let step = simulation
        .trace()
        .steps
        .iter()
        .find(|step| step.what == late)
        .unwrap();
    assert_eq!(step.at, at(t + LINK + 500));
}

/// LINK-5: what one controller misses, another hears.
#[test]
fn a_loss_is_a_loss_at_one_listener() {
    let plan = office()
        .output_of("hall-controller", "hall-lights", lamp())
        .link("wall-sensor", "hall-lights", Role::AutoOn(Level::FULL))
        .plan();
    let mut simulation = begin(&plan);
    let lossy = Impairment {
        source: source(&plan, "wall-sensor"),
        listener: Some(ControllerId(1)),
        fault: LinkFault::LoseNext(1),
    };
    assert_eq!(plan.controllers[1].name, "hall-controller");
    simulation.impair(at(0), lossy);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(MINUTE));
    let state = |name| simulation.view(output(&plan, name)).state;
    assert_eq!(state("desk-lights"), OutputState::On);
    assert_eq!(state("hall-lights"), OutputState::Off);
}

/// LINK-4: the default way takes 10 ms, and a listener without power hears nothing.
#[test]
fn a_controller_without_power_hears_nothing() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    simulation.apply(
        at(0),
        Input::Power(Device::Controller(ControllerId(0)), false),
    );
    simulation.apply(at(1_000), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(2_000));
    let from = source(&plan, "wall-sensor");
    let says = Payload::Occupied { bright: false };
    let unheard = What::Dropped(ControllerId(0), from, says, Drop::NoPower);
    let step = simulation
        .trace()
        .steps
        .iter()
        .find(|step| step.what == unheard)
        .unwrap();
    assert_eq!(step.at, at(1_000 + LINK));
}

fn reporting(report: u64) -> Site {
    let mut site = office();
    site.sources[0].1 = SourceSettings::Occupancy(occupancy::Settings {
        report: Some(Span::from_ms(report)),
        ..sensor()
    });
    site
}

/// OUT-11: a source that falls silent is lost after 3.2 × its report interval; a frame ends it.
#[test]
fn a_silent_sensor_is_lost_and_its_lamp_goes_off() {
    let h = 4 * MINUTE;
    let plan = reporting(h).plan();
    let sensor = source(&plan, "wall-sensor");
    let mut simulation = begin(&plan);
    simulation.apply(at(1_000), of(&plan, "wall-sensor", Stimulus::Motion));
    let battery = |on| Input::Power(Device::Source(sensor), on);
    simulation.apply(at(2_000), battery(false));
    let lost = 1_000 + LINK + h * 16 / 5;
    simulation.run_until(at(lost - 1));
    assert_eq!(simulation.faults(), []);
    assert_eq!(
        simulation.view(output(&plan, "desk-lights")).state,
        OutputState::On
    );
    simulation.run_until(at(lost));
    let fault = simulation.faults()[0];
    assert_eq!((fault.since, fault.who), (at(lost), Who::Source(sensor)));
    assert_eq!(fault.fault, Fault::Lost);
    assert_eq!(lamp_notes(&simulation, Note::TurnedOff), [lost]);
    simulation.apply(at(HOUR), battery(true));
    simulation.run_until(at(HOUR + 45_000 + LINK));
    assert_eq!(simulation.faults(), []);
}

/// OUT-11: three reports may go missing but for the last; only four intervals do not tie.
#[test]
fn two_lost_reports_are_no_lost_source_and_three_are() {
    let h = 4 * MINUTE;
    for (frames, lost) in [(2, false), (3, true)] {
        let plan = reporting(h).plan();
        let mut simulation = begin(&plan);
        let fault = LinkFault::LoseNext(frames);
        let source = source(&plan, "wall-sensor");
        simulation.impair(
            at(0),
            Impairment {
                source,
                listener: None,
                fault,
            },
        );
        simulation.run_until(at(4 * h - 1));
        assert_eq!(!simulation.faults().is_empty(), lost, "{frames} lost");
    }
}

/// OUT-11: one lost *vacant* costs at most one report interval.
#[test]
fn a_lost_vacant_is_made_good_by_the_next_report() {
    let h = 4 * MINUTE;
    let plan = reporting(h).plan();
    let mut simulation = begin(&plan);
    let t = 15 * MINUTE;
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    let from = source(&plan, "wall-sensor");
    let fault = LinkFault::LoseNext(1);
    simulation.impair(
        at(t - 1),
        Impairment {
            source: from,
            listener: None,
            fault,
        },
    );
    simulation.run_until(at(HOUR));
    let off = lamp_notes(&simulation, Note::TurnedOff);
    assert_eq!(off, [t + h + LINK]);
    assert!(off[0] < 20 * MINUTE);
}

/// OUT-21: with L = 0 a press in an empty room lights it until somebody has come and gone.
#[test]
fn without_a_press_hold_the_light_stays_until_somebody_has_come_and_gone() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-button", Stimulus::Press(0)));
    simulation.apply(at(100), of(&plan, "wall-button", Stimulus::Release(0)));
    simulation.apply(at(24 * HOUR), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(25 * HOUR));
    assert_eq!(
        lamp_notes(&simulation, Note::TurnedOn(Level::FULL)),
        [100 + LINK]
    );
    let gone = 24 * HOUR + 15 * MINUTE + LINK;
    assert_eq!(lamp_notes(&simulation, Note::TurnedOff), [gone]);
}

/// RCP-3: a button that is not linked to a receptacle neither changes nor holds it.
#[test]
fn what_is_not_linked_is_not_touched() {
    let plan = office()
        .output("desk-outlet", Output::new(Drive::Receptacle))
        .tie(Tie::new(
            "wall-sensor",
            "desk-outlet",
            Role::AutoOn(Level::FULL),
        ))
        .plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.apply(at(MINUTE), of(&plan, "wall-button", Stimulus::Press(0)));
    simulation.apply(
        at(MINUTE + 100),
        of(&plan, "wall-button", Stimulus::Release(0)),
    );
    simulation.run_until(at(2 * MINUTE));
    assert_eq!(
        simulation.view(output(&plan, "desk-lights")).state,
        OutputState::Off
    );
    assert_eq!(
        simulation.view(output(&plan, "desk-outlet")).state,
        OutputState::On
    );
}

/// Why an output is as it is: the chain of its last change leads back to the motion.
#[test]
fn the_chain_of_a_change_leads_to_the_last_motion() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.apply(at(5 * MINUTE), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(HOUR));
    let steps = &simulation.trace().steps;
    let lamp = output(&plan, "desk-lights");
    let last = steps
        .iter()
        .rfind(|step| matches!(step.what, What::Output(id, _) if id == lamp));
    let mut chain = vec![last.unwrap()];
    while let Some(cause) = chain.last().unwrap().cause {
        chain.push(&steps[cause.index()]);
    }
    let root = chain.last().unwrap();
    assert_eq!(root.at, at(5 * MINUTE));
    assert!(matches!(root.what, What::Stimulus(_, Stimulus::Motion)));
    let elapsed = chain
        .iter()
        .filter(|step| matches!(step.what, What::Elapsed(_)))
        .count();
    assert_eq!(elapsed, 1, "by way of the time delay");
}

/// What will change next: the frame on its way, then the timers that run, by moment.
#[test]
fn what_comes_next_is_known() {
    let plan = office().plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(1_000), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.run_until(at(1_000));
    let coming: Vec<u64> = simulation
        .coming()
        .iter()
        .map(|(at, _)| at.as_ms())
        .collect();
    let (dead, r) = (1_100, 1_000 + MINUTE);
    let (t, w) = (1_000 + 15 * MINUTE, 1_000 + HOUR);
    assert_eq!(coming, [1_000 + LINK, dead, r, t, w]);
    assert_eq!(simulation.next_instant(), at(1_000 + LINK));
}

/// What is said of a way at the start counts for what a device sends as the run begins, here a clock
/// that starts after hours; and without it that frame is on its way from the start.
#[test]
fn rows_at_the_start_are_for_the_first_frame_too() {
    let clock = clock::Settings {
        starts_in_hours: false,
        report: None,
        ..clock::Settings::default()
    };
    let plan = office()
        .source("clock", SourceSettings::Clock(clock))
        .link("clock", "desk-lights", Role::NoAutoOn)
        .plan();
    let jitter = Quality {
        jitter: Span::from_ms(20),
        ..Quality::default()
    };
    let heard = |faults: &[LinkFault]| -> Vec<u64> {
        let mut run: Simulation<Full> = Simulation::new(Arc::clone(&plan), 3, |_, _| jitter);
        let (listener, source) = (ControllerId(0), source(&plan, "clock"));
        run.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
        for fault in faults {
            let impairment = Impairment {
                source,
                listener: Some(listener),
                fault: *fault,
            };
            run.impair(at(0), impairment);
        }
        let frames = |run: &Simulation<Full>| {
            let coming = run.coming().into_iter();
            let of_clock = coming.filter_map(|(at, it)| match it {
                Coming::Frame(_, from, _) if from == source => Some(at.as_ms()),
                _ => None,
            });
            of_clock.collect::<Vec<u64>>()
        };
        let before = frames(&run);
        run.run_until(at(0));
        if faults.is_empty() {
            assert_eq!(before, frames(&run));
        }
        let lost = run.trace().steps.iter();
        let lost = lost.filter(|it| matches!(it.what, What::Dropped(.., Drop::Lost)));
        assert_eq!(lost.count(), usize::from(frames(&run).is_empty()));
        frames(&run)
    };
    assert!(heard(&[])[0] > LINK, "this seed has some luck");
    assert_eq!(heard(&[LinkFault::OnTime(true)]), [LINK]);
    let late = LinkFault::LateNext(1, Span::from_ms(7));
    assert_eq!(heard(&[LinkFault::OnTime(true), late]), [LINK + 7]);
    assert_eq!(heard(&[LinkFault::LoseNext(1)]), [0; 0]);
}

/// OUT-10, OUT-13: a warning that begins in an emergency is not brighter than the light was.
#[test]
fn a_warning_after_an_emergency_is_not_brighter_than_before_it() {
    let alarm = signal::Settings {
        kind: signal::Kind::FireAlarm,
        ..signal::Settings::default()
    };
    let warning = Warning::Dim {
        span: Span::from_ms(MINUTE),
        level: Level::from_percent(50),
    };
    let mut site = office()
        .source("alarm", SourceSettings::Signal(alarm))
        .link("alarm", "desk-lights", Role::Emergency);
    site.ties[0].role = Role::PartialOn(Level::from_percent(30));
    site.outputs[0].2.floor = Some(Level::from_percent(10));
    site.outputs[0].2.warning = Some(warning);
    let plan = site.plan();
    let mut simulation = begin(&plan);
    simulation.apply(at(0), of(&plan, "wall-sensor", Stimulus::Motion));
    let t = 15 * MINUTE;
    simulation.apply(at(t - 1_000), of(&plan, "alarm", Stimulus::Signal(true)));
    simulation.apply(at(t + 1_000), of(&plan, "alarm", Stimulus::Signal(false)));
    simulation.run_until(at(t + 20_000));
    let view = simulation.view(output(&plan, "desk-lights"));
    assert_eq!(view.state, OutputState::Warning);
    assert_eq!(view.target, Level::from_percent(30));
}

/// The records of the lamp as (ms, light now, light to, within).
fn records(trace: &Trace, plan: &Plan) -> Vec<(u64, u16, u16, u64)> {
    let lamp = output(plan, "desk-lights");
    (trace.steps.iter())
        .filter_map(|step| match step.what {
            What::Output(id, ref view) if id == lamp => {
                let (now, to) = (view.light.now.hundredths(), view.light.to.hundredths());
                Some((step.at.as_ms(), now, to, view.light.within.as_ms()))
            }
            _ => None,
        })
        .collect()
}

#[test]
fn an_output_is_recorded_when_it_is_not_as_its_last_record_foretells() {
    let mut site = office();
    site.outputs[0].2.fade_on = Span::from_ms(1_000);
    site.outputs[0].2.fade_off = Span::from_ms(2_000);
    let plan = site.plan();
    let mut simulation = begin(&plan);
    // Reports of the same state reach the lamp in the middle of its fades and change nothing.
    let tap = |simulation: &mut Simulation<Full>, ms| {
        simulation.apply(at(ms), of(&plan, "wall-button", Stimulus::Press(0)));
        simulation.apply(at(ms + 100), of(&plan, "wall-button", Stimulus::Release(0)));
    };
    simulation.apply(at(1_000), of(&plan, "wall-sensor", Stimulus::Motion));
    simulation.apply(at(62_000), of(&plan, "wall-sensor", Stimulus::Motion));
    tap(&mut simulation, 70_000);
    tap(&mut simulation, 71_000);
    simulation.run_until(at(80_000));
    let expected = [
        (0, 0, 0, 0),
        // On by motion: from the low trim up. Its end and the repeat at 62 000 are foretold.
        (1_010, 1_000, 10_000, 1_000),
        // Off by hand, and on again in the middle of the fade.
        (70_110, 10_000, 0, 2_000),
        (71_110, 5_000, 10_000, 1_000),
    ];
    assert_eq!(records(simulation.trace(), &plan), expected);
}
