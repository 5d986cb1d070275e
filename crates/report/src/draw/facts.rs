//! Everything that a picture shows as a table, for screen readers and for searching.

use maud::{Markup, html};

use crate::timeline::Timeline;

/// The table of facts; each row is the target of the item that it describes. `ids` begins the
/// names of the targets, where a page has several tables.
pub(super) fn facts(timeline: &Timeline, ids: &str) -> Markup {
    html! {
        table.facts {
            caption { "Everything in the diagram, in order of time" }
            thead {
                tr { th scope="col" { "When" } th scope="col" { "Where" } th scope="col" { "What" } th scope="col" { "Why" } }
            }
            tbody {
                @for (lane, track, item) in timeline.items() {
                    tr id=(format!("{ids}e{}", item.number)) .bad[item.is_broken()] {
                        td.when { (item.when(&timeline.clock)) }
                        td { (lane.name) " \u{00b7} " (track.name) }
                        td { (item.says) }
                        td { (item.reason) }
                    }
                }
            }
        }
    }
}
