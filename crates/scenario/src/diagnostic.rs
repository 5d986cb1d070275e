//! What is wrong with a file, where, why, and what to write instead.
//!
//! Invariant: every diagnostic has a place and a hint. The text stands here once: rendering and
//! the JSON form say the same words.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use serde_json::{Value, json};

use crate::{Place, Sources};

/// One finding about a file.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// The rule that found it, in words: `unknown key`.
    pub rule: &'static str,
    /// Where.
    pub place: Place,
    /// What is wrong: one sentence, lowercase, without a period.
    pub message: String,
    /// What stands under the caret; may be empty.
    pub label: String,
    /// Other places that belong to it, each with what it is.
    pub related: Vec<(Place, String)>,
    /// What to do about it.
    pub hint: String,
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Severity {
    /// The file cannot be used as it stands.
    Error,
    /// It can be used, and most likely does not do what was meant.
    Warning,
    /// It can be used; somebody licensed or responsible must look at it.
    Caution,
}

impl Severity {
    /// The word on screen and in the JSON form.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Caution => "caution",
        }
    }
}

impl Diagnostic {
    /// An error: the file cannot be used.
    pub fn error(
        rule: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self::new(Severity::Error, rule, place, message.into(), hint.into())
    }

    /// A warning: most likely not what was meant.
    pub fn warning(
        rule: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self::new(Severity::Warning, rule, place, message.into(), hint.into())
    }

    /// A caution: somebody responsible must look at it.
    pub fn caution(
        rule: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self::new(Severity::Caution, rule, place, message.into(), hint.into())
    }

    /// The same with these words under the caret.
    #[must_use]
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// The same with one more place that belongs to it.
    #[must_use]
    pub fn related(mut self, place: Place, label: impl Into<String>) -> Self {
        self.related.push((place, label.into()));
        self
    }

    /// Renders it for a terminal or a log: title, `file:line:column`, the line, a caret, the hint.
    #[must_use]
    pub fn render(&self, sources: &Sources, colour: bool) -> String {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
            Severity::Caution => Level::WARNING.with_name("caution"),
        };
        let title = level.primary_title(self.message.as_str()).id(self.rule);
        let mut group = Group::with_title(title).element(self.snippet(sources, self.place.file));
        let mut shown = vec![self.place.file];
        for (place, _) in &self.related {
            if !shown.contains(&place.file) {
                shown.push(place.file);
                group = group.element(self.snippet(sources, place.file));
            }
        }
        group = group.element(Level::HELP.with_name("hint").message(self.hint.as_str()));
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        renderer.render(&[group])
    }

    /// The same facts for editors and other programs.
    #[must_use]
    pub fn to_json(&self, sources: &Sources) -> Value {
        let mut value = json!({
            "severity": self.severity.word(),
            "rule": self.rule,
            "message": self.message,
            "label": self.label,
            "hint": self.hint,
        });
        value["at"] = at(sources, self.place);
        let related = self.related.iter().map(|(place, label)| {
            let mut value = at(sources, *place);
            value["label"] = json!(label);
            value
        });
        value["related"] = related.collect();
        value
    }

    fn new(
        severity: Severity,
        rule: &'static str,
        place: Place,
        message: String,
        hint: String,
    ) -> Self {
        debug_assert!(!hint.is_empty(), "a diagnostic without a hint: {message}");
        Self {
            severity,
            rule,
            place,
            message,
            label: String::new(),
            related: Vec::new(),
            hint,
        }
    }

    fn snippet<'a>(
        &'a self,
        sources: &'a Sources,
        file: crate::FileId,
    ) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
        let source = sources.file(file);
        let range = |place: Place| {
            let start = source.clamp(place.start);
            start..source.clamp(place.end).max(start)
        };
        let mut snippet = Snippet::source(source.text())
            .path(source.name())
            .fold(true);
        if self.place.file == file {
            let mut primary = AnnotationKind::Primary.span(range(self.place));
            if !self.label.is_empty() {
                primary = primary.label(self.label.as_str());
            }
            snippet = snippet.annotation(primary);
        }
        for (place, label) in self.related.iter().filter(|(place, _)| place.file == file) {
            let kind = AnnotationKind::Context;
            snippet = snippet.annotation(kind.span(range(*place)).label(label.as_str()));
        }
        snippet
    }
}

