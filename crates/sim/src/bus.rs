//! The bus: frames on their way, with delay, jitter, loss and copies from one seed.
//!
//! Each source has a transmitter that numbers its frames; each pair of source and listener is a
//! way of its own with its own luck, its own faults and its own sequence rule (LINK-3, LINK-4),
//! so a loss is a loss at one listener (LINK-5).
//!
//! Invariant: jitter never lets a frame overtake an older one of the same way; only the faults
//! *late* and *reorder* do.

use device::{Payload, Receiver, Span};
use room::{ControllerId, Origin, Plan, PlanSource, SourceId};

use crate::{Instant, random::Stream};

/// Every frame on its way and every way there is.
#[derive(Clone, Debug)]
pub(crate) struct Bus<C> {
    /// The number of the next frame of each source.
    transmitters: Vec<u8>,
    /// How strong a cause each source is (OUT-15).
    ranks: Vec<u8>,
    /// Sorted by source, then listener.
    ways: Vec<Way>,
    /// The first way of each source; one more entry than there are sources.
    first: Vec<usize>,
    /// The frame that arrives first stands last.
    flying: Vec<Flight<C>>,
    /// Frames sent so far, to keep frames of one moment in the order they were sent.
    sent: u64,
    /// What is sent as the run begins, with its number, until it is known how the ways are from
    /// the start; `None` from then on.
    held: Option<Vec<(Outgoing<C>, u8)>>,
}

/// How well frames travel from one source to one listener.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Quality {
    /// From sending to arrival; 10 ms unless said.
    pub delay: Span,
    /// At most this much is added to the delay, each frame by its own luck; none unless said.
    pub jitter: Span,
    /// The share of frames that never arrive.
    pub loss: Share,
    /// The share of frames that arrive twice.
    pub copies: Share,
}

impl Default for Quality {
    fn default() -> Self {
        Self {
            delay: Span::from_ms(10),
            jitter: Span::ZERO,
            loss: Share::NONE,
            copies: Share::NONE,
        }
    }
}

impl Quality {
    /// How long one frame takes.
    fn travel(&self, luck: &mut Stream) -> Span {
        if self.jitter.is_zero() {
            return self.delay;
        }
        let extra = luck.below(self.jitter.as_ms().saturating_add(1));
        self.delay.plus(Span::from_ms(extra))
    }
}

/// A share of all frames in parts of 10 000, from none to all.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Share(u16);

impl Share {
    /// No frame.
    pub const NONE: Self = Self(0);
    /// Every frame.
    pub const ALL: Self = Self(10_000);

    /// `parts` of 10 000, held at all.
    #[must_use]
    pub const fn from_parts(parts: u16) -> Self {
        Self(if parts > 10_000 { 10_000 } else { parts })
    }

    /// The share in parts of 10 000.
    #[must_use]
    pub const fn parts(self) -> u16 {
        self.0
    }

    fn hits(self, luck: &mut Stream) -> bool {
        self != Self::NONE && luck.below(10_000) < u64::from(self.0)
    }
}

/// A fault of the ways from one source, put on or taken off while a run goes on.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Impairment {
    /// Whose frames.
    pub source: SourceId,
    /// To which listener; `None`: to each.
    pub listener: Option<ControllerId>,
    /// What goes wrong.
    pub fault: LinkFault,
}

/// What goes wrong on a way.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum LinkFault {
    /// The next so many frames are lost.
    LoseNext(u32),
    /// From now on this share is lost, by luck; [`Share::NONE`] ends it.
    Lose(Share),
    /// From now on this share arrives twice, by luck; [`Share::NONE`] ends it.
    Copy(Share),
    /// The next so many frames arrive twice.
    CopyNext(u32),
    /// The next so many frames arrive this much later, and younger ones may overtake them.
    LateNext(u32, Span),
    /// Whether from now on jitter may let frames overtake each other.
    Reorder(bool),
    /// Whether from now on frames take their delay exactly, without jitter.
    OnTime(bool),
}

