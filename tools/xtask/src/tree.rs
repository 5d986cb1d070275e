//! The files of the repository as the tidy rules see them.
//!
//! Invariant: the list is sorted, so the same tree gives the same findings in the same order.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The repository: where it is and which files belong to it.
#[derive(Debug)]
pub(crate) struct Tree {
    root: PathBuf,
    files: Vec<String>,
}

impl Tree {
    /// The repository that this chore was built from.
    pub(crate) fn open() -> io::Result<Self> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"))
            .ancestors()
            .nth(2)
            .expect("the chores live two folders below the top")
            .to_path_buf();
        let mut files = match tracked(&root) {
            Some(files) => files,
            // An unpacked archive has no version control: take what is there.
            None => walk(&root)?,
        };
        files.retain(|file| root.join(file).is_file());
        files.sort();
        files.dedup();
        Ok(Self { root, files })
    }

    /// Files with forward slashes, from the top of the repository.
    pub(crate) fn files(&self) -> impl Iterator<Item = &str> {
        self.files.iter().map(String::as_str)
    }

    /// Files with one of these endings.
    pub(crate) fn with_ending(&self, endings: &'static [&str]) -> impl Iterator<Item = &str> {
        self.files()
            .filter(|file| endings.iter().any(|ending| file.ends_with(ending)))
    }

    /// The text of a file; `None` when it is missing or not text.
    pub(crate) fn text(&self, file: &str) -> Option<String> {
        fs::read_to_string(self.root.join(file)).ok()
    }

    /// Whether a file or folder is there.
    pub(crate) fn has(&self, path: &str) -> bool {
        self.root.join(path).exists()
    }

    /// The top folder.
    pub(crate) fn root(&self) -> &Path {
        &self.root
    }
}

/// Files under version control and new ones that are not ignored.
fn tracked(root: &Path) -> Option<Vec<String>> {
    let output = Command::new("git")
        .arg("-C")
        .arg(root)
        .args(["ls-files", "-co", "--exclude-standard", "-z"])
        .output()
        .ok()?;
    output.status.success().then(|| {
        String::from_utf8_lossy(&output.stdout)
            .split('\0')
            .filter(|file| !file.is_empty())
            .map(str::to_owned)
            .collect()
    })
}

/// Every file below `root`, without what builds and tools leave behind.
fn walk(root: &Path) -> io::Result<Vec<String>> {
    let mut files = Vec::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder)? {
            let path = entry?.path();
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            if path.is_dir() {
                if !LEFT_BEHIND.contains(&name.as_ref()) {
                    folders.push(path);
                }
            } else if let Ok(below) = path.strip_prefix(root) {
                files.push(below.to_string_lossy().replace('\\', "/"));
            }
        }
    }
    Ok(files)
}

const LEFT_BEHIND: [&str; 6] = [
    ".git",
    ".venv",
    "__pycache__",
    "mutants.out",
    "node_modules",
    "target",
];
