//! The files of the page, inside the binary.
//!
//! Invariant: what is served is what was compiled in; nothing is read from the disk.

use std::hash::{DefaultHasher, Hash, Hasher};

/// A file of the page.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asset {
    /// Its name under `/assets/`.
    pub(crate) name: &'static str,
    /// What it is.
    pub(crate) kind: &'static str,
    /// What stands in it.
    pub(crate) text: &'static str,
}

/// The page itself.
pub(crate) const PAGE: Asset = Asset {
    name: "index.html",
    kind: "text/html; charset=utf-8",
    text: include_str!("../../assets/index.html"),
};

/// Everything that the page asks for.
pub(crate) const ASSETS: [Asset; 2] = [
    Asset {
        name: "page.css",
        kind: "text/css; charset=utf-8",
        text: include_str!("../../assets/page.css"),
    },
    Asset {
        name: "page.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/page.js"),
    },
];

impl Asset {
    /// The file of this name.
    pub(crate) fn find(name: &str) -> Option<&'static Self> {
        ASSETS.iter().find(|asset| asset.name == name)
    }

    /// What tells this file from every other one.
    pub(crate) fn tag(&self) -> String {
        let mut hasher = DefaultHasher::new();
        self.text.hash(&mut hasher);
        format!("\"{:016x}\"", hasher.finish())
    }
}
