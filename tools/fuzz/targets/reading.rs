//! Reads any text as one kind of file of a room.

use scenario::keys::{Reader, Table};
use scenario::{Diagnostic, Sources};

/// Reads `text` by a key table: it is read, or every fault can be shown to a person.
pub fn read(name: &str, table: &'static Table, text: &str) {
    let mut sources = Sources::new();
    let file = sources.add(name, text);
    let mut reader = Reader::new(&sources, file, table);
    let section = reader.read();
    let diagnostics = reader.diagnostics;
    assert!(
        section.is_some() || scenario::diagnostic::any_error(&diagnostics),
        "a file that cannot be read says why"
    );
    show(&sources, &diagnostics);
}

/// Every fault can be shown, in words and to machines.
pub fn show(sources: &Sources, diagnostics: &[Diagnostic]) {
    for diagnostic in diagnostics {
        let shown = diagnostic.render(sources, false);
        assert!(shown.contains(".toml:"), "a fault has a place: {shown}");
        let _ = diagnostic.to_json(sources);
    }
}
