//! The chores themselves: each runs commands from the top of the repository.
//!
//! Invariant: `Ok(false)` is a finding, `Err` a command that could not be started.

use std::ffi::OsStr;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::process::{Command, Stdio};
use std::thread;

use crate::tally::Tally;
use crate::tidy::problems;
use crate::tree::Tree;

/// Everything that CI runs, the cheap and picky things first.
pub(crate) fn ci() -> io::Result<bool> {
    let clean = lint()?;
    Ok(test()? && clean)
}

/// What can be told without running the product; goes on after a finding.
pub(crate) fn lint() -> io::Result<bool> {
    let mut clean = step("formatting", cargo(["fmt", "--all", "--check"]))?;
    for apart in [
        "tools/bench/Cargo.toml",
        "tools/bench-proof/Cargo.toml",
        "tools/fuzz/Cargo.toml",
    ] {
        let command = cargo(["fmt", "--manifest-path", apart, "--check"]);
        clean &= step(&format!("formatting of {apart}"), command)?;
    }
    clean &= tidy()?;
    clean &= step(
        "clippy",
        cargo([
            "clippy",
            "--workspace",
            "--all-targets",
            "--locked",
            "--",
            "-D",
            "warnings",
        ]),
    )?;
    let mut docs = cargo(["doc", "--workspace", "--no-deps", "--locked"]);
    docs.env("RUSTDOCFLAGS", "-D warnings");
    clean &= step("documentation", docs)?;
    Ok(clean)
}

/// Every test of the workspace, examples in the documentation included.
pub(crate) fn test() -> io::Result<bool> {
    let mut tally = Tally::default();
    let nextest = cargo(["nextest", "--version"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    let passed = if nextest {
        let examples = counted(
            "examples of the documentation",
            cargo(["test", "--workspace", "--locked", "--doc"]),
            &mut tally,
        )?;
        let command = cargo([
            "nextest",
            "run",
            "--workspace",
            "--locked",
            "--no-fail-fast",
        ]);
        counted("tests", command, &mut tally)? && examples
    } else {
        let command = cargo(["test", "--workspace", "--locked", "--no-fail-fast"]);
        counted("tests", command, &mut tally)?
    };
    // A test binary that dies or does not build is a failure that no summary counts.
    let failed = tally.failed.max(u64::from(!passed));
    println!("{} passed, {failed} failed", tally.passed);
    Ok(failed == 0)
}

/// The rules of the tree.
pub(crate) fn tidy() -> io::Result<bool> {
    println!("== tidy");
    let found = problems(&Tree::open()?)?;
    for problem in &found {
        println!("{problem}");
    }
    Ok(found.is_empty())
}

/// Writes the golden traces anew.
pub(crate) fn golden() -> io::Result<bool> {
    let mut command = cargo([
        "test", "--locked", "-p", "scenario", "--test", "golden", "golden",
    ]);
    command.env("INSTA_UPDATE", "always");
    step("golden traces", command)
}

/// The property tests with many more cases than usual.
pub(crate) fn soak(arguments: &[String]) -> io::Result<bool> {
    let cases = arguments.first().map_or("100000", String::as_str);
    let mut command = cargo([
        "test",
        "--workspace",
        "--locked",
        "--release",
        "--no-fail-fast",
    ]);
    command.env("PROPTEST_CASES", cases);
    step(&format!("property tests, {cases} cases each"), command)
}

/// A cargo command that runs at the top of the repository.
fn cargo<const N: usize>(arguments: [&str; N]) -> Command {
    // The variable names the very cargo that runs this chore.
    let program = std::env::var_os("CARGO").unwrap_or_else(|| OsStr::new("cargo").to_owned());
    let mut command = Command::new(program);
    command
        .args(arguments)
        .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."));
    command
}

/// Runs one step under its heading.
fn step(heading: &str, mut command: Command) -> io::Result<bool> {
    println!("== {heading}");
    Ok(command.status()?.success())
}

/// Runs a test runner, shows what it prints and adds up its summaries.
fn counted(heading: &str, mut command: Command, tally: &mut Tally) -> io::Result<bool> {
    println!("== {heading}");
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()?;
    let output = child.stdout.take().expect("the pipe was asked for");
    let talk = child.stderr.take().expect("the pipe was asked for");
    let reader = thread::spawn(move || relay(talk, &mut io::stderr()));
    let first = relay(output, &mut io::stdout())?;
    let second = reader.join().expect("the reader does not panic")?;
    tally.passed += first.passed + second.passed;
    tally.failed += first.failed + second.failed;
    Ok(child.wait()?.success())
}

/// Copies line by line, reading the summaries on the way.
fn relay(from: impl Read, to: &mut impl Write) -> io::Result<Tally> {
    let mut tally = Tally::default();
    let mut from = BufReader::new(from);
    let mut line = Vec::new();
    while from.read_until(b'\n', &mut line)? > 0 {
        to.write_all(&line)?;
        tally.read(&String::from_utf8_lossy(&line));
        line.clear();
    }
    Ok(tally)
}
