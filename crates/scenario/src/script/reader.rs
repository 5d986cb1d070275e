//! Reads the words of one text, such as `stays on for 20 min`, from left to right.
//!
//! Invariant: every error names the bytes of the text that it is about.

use std::ops::Range;

use device::Span;

use crate::words::{self, WordError};

/// A text and how far it has been read.
#[derive(Clone, Debug)]
pub(crate) struct Reader<'t> {
    text: &'t str,
    at: usize,
}

impl<'t> Reader<'t> {
    /// Reads `text` from its beginning.
    pub(crate) fn new(text: &'t str) -> Self {
        let mut reader = Self { text, at: 0 };
        reader.skip_space();
        reader
    }

    /// The next word, without taking it; empty at the end.
    pub(crate) fn peek(&self) -> &'t str {
        let rest = &self.text[self.at..];
        let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
        &rest[..end]
    }

    /// The bytes of the next word; at the end, the point after the last.
    pub(crate) fn here(&self) -> Range<usize> {
        self.at..self.at + self.peek().len()
    }

    /// The bytes from the next word to the end of the text.
    pub(crate) fn rest_range(&self) -> Range<usize> {
        if self.is_done() {
            return self.here();
        }
        self.at..self.at + self.text[self.at..].trim_end().len()
    }

    /// Where the next word begins.
    pub(crate) fn position(&self) -> usize {
        self.at
    }

    /// Whether every word has been taken.
    pub(crate) fn is_done(&self) -> bool {
        self.peek().is_empty()
    }

    /// Takes the next word; `None` at the end.
    pub(crate) fn word(&mut self) -> Option<&'t str> {
        let word = self.peek();
        if word.is_empty() {
            return None;
        }
        self.at += word.len();
        self.skip_space();
        Some(word)
    }

    /// Takes all words of `phrase` if they come next, in any case of letters.
    pub(crate) fn take(&mut self, phrase: &str) -> bool {
        let mut ahead = self.clone();
        for expected in phrase.split(' ') {
            match ahead.word() {
                Some(word) if word.eq_ignore_ascii_case(expected) => {}
                _ => return false,
            }
        }
        *self = ahead;
        true
    }

    /// Takes the first phrase of `table` that comes next.
    pub(crate) fn one_of<T: Clone>(&mut self, table: &[(&str, T)]) -> Option<T> {
        table
            .iter()
            .find(|(phrase, _)| self.take(phrase))
            .map(|(_, value)| value.clone())
    }

    /// Takes a whole number.
    pub(crate) fn number(&mut self) -> Option<u32> {
        let number = self.peek().parse().ok()?;
        self.word();
        Some(number)
    }

    /// Takes the rest of the text, trimmed.
    pub(crate) fn rest(&mut self) -> &'t str {
        let rest = self.text[self.at..].trim_end();
        self.at = self.text.len();
        rest
    }

    /// Takes the words up to (not including) the first that is one of `stops`.
    pub(crate) fn words_before(&mut self, stops: &[&str]) -> &'t str {
        let from = self.at;
        let mut end = from;
        while !self.is_done() && !stops.contains(&self.peek()) {
            end = self.here().end;
            self.word();
        }
        &self.text[from..end]
    }

    /// Takes a quantity: numbers, each followed by its unit, as `1 h 15 min`, `50 %`, `500 lx`.
    pub(crate) fn quantity(&mut self) -> &'t str {
        let from = self.at;
        let mut end = from;
        while self
            .peek()
            .starts_with(|c: char| c.is_ascii_digit() || c == '-')
        {
            let mut ahead = self.clone();
            ahead.word();
            if ahead.take("times") || ahead.take("time") {
                break;
            }
            let whole = self.peek();
            end = self.here().end;
            self.word();
            let bare = |word: &str| word.ends_with(|c: char| c.is_ascii_digit());
            if bare(whole) && !self.is_done() && !bare(self.peek()) {
                end = self.here().end;
                self.word();
            }
        }
        &self.text[from..end]
    }

    /// Takes a span of time.
    pub(crate) fn span(&mut self) -> Result<Span, WordError> {
        let from = self.here();
        let text = self.quantity();
        if text.is_empty() {
            return Err(WordError::new(
                from,
                "a span of time is missing here",
                "write a number and a unit, such as `20 min`, `30 s` or `1 h 15 min`",
            ));
        }
        words::span(text).map_err(|error| shifted(error, from.start))
    }

    fn skip_space(&mut self) {
        let rest = &self.text[self.at..];
        self.at += rest.len() - rest.trim_start().len();
    }
}

/// The same error for a text in which the one it is about starts at `offset`.
pub(crate) fn shifted(mut error: WordError, offset: usize) -> WordError {
    error.range = error.range.start + offset..error.range.end + offset;
    error
}