/// A frame on its way to one listener.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Flight<C> {
    pub(crate) due: Instant,
    /// How strong a cause the source is.
    rank: u8,
    pub(crate) source: SourceId,
    pub(crate) listener: ControllerId,
    pub(crate) sequence: u8,
    pub(crate) payload: Payload,
    pub(crate) origin: Origin,
    pub(crate) cause: C,
    order: u64,
}

/// A frame that is given to the bus.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Outgoing<C> {
    pub(crate) now: Instant,
    pub(crate) source: SourceId,
    pub(crate) payload: Payload,
    pub(crate) origin: Origin,
    pub(crate) cause: C,
}

/// One source to one listener.
#[derive(Clone, Debug)]
struct Way {
    listener: ControllerId,
    quality: Quality,
    luck: Luck,
    faults: Faults,
    /// The latest arrival so far: no younger frame is due before it.
    latest: Instant,
    receiver: Receiver,
    /// When the listener last heard the source.
    heard: Option<Instant>,
    /// What the way was when the run began.
    fresh: (Quality, Luck),
}

/// One stream for each purpose, so that more loss never changes the jitter.
#[derive(Clone, Debug)]
struct Luck {
    jitter: Stream,
    loss: Stream,
    copies: Stream,
}

/// The faults on a way.
#[derive(Clone, Copy, Debug, Default)]
struct Faults {
    lose: u32,
    copy: u32,
    late: u32,
    lateness: Span,
    reorder: bool,
    on_time: bool,
}

impl<C: Copy> Bus<C> {
    /// The bus of a room: a way for each source and listener, as good as `quality` says.
    pub(crate) fn new(
        plan: &Plan,
        seed: u64,
        quality: impl Fn(SourceId, ControllerId) -> Quality,
    ) -> Self {
        let mut ways = Vec::new();
        let mut first = vec![0];
        for (index, source) in (0..).zip(&plan.sources) {
            let mut listeners: Vec<_> = source.listeners.iter().map(|&(id, _)| id).collect();
            listeners.sort_unstable();
            ways.extend(listeners.into_iter().map(|listener| {
                let name = &plan.controllers[usize::from(listener.0)].name;
                let luck = Luck::new(seed, &source.name, name);
                Way::new(listener, quality(SourceId(index), listener), luck)
            }));
            first.push(ways.len());
        }
        Self {
            transmitters: vec![0; plan.sources.len()],
            ranks: plan.sources.iter().map(PlanSource::rank).collect(),
            ways,
            first,
            flying: Vec::new(),
            sent: 0,
            held: Some(Vec::new()),
        }
    }

    /// Brings the bus back to the beginning of the run.
    pub(crate) fn reset(&mut self) {
        self.transmitters.fill(0);
        for way in &mut self.ways {
            let (quality, luck) = way.fresh.clone();
            *way = Way::new(way.listener, quality, luck);
        }
        self.flying.clear();
        self.sent = 0;
        self.held = Some(Vec::new());
    }

    /// Whether what was sent as the run began still waits.
    #[inline]
    pub(crate) fn holds(&self) -> bool {
        self.held.is_some()
    }

    /// Sends what was sent as the run began; `lost` hears of each frame to whom it never comes.
    pub(crate) fn release(&mut self, mut lost: impl FnMut(&Outgoing<C>, ControllerId)) {
        for (frame, sequence) in self.held.take().unwrap_or_default() {
            self.carry(&frame, sequence, |listener| lost(&frame, listener));
        }
    }

    /// When the next frame arrives.
    #[inline]
    pub(crate) fn due(&self) -> Instant {
        self.flying
            .last()
            .map_or(Instant::NEVER, |flight| flight.due)
    }

    /// The causes of all frames on their way.
    pub(crate) fn causes_mut(&mut self) -> impl Iterator<Item = &mut C> {
        let held = self.held.iter_mut().flatten();
        let flying = self.flying.iter_mut().map(|flight| &mut flight.cause);
        flying.chain(held.map(|(frame, _)| &mut frame.cause))
    }

