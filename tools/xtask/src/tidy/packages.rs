//! Packages: which may know which, and what each must carry.
//!
//! Invariant: arrows go one way; a new edge is a change of this table, and so of the design.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::process::Command;

use serde_json::Value;

use super::Problem;
use crate::tree::Tree;

/// A package of the workspace as its manifest declares it.
#[derive(Debug, Default)]
struct Package {
    folder: String,
    edges: BTreeSet<String>,
    outside: BTreeSet<String>,
}

/// Checks every package rule.
pub(super) fn check(tree: &Tree, found: &mut Vec<Problem>) -> io::Result<()> {
    let packages = packages(tree)?;
    edges(&packages, found);
    for package in packages.values() {
        let manifest = format!("{}/Cargo.toml", package.folder);
        let text = tree.text(&manifest).unwrap_or_default();
        if !inherits_lints(&text) {
            found.push(Problem::of(
                manifest,
                "must inherit the lints: [lints] workspace = true",
            ));
        }
    }
    for name in NO_STD {
        let file = format!("crates/{name}/src/lib.rs");
        let text = tree.text(&file).unwrap_or_default();
        if !text.lines().any(|line| line == "#![no_std]") {
            found.push(Problem::of(
                file,
                "must say #![no_std]: it knows no clock, file or thread",
            ));
        }
    }
    let folders: BTreeSet<&str> = packages
        .values()
        .map(|package| package.folder.as_str())
        .collect();
    let map = tree.text(MAP).unwrap_or_default();
    documented(&map, &folders, |path| tree.has(path), found);
    Ok(())
}

/// The packages of the workspace, from `cargo metadata`.
fn packages(tree: &Tree) -> io::Result<BTreeMap<String, Package>> {
    let program = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let output = Command::new(program)
        .args([
            "metadata",
            "--format-version",
            "1",
            "--no-deps",
            "--offline",
        ])
        .current_dir(tree.root())
        .output()?;
    if !output.status.success() {
        let reason = String::from_utf8_lossy(&output.stderr).into_owned();
        return Err(io::Error::other(format!("cargo metadata: {reason}")));
    }
    let metadata: Value = serde_json::from_slice(&output.stdout)?;
    let top = metadata["workspace_root"].as_str().unwrap_or_default();
    let mut packages = BTreeMap::new();
    for package in metadata["packages"].as_array().into_iter().flatten() {
        let manifest = package["manifest_path"].as_str().unwrap_or_default();
        let mut entry = Package {
            folder: manifest
                .trim_start_matches(top)
                .trim_start_matches('/')
                .trim_end_matches("/Cargo.toml")
                .to_owned(),
            ..Package::default()
        };
        for dependency in package["dependencies"].as_array().into_iter().flatten() {
            // Tests may look at more than the product may.
            if dependency["kind"] == "dev" {
                continue;
            }
            let name = dependency["name"].as_str().unwrap_or_default().to_owned();
            if dependency["path"].is_string() {
                entry.edges.insert(name);
            } else {
                entry.outside.insert(name);
            }
        }
        let name = package["name"].as_str().unwrap_or_default();
        packages.insert(name.to_owned(), entry);
    }
    Ok(packages)
}

/// The declared edges are those of the table, and only the doors know the outside world.
fn edges(packages: &BTreeMap<String, Package>, found: &mut Vec<Problem>) {
    for (name, package) in packages {
        let Some((_, allowed)) = EDGES.iter().find(|(known, _)| known == name) else {
            let text =
                format!("package {name} has no row in the table of edges (tidy/packages.rs)");
            found.push(Problem::of(&package.folder, text));
            continue;
        };
        let allowed: BTreeSet<String> = allowed.iter().map(|&edge| edge.to_owned()).collect();
        for edge in package.edges.symmetric_difference(&allowed) {
            let text = if allowed.contains(edge) {
                format!(
                    "the table of edges (tidy/packages.rs) has {name} -> {edge}, the manifest has not"
                )
            } else {
                format!("{name} -> {edge} is not in the table of edges (tidy/packages.rs)")
            };
            found.push(Problem::of(&package.folder, text));
        }
        for outside in &package.outside {
            if NO_STD.contains(&name.as_str()) && !BARE.contains(&outside.as_str()) {
                let text = format!("{name} runs without std and must not know {outside}");
                found.push(Problem::of(&package.folder, text));
            }
            if WORLD.contains(&outside.as_str()) && !DOORS.contains(&name.as_str()) {
                let text = format!("only {} may know {outside}", DOORS.join(", "));
                found.push(Problem::of(&package.folder, text));
            }
        }
    }
    for (name, _) in EDGES {
        if !packages.contains_key(name) {
            let text = format!("the table of edges (tidy/packages.rs) names {name}, which is gone");
            found.push(Problem::of("Cargo.toml", text));
        }
    }
}

/// Whether a manifest takes the lints of the workspace.
fn inherits_lints(manifest: &str) -> bool {
    manifest
        .lines()
        .skip_while(|line| line.trim() != "[lints]")
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .any(|line| line.replace(' ', "") == "workspace=true")
}

