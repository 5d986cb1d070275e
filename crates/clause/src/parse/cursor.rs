//! A place in the text of one key, and the small things read there: words, numbers, spans,
//! levels.
//!
//! Invariant: every error points into the text of the key that is being read.

use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;
use core::ops::Range;

use device::{Illuminance, Level, Span};

use crate::names::Named;
use crate::{ClauseError, Names};

/// A place in the text of one key.
#[derive(Clone, Debug)]
pub(crate) struct Cursor<'a> {
    key: &'a str,
    text: &'a str,
    words: Vec<Range<usize>>,
    at: usize,
    depth: usize,
    /// The names that the text may use.
    pub(crate) names: &'a Names,
}

impl<'a> Cursor<'a> {
    /// The beginning of `text`, which stands under `key`.
    pub(crate) fn new(key: &'a str, text: &'a str, names: &'a Names) -> Self {
        Self {
            key,
            text,
            words: words(text),
            at: 0,
            depth: 0,
            names,
        }
    }

    /// The word `ahead` words further on; empty at the end.
    pub(crate) fn peek(&self, ahead: usize) -> &'a str {
        match self.words.get(self.at + ahead) {
            Some(range) => &self.text[range.clone()],
            None => "",
        }
    }

    /// The next `count` words with single spaces between them.
    pub(crate) fn ahead(&self, count: usize) -> String {
        let words: Vec<&str> = (0..count).map(|ahead| self.peek(ahead)).collect();
        words.join(" ")
    }

    /// The place, for [`Self::back_to`] and [`Self::since`].
    pub(crate) fn place(&self) -> usize {
        self.at
    }

    /// Goes back to an earlier place.
    pub(crate) fn back_to(&mut self, place: usize) {
        self.at = place;
    }

    /// Whether everything has been read.
    pub(crate) fn is_at_end(&self) -> bool {
        self.at >= self.words.len()
    }

    /// Whether the word just read is `word`.
    pub(crate) fn has_just_read(&self, word: &str) -> bool {
        let last = self.at.checked_sub(1).and_then(|at| self.words.get(at));
        last.is_some_and(|range| &self.text[range.clone()] == word)
    }

    /// Whether these words come next.
    pub(crate) fn sees(&self, words: &str) -> bool {
        let mut words = words.split(' ').enumerate();
        words.all(|(ahead, word)| self.peek(ahead) == word)
    }

    /// Reads these words, when they come next.
    pub(crate) fn take(&mut self, words: &str) -> bool {
        let sees = self.sees(words);
        if sees {
            self.at += words.split(' ').count();
        }
        sees
    }

    /// Reads one of `choices`, each with its synonyms; gives its place among them.
    pub(crate) fn take_one(&mut self, choices: &[&[&str]]) -> Option<usize> {
        choices
            .iter()
            .position(|synonyms| synonyms.iter().any(|words| self.take(words)))
    }

    /// Reads these words, or fails with what was expected.
    pub(crate) fn expect(&mut self, words: &str, hint: &str) -> Result<(), ClauseError> {
        if self.take(words) {
            Ok(())
        } else {
            Err(self.fail_here(&format!("expected `{words}`"), hint))
        }
    }

    /// The length of the whole text in bytes.
    pub(crate) fn text_len(&self) -> usize {
        self.text.len()
    }

    /// Checks that nothing follows.
    pub(crate) fn finish(&self, hint: &str) -> Result<(), ClauseError> {
        if self.is_at_end() {
            return Ok(());
        }
        let start = self.words[self.at].start;
        let message = format!("`{}` does not fit here", self.peek(0));
        Err(self.fail(start..self.text.trim_end().len(), &message, hint))
    }

    /// Reads the longest name that comes next, with or without `the` in front.
    pub(crate) fn take_name(&mut self) -> Option<Named> {
        let before = self.at;
        let _article = self.take("the");
        let mut longest = None;
        let mut joined = String::new();
        for ahead in 0..NAME_WORDS {
            let word = self.peek(ahead);
            if matches!(word, "" | "(" | ")" | ",") {
                break;
            }
            if ahead > 0 {
                joined.push(' ');
            }
            joined.push_str(word);
            if let Some(named) = self.names.resolve(&joined) {
                longest = Some((named, ahead + 1));
            }
        }
        if let Some((named, count)) = longest {
            self.at += count;
            Some(named)
        } else {
            self.at = before;
            None
        }
    }

    /// Reads a span: `15 min`, `1 h 30 min`, `0.5 s`.
    pub(crate) fn take_span(&mut self) -> Result<Span, ClauseError> {
        let start = self.at;
        if matches!(self.peek(0), "exactly" | "every" | "precisely") {
            return Err(self.fail_here(EXACTLY, EXACTLY_HINT));
        }
        let mut total: Option<Span> = None;
        while let Some((thousandths, unit, count)) = self.quantity() {
            let Some((_, unit_ms)) = UNITS.iter().find(|(names, _)| names.contains(&unit)) else {
                break;
            };
            self.at += count;
            let product = thousandths * u128::from(*unit_ms);
            if !product.is_multiple_of(1_000) {
                let message = "a span is whole milliseconds";
                return Err(self.fail(self.since(start), message, SPAN_HINT));
            }
            let ms = u64::try_from(product / 1_000).unwrap_or(u64::MAX);
            total = Some(total.unwrap_or(Span::ZERO).plus(Span::from_ms(ms)));
        }
        let Some(total) = total else {
            return Err(self.fail_here("expected a span of time", SPAN_HINT));
        };
        if total.is_zero() {
            return Err(self.fail(self.since(start), "the span is empty", SPAN_HINT));
        }
        if total > LONGEST {
            let message = "the span is longer than 1000 days";
            return Err(self.fail(self.since(start), message, SPAN_HINT));
        }
        Ok(total)
    }

    /// Reads a level: `50 %`.
    pub(crate) fn take_level(&mut self) -> Result<Level, ClauseError> {
        let start = self.at;
        let Some((thousandths, "%", count)) = self.quantity() else {
            return Err(self.fail_here("expected a level", LEVEL_HINT));
        };
        self.at += count;
        if thousandths > 100_000 || !thousandths.is_multiple_of(10) {
            let message = "a level is 0 % to 100 % in steps of 0.01 %";
            return Err(self.fail(self.since(start), message, LEVEL_HINT));
        }
        let hundredths = u16::try_from(thousandths / 10).unwrap_or(u16::MAX);
        Ok(Level::from_hundredths(hundredths))
    }

    /// Reads an illuminance: `300 lx`.
    pub(crate) fn take_illuminance(&mut self) -> Result<Illuminance, ClauseError> {
        let start = self.at;
        let Some((thousandths, "lx", count)) = self.quantity() else {
            return Err(self.fail_here("expected an illuminance", "write it like `300 lx`"));
        };
        self.at += count;
        let hundredths = u32::try_from(thousandths / 10);
        match hundredths {
            Ok(hundredths) if thousandths.is_multiple_of(10) => {
                Ok(Illuminance::from_hundredths(hundredths))
            }
            _ => {
                let message = "an illuminance is up to 40 000 000 lx in steps of 0.01 lx";
                Err(self.fail(self.since(start), message, "write it like `300 lx`"))
            }
        }
    }

    /// Reads a whole number.
    pub(crate) fn take_count(&mut self) -> Option<u64> {
        let word = self.peek(0);
        if !word.starts_with(|letter: char| letter.is_ascii_digit()) {
            return None;
        }
        let count = word.parse().ok()?;
        self.at += 1;
        Some(count)
    }

    /// Goes one level deeper into a nested text, or fails when it is too deep.
    pub(crate) fn descend(&mut self) -> Result<(), ClauseError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(self.fail_here(
                "this is nested too deeply",
                "split the clause into several clauses",
            ));
        }
        Ok(())
    }

    /// Comes back from a nested text.
    pub(crate) fn ascend(&mut self) {
        self.depth -= 1;
    }

    /// The bytes of the words read since `place`; of the word there when none was.
    pub(crate) fn since(&self, place: usize) -> Range<usize> {
        let last = self.at.saturating_sub(1).max(place);
        match (self.words.get(place), self.words.get(last)) {
            (Some(first), Some(last)) => first.start..last.end,
            _ => self.text.len()..self.text.len(),
        }
    }

    /// The bytes of the next word; the end of the text when there is none.
    pub(crate) fn here(&self) -> Range<usize> {
        let end = self.text.trim_end().len();
        self.words.get(self.at).cloned().unwrap_or(end..end)
    }

    /// An error about `span`.
    pub(crate) fn fail(&self, span: Range<usize>, message: &str, hint: &str) -> ClauseError {
        ClauseError {
            key: self.key.to_string(),
            span,
            message: message.to_string(),
            hint: hint.to_string(),
        }
    }

    /// An error about the next word: what stands there does not fit `message`.
    pub(crate) fn fail_here(&self, message: &str, hint: &str) -> ClauseError {
        let own = message.starts_with("expected") && !self.is_at_end();
        let found = format!("{message}, not `{}`", self.peek(0));
        self.fail(self.here(), if own { &found } else { message }, hint)
    }

    /// The number and the unit that come next, without reading them: the number in
    /// thousandths, the unit, and how many words they are.
    fn quantity(&self) -> Option<(u128, &'a str, usize)> {
        let word = self.peek(0);
        let digits = word.find(|letter: char| !letter.is_ascii_digit() && letter != '.');
        match digits {
            Some(split) => thousandths(&word[..split]).map(|number| (number, &word[split..], 1)),
            None => thousandths(word).map(|number| (number, self.peek(1), 2)),
        }
    }
}

