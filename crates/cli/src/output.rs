//! The terminal and the files that are written. Data to standard output, talk to standard error.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use anstream::AutoStream;
use report::verdict::Verdict;

use crate::failure::Failure;

/// Writes data to standard output. A reader that has gone away is no error.
pub(crate) fn data(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        outcome => outcome.map_err(Failure::from),
    }
}

/// Writes talk to standard error; there is nobody to tell when that fails.
pub(crate) fn talk(text: &str) {
    let mut out = AutoStream::auto(io::stderr().lock());
    let _gone = writeln!(out, "{text}");
}

/// Writes a file as a whole or not at all: beside its place first, then moved there.
/// A device or a pipe is written to as it is, never replaced.
pub(crate) fn file(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    if std::fs::metadata(path).is_ok_and(|found| !found.is_file() && !found.is_dir()) {
        return std::fs::write(path, bytes).map_err(|error| Failure::write(path, &error));
    }
    let name = path.file_name().ok_or_else(|| {
        Failure::new(
            format!("{}: is no file name", path.display()),
            "name a file",
        )
    })?;
    let mut beside = name.to_os_string();
    beside.push(".part");
    let beside = path.with_file_name(beside);
    let written = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, path));
    written.map_err(|error| {
        // What was half written must not stay; that it is gone already is fine.
        let _gone = std::fs::remove_file(&beside);
        Failure::write(path, &error)
    })
}

/// Looks whether a file can be written here, as far as that can be known before it is: a long
/// search must not end in a name that was wrong from the start.
pub(crate) fn ready(path: &Path) -> Result<(), Failure> {
    if path.is_dir() {
        let message = format!("{}: is a folder", path.display());
        return Err(Failure::new(message, "name a file"));
    }
    let parent = path.parent().filter(|it| !it.as_os_str().is_empty());
    match parent {
        Some(parent) if !parent.is_dir() => {
            let message = format!(
                "{}: cannot be written: there is no folder {}",
                path.display(),
                parent.display()
            );
            Err(Failure::new(message, "make the folder first"))
        }
        _ => Ok(()),
    }
}

/// Whether standard output shows colours: a terminal, and nobody asked for none.
pub(crate) fn colours() -> bool {
    let choice = AutoStream::choice(&io::stdout());
    choice != anstream::ColorChoice::Never && io::stdout().is_terminal()
}

/// Colours the words of a verdict; the words say everything without.
pub(crate) fn paint(verdict: Verdict, text: &str) -> String {
    use anstyle::{AnsiColor, Style};
    let style = match verdict {
        Verdict::Held => AnsiColor::Green.on_default(),
        Verdict::Broken => AnsiColor::Red.on_default().bold(),
        Verdict::NeverExercised | Verdict::Undecided => AnsiColor::Yellow.on_default().bold(),
        Verdict::Open => Style::new().dimmed(),
    };
    format!("{style}{text}{style:#}")
}

/// How many columns text may take.
pub(crate) const COLUMNS: usize = 100;
