//! Each operation against the same on the set of whole vectors.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;

/// A vector: what remains on each timer of the zone, in their order.
type Vector = Vec<Ms>;

/// No span of a random zone is longer, so that its vectors can be counted.
const SPAN: Ms = 5;

/// The timers that random zones use.
const TIMERS: [Timer; 3] = [2, 5, 9];

/// Something that can be done to a zone.
#[derive(Clone, Copy, Debug)]
enum Deed {
    Start(Timer, Ms, Ms),
    Stop(Timer),
    Rename(Timer, Timer),
    AtMost(Timer, Ms),
    AtLeast(Timer, Ms),
    Exactly(Timer, Ms),
    Before(Timer, Timer, Ms),
    Pass(Ms),
}

/// All vectors of a zone.
fn vectors(zone: &Zone) -> BTreeSet<Vector> {
    let mut all = BTreeSet::from([Vec::new()]);
    for _ in zone.timers() {
        all = all
            .into_iter()
            .flat_map(|vector: Vector| {
                (0..=SPAN).map(move |ms| {
                    let mut longer = vector.clone();
                    longer.push(ms);
                    longer
                })
            })
            .collect();
    }
    let size = zone.size();
    all.retain(|vector| {
        let value = |at: usize| if at == 0 { 0 } else { vector[at - 1] };
        (0..size).all(|row| {
            (0..size).all(|column| value(row) - value(column) <= zone.bounds[row * size + column])
        })
    });
    all
}

/// The place of a timer among those of a zone.
fn place(timers: &[Timer], timer: Timer) -> Option<usize> {
    timers.iter().position(|&other| other == timer)
}

/// The same deed on vectors; the timers change too.
fn on_vectors(deed: Deed, timers: &mut Vec<Timer>, set: &BTreeSet<Vector>) -> BTreeSet<Vector> {
    let stopped = |timers: &mut Vec<Timer>, set: &BTreeSet<Vector>, timer| {
        let Some(at) = place(timers, timer) else {
            return set.clone();
        };
        timers.remove(at);
        set.iter()
            .cloned()
            .map(|mut vector| {
                vector.remove(at);
                vector
            })
            .collect()
    };
    let kept = |keep: &dyn Fn(&Vector) -> bool| set.iter().filter(|v| keep(v)).cloned().collect();
    let at = |timers: &Vec<Timer>, timer| place(timers, timer).expect("it runs");
    match deed {
        Deed::Stop(timer) => stopped(timers, set, timer),
        Deed::Start(timer, least, most) => {
            let others = stopped(timers, set, timer);
            let new = timers.iter().filter(|&&other| other < timer).count();
            timers.insert(new, timer);
            let with = |vector: &Vector, ms| {
                let mut vector = vector.clone();
                vector.insert(new, ms);
                vector
            };
            others
                .iter()
                .flat_map(|vector| (least..=most).map(move |ms| with(vector, ms)))
                .collect()
        }
        Deed::Rename(from, to) => {
            if from == to || place(timers, from).is_none() {
                return set.clone();
            }
            let without = stopped(timers, set, to);
            let old = at(timers, from);
            timers.remove(old);
            let new = timers.iter().filter(|&&other| other < to).count();
            timers.insert(new, to);
            without
                .into_iter()
                .map(|mut vector| {
                    let ms = vector.remove(old);
                    vector.insert(new, ms);
                    vector
                })
                .collect()
        }
        Deed::AtMost(timer, ms) => kept(&|vector| vector[at(timers, timer)] <= ms),
        Deed::AtLeast(timer, ms) => kept(&|vector| vector[at(timers, timer)] >= ms),
        Deed::Exactly(timer, ms) => kept(&|vector| vector[at(timers, timer)] == ms),
        Deed::Before(first, second, margin) => {
            kept(&|vector| vector[at(timers, first)] + margin <= vector[at(timers, second)])
        }
        Deed::Pass(least) => set
            .iter()
            .flat_map(|vector| {
                let most = vector.iter().copied().min().unwrap_or(least);
                (least..=most).map(move |ms| vector.iter().map(|&left| left - ms).collect())
            })
            .collect(),
    }
}

