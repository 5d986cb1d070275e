//! The text of the files that were read, and places in it.
//!
//! Invariant: a [`Place`] is only ever made for a file of the [`Sources`] it is shown with.

use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

/// The files that were read, in the order of reading.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    /// They never change, so whoever needs one more file shares the others.
    files: Vec<Arc<SourceFile>>,
}

impl Sources {
    /// No files yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the text of a file under the name that messages show.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).expect("fewer than four milliard files"));
        let file = SourceFile::new(name.into(), text.into());
        self.files.push(Arc::new(file));
        id
    }

    /// Reads a file from the disk.
    ///
    /// # Errors
    /// When the file cannot be read or is not UTF-8 text.
    pub fn read(&mut self, path: &Path) -> Result<FileId, ReadError> {
        let bytes = std::fs::read(path).map_err(|source| ReadError::Unreadable {
            path: path.to_path_buf(),
            source,
        })?;
        let text = String::from_utf8(bytes).map_err(|error| {
            let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
            let good = SourceFile::new(String::new(), String::from_utf8_lossy(good).into_owned());
            let (line, column) = good.line_column(good.text.len());
            ReadError::NotText {
                path: path.to_path_buf(),
                line,
                column,
            }
        })?;
        Ok(self.add(path.display().to_string(), text))
    }

    /// The file with this id.
    ///
    /// # Panics
    /// When the id belongs to another set of files.
    #[must_use]
    pub fn file(&self, id: FileId) -> &SourceFile {
        self.files
            .get(id.0 as usize)
            .expect("an id is only made by the set it belongs to")
    }

    /// `file:line:column` of the start of a place.
    #[must_use]
    pub fn position(&self, place: Place) -> String {
        let file = self.file(place.file);
        let (line, column) = file.line_column(place.start);
        format!("{}:{line}:{column}", file.name)
    }

    /// The text at a place.
    #[must_use]
    pub fn text(&self, place: Place) -> &str {
        let file = self.file(place.file);
        &file.text[file.clamp(place.start)..file.clamp(place.end).max(file.clamp(place.start))]
    }
}

/// A file of a [`Sources`].
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct FileId(u32);

/// A stretch of a file, in bytes; empty for a point between two characters.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Place {
    /// The file.
    pub file: FileId,
    /// The first byte.
    pub start: usize,
    /// The byte after the last.
    pub end: usize,
}

impl Place {
    /// The bytes `range` of `file`.
    #[must_use]
    pub fn new(file: FileId, range: Range<usize>) -> Self {
        Self {
            file,
            start: range.start,
            end: range.end.max(range.start),
        }
    }

    /// The bytes of the place.
    #[must_use]
    pub fn range(self) -> Range<usize> {
        self.start..self.end
    }
}

/// The text of one file.
#[derive(Clone, Debug)]
pub struct SourceFile {
    name: String,
    text: String,
    /// Where each line starts.
    lines: Vec<usize>,
}

impl SourceFile {
    fn new(name: String, text: String) -> Self {
        let breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        let lines = std::iter::once(0).chain(breaks).collect();
        Self { name, text, lines }
    }

    /// The name that messages show, as the user gave it.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Line and column (in characters) of a byte, both from 1.
    #[must_use]
    pub fn line_column(&self, byte: usize) -> (usize, usize) {
        let byte = self.clamp(byte);
        let line = self.lines.partition_point(|&start| start <= byte);
        let start = self.lines[line - 1];
        (line, 1 + self.text[start..byte].chars().count())
    }

    /// The line with this number (from 1), without its break.
    #[must_use]
    pub fn line(&self, number: usize) -> &str {
        self.text
            .lines()
            .nth(number.saturating_sub(1))
            .unwrap_or("")
    }

    /// The nearest character boundary at or before a byte, within the text.
    pub(crate) fn clamp(&self, byte: usize) -> usize {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        byte
    }
}

/// Why a file could not be read.
#[derive(Debug, Error)]
pub enum ReadError {
    /// The system did not give the file.
    #[error("{} cannot be read", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is not text.
    #[error("{}:{line}:{column}: this is not UTF-8 text", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// The line of the first byte that is not text.
        line: usize,
        /// Its column, in characters.
        column: usize,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_characters_from_one() {
        let mut sources = Sources::new();
        let id = sources.add("room.toml", "a = 1\n# é = 2\nb");
        let at = |start| sources.position(Place::new(id, start..start));
        assert_eq!(at(0), "room.toml:1:1");
        assert_eq!(at(5), "room.toml:1:6");
        assert_eq!(at(6), "room.toml:2:1");
        assert_eq!(at(8), "room.toml:2:3");
        assert_eq!(at(9), "room.toml:2:3", "inside a character is its start");
        assert_eq!(at(10), "room.toml:2:4");
        assert_eq!(at(999), "room.toml:3:2");
        assert_eq!(sources.file(id).line(2), "# é = 2");
    }

    #[test]
    fn a_file_that_is_not_text_says_where() {
        let folder = std::env::temp_dir().join(format!("roomrig-source-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join("room.toml");
        std::fs::write(&path, b"name = \"x\"\n# \xc3\xa9\xff\n").unwrap();
        let error = Sources::new().read(&path).unwrap_err().to_string();
        std::fs::remove_dir_all(&folder).unwrap();
        assert!(
            error.ends_with("room.toml:2:4: this is not UTF-8 text"),
            "{error}"
        );
    }
}