    /// The frames on their way, the first to arrive first.
    pub(crate) fn flying(&self) -> impl Iterator<Item = &Flight<C>> {
        self.flying.iter().rev()
    }

    /// The frame that arrives first.
    #[inline]
    pub(crate) fn next(&self) -> Option<&Flight<C>> {
        self.flying.last()
    }

    /// Takes the frame that arrives first off the bus.
    #[inline]
    pub(crate) fn take(&mut self) -> Option<Flight<C>> {
        self.flying.pop()
    }

    /// The number that the next frame of `source` will carry.
    #[inline]
    pub(crate) fn next_sequence(&self, source: SourceId) -> u8 {
        self.transmitters[usize::from(source.0)]
    }

    /// Sends a frame to every listener of its source; `lost` hears to whom it never comes.
    #[inline]
    pub(crate) fn send(&mut self, frame: &Outgoing<C>, lost: impl FnMut(ControllerId)) {
        let index = usize::from(frame.source.0);
        let sequence = self.transmitters[index];
        self.transmitters[index] = sequence.wrapping_add(1);
        match &mut self.held {
            Some(held) => held.push((*frame, sequence)),
            None => self.carry(frame, sequence, lost),
        }
    }

    #[inline]
    fn carry(&mut self, frame: &Outgoing<C>, sequence: u8, mut lost: impl FnMut(ControllerId)) {
        let index = usize::from(frame.source.0);
        for at in self.first[index]..self.first[index + 1] {
            let way = &mut self.ways[at];
            let listener = way.listener;
            let Some((due, copy)) = way.carry(frame.now) else {
                lost(listener);
                continue;
            };
            for due in core::iter::once(due).chain(copy) {
                self.sent += 1;
                let flight = Flight {
                    due,
                    rank: self.ranks[index],
                    source: frame.source,
                    listener,
                    sequence,
                    payload: frame.payload,
                    origin: frame.origin,
                    cause: frame.cause,
                    order: self.sent,
                };
                let place = self
                    .flying
                    .iter()
                    .rposition(|other| flight.key() < other.key());
                self.flying
                    .insert(place.map_or(0, |place| place + 1), flight);
            }
        }
    }

    /// Whether the listener of a frame takes it, by the sequence rule.
    #[inline]
    pub(crate) fn accept(&mut self, now: Instant, flight: &Flight<C>) -> bool {
        let index = usize::from(flight.source.0);
        let ways = &mut self.ways[self.first[index]..self.first[index + 1]];
        let way = ways
            .iter_mut()
            .find(|way| way.listener == flight.listener)
            .expect("a frame flies on a way that there is");
        let silent = way.heard.is_none_or(|heard| now.since(heard) > SILENT);
        way.heard = Some(now);
        way.receiver.accept(flight.sequence, silent)
    }

    /// A listener without power forgets what it heard.
    pub(crate) fn forget(&mut self, listener: ControllerId) {
        for way in self.ways.iter_mut().filter(|way| way.listener == listener) {
            way.receiver = Receiver::default();
            way.heard = None;
        }
    }

    /// Puts a fault on the ways it names.
    pub(crate) fn impair(&mut self, impairment: &Impairment) {
        let index = usize::from(impairment.source.0);
        for way in &mut self.ways[self.first[index]..self.first[index + 1]] {
            if impairment.listener.is_none_or(|only| only == way.listener) {
                way.impair(impairment.fault);
            }
        }
    }
}

impl<C> Flight<C> {
    /// The order of arrival: by moment, then so that the strongest cause has the last word
    /// (OUT-15), source, listener, then as sent.
    fn key(&self) -> (Instant, u8, SourceId, ControllerId, u64) {
        let Self {
            due,
            rank,
            source,
            listener,
            order,
            ..
        } = self;
        (*due, *rank, *source, *listener, *order)
    }
}