/// The deed on the zone: whether something is left.
fn on_zone(deed: Deed, zone: &mut Zone) -> bool {
    match deed {
        Deed::Start(timer, least, most) => zone.start(timer, least, most),
        Deed::Stop(timer) => zone.stop(timer),
        Deed::Rename(from, to) => zone.rename(from, to),
        Deed::AtMost(timer, ms) => return zone.at_most(timer, ms),
        Deed::AtLeast(timer, ms) => return zone.at_least(timer, ms),
        Deed::Exactly(timer, ms) => return zone.exactly(timer, ms),
        Deed::Before(first, second, margin) => return zone.before(first, second, margin),
        Deed::Pass(least) => return zone.pass(least),
    }
    true
}

/// Whether a deed may be done: refinements need running timers.
fn may(deed: Deed, zone: &Zone) -> bool {
    match deed {
        Deed::AtMost(timer, _) | Deed::AtLeast(timer, _) | Deed::Exactly(timer, _) => {
            zone.is_running(timer)
        }
        Deed::Before(first, second, _) => zone.is_running(first) && zone.is_running(second),
        _ => true,
    }
}

/// The matrix is as tight as it can be, and zero where it must be.
fn is_canonical(zone: &Zone) -> bool {
    let mut closed = zone.clone();
    closed.close();
    let size = zone.size();
    closed == *zone
        && zone.bounds.len() == size * size
        && (0..size).all(|row| zone.bounds[row * size + row] == 0)
        && (1..size).all(|row| zone.bounds[row] <= 0)
}

fn timer() -> impl Strategy<Value = Timer> {
    prop::sample::select(&TIMERS[..])
}

fn deed() -> impl Strategy<Value = Deed> {
    let span = (0..=SPAN, 0..=SPAN).prop_map(|(one, two)| (one.min(two), one.max(two)));
    prop_oneof![
        4 => (timer(), span).prop_map(|(timer, (least, most))| Deed::Start(timer, least, most)),
        1 => timer().prop_map(Deed::Stop),
        1 => (timer(), timer()).prop_map(|(from, to)| Deed::Rename(from, to)),
        1 => (timer(), -1..=SPAN + 1).prop_map(|(timer, ms)| Deed::AtMost(timer, ms)),
        1 => (timer(), -1..=SPAN + 1).prop_map(|(timer, ms)| Deed::AtLeast(timer, ms)),
        1 => (timer(), -1..=SPAN + 1).prop_map(|(timer, ms)| Deed::Exactly(timer, ms)),
        2 => (timer(), timer(), -2..=SPAN).prop_map(|(a, b, ms)| Deed::Before(a, b, ms)),
        2 => (0..=3).prop_map(Deed::Pass),
    ]
}

/// A zone after deeds that all left something.
fn zone() -> impl Strategy<Value = Zone> {
    prop::collection::vec(deed(), 0..12).prop_map(|deeds| {
        let mut zone = Zone::new();
        for deed in deeds {
            if may(deed, &zone) {
                let _ = on_zone(deed, &mut zone);
            }
        }
        zone
    })
}

/// The zone with all three timers.
fn full(mut zone: Zone) -> Zone {
    for timer in TIMERS {
        if !zone.is_running(timer) {
            zone.start(timer, 1, 3);
        }
    }
    zone
}

