//! Why a command could not do what it was asked: the one way out with code 2.

use std::error::Error;
use std::fmt;
use std::io;
use std::iter;
use std::path::Path;

/// Bad usage, or a file that cannot be read, written or understood.
#[derive(Debug)]
pub(crate) struct Failure {
    /// What to say on standard error; ready to print.
    text: String,
}

impl Failure {
    /// A failure in one sentence, with a hint.
    pub(crate) fn new(message: impl fmt::Display, hint: &str) -> Self {
        let mut text = format!("error: {message}");
        if !hint.is_empty() {
            text.push_str("\nhint: ");
            text.push_str(hint);
        }
        Self { text }
    }

    /// A failure with everything that caused it, in one sentence, and a hint.
    pub(crate) fn caused(error: &(dyn Error + 'static), hint: &str) -> Self {
        let causes = iter::successors(Some(error), |&error| error.source());
        let causes: Vec<String> = causes.map(ToString::to_string).collect();
        Self::new(causes.join(": "), hint)
    }

    /// A failure that has been rendered already.
    pub(crate) fn rendered(text: String) -> Self {
        Self { text }
    }

    /// A file that cannot be written.
    pub(crate) fn write(path: &Path, error: &io::Error) -> Self {
        let hint = "is the folder there, and may you write to it?";
        Self::new(
            format!("{}: cannot be written: {error}", path.display()),
            hint,
        )
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl From<io::Error> for Failure {
    /// Standard output that cannot be written; a closed pipe never comes here.
    fn from(error: io::Error) -> Self {
        Self::new(format!("standard output cannot be written: {error}"), "")
    }
}