impl Way {
    fn new(listener: ControllerId, quality: Quality, luck: Luck) -> Self {
        Self {
            listener,
            quality,
            luck: luck.clone(),
            faults: Faults::default(),
            latest: Instant::START,
            receiver: Receiver::default(),
            heard: None,
            fresh: (quality, luck),
        }
    }

    /// When a frame sent now arrives, and when its copy does; `None` when it is lost.
    #[inline]
    fn carry(&mut self, now: Instant) -> Option<(Instant, Option<Instant>)> {
        // Every frame draws from every stream, lost or not, so that more of one kind of bad
        // luck never changes another.
        let mut due = now.after(self.quality.travel(&mut self.luck.jitter));
        if self.faults.on_time {
            due = now.after(self.quality.delay);
        }
        let lost = self.quality.loss.hits(&mut self.luck.loss);
        let copied = self.quality.copies.hits(&mut self.luck.copies);
        if count_down(&mut self.faults.lose) || lost {
            return None;
        }
        let due = if count_down(&mut self.faults.late) {
            due.after(self.faults.lateness)
        } else {
            self.in_turn(due)
        };
        let copy = (count_down(&mut self.faults.copy) || copied).then(|| {
            let second = now.after(self.quality.travel(&mut self.luck.copies));
            let second = if self.faults.on_time { due } else { second };
            self.in_turn(due.max(second))
        });
        Some((due, copy))
    }

    /// An arrival put off until it does not overtake the ones before it.
    fn in_turn(&mut self, due: Instant) -> Instant {
        if self.faults.reorder {
            return due;
        }
        self.latest = self.latest.max(due);
        self.latest
    }

    fn impair(&mut self, fault: LinkFault) {
        match fault {
            LinkFault::LoseNext(frames) => self.faults.lose = frames,
            LinkFault::Lose(share) => self.quality.loss = share,
            LinkFault::Copy(share) => self.quality.copies = share,
            LinkFault::CopyNext(frames) => self.faults.copy = frames,
            LinkFault::LateNext(frames, span) => {
                self.faults.late = frames;
                self.faults.lateness = span;
            }
            LinkFault::Reorder(may) => self.faults.reorder = may,
            LinkFault::OnTime(always) => self.faults.on_time = always,
        }
    }
}

impl Luck {
    fn new(seed: u64, source: &str, listener: &str) -> Self {
        let stream = |purpose| Stream::between(seed, source, listener, purpose);
        Self {
            jitter: stream(0),
            loss: stream(1),
            copies: stream(2),
        }
    }
}

/// Takes one off a counter, and whether there was one to take.
fn count_down(counter: &mut u32) -> bool {
    let left = counter.checked_sub(1);
    *counter = left.unwrap_or(0);
    left.is_some()
}

/// After a silence longer than this a listener takes any sequence number (LINK-3).
const SILENT: Span = Span::from_seconds(10);

#[cfg(test)]
mod tests {
    use super::*;
    use room::{PlanController, PlanSource, SourceSettings};

    const LISTENERS: u16 = 2;

    fn bus(seed: u64, quality: Quality) -> Bus<()> {
        let listeners = (0..LISTENERS).map(|id| (ControllerId(id), 0)).collect();
        let plan = Plan {
            sources: vec![PlanSource {
                name: "wall-sensor".into(),
                settings: SourceSettings::Signal(Default::default()),
                light: Default::default(),
                buttons: Vec::new(),
                mains: true,
                listeners,
            }],
            controllers: (0..LISTENERS)
                .map(|id| PlanController {
                    name: format!("controller-{id}"),
                    settings: Default::default(),
                    heard: vec![SourceId(0)],
                    outputs: Vec::new(),
                })
                .collect(),
            ..Plan::default()
        };
        let mut bus = Bus::new(&plan, seed, |_, _| quality);
        bus.release(|_, _| {});
        bus
    }

