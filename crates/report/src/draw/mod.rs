//! Timelines as pictures: a standalone SVG, and one self-contained HTML page.
//!
//! Invariants: signs are told apart by shape, fill and place, never by colour alone; no text is
//! smaller than [`TEXT`]; nothing is fetched from anywhere; equal timelines give equal bytes.

mod axis;
mod curve;
mod facts;
mod key;
mod marks;
mod page;
mod proof;
mod style;
mod svg;
mod track;

use maud::{Markup, html};

use crate::timeline::{Lane, Scale, Timeline, Track};

pub use page::Page;
pub use proof::{Picture, ProofPage};
pub use svg::svg;

/// Width of the lane names, in CSS pixels.
pub const NAMES: f64 = 168.0;
/// Width of the plot.
pub const PLOT: f64 = 860.0;
/// Size of the smallest text.
pub const TEXT: f64 = 12.5;
/// Width of an A4 sheet in landscape between margins of 12 mm, in CSS pixels (1/96 in).
pub const SHEET: f64 = (297.0 - 24.0) / 25.4 * 96.0;

/// Room at both ends of an axis, so that signs at the ends stay on the paper.
const PAD: f64 = 10.0;
const BREAK: f64 = 30.0;
const LINE: f64 = 22.0;
const TALL: f64 = 60.0;
const AXIS: f64 = 40.0;
/// Room between two labels of the axis.
const TICK_GAP: f64 = 76.0;
/// Width of a character of [`TEXT`], on the safe side.
const CHARACTER: f64 = TEXT * 0.58;

/// One strip of a timeline: its part of the run, and its axis.
struct Strip {
    part: Timeline,
    scale: Scale,
}

impl Strip {
    /// Every strip of a timeline, one under the other.
    fn all(timeline: &Timeline) -> Vec<Self> {
        let scales = Scale::strips(timeline, PLOT - 2.0 * PAD, BREAK);
        scales
            .into_iter()
            .map(|scale| Self {
                part: timeline.window(scale.from(), scale.to(), &[]),
                scale: scale.moved(PAD),
            })
            .collect()
    }

    /// A close look on one strip.
    fn single(part: Timeline) -> Self {
        let scale = Scale::single(&part, PLOT - 2.0 * PAD, BREAK).moved(PAD);
        Self { part, scale }
    }

    /// The days and times that the strip covers.
    fn heading(&self) -> String {
        let clock = &self.part.clock;
        let (from, to) = (self.scale.from(), self.scale.to());
        let time = |at| {
            let label = clock.label(at);
            label.rsplit(' ').next().unwrap_or_default().to_owned()
        };
        if clock.day(from) == clock.day(to) {
            format!("{}, {} to {}", clock.date(from), time(from), time(to))
        } else {
            format!(
                "{} {} to {} {}",
                clock.date(from),
                time(from),
                clock.date(to),
                time(to)
            )
        }
    }
}

/// Where the tracks of a lane stand, from its top.
struct Rows<'a> {
    /// The track in the line of the lane's name.
    first: Option<&'a Track>,
    /// The other tracks with their tops.
    rest: Vec<(f64, &'a Track)>,
    height: f64,
}

impl<'a> Rows<'a> {
    fn of(lane: &'a Lane) -> Self {
        let is_first = |track: &&Track| track.name == "checks";
        let mut top = LINE;
        let mut rest = Vec::new();
        for track in lane.tracks.iter().filter(|track| !is_first(track)) {
            rest.push((top, track));
            top += height(track);
        }
        Self {
            first: lane.tracks.iter().find(is_first),
            rest,
            height: top + 4.0,
        }
    }
}

const fn height(track: &Track) -> f64 {
    if track.tall { TALL } else { LINE }
}

/// The plot of a lane: grid, tracks, and a line where something broke.
fn plot(lane: &Lane, strip: &Strip, titles: bool) -> Markup {
    let rows = Rows::of(lane);
    let broken = lane
        .tracks
        .iter()
        .flat_map(|track| &track.items)
        .filter(|item| {
            item.is_broken() && (strip.scale.from()..=strip.scale.to()).contains(&item.to)
        });
    html! {
        (axis::grid(strip, rows.height))
        @for item in broken {
            @let x = number(strip.scale.x(item.to));
            path.broke d=(format!("M{x} 0V{}", number(rows.height))) {}
        }
        @if let Some(checks) = rows.first {
            (track::draw(checks, &strip.scale, titles))
        }
        @for (top, shown) in &rows.rest {
            g transform=(format!("translate(0 {})", number(*top))) {
                (track::draw(shown, &strip.scale, titles))
            }
        }
        (axis::breaks(strip, rows.height))
    }
}

/// A coordinate: at most one decimal, no more than needed.
fn number(value: f64) -> String {
    let tenths = (value * 10.0).round() as i64;
    if tenths % 10 == 0 {
        (tenths / 10).to_string()
    } else {
        let sign = if tenths < 0 { "-" } else { "" };
        format!("{sign}{}.{}", tenths.abs() / 10, tenths.abs() % 10)
    }
}

/// A text cut to a width, with an ellipsis where it was cut: in the middle, because names that
/// begin alike are told apart by their ends.
fn fitted(text: &str, width: f64) -> String {
    let room = (width / CHARACTER) as usize;
    let count = text.chars().count();
    if count <= room {
        return text.to_owned();
    }
    let tail = (room.saturating_sub(1)) / 2;
    let head = room.saturating_sub(1) - tail;
    let (first, last) = (text.chars().take(head), text.chars().skip(count - tail));
    first.chain(['\u{2026}']).chain(last).collect()
}

/// The name of a track, and what it stands for where the name does not say all or was cut.
fn track_name(track: &Track) -> (String, Option<&str>) {
    let sign = if track.verdict.is_some() { 14.0 } else { 0.0 };
    let short = fitted(&track.name, NAMES - 20.0 - sign);
    let says = if !track.says.is_empty() {
        Some(track.says.as_str())
    } else {
        (short != track.name).then_some(track.name.as_str())
    };
    (short, says)
}

#[cfg(test)]
mod tests;
