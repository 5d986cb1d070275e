//! What the files name, before anything is linked: outputs, sources, scenes, each under its
//! full name and place.
//!
//! A room alone is one part; a site is its own part and one for each room, whose names begin
//! with the name of its folder. Invariant: each list is sorted by full name (ORD-1).

use std::collections::BTreeMap;

use crate::keys::{Located, NamedMap, NamedSection, Section};
use crate::{Diagnostic, Place};

/// One file that was read: a room, or the site itself.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// What names begin with: empty, or `office-112/`.
    pub(crate) prefix: String,
    /// The file.
    pub(crate) root: Section,
    /// The section of the site, for what holds unless a room says otherwise.
    pub(crate) site: Option<Section>,
}

impl Part {
    /// The section that says something about a key of the top of the file.
    pub(crate) fn deciding(&self, key: &str) -> &Section {
        match &self.site {
            Some(site) if !self.root.has(key) && site.has(key) => site,
            _ => &self.root,
        }
    }
}

/// Something with a name.
#[derive(Clone, Debug)]
pub(crate) struct Thing {
    /// Its full name.
    pub(crate) name: String,
    /// Its full name without the number of the copy.
    pub(crate) base: String,
    /// Which copy it is, from 1, and of how many.
    pub(crate) copy: Option<(u64, u64)>,
    /// Which file it comes from.
    pub(crate) part: usize,
    /// Where its name stands.
    pub(crate) place: Place,
    /// Its keys.
    pub(crate) section: Section,
}

/// A scene.
#[derive(Clone, Debug)]
pub(crate) struct Scene {
    /// Which file it comes from.
    pub(crate) part: usize,
    /// Its name, and its levels by output.
    pub(crate) map: NamedMap,
}

/// Everything that the files name.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) parts: Vec<Part>,
    pub(crate) outputs: Vec<Thing>,
    pub(crate) sources: Vec<Thing>,
    pub(crate) controllers: Vec<Thing>,
    pub(crate) relays: Vec<Thing>,
    pub(crate) places: Vec<Thing>,
    pub(crate) people: Vec<Thing>,
    pub(crate) scenes: Vec<Scene>,
    /// The keys of single links that were changed on site: a `[[links]]` of the file may be many
    /// links of the room, and only one of them was changed.
    pub(crate) changed_links: BTreeMap<OneLink, Section>,
}

/// One link of the room: the file and the place of its `[[links]]` there, its source and its
/// output by their places among the sorted names.
pub(crate) type OneLink = ((usize, usize), usize, usize);

impl Model {
    /// Collects what the parts name, and reports names that are taken twice.
    pub(crate) fn new(parts: Vec<Part>, diagnostics: &mut Vec<Diagnostic>) -> Self {
        let named = |key: &str| collect(&parts, key);
        let scenes = parts.iter().enumerate().flat_map(|(part, file)| {
            let maps = file.root.maps("scenes");
            maps.iter().map(move |map| Scene {
                part,
                map: map.clone(),
            })
        });
        let mut model = Self {
            outputs: named("outputs"),
            sources: named("sources"),
            controllers: named("controllers"),
            relays: named("relays"),
            places: named("places"),
            people: named("people"),
            scenes: scenes.collect(),
            changed_links: BTreeMap::new(),
            parts,
        };
        model.report_too_large(diagnostics);
        model.report_shared_names(diagnostics);
        model
    }

    /// The keys of one link of the room.
    pub(crate) fn link(&self, one: &OneLink) -> Option<&Section> {
        let (part, number) = one.0;
        let changed = self.changed_links.get(one);
        changed.or_else(|| self.parts.get(part)?.root.many("links").get(number))
    }

    /// What a row calls `name`: one thing, or all copies of one.
    pub(crate) fn things_mut(&mut self, name: &str) -> impl Iterator<Item = &mut Thing> {
        [
            &mut self.outputs,
            &mut self.sources,
            &mut self.controllers,
            &mut self.relays,
            &mut self.places,
        ]
        .into_iter()
        .flatten()
        .filter(move |thing| thing.name == name || thing.base == name)
    }

    /// Copies make much of little: a short file must not fill the memory.
    fn report_too_large(&mut self, diagnostics: &mut Vec<Diagnostic>) {
        let kinds = [
            ("outputs", &mut self.outputs),
            ("sources", &mut self.sources),
        ];
        for (what, things) in kinds {
            if things.len() > MOST {
                diagnostics.push(Diagnostic::error(
                    "too large",
                    things[MOST].place,
                    format!("there are {} {what}", things.len()),
                    format!("a site has at most {MOST} {what}: make it several sites"),
                ));
                things.truncate(MOST);
            }
        }
    }

    /// Names that scenarios and clauses cannot tell apart.
    fn report_shared_names(&self, diagnostics: &mut Vec<Diagnostic>) {
        let kinds = [
            ("an output", &self.outputs),
            ("a source", &self.sources),
            ("a controller", &self.controllers),
            ("a relay", &self.relays),
            ("a place", &self.places),
            ("a person", &self.people),
        ];
        let mut all: Vec<(&Thing, &str)> = kinds
            .iter()
            .flat_map(|(what, things)| things.iter().map(move |thing| (thing, *what)))
            .collect();
        all.sort_by_key(|(thing, _)| (&thing.name, thing.place));
        for pair in all.windows(2) {
            let [(first, first_is), (second, second_is)] = pair else {
                continue;
            };
            if first.name != second.name {
                continue;
            }
            diagnostics.push(
                Diagnostic::error(
                    "name taken twice",
                    second.place,
                    format!("two things are called `{}`", first.name),
                    "give each its own name: scenarios and clauses speak of them by name",
                )
                .label(*second_is)
                .related(first.place, *first_is),
            );
        }
    }
}

/// The most outputs, and the most sources, of a room or a site.
pub(crate) const MOST: usize = 4_096;

fn collect(parts: &[Part], key: &str) -> Vec<Thing> {
    let mut things = Vec::new();
    for (part, file) in parts.iter().enumerate() {
        if file.root.table.key(key).is_none() {
            continue;
        }
        for named in file.root.named(key) {
            things.extend(copies(part, &file.prefix, named));
        }
    }
    things.sort_by(|a: &Thing, b: &Thing| (&a.name, a.place).cmp(&(&b.name, b.place)));
    things
}

/// The thing itself, or its copies.
fn copies(part: usize, prefix: &str, named: &NamedSection) -> Vec<Thing> {
    let Located { value, place } = &named.name;
    let base = format!("{prefix}{value}");
    let thing = |name: String, copy| Thing {
        name,
        base: base.clone(),
        copy,
        part,
        place: *place,
        section: named.section.clone(),
    };
    let count = if named.section.table.key("copies").is_some() {
        named.section.count("copies")
    } else {
        None
    };
    match count {
        Some(count) => (1..=count)
            .map(|number| thing(format!("{base}-{number}"), Some((number, count))))
            .collect(),
        None => vec![thing(base.clone(), None)],
    }
}
