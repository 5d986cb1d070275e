//! Tidy: the rules of the tree that no compiler checks, also run by `cargo test`.
//!
//! Invariant: no rule has a list of exceptions; a rule that is wrong is changed for all.

mod packages;
mod places;
mod rows;
mod sources;
mod words;

use std::fmt;
use std::io;

use crate::tree::Tree;

/// One broken rule: where, and what to do about it.
#[derive(Debug, Eq, PartialEq)]
pub(crate) struct Problem {
    file: String,
    line: Option<usize>,
    text: String,
}

impl Problem {
    /// A problem of a whole file or folder.
    fn of(file: impl Into<String>, text: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            line: None,
            text: text.into(),
        }
    }

    /// A problem at a line, counted from 1.
    fn at(file: impl Into<String>, line: usize, text: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            line: Some(line),
            text: text.into(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(formatter, "{}:{line}: {}", self.file, self.text),
            None => write!(formatter, "{}: {}", self.file, self.text),
        }
    }
}

/// Every broken rule of the tree.
pub(crate) fn problems(tree: &Tree) -> io::Result<Vec<Problem>> {
    let mut found = Vec::new();
    packages::check(tree, &mut found)?;
    places::check(tree, &mut found);
    rows::check(tree, &mut found);
    sources::check(tree, &mut found);
    words::check(tree, &mut found);
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::problems;
    use crate::tree::Tree;

    #[test]
    fn the_tree_is_tidy() {
        let tree = Tree::open().unwrap();
        assert!(tree.files().count() > 20, "the tree was not found");
        let found: Vec<String> = problems(&tree)
            .unwrap()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert!(found.is_empty(), "not tidy:\n{}", found.join("\n"));
    }
}