    /// Sends a frame at each moment; the arrivals as (ms, listener, sequence), in order.
    fn arrivals(bus: &mut Bus<()>, sent: impl IntoIterator<Item = u64>) -> Vec<(u64, u16, u8)> {
        for ms in sent {
            let frame = Outgoing {
                now: Instant::from_ms(ms),
                source: SourceId(0),
                payload: Payload::Vacant,
                origin: Origin::Start,
                cause: (),
            };
            bus.send(&frame, |_| {});
        }
        core::iter::from_fn(|| bus.take())
            .map(|flight| (flight.due.as_ms(), flight.listener.0, flight.sequence))
            .collect()
    }

    fn impair(bus: &mut Bus<()>, listener: Option<u16>, fault: LinkFault) {
        bus.impair(&Impairment {
            source: SourceId(0),
            listener: listener.map(ControllerId),
            fault,
        });
    }

    /// LINK-4.
    #[test]
    fn a_frame_takes_ten_ms_to_each_listener() {
        let seen = arrivals(&mut bus(0, Quality::default()), [5]);
        assert_eq!(seen, [(15, 0, 0), (15, 1, 0)]);
    }

    /// LINK-4.
    #[test]
    fn jitter_never_lets_a_frame_overtake_an_older_one() {
        let quality = Quality {
            jitter: Span::from_ms(50),
            ..Quality::default()
        };
        for seed in 0..50 {
            let seen = arrivals(&mut bus(seed, quality), 0..200);
            for listener in 0..LISTENERS {
                let order: Vec<u8> = seen
                    .iter()
                    .filter(|&&(_, to, _)| to == listener)
                    .map(|&(.., sequence)| sequence)
                    .collect();
                assert_eq!(order, (0..200).collect::<Vec<u8>>());
            }
        }
    }

    /// LINK-4.
    #[test]
    fn jitter_reaches_both_ends_of_its_range_and_no_further() {
        let quality = Quality {
            jitter: Span::from_ms(3),
            ..Quality::default()
        };
        let seen = arrivals(&mut bus(0, quality), (0..200).map(|frame| frame * 100));
        let late = |&(ms, ..): &(u64, u16, u8)| ms % 100;
        assert_eq!(seen.iter().map(late).min(), Some(10));
        assert_eq!(seen.iter().map(late).max(), Some(13));
    }

    #[test]
    fn on_time_frames_have_no_jitter_until_the_fault_ends() {
        let quality = Quality {
            jitter: Span::from_ms(90),
            copies: Share::ALL,
            ..Quality::default()
        };
        let mut bus = bus(0, quality);
        let mut on_time = |always| {
            bus.impair(&Impairment {
                source: SourceId(0),
                listener: None,
                fault: LinkFault::OnTime(always),
            });
            arrivals(&mut bus, (0..50).map(|frame| frame * 1_000))
        };
        let delays = |seen: Vec<(u64, u16, u8)>| -> Vec<u64> {
            let mut delays: Vec<u64> = seen.iter().map(|(ms, ..)| ms % 1_000).collect();
            delays.sort_unstable();
            delays.dedup();
            delays
        };
        assert_eq!(delays(on_time(true)), [10]);
        assert!(delays(on_time(false)).len() > 1);
    }

    /// LINK-4.
    #[test]
    fn one_seed_gives_one_run_and_another_seed_another() {
        let quality = Quality {
            jitter: Span::from_ms(50),
            loss: Share::from_parts(2_000),
            copies: Share::from_parts(2_000),
            ..Quality::default()
        };
        let run = |seed| arrivals(&mut bus(seed, quality), (0..100).map(|frame| frame * 1_000));
        assert_eq!(run(7), run(7));
        assert_ne!(run(7), run(8));
    }

    /// LINK-4.
    #[test]
    fn more_loss_changes_no_other_luck() {
        let quality = Quality {
            jitter: Span::from_ms(50),
            ..Quality::default()
        };
        let all = arrivals(&mut bus(3, quality), (0..100).map(|frame| frame * 1_000));
        let lossy = Quality {
            loss: Share::from_parts(5_000),
            ..quality
        };
        let some = arrivals(&mut bus(3, lossy), (0..100).map(|frame| frame * 1_000));
        assert!((60..140).contains(&some.len()), "{}", some.len());
        assert!(some.iter().all(|arrival| all.contains(arrival)));
    }

