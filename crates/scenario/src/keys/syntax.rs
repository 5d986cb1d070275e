//! TOML text to a table with places, or the first thing that is not TOML.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::{Diagnostic, FileId, Place, Sources};

/// Parses a file as TOML.
///
/// # Errors
/// The first syntax error only: a broken file gives more that mean nothing.
pub fn parse(sources: &Sources, file: FileId) -> Result<Spanned<DeTable<'_>>, Box<Diagnostic>> {
    let text = sources.file(file).text();
    let (table, mut errors) = DeTable::parse_recoverable(text);
    errors.sort_by_key(|error| error.span().map_or(usize::MAX, |span| span.start));
    let Some(error) = errors.first() else {
        return Ok(table);
    };
    let range = error.span().unwrap_or(text.len()..text.len());
    let place = Place::new(file, range);
    let at = place.start;
    let (line, _) = sources.file(file).line_column(at);
    let slip = Slip {
        line: sources.file(file).line(line).trim(),
        before: text[..at].rsplit('\n').next().unwrap_or("").trim(),
        rest: text[at..].lines().next().unwrap_or("").trim(),
        message: error.message(),
    };
    let hint = slip.hint();
    Err(Box::new(Diagnostic::error(
        "syntax",
        place,
        format!("this is not TOML: {}", error.message()),
        hint,
    )))
}

/// What a TOML value is called in messages.
pub(crate) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date without quotes",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A line that is not TOML, seen with the eyes of somebody who has never seen TOML.
struct Slip<'a> {
    line: &'a str,
    /// The line up to where it goes wrong.
    before: &'a str,
    /// The line from there on.
    rest: &'a str,
    /// What the parser says.
    message: &'a str,
}

impl Slip<'_> {
    /// What to write instead.
    fn hint(&self) -> String {
        let line = self.line;
        if line.contains(['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}']) {
            return "write straight quotes (\") instead of curly ones".to_owned();
        }
        if self.message.contains("duplicate key") {
            return self.twice();
        }
        if self.message.contains("dotted key") {
            return "a table of this name cannot follow a value of this name: remove one of the two"
                .to_owned();
        }
        if let Some(hint) = self.in_a_list().or_else(|| self.around_a_value()) {
            return hint;
        }
        if self.message.contains("invalid time") || self.message.contains("invalid date") {
            return "put it in quotes: \"08:00\"".to_owned();
        }
        if line.starts_with('[') && !line.contains(']') {
            return "close the header with a bracket: [outputs.desk-lights]".to_owned();
        }
        if line.starts_with('[') {
            return "a header is [table], [table.name] or [[list]], alone on its line".to_owned();
        }
        match line.split_once('=').map(|(_, value)| value.trim()) {
            Some(value) => self.of_value(value),
            None if !line.is_empty() => {
                "a line is key = \"value\", a [header] or a # comment".to_owned()
            }
            None => COMPARE.to_owned(),
        }
    }

    fn twice(&self) -> String {
        let list = self
            .line
            .strip_prefix('[')
            .and_then(|rest| rest.split_once(']'));
        if let Some((name, _)) = list.filter(|(name, _)| LISTS.contains(&name.trim())) {
            return format!("a list has double brackets: write [[{name}]] each time");
        }
        if self.line.starts_with('[') {
            return "a table of this name stands above: give this one another name, or put its \
                    keys there"
                .to_owned();
        }
        "this key stands here a second time: remove one of the two".to_owned()
    }

    /// Commas, brackets and bare words between the brackets of a list.
    fn in_a_list(&self) -> Option<String> {
        let rest = self.rest;
        if self.message.contains("extra comma") {
            return Some("take one comma away".to_owned());
        }
        if self.message.contains("unclosed array") {
            return Some("close the list with a bracket: ]".to_owned());
        }
        if self.message.contains("missing comma") {
            let begins_a_line = self.before.is_empty();
            let is_header = rest.starts_with('[') && !rest.contains('"');
            return Some(if rest.starts_with(';') {
                "write a comma instead of the semicolon".to_owned()
            } else if begins_a_line && (is_header || rest.contains('=')) {
                "close the list above this line with a bracket: ]".to_owned()
            } else if begins_a_line {
                "end the line before with a comma".to_owned()
            } else {
                format!("put a comma before {}", member(rest))
            });
        }
        if rest.starts_with('(') {
            return Some("lists and rows have square brackets: [\"08:00\", \u{2026}]".to_owned());
        }
        let within = self.before.contains('[') && self.before.ends_with(['[', ',']);
        let bare = within && self.message.contains("must be quoted");
        bare.then(|| format!("put it in quotes: \"{}\"", member(rest)))
    }

    /// Signs that do not belong before or after a value.
    fn around_a_value(&self) -> Option<String> {
        let rest = self.rest;
        let key = self.before.trim_end_matches('=').trim();
        if self.message.contains("expected newline") && rest.starts_with([',', ';']) {
            let sign = if rest.starts_with(',') {
                "comma"
            } else {
                "semicolon"
            };
            return Some(format!("take the {sign} away: a line ends after its value"));
        }
        let word = |text: &str| text.starts_with(|c: char| c.is_ascii_alphabetic());
        let value = rest.strip_prefix(':').unwrap_or(rest).trim();
        if word(key) && !key.contains(' ') && !self.line.contains('=') && value.starts_with('"') {
            return Some(format!("write an equals sign: {key} = {value}"));
        }
        None
    }

    /// What stands after the equals sign.
    fn of_value(&self, value: &str) -> String {
        let quotes = value.matches('"').count();
        if quotes % 2 == 1 {
            return "close the text with a second quote: \"".to_owned();
        }
        if value.is_empty() {
            return "write a value after the equals sign: key = \"value\"".to_owned();
        }
        if value.starts_with(['[', '{']) {
            return "separate the members by commas and close the list or table".to_owned();
        }
        if quotes > 0 || value.starts_with('\'') {
            return COMPARE.to_owned();
        }
        let (value, comment) = match value.split_once('#') {
            Some((value, comment)) => (value.trim_end(), format!("  #{comment}")),
            None => (value, String::new()),
        };
        let value = value.trim_end_matches(',');
        match value.to_lowercase().as_str() {
            "yes" | "on" | "true" => "write true in small letters, without quotes".to_owned(),
            "no" | "off" | "false" => "write false in small letters, without quotes".to_owned(),
            _ => format!("put the value in quotes: \"{value}\"{comment}"),
        }
    }
}