/// The words of a text: brackets and commas stand alone, everything else ends at white space.
fn words(text: &str) -> Vec<Range<usize>> {
    let mut words = Vec::new();
    let mut start = None;
    for (place, letter) in text.char_indices() {
        let alone = matches!(letter, '(' | ')' | ',');
        if alone || letter.is_whitespace() {
            words.extend(start.take().map(|start| start..place));
            if alone {
                words.push(place..place + 1);
            }
        } else {
            start = start.or(Some(place));
        }
    }
    words.extend(start.map(|start| start..text.len()));
    words
}

/// A decimal number in thousandths; `None` when it is none or has more than three decimals.
fn thousandths(text: &str) -> Option<u128> {
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    if part.is_empty() || part.len() > 3 || whole.len() > 15 {
        return None;
    }
    let scale = 10_u128.pow(3 - u32::try_from(part.len()).ok()?);
    let (whole, part): (u128, u128) = (whole.parse().ok()?, part.parse().ok()?);
    Some(whole * 1_000 + part * scale)
}

/// The units of a span, with their milliseconds.
const UNITS: [(&[&str], u64); 5] = [
    (&["ms"], 1),
    (&["s", "sec", "second", "seconds"], 1_000),
    (&["min", "minute", "minutes"], 60_000),
    (&["h", "hour", "hours"], 3_600_000),
    (&["d", "day", "days"], 86_400_000),
];

/// A name of a button can have this many words, its unit's included.
const NAME_WORDS: usize = 8;

/// How deeply brackets and `not` may be nested.
const DEEPEST: usize = 24;

/// The longest span that a clause may name.
const LONGEST: Span = Span::from_hours(24_000);

pub(crate) const SPAN_HINT: &str = "write it like `15 min`, `1 h 30 min`, `30 s` or `0.5 s`";

const LEVEL_HINT: &str = "write it like `50 %`";

pub(crate) const EXACTLY: &str =
    "a monitor with one timer cannot wait for an exact moment after every trigger";

pub(crate) const EXACTLY_HINT: &str = "ask for the two sides in two clauses: `for` says how long it \
     stays so at least, `within` says by when it must be so at the latest";
