//! What devices say on the bus, and the sequence rule by which a listener takes it.

use crate::{Illuminance, Points};

/// One frame as a listener receives it. The source stands in its envelope.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Frame {
    /// 8-bit sequence number, one higher for each frame of a source (LINK-3).
    pub sequence: u8,
    /// What the frame says.
    pub payload: Payload,
}

/// What a frame says.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Payload {
    /// The occupancy sensor believes that somebody is there. `bright`: the ambient light is
    /// above the hold-off (OCC-9).
    Occupied {
        /// Ambient light was above the sensor's hold-off.
        bright: bool,
    },
    /// The occupancy sensor believes that nobody is there.
    Vacant,
    /// The occupancy sensor has just warmed up and does not know yet (OCC-10).
    Unknown,
    /// Button number `0` of the unit went down.
    Down(u8),
    /// Button number `0` of the unit came up.
    Up(u8),
    /// The key card is in (CARD-1).
    CardIn,
    /// The key card is out and its linger has ended (CARD-4).
    CardOut,
    /// The key-card reader saw a card that does not belong to this room (CARD-7).
    WrongCard,
    /// What the daylight sensor sees.
    Illuminance(Illuminance),
    /// The time clock: opening hours have begun, or its state report says in hours.
    InHours,
    /// The time clock: opening hours have ended.
    AfterHours,
    /// The time clock: an off sweep begins (CLK-2).
    Sweep,
    /// The time clock has lost the time and counts as in hours (CLK-4).
    TimeLost,
    /// A two-state signal source changed or repeated its state.
    Signal(Signal, bool),
    /// Demand response asks for a shed of this many points; `None` asks for the output's own.
    Shed(Option<Points>),
    /// Demand response has ended.
    ShedEnd,
    /// The teach-in frame of a source (LINK-1).
    TeachIn,
}

impl Payload {
    /// Whether it says how its source stands, which a report of the source says again.
    #[must_use]
    pub const fn is_state(self) -> bool {
        !matches!(
            self,
            Self::Down(_) | Self::Up(_) | Self::WrongCard | Self::Sweep | Self::TeachIn
        )
    }
}

/// The kinds of two-state signal.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Signal {
    /// `true` while normal power is present.
    NormalPower,
    /// `true` while the fire alarm sounds.
    FireAlarm,
}

/// What a listener keeps of one source in order to drop copies and older frames (LINK-3).
///
/// The 8-bit rule is exactly "a copy or an older frame is ignored" as long as a frame that
/// arrives is at most 127 ahead of the last one taken and at most 128 behind it.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub struct Receiver {
    last: Option<u8>,
}