/// The first member of what is left of a list: a text with its quotes, or a bare word.
fn member(rest: &str) -> &str {
    let quoted = rest.strip_prefix('"').and_then(|inner| inner.find('"'));
    match quoted {
        Some(end) => &rest[..end + 2],
        None => rest.split([',', ']']).next().unwrap_or(rest).trim(),
    }
}

const COMPARE: &str = "compare with a line that works: key = \"value\"";

/// Tables that may stand several times.
const LISTS: &[&str] = &["links", "clauses"];

#[cfg(test)]
mod tests {
    use super::*;

    fn hint_of(text: &str) -> String {
        let mut sources = Sources::new();
        let file = sources.add("room.toml", text);
        let diagnostic = parse(&sources, file).unwrap_err();
        diagnostic.hint
    }

    #[test]
    fn slips_of_somebody_new_to_toml_have_hints_of_their_own() {
        for (text, hint) in [
            (
                "[links]\na = \"1\"\n[links]\n",
                "a list has double brackets: write [[links]] each time",
            ),
            (
                "[outputs.l]\na = \"1\"\n[outputs.l]\n",
                "a table of this name stands above: give this one another name, or put its keys \
                 there",
            ),
            (
                "name = \u{201c}x\u{201d}\n",
                "write straight quotes (\") instead of curly ones",
            ),
            (
                "time-delay = 15 min  # as built\n",
                "put the value in quotes: \"15 min\"  # as built",
            ),
        ] {
            assert_eq!(hint_of(text), hint, "{text}");
        }
    }

    #[test]
    fn a_syntax_error_is_one_and_says_what_to_do() {
        assert_eq!(
            hint_of("level = 50 %\n"),
            "put the value in quotes: \"50 %\""
        );
        assert_eq!(
            hint_of("name = \"x\ny = 1\n"),
            "close the text with a second quote: \""
        );
        assert_eq!(
            hint_of("[outputs.x\ny = 1\n"),
            "close the header with a bracket: [outputs.desk-lights]"
        );
        assert_eq!(
            hint_of("a = \"1\"\na = \"2\"\n"),
            "this key stands here a second time: remove one of the two"
        );
        assert!(hint_of("just words\n").starts_with("a line is"));
        assert_eq!(hint_of("a = [\"x\" \"y\"]\n"), "put a comma before \"y\"");
        assert!(hint_of("a =\n").starts_with("write a value"));
    }
}