proptest! {
    #[test]
    fn each_deed_does_to_the_zone_what_it_does_to_every_vector(
        zone in zone(), deed in deed(),
    ) {
        let zone = if may(deed, &zone) { zone } else { full(zone) };
        let mut timers = zone.timers().to_vec();
        let expected = on_vectors(deed, &mut timers, &vectors(&zone));
        let mut after = zone.clone();
        let some = on_zone(deed, &mut after);
        prop_assert!(is_canonical(&after));
        prop_assert_eq!(some, !expected.is_empty());
        if some {
            prop_assert_eq!(after.timers(), &timers[..]);
            prop_assert_eq!(vectors(&after), expected);
        } else {
            prop_assert_eq!(after, zone);
        }
    }

    #[test]
    fn a_zone_with_other_names_holds_the_same_on_them(zone in zone(), turn in 0..TIMERS.len()) {
        // Each timer takes the name of one that stands elsewhere in the order.
        let to = |timer: Timer| {
            let at = TIMERS.iter().position(|it| *it == timer).unwrap();
            TIMERS[(at + turn) % TIMERS.len()]
        };
        let renamed = zone.renamed(to);
        prop_assert!(is_canonical(&renamed));
        let mut names: Vec<Timer> = zone.timers().iter().map(|it| to(*it)).collect();
        names.sort_unstable();
        prop_assert_eq!(renamed.timers(), &names[..]);
        for &one in zone.timers() {
            prop_assert_eq!(renamed.least(to(one)), zone.least(one));
            prop_assert_eq!(renamed.most(to(one)), zone.most(one));
            for &other in zone.timers() {
                prop_assert_eq!(renamed.gap(to(one), to(other)), zone.gap(one, other));
            }
        }
    }

    #[test]
    fn bounds_are_those_of_the_vectors(zone in zone()) {
        let all = vectors(&zone);
        let timers = zone.timers();
        for (row, &timer) in timers.iter().enumerate() {
            prop_assert_eq!(Some(zone.least(timer)), all.iter().map(|v| v[row]).min());
            prop_assert_eq!(Some(zone.most(timer)), all.iter().map(|v| v[row]).max());
            for (column, &other) in timers.iter().enumerate() {
                let most = all.iter().map(|v| v[row] - v[column]).max();
                prop_assert_eq!(Some(zone.gap(timer, other)), most);
            }
        }
    }

    #[test]
    fn a_zone_includes_another_as_its_vectors_do(one in zone(), two in zone()) {
        let (one, two) = (full(one), full(two));
        prop_assert_eq!(one.includes(&two), vectors(&one).is_superset(&vectors(&two)));
        prop_assert_eq!(one == two, vectors(&one) == vectors(&two));
        if one.includes(&two) {
            prop_assert!(one.sum() >= two.sum());
            prop_assert_eq!(one.sum() == two.sum(), one == two);
        }
    }

    #[test]
    fn a_hull_is_the_least_zone_over_both(one in zone(), two in zone(), three in zone()) {
        let (one, two, three) = (full(one), full(two), full(three));
        let mut hull = one.clone();
        let grown = hull.hull(&two);
        prop_assert_eq!(grown, hull != one);
        prop_assert!(is_canonical(&hull));
        prop_assert!(hull.includes(&one) && hull.includes(&two));
        if three.includes(&one) && three.includes(&two) {
            prop_assert!(three.includes(&hull));
        }
        // The least zone is the one whose bounds some vector of either reaches.
        for (at, &bound) in hull.bounds.iter().enumerate() {
            prop_assert_eq!(bound, max(one.bounds[at], two.bounds[at]));
        }
    }

    #[test]
    fn a_widened_zone_holds_what_it_held_on_a_grid(one in zone(), two in zone(), growths in 0_u8..20) {
        let (former, two) = (full(one), full(two));
        let mut hull = former.clone();
        hull.hull(&two);
        let mut wide = hull.clone();
        let mut counters = vec![growths; wide.bounds.len()];
        wide.widen(&former, &mut counters, |_| INFINITE);
        prop_assert!(is_canonical(&wide));
        prop_assert!(wide.includes(&hull));
        let grid = GRIDS[usize::from(growths / GROWTHS)];
        for (at, &bound) in wide.bounds.iter().enumerate() {
            prop_assert!(bound < hull.bounds[at] + grid);
            let grown = hull.bounds[at] > former.bounds[at];
            prop_assert_eq!(counters[at], growths + u8::from(grown));
            if !grown {
                prop_assert_eq!(bound, hull.bounds[at]);
            }
        }
        if grid == 1 {
            prop_assert_eq!(wide, hull);
        }
    }

    #[test]
    fn a_widened_zone_keeps_to_the_most_that_may_remain(one in zone(), two in zone()) {
        let (former, two) = (full(one), full(two));
        let mut hull = former.clone();
        hull.hull(&two);
        let tops = |timer: Timer| hull.most(timer);
        let mut wide = hull.clone();
        wide.widen(&former, &mut vec![u8::MAX; wide.bounds.len()], tops);
        prop_assert!(is_canonical(&wide));
        prop_assert!(wide.includes(&hull));
        for timer in hull.timers() {
            prop_assert_eq!(wide.most(*timer), hull.most(*timer));
        }
    }
}