impl Receiver {
    /// Whether the frame numbered `sequence` is taken: it is when it is 1–127 ahead of the last
    /// one taken (modulo 256), or when the source was `silent` for more than 10 s.
    #[must_use]
    pub fn accept(&mut self, sequence: u8, silent: bool) -> bool {
        let fresh = match self.last {
            Some(last) if !silent => (1..=127).contains(&sequence.wrapping_sub(last)),
            _ => true,
        };
        if fresh {
            self.last = Some(sequence);
        }
        fresh
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use alloc::vec::Vec;
    use proptest::prelude::*;

    /// What the 8-bit rule stands for: every frame has a number of its own, and a copy or an
    /// older frame is ignored.
    #[derive(Default)]
    struct Unbounded {
        last: Option<u64>,
    }

    impl Unbounded {
        fn accept(&mut self, number: u64) -> bool {
            let fresh = self.last.is_none_or(|last| number > last);
            if fresh {
                self.last = Some(number);
            }
            fresh
        }
    }

    /// The number as the frame carries it.
    fn carried(number: u64) -> u8 {
        number.to_le_bytes()[0]
    }

    /// The whole proof for one frame: from every frame that may have been taken last, every
    /// frame that is up to 127 ahead of it or up to 128 behind is judged alike by both rules.
    #[test]
    fn link_3_the_8_bit_rule_is_a_copy_or_an_older_frame_is_ignored() {
        for last in 1_000..1_256_u64 {
            for number in last - 128..=last + 127 {
                let (mut receiver, mut oracle) = (Receiver::default(), Unbounded::default());
                assert!(receiver.accept(carried(last), false) && oracle.accept(last));
                assert_eq!(
                    receiver.accept(carried(number), false),
                    oracle.accept(number),
                    "frame {number} after frame {last}"
                );
                // Both remember the same frame, so the next one meets the same situation.
                let remembered = oracle.last.map(carried);
                assert_eq!(receiver.last, remembered);
            }
        }
    }

    #[test]
    fn link_3_a_frame_128_ahead_is_where_the_8_bit_rule_ends() {
        let (mut receiver, mut oracle) = (Receiver::default(), Unbounded::default());
        assert!(receiver.accept(0, false) && oracle.accept(0));
        assert!(!receiver.accept(128, false) && oracle.accept(128));
    }

    #[test]
    fn link_3_the_first_frame_of_a_source_is_taken_whatever_its_number() {
        for sequence in 0..=u8::MAX {
            assert!(Receiver::default().accept(sequence, false));
        }
    }

    #[test]
    fn link_3_after_a_silence_every_frame_is_taken_and_counts_from_there() {
        for sequence in 0..=u8::MAX {
            let mut receiver = Receiver::default();
            assert!(receiver.accept(77, false));
            assert!(receiver.accept(sequence, true));
            assert!(!receiver.accept(sequence, false), "a copy of it is ignored");
            assert!(receiver.accept(sequence.wrapping_add(1), false));
        }
    }

    #[test]
    fn link_3_an_ignored_frame_leaves_no_trace() {
        let mut receiver = Receiver::default();
        assert!(receiver.accept(10, false));
        let before = receiver;
        assert!(!receiver.accept(10, false) && !receiver.accept(9, false));
        assert_eq!(receiver, before);
    }

    /// What a network may do with the frames of one source: those outstanding arrive in any
    /// order, twice, or never.
    #[derive(Clone, Debug)]
    enum Does {
        /// The source sends this many frames.
        Send(u64),
        /// An outstanding frame arrives (by its place among them) and may arrive again.
        Deliver(u64),
    }

    proptest! {
        /// Bursts of up to 127 frames outstanding, shuffled, copied and lost at will: the two
        /// rules take the same frames, for runs of thousands of frames.
        #[test]
        fn link_3_both_rules_agree_on_any_burst_of_up_to_127_frames(
            steps in proptest::collection::vec(
                prop_oneof![
                    (1..127_u64).prop_map(Does::Send),
                    (1..4_u64).prop_map(Does::Send),
                    any::<u64>().prop_map(Does::Deliver),
                    any::<u64>().prop_map(Does::Deliver),
                ],
                1..400,
            ),
        ) {
            let (mut receiver, mut oracle) = (Receiver::default(), Unbounded::default());
            let mut next = 0_u64;
            let mut taken = Vec::new();
            for step in steps {
                // Outstanding is what may still arrive: the 127 frames after the last taken,
                // of those sent, and what is no older than 127 before the next.
                match step {
                    Does::Send(frames) => {
                        let room = oracle.last.map_or(127, |last| last + 128) - next;
                        next += frames.min(room);
                    }
                    Does::Deliver(place) => {
                        let oldest = next.saturating_sub(127);
                        if oldest == next {
                            continue;
                        }
                        let number = oldest + place % (next - oldest);
                        let fresh = oracle.accept(number);
                        prop_assert_eq!(receiver.accept(carried(number), false), fresh);
                        if fresh {
                            taken.push(number);
                        }
                    }
                }
            }
            prop_assert!(taken.is_sorted_by(|before, after| before < after));
        }
    }
}