    /// LINK-5.
    #[test]
    fn a_loss_is_a_loss_at_one_listener() {
        let mut bus = bus(0, Quality::default());
        impair(&mut bus, Some(1), LinkFault::LoseNext(2));
        let seen = arrivals(&mut bus, [0, 100, 200]);
        let both = [(10, 0, 0), (110, 0, 1), (210, 0, 2), (210, 1, 2)];
        assert_eq!(seen, both);
    }

    /// LINK-4.
    #[test]
    fn a_copied_frame_arrives_twice_with_one_number() {
        let mut bus = bus(0, Quality::default());
        impair(&mut bus, Some(0), LinkFault::CopyNext(1));
        let seen = arrivals(&mut bus, [0, 100]);
        let twice = [(10, 0, 0), (10, 0, 0), (10, 1, 0), (110, 0, 1), (110, 1, 1)];
        assert_eq!(seen, twice);
    }

    /// LINK-4.
    #[test]
    fn only_the_fault_late_is_overtaken() {
        let mut bus = bus(0, Quality::default());
        impair(
            &mut bus,
            Some(0),
            LinkFault::LateNext(1, Span::from_ms(500)),
        );
        let seen = arrivals(&mut bus, [0, 100]);
        let overtaken = [(10, 1, 0), (110, 0, 1), (110, 1, 1), (510, 0, 0)];
        assert_eq!(seen, overtaken);
    }

    /// LINK-4.
    #[test]
    fn the_fault_reorder_lets_jitter_overtake() {
        let quality = Quality {
            jitter: Span::from_ms(50),
            ..Quality::default()
        };
        let mut bus = bus(0, quality);
        impair(&mut bus, None, LinkFault::Reorder(true));
        let seen = arrivals(&mut bus, 0..100);
        assert!(!seen.is_sorted_by_key(|&(.., sequence)| sequence));
    }

    /// LINK-4.
    #[test]
    fn a_share_is_met_over_many_frames_and_ends_when_told() {
        let mut bus = bus(1, Quality::default());
        impair(&mut bus, None, LinkFault::Lose(Share::from_parts(2_500)));
        let taken = arrivals(&mut bus, (0..2_000).map(|frame| frame * 100)).len();
        assert!((2_800..3_200).contains(&taken), "{taken} of 4 000");
        impair(&mut bus, None, LinkFault::Lose(Share::NONE));
        assert_eq!(arrivals(&mut bus, [300_000]).len(), 2);
        impair(&mut bus, None, LinkFault::Lose(Share::ALL));
        assert_eq!(arrivals(&mut bus, [400_000]).len(), 0);
    }

    /// LINK-3.
    #[test]
    fn after_more_than_ten_seconds_of_silence_any_number_is_taken() {
        let flight = |sequence| Flight {
            due: Instant::START,
            rank: 0,
            source: SourceId(0),
            listener: ControllerId(0),
            sequence,
            payload: Payload::Vacant,
            origin: Origin::Start,
            cause: (),
            order: 0,
        };
        let mut bus = bus(0, Quality::default());
        let mut take = |ms, sequence| bus.accept(Instant::from_ms(ms), &flight(sequence));
        assert!(take(0, 200));
        assert!(!take(10_000, 200));
        assert!(!take(20_000, 199));
        assert!(take(30_001, 199));
        assert!(take(30_002, 200));
    }

    #[test]
    fn a_reset_bus_has_its_first_luck_again() {
        let quality = Quality {
            jitter: Span::from_ms(50),
            loss: Share::from_parts(3_000),
            ..Quality::default()
        };
        let mut bus = bus(5, quality);
        let before = arrivals(&mut bus, 0..100);
        impair(&mut bus, None, LinkFault::Lose(Share::ALL));
        bus.reset();
        bus.release(|_, _| {});
        assert_eq!(arrivals(&mut bus, 0..100), before);
    }
}