/// Sorts by file and position, and drops exact repetitions.
pub fn sort(diagnostics: &mut Vec<Diagnostic>) {
    diagnostics.sort_by(|a, b| {
        let key = |d: &Diagnostic| (d.place, d.severity, d.rule);
        key(a).cmp(&key(b)).then_with(|| a.message.cmp(&b.message))
    });
    diagnostics.dedup();
}

/// Whether any of them is an error.
#[must_use]
pub fn any_error(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(|d| d.severity == Severity::Error)
}

/// The known name nearest to a mistyped one, if one is near enough to be meant.
#[must_use]
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = word.to_lowercase();
    known
        .into_iter()
        .map(|name| {
            (
                strsim::damerau_levenshtein(&lower, &name.to_lowercase()),
                name,
            )
        })
        .filter(|&(distance, name)| {
            distance <= 1 + name.len().min(word.len()) / 4 && distance < name.len()
        })
        // Of two that are equally near the one that begins like it is meant: `off` for `of`.
        .min_by_key(|&(distance, name)| (distance, !name.to_lowercase().starts_with(&lower)))
        .map(|(_, name)| name)
}

/// A list as people write it: `a`, `a or b`, `a, b or c`.
#[must_use]
pub fn one_of<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    join(words, "or")
}

/// A list as people write it: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn all_of<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    join(words, "and")
}

fn join<'a>(words: impl IntoIterator<Item = &'a str>, last: &str) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    match words.as_slice() {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [rest @ .., end] => format!("{} {last} {end}", rest.join(", ")),
    }
}

fn at(sources: &Sources, place: Place) -> Value {
    let file = sources.file(place.file);
    let (line, column) = file.line_column(place.start);
    let (end_line, end_column) = file.line_column(place.end);
    json!({
        "file": file.name(),
        "line": line,
        "column": column,
        "end_line": end_line,
        "end_column": end_column,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> (Sources, Diagnostic) {
        let mut sources = Sources::new();
        let room = sources.add(
            "room.toml",
            "name = \"Office\"\n\n[outputs.desk]\ndrvie = \"relay\"\n",
        );
        let other = sources.add("site.toml", "x = 1\n");
        let diagnostic = Diagnostic::error(
            "unknown key",
            Place::new(room, 32..37),
            "an output has no key `drvie`",
            "did you mean `drive`?",
        )
        .label("not known here")
        .related(Place::new(room, 17..29), "this output")
        .related(Place::new(other, 0..1), "and this");
        (sources, diagnostic)
    }

    #[test]
    fn a_diagnostic_shows_position_line_caret_and_hint() {
        let (sources, diagnostic) = example();
        let text = diagnostic.render(&sources, false);
        assert_eq!(
            text,
            "error[unknown key]: an output has no key `drvie`
 --> room.toml:4:1
  |
3 | [outputs.desk]
  | ------------ this output
4 | drvie = \"relay\"
  | ^^^^^ not known here
  |
 ::: site.toml:1:1
  |
1 | x = 1
  | - and this
  |
  = hint: did you mean `drive`?"
        );
    }

    #[test]
    fn the_json_form_says_the_same() {
        let (sources, diagnostic) = example();
        let value = diagnostic.to_json(&sources);
        assert_eq!(value["at"]["line"], 4);
        assert_eq!(value["at"]["end_column"], 6);
        assert_eq!(value["related"][1]["file"], "site.toml");
        assert_eq!(value["hint"], "did you mean `drive`?");
    }

    #[test]
    fn any_place_can_be_rendered() {
        let mut sources = Sources::new();
        for text in ["", "\n", "é", "a\r\nb", "\u{1F600}\t\u{0}"] {
            let file = sources.add("x.toml", text);
            for start in 0..8 {
                for end in start..8 {
                    let place = Place::new(file, start..end);
                    let text = Diagnostic::error("r", place, "m", "h").render(&sources, false);
                    assert!(text.contains("x.toml:"), "{text}");
                }
            }
        }
    }

    #[test]
    fn the_nearest_name_is_near() {
        let known = ["drive", "load", "low-trim"];
        assert_eq!(nearest("drvie", known), Some("drive"));
        assert_eq!(nearest("lowtrim", known), Some("low-trim"));
        assert_eq!(nearest("laod", known), Some("load"));
        assert_eq!(nearest("banana", known), None);
        assert_eq!(nearest("x", ["y"]), None);
    }

    #[test]
    fn lists_read_as_people_write_them() {
        assert_eq!(one_of(["a"]), "a");
        assert_eq!(one_of(["a", "b", "c"]), "a, b or c");
        assert_eq!(all_of(["a", "b"]), "a and b");
    }
}
