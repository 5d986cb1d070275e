//! The one random number generator: splitmix64.
//!
//! Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, in
//! the constants of Vigna's public-domain `splitmix64.c` (both from memory). Kept here, not
//! taken from a library, so that a seed means the same bytes for ever.
//!
//! Invariant: a stream depends on nothing but the seed and the names it was made from, so
//! adding a device never changes the luck of another.

/// A stream of random numbers.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Stream(u64);

impl Stream {
    /// The stream of a bare seed.
    #[must_use]
    pub const fn from_seed(seed: u64) -> Self {
        Self(seed)
    }

    /// The stream of a purpose between two names, apart from every other for the same seed.
    #[must_use]
    pub fn between(seed: u64, source: &str, listener: &str, purpose: u8) -> Self {
        let mut hash = FNV_OFFSET;
        let names = [
            source.as_bytes(),
            &[0xFF],
            listener.as_bytes(),
            &[0xFF, purpose],
        ];
        for byte in names.into_iter().flatten() {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(FNV_PRIME);
        }
        // One step of the generator spreads neighbouring seeds before the names come in.
        Self(Self(seed).draw() ^ hash)
    }

    /// The next 64 bits.
    pub fn draw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A number below `end`, by multiplication (its bias is below `end` in 2^64); zero for zero.
    pub fn below(&mut self, end: u64) -> u64 {
        let product = u128::from(self.draw()) * u128::from(end);
        u64::try_from(product >> 64).expect("the upper half of a product of two words is one word")
    }
}

/// FNV-1a, 64 bits (draft-eastlake-fnv, from memory).
const FNV_OFFSET: u64 = 0xCBF2_9CE4_8422_2325;
const FNV_PRIME: u64 = 0x0000_0100_0000_01B3;

#[cfg(test)]
mod tests {
    use super::*;

    /// The first five numbers of seed 1234567 as published beside `splitmix64.c` ports.
    #[test]
    fn known_answers_of_splitmix64() {
        let mut stream = Stream::from_seed(1_234_567);
        let drawn = [(); 5].map(|()| stream.draw());
        let published = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(drawn, published);
    }

    #[test]
    fn seed_zero_starts_as_published() {
        assert_eq!(Stream::from_seed(0).draw(), 0xE220_A839_7B1D_CDAF);
    }

    #[test]
    fn streams_of_other_names_purposes_and_seeds_differ() {
        let first = |seed, source, listener, purpose| {
            Stream::between(seed, source, listener, purpose).draw()
        };
        let base = first(0, "ab", "c", 0);
        assert_eq!(base, first(0, "ab", "c", 0));
        for other in [
            first(1, "ab", "c", 0),
            first(0, "a", "bc", 0),
            first(0, "ab", "c", 1),
            first(0, "c", "ab", 0),
        ] {
            assert_ne!(base, other);
        }
    }

    #[test]
    fn numbers_below_an_end_fill_the_whole_range() {
        let mut stream = Stream::from_seed(0);
        let mut seen = [0_u32; 5];
        for _ in 0..5_000 {
            seen[usize::try_from(stream.below(5)).unwrap()] += 1;
        }
        assert!(
            seen.iter().all(|&count| (900..1_100).contains(&count)),
            "{seen:?}"
        );
        assert_eq!(stream.below(0), 0);
        assert_eq!(stream.below(1), 0);
    }
}
