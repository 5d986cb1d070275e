//! What a controller makes of one source, apart from what it makes of the others.

use core::hash::{Hash, Hasher};

use super::{Controller, Settings};

impl Controller {
    /// What is believed of one source now goes for the other, and the other way round, and so with
    /// their links in the order of the table. For two sources with equal links and without buttons
    /// only.
    pub fn exchange(&mut self, settings: &Settings, one: u8, other: u8) {
        self.heard.swap(usize::from(one), usize::from(other));
        let pairs = links_of(settings, one).zip(links_of(settings, other));
        for (of_one, of_other) in pairs {
            self.links.swap(of_one, of_other);
        }
    }

    /// Hashes what is believed of one source, and how its links stand.
    pub fn hash_heard(&self, settings: &Settings, heard: u8, hasher: &mut impl Hasher) {
        self.heard[usize::from(heard)].hash(hasher);
        links_of(settings, heard).for_each(|link| self.links[link].hash(hasher));
    }
}

fn links_of(settings: &Settings, heard: u8) -> impl Iterator<Item = usize> {
    let links = settings.links.iter().enumerate();
    links
        .filter(move |(_, link)| link.heard == heard)
        .map(|(place, _)| place)
}