/// The map names every package by its folder, and no folder that is not there.
fn documented(
    map: &str,
    folders: &BTreeSet<&str>,
    exists: impl Fn(&str) -> bool,
    found: &mut Vec<Problem>,
) {
    let mut named = BTreeSet::new();
    for (number, line) in map.lines().enumerate() {
        for path in
            line.split(|letter: char| !(letter.is_alphanumeric() || "/._-".contains(letter)))
        {
            let mut parts = path.trim_end_matches('.').split('/');
            let (Some(top @ ("crates" | "tools")), Some(name)) = (parts.next(), parts.next())
            else {
                continue;
            };
            if name.is_empty() {
                continue;
            }
            let folder = format!("{top}/{name}");
            if !exists(&folder) {
                found.push(Problem::at(
                    MAP,
                    number + 1,
                    format!("names {folder}, which is not there"),
                ));
            }
            named.insert(folder);
        }
    }
    for folder in folders {
        if !named.contains(*folder) {
            found.push(Problem::of(MAP, format!("does not name {folder}")));
        }
    }
}

/// The page that maps the packages.
const MAP: &str = "DEVELOPERS.md";

/// Which package knows which. Everything points towards `device`.
const EDGES: [(&str, &[&str]); 12] = [
    ("device", &[]),
    ("clause", &["device"]),
    ("room", &["clause", "device"]),
    ("sim", &["clause", "device", "room"]),
    ("scenario", &["clause", "device", "room", "sim"]),
    (
        "report",
        &["clause", "device", "proof", "room", "scenario", "sim"],
    ),
    ("prover", &["clause", "device", "room"]),
    (
        "proof",
        &["clause", "device", "prover", "room", "scenario", "sim"],
    ),
    ("live", &["device", "room", "scenario", "sim"]),
    (
        "page",
        &[
            "clause", "device", "live", "report", "room", "scenario", "sim",
        ],
    ),
    (
        "cli",
        &[
            "clause", "device", "live", "page", "proof", "report", "room", "scenario", "sim",
        ],
    ),
    ("xtask", &[]),
];

/// Packages that run without the standard library.
const NO_STD: [&str; 3] = ["device", "room", "clause"];

/// What those may know: error types without std.
const BARE: [&str; 1] = ["thiserror"];

/// What only the doors to the world may know.
const WORLD: [&str; 6] = [
    "anstream",
    "clap",
    "ctrlc",
    "indicatif",
    "tokio",
    "tracing-subscriber",
];

/// The doors.
const DOORS: [&str; 3] = ["cli", "live", "page"];

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use super::{EDGES, Package, documented, edges, inherits_lints};

    fn declared() -> BTreeMap<String, Package> {
        EDGES
            .iter()
            .map(|(name, known)| {
                let package = Package {
                    folder: format!("crates/{name}"),
                    edges: known.iter().map(|&edge| edge.to_owned()).collect(),
                    outside: BTreeSet::new(),
                };
                ((*name).to_owned(), package)
            })
            .collect()
    }

    fn texts(packages: &BTreeMap<String, Package>) -> Vec<String> {
        let mut found = Vec::new();
        edges(packages, &mut found);
        found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn an_arrow_against_the_design_is_found() {
        let mut packages = declared();
        assert_eq!(texts(&packages), Vec::<String>::new());
        packages
            .get_mut("device")
            .unwrap()
            .edges
            .insert("sim".to_owned());
        packages.get_mut("sim").unwrap().edges.remove("clause");
        assert_eq!(
            texts(&packages),
            [
                "crates/device: device -> sim is not in the table of edges (tidy/packages.rs)",
                "crates/sim: the table of edges (tidy/packages.rs) has sim -> clause, the manifest has not",
            ]
        );
    }

    #[test]
    fn only_the_doors_know_the_world() {
        let mut packages = declared();
        packages
            .get_mut("cli")
            .unwrap()
            .outside
            .insert("clap".to_owned());
        assert_eq!(texts(&packages), Vec::<String>::new());
        packages
            .get_mut("sim")
            .unwrap()
            .outside
            .insert("tokio".to_owned());
        packages
            .get_mut("room")
            .unwrap()
            .outside
            .insert("serde".to_owned());
        assert_eq!(
            texts(&packages),
            [
                "crates/room: room runs without std and must not know serde",
                "crates/sim: only cli, live, page may know tokio",
            ]
        );
    }

    #[test]
    fn a_package_needs_a_row_and_a_row_a_package() {
        let mut packages = declared();
        let package = packages.remove("report").unwrap();
        packages.insert("extra".to_owned(), package);
        assert_eq!(
            texts(&packages),
            [
                "crates/report: package extra has no row in the table of edges (tidy/packages.rs)",
                "Cargo.toml: the table of edges (tidy/packages.rs) names report, which is gone",
            ]
        );
    }

    #[test]
    fn lints_of_ones_own_are_not_inherited() {
        assert!(inherits_lints(
            "[lints]\nworkspace = true\n[dependencies]\n"
        ));
        assert!(!inherits_lints(
            "[lints]\n[dependencies]\nworkspace = true\n"
        ));
        assert!(!inherits_lints("[dependencies]\nworkspace = true\n"));
    }

    #[test]
    fn the_map_has_every_package_and_no_ghost() {
        let mut found = Vec::new();
        let map = "`crates/device` is first,\nthen crates/ghost/src/lib.rs.\n";
        let folders = ["crates/device", "tools/xtask"].into();
        documented(map, &folders, |path| path != "crates/ghost", &mut found);
        let found: Vec<String> = found.iter().map(ToString::to_string).collect();
        assert_eq!(
            found,
            [
                "DEVELOPERS.md:2: names crates/ghost, which is not there",
                "DEVELOPERS.md: does not name tools/xtask",
            ]
        );
    }
}