#[test]
fn a_timer_without_end_never_bounds_the_others() {
    let mut zone = Zone::new();
    zone.start(1, 1_000, INFINITE);
    zone.start(2, 5_000, 5_000);
    assert_eq!(zone.most(1), INFINITE);
    assert_eq!(zone.gap(1, 2), INFINITE);
    assert_eq!(zone.gap(2, 1), 4_000);
    assert!(zone.pass(0));
    assert_eq!((zone.least(1), zone.most(1)), (0, INFINITE));
    assert_eq!((zone.least(2), zone.most(2)), (0, 5_000));
    assert!(is_canonical(&zone));
    assert!(zone.exactly(2, 0));
    assert_eq!((zone.least(1), zone.most(1)), (0, INFINITE));
    assert!(zone.at_most(1, 7));
    assert_eq!(zone.gap(1, 2), 7);
    assert!(is_canonical(&zone));
}

#[test]
fn two_timers_without_end_stay_so_when_one_is_before_the_other() {
    let mut zone = Zone::new();
    zone.start(1, 0, INFINITE);
    zone.start(2, 0, INFINITE);
    assert!(zone.before(1, 2, 5));
    assert_eq!((zone.least(1), zone.most(1)), (0, INFINITE));
    assert_eq!((zone.least(2), zone.most(2)), (5, INFINITE));
    assert_eq!((zone.gap(1, 2), zone.gap(2, 1)), (-5, INFINITE));
    assert!(is_canonical(&zone));
}

#[test]
fn without_a_timer_any_time_passes() {
    let mut zone = Zone::new();
    assert!(zone.pass(LONGEST));
    assert_eq!(zone, Zone::new());
}

#[test]
fn the_longest_spans_do_not_wrap() {
    let mut zone = Zone::new();
    zone.start(1, LONGEST, LONGEST);
    zone.start(2, 0, LONGEST);
    zone.start(3, 0, INFINITE);
    assert!(zone.before(1, 3, LONGEST));
    assert_eq!(zone.least(3), INFINITE);
    assert!(zone.pass(1));
    assert_eq!(zone.most(1), LONGEST - 1);
    assert!(is_canonical(&zone));
    // Bounds that no longer fit are weaker than they might be.
    for timer in 3..10 {
        zone.start(timer + 1, 0, INFINITE);
        assert!(zone.before(timer, timer + 1, LONGEST));
    }
    assert_eq!((zone.least(10), zone.most(10)), (INFINITE, INFINITE));
}

#[test]
fn a_span_beyond_the_longest_is_an_error() {
    assert_eq!(span_ms(Span::from_ms(1 << 29)), Ok(LONGEST));
    assert_eq!(
        span_ms(Span::from_ms((1 << 29) + 1)),
        Err(TooLong((1 << 29) + 1))
    );
    assert_eq!(span_ms(Span::from_ms(u64::MAX)), Err(TooLong(u64::MAX)));
}

#[test]
#[should_panic(expected = "a timer starts with at most")]
fn a_timer_with_a_span_beyond_the_longest_does_not_start() {
    Zone::new().start(1, 0, LONGEST + 1);
}
