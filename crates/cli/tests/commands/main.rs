//! The program as people meet it: started with arguments, judged by its exit code, by what it
//! says where, and by the files that it leaves.
//!
//! Invariant: whatever it is given, the program ends with one of its own exit codes and without
//! a panic; [`roomrig_in`] asserts it for every run of every test.

mod bad_input;
mod corpora;
mod each_command;
mod files;
mod live;
mod prove;
mod prove_inputs;
mod prove_sweep;
mod readme;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// What came of one run of the program.
struct Told {
    code: i32,
    out: Vec<u8>,
    err: String,
}

impl Told {
    /// Checks the exit code; the rest is shown when it is another one.
    #[track_caller]
    fn ends_with(self, code: i32) -> Self {
        let out = String::from_utf8_lossy(&self.out);
        assert_eq!(self.code, code, "stdout:\n{out}\nstderr:\n{}", self.err);
        self
    }

    /// Standard output as text.
    fn text(&self) -> &str {
        std::str::from_utf8(&self.out).expect("standard output is text")
    }

    /// Standard output as JSON.
    fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.out).expect("standard output is JSON")
    }
}

/// Runs the program in the root of the repository.
fn roomrig(args: &[&str]) -> Told {
    roomrig_in(&root(), args)
}

/// Runs the program in a folder.
fn roomrig_in(folder: &Path, args: &[&str]) -> Told {
    told(&command(folder, args).output().expect("the program starts"))
}

fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_roomrig"));
    command.args(args).current_dir(folder).stdin(Stdio::null());
    for name in ["ROOMRIG_LOG", "RUST_BACKTRACE", "CLICOLOR_FORCE"] {
        command.env_remove(name);
    }
    command
}

fn told(output: &Output) -> Told {
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    let code = output.status.code();
    assert!(
        code.is_some_and(|code| (0..=3).contains(&code)) && !err.contains("panicked"),
        "{}\n{err}",
        output.status
    );
    Told {
        code: code.expect("it was not ended by a signal"),
        out: output.stdout.clone(),
        err,
    }
}

fn root() -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    root.canonicalize().expect("the repository is there")
}

/// A folder of one test, empty at first and removed in the end.
struct Folder(PathBuf);

impl Folder {
    /// `name` is the test's own.
    fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("what an earlier run left can be removed");
        }
        fs::create_dir_all(&path).expect("the folder can be made");
        Self(path)
    }

    /// With the private office of the annex in `office`.
    fn with_office(name: &str) -> Self {
        let folder = Self::new(name);
        folder.copy("scenarios/private-office", "office");
        folder
    }

    /// Copies a folder of the repository, without the folders in it.
    fn copy(&self, from: &str, to: &str) {
        let to = self.0.join(to);
        fs::create_dir_all(&to).expect("the folder can be made");
        for entry in fs::read_dir(root().join(from)).expect("the folder is there") {
            let entry = entry.expect("the folder can be listed").path();
            let name = entry.file_name().expect("an entry has a name");
            fs::copy(&entry, to.join(name)).expect("the file can be copied");
        }
    }

    fn write(&self, file: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.0.join(file), bytes).expect("the file can be written");
    }

    fn read(&self, file: &str) -> Vec<u8> {
        fs::read(self.0.join(file)).unwrap_or_else(|error| panic!("{file}: {error}"))
    }

    /// Replaces a text that must be in the file.
    fn change(&self, file: &str, from: &str, to: &str) {
        let text = String::from_utf8(self.read(file)).expect("the file is text");
        assert!(text.contains(from), "{file} has no {from}");
        self.write(file, text.replacen(from, to, 1));
    }

    /// The names of what stands in the folder, sorted.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("the folder can be listed");
        let name = |entry: fs::DirEntry| entry.file_name().to_string_lossy().into_owned();
        let names = entries.map(|entry| name(entry.expect("the folder can be listed")));
        let mut names: Vec<String> = names.collect();
        names.sort();
        names
    }

    fn run(&self, args: &[&str]) -> Told {
        roomrig_in(&self.0, args)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed is removed by the next run.
        let _left = fs::remove_dir_all(&self.0);
    }
}
