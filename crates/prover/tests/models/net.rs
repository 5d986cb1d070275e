//! Time Petri nets as a system of the class engine: classes before time elapses, one firing of a
//! transition at a time, and a transition that the consumption of tokens disables starts anew
//! (Merlin and Farber 1976; Berthomieu and Diaz 1991).

use prover::classes::{Successor, System};
use prover::zone::{INFINITE, Ms, Timer, Zone};

/// A net. Places and transitions are numbered in the order in which they are written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Net {
    places: Vec<String>,
    initial: Vec<u8>,
    transitions: Vec<Transition>,
    /// Pairs of places that must never be marked together.
    never: Vec<(usize, usize)>,
    /// Whether classes are stored after time has passed in them.
    elapses: bool,
}

#[derive(Clone, Debug)]
struct Transition {
    least: Ms,
    most: Ms,
    takes: Vec<u8>,
    gives: Vec<u8>,
}

/// More tokens came to a place than can be counted.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct TooManyTokens;

impl Net {
    /// A net with these tokens at first: names with `*` and a number, between blanks.
    pub(crate) fn new(initial: &str) -> Self {
        let mut net = Self::default();
        net.initial = net.tokens(initial);
        net
    }

    /// Adds a transition; without a `most` it may wait for ever.
    pub(crate) fn transition(
        &mut self,
        least: Ms,
        most: Option<Ms>,
        takes: &str,
        gives: &str,
    ) -> &mut Self {
        let takes = self.tokens(takes);
        let gives = self.tokens(gives);
        self.transitions.push(Transition {
            least,
            most: most.unwrap_or(INFINITE),
            takes,
            gives,
        });
        self
    }

    /// Says that two places must never be marked together.
    pub(crate) fn never(&mut self, one: &str, two: &str) {
        let pair = (self.place(one), self.place(two));
        self.never.push(pair);
    }

    /// The same net with classes as they are after any time has passed.
    pub(crate) fn elapsed(&self) -> Self {
        Self {
            elapses: true,
            ..self.clone()
        }
    }

    /// The place of a name, which is made when there is none.
    fn place(&mut self, name: &str) -> usize {
        let found = self.places.iter().position(|place| place == name);
        found.unwrap_or_else(|| {
            self.places.push(name.to_owned());
            self.places.len() - 1
        })
    }

    /// The number of tokens for each place, as far as the text reaches.
    fn tokens(&mut self, text: &str) -> Vec<u8> {
        let mut tokens = Vec::new();
        for word in text.split_whitespace() {
            let (name, count) = word.split_once('*').unwrap_or((word, "1"));
            let count: u8 = count.parse().expect("a number of tokens");
            let place = self.place(name);
            tokens.resize(tokens.len().max(place + 1), 0);
            tokens[place] += count;
        }
        tokens
    }

    /// What is left when the tokens are taken, if there are enough.
    fn take(marking: &[u8], takes: &[u8]) -> Option<Vec<u8>> {
        let need = |place: usize| takes.get(place).copied().unwrap_or(0);
        (0..marking.len())
            .map(|place| marking[place].checked_sub(need(place)))
            .collect()
    }

    /// The transitions that the marking enables.
    fn enabled(&self, marking: &[u8]) -> impl Iterator<Item = (Timer, &Transition)> {
        (0..)
            .zip(&self.transitions)
            .filter(|(_, transition)| Self::take(marking, &transition.takes).is_some())
    }

    /// Whether the marking must never be.
    fn is_bad(&self, marking: &[u8]) -> bool {
        let mut never = self.never.iter();
        never.any(|&(one, two)| marking[one] > 0 && marking[two] > 0)
    }

    /// A class with the timers of this zone.
    fn class(&self, marking: Vec<u8>, mut zone: Zone) -> Successor<Vec<u8>> {
        assert!(!self.elapses || zone.pass(0), "no time at all can pass");
        Successor {
            is_bad: self.is_bad(&marking),
            state: marking,
            zone,
            cost: 1,
        }
    }

    /// The class after a transition fires first, if it can be first.
    fn fire(
        &self,
        timer: Timer,
        fired: &Transition,
        marking: &[u8],
        zone: &Zone,
    ) -> Result<Option<Successor<Vec<u8>>>, TooManyTokens> {
        let mut zone = zone.clone();
        if !(zone.pass(0) && zone.exactly(timer, 0)) {
            return Ok(None);
        }
        let left = Self::take(marking, &fired.takes).expect("what fires is enabled");
        let mut after = left.clone();
        for (place, &tokens) in fired.gives.iter().enumerate() {
            let sum = after[place].checked_add(tokens);
            after[place] = sum.ok_or(TooManyTokens)?;
        }
        let kept: Vec<Timer> = self.enabled(&left).map(|(timer, _)| timer).collect();
        for &other in &zone.timers().to_vec() {
            if other == timer || !kept.contains(&other) {
                zone.stop(other);
            }
        }
        for (other, transition) in self.enabled(&after) {
            if !zone.is_running(other) {
                zone.start(other, transition.least, transition.most);
            }
        }
        Ok(Some(self.class(after, zone)))
    }
}

impl System for Net {
    type State = Vec<u8>;
    type Error = TooManyTokens;

    fn start(&self, visit: &mut impl FnMut(Successor<Vec<u8>>)) -> Result<(), TooManyTokens> {
        let mut marking = self.initial.clone();
        marking.resize(self.places.len(), 0);
        let mut zone = Zone::new();
        for (timer, transition) in self.enabled(&marking) {
            zone.start(timer, transition.least, transition.most);
        }
        visit(self.class(marking, zone));
        Ok(())
    }

    fn successors(
        &self,
        marking: &Vec<u8>,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<Vec<u8>>),
    ) -> Result<(), TooManyTokens> {
        for (timer, transition) in self.enabled(marking) {
            if let Some(successor) = self.fire(timer, transition, marking, zone)? {
                visit(successor);
            }
        }
        Ok(())
    }

    fn size(&self, marking: &Vec<u8>) -> usize {
        size_of::<Vec<u8>>() + marking.capacity()
    }
}
