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
pub(crate) const ASSETS: [Asset; 25] = [
    Asset {
        name: "api.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/api.js"),
    },
    Asset {
        name: "app.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/app.js"),
    },
    Asset {
        name: "bench.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/bench.js"),
    },
    Asset {
        name: "cards.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/cards.js"),
    },
    Asset {
        name: "diagram.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/diagram.js"),
    },
    Asset {
        name: "dom.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/dom.js"),
    },
    Asset {
        name: "history.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/history.js"),
    },
    Asset {
        name: "icon.svg",
        kind: "image/svg+xml",
        text: include_str!("../../assets/icon.svg"),
    },
    Asset {
        name: "lanes.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/lanes.js"),
    },
    Asset {
        name: "lesson.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/lesson.js"),
    },
    Asset {
        name: "log.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/log.js"),
    },
    Asset {
        name: "noise.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/noise.js"),
    },
    Asset {
        name: "orders.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/orders.js"),
    },
    Asset {
        name: "page.css",
        kind: "text/css; charset=utf-8",
        text: include_str!("../../assets/page.css"),
    },
    Asset {
        name: "people.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/people.js"),
    },
    Asset {
        name: "place.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/place.js"),
    },
    Asset {
        name: "plan.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/plan.js"),
    },
    Asset {
        name: "rules.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/rules.js"),
    },
    Asset {
        name: "sheets.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/sheets.js"),
    },
    Asset {
        name: "signs.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/signs.js"),
    },
    Asset {
        name: "transport.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/transport.js"),
    },
    Asset {
        name: "voice.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/voice.js"),
    },
    Asset {
        name: "wall.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/wall.js"),
    },
    Asset {
        name: "why.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/why.js"),
    },
    Asset {
        name: "words.js",
        kind: "text/javascript; charset=utf-8",
        text: include_str!("../../assets/words.js"),
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
