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
    let (line, _) = sources.file(file).line_column(place.start);
    let hint = hint(sources.file(file).line(line), error.message());
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

/// What most likely went wrong on a line, for somebody who has never seen TOML.
fn hint(line: &str, message: &str) -> String {
    let line = line.trim();
    if line.contains(['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}']) {
        return "write straight quotes (\") instead of curly ones".to_owned();
    }
    let value = line.split_once('=').map(|(_, value)| value.trim());
    let quotes = |text: &str| text.matches('"').count();
    if message.contains("duplicate key") {
        let list = line.strip_prefix('[').and_then(|rest| rest.split_once(']'));
        if let Some((name, _)) = list.filter(|(name, _)| LISTS.contains(&name.trim())) {
            return format!("a list has double brackets: write [[{name}]] each time");
        }
        if line.starts_with('[') {
            return "a table of this name stands above: give this one another name, or put its \
                    keys there"
                .to_owned();
        }
        return "this key stands here a second time: remove one of the two".to_owned();
    }
    if message.contains("missing comma") && line.starts_with('[') {
        return "end the line before with a comma".to_owned();
    }
    if message.contains("dotted key") {
        return "a table of this name cannot follow a value of this name: remove one of the two"
            .to_owned();
    }
    if line.starts_with('[') && !line.contains(']') {
        return "close the header with a bracket: [outputs.desk-lights]".to_owned();
    }
    if line.starts_with('[') {
        return "a header is [table], [table.name] or [[list]], alone on its line".to_owned();
    }
    match value {
        Some(value) if quotes(value) % 2 == 1 => {
            "close the text with a second quote: \"".to_owned()
        }
        Some("") => "write a value after the equals sign: key = \"value\"".to_owned(),
        Some(value) if quotes(value) == 0 && !value.starts_with(['[', '{', '\'']) => {
            let (value, comment) = match value.split_once('#') {
                Some((value, comment)) => (value.trim_end(), format!("  #{comment}")),
                None => (value, String::new()),
            };
            let value = value.trim_end_matches(',');
            format!("put the value in quotes: \"{value}\"{comment}")
        }
        Some(value) if value.starts_with(['[', '{']) => {
            "separate the members by commas and close the list or table".to_owned()
        }
        None if !line.is_empty() => {
            "a line is key = \"value\", a [header] or a # comment".to_owned()
        }
        _ => "compare with a line that works: key = \"value\"".to_owned(),
    }
}

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
        assert!(hint_of("a = [\"x\" \"y\"]\n").starts_with("separate the members"));
        assert!(hint_of("a =\n").starts_with("write a value"));
    }
}
