//! A timeline drawn with letters, for a terminal.
//!
//! Every item of the timeline stands in the drawing and, with its number, in the list below it;
//! a picture of the same timeline shows the same numbers.

use device::Level;

use crate::timeline::{
    Fill, FrameFate, Item, Lane, LaneSort, Scale, Shape, Tick, Timeline, TimerEnd, Track,
};
use crate::verdict::Verdict;
use crate::words::Gesture;

/// Draws a timeline in lines of at most `columns` characters, followed by its events.
#[must_use]
pub fn excerpt(timeline: &Timeline, columns: usize) -> String {
    let plot = columns.saturating_sub(NAMES).clamp(30, 160);
    let scale = Scale::single(timeline, (plot - 1) as f64, 3.0);
    let mut lines = vec![axis(timeline, &scale, plot)];
    for lane in &timeline.lanes {
        lines.push(named(&lane.name, &checks(lane, &scale, plot)));
        for track in lane.tracks.iter().filter(|track| track.name != CHECKS) {
            let name = match track.verdict {
                Some(verdict) => format!("  {} {}", verdict.sign(), track.name),
                None => format!("  {}", track.name),
            };
            lines.push(named(&name, &row(track, &scale, plot)));
        }
    }
    lines.extend(events(timeline));
    let mut text = String::new();
    for line in lines {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// One line of a drawing: a character for each column.
struct Row {
    cells: Vec<char>,
}

impl Row {
    fn blank(scale: &Scale, plot: usize) -> Self {
        let mut row = Self {
            cells: vec![' '; plot],
        };
        row.tear(scale);
        row
    }

    /// Shows the breaks of the axis, also through bars, but not over signs.
    fn tear(&mut self, scale: &Scale) {
        for piece in scale.pieces.iter().filter(|piece| piece.is_break) {
            for at in column(piece.left) + 1..column(piece.right) {
                let torn = matches!(
                    self.cells.get(at),
                    Some(' ' | '\u{2501}' | '\u{2500}' | '\u{254d}')
                );
                if torn {
                    self.put(at, '\u{2248}');
                }
            }
        }
    }

    fn put(&mut self, at: usize, sign: char) {
        if let Some(cell) = self.cells.get_mut(at) {
            *cell = sign;
        }
    }

    fn fill(&mut self, from: usize, to: usize, sign: char) {
        (from..=to).for_each(|at| self.put(at, sign));
    }

    /// Writes words after `from` if they end before `to`.
    fn words(&mut self, from: usize, to: usize, words: &str) {
        let length = words.chars().count();
        if from + length < to {
            for (at, sign) in (from..).zip(words.chars()) {
                self.put(at, sign);
            }
        }
    }

    fn text(&self) -> String {
        self.cells.iter().collect()
    }
}

fn column(x: f64) -> usize {
    x.round().max(0.0) as usize
}

fn named(name: &str, row: &Row) -> String {
    let mut fitted: String = name.chars().take(NAMES - 2).collect();
    if name.chars().count() > NAMES - 2 {
        fitted.pop();
        fitted.push('\u{2026}');
    }
    format!("{fitted:<width$}{}", row.text(), width = NAMES)
}

fn axis(timeline: &Timeline, scale: &Scale, plot: usize) -> String {
    let mut row = Row::blank(scale, plot);
    let mut free = 0;
    for tick in scale.ticks(&timeline.clock, 12.0) {
        let length = tick.label.chars().count();
        let from = column(tick.x).min(plot.saturating_sub(length));
        if from >= free {
            row.fill(from, from + length - 1, ' ');
            row.words(from, plot + 1, &tick.label);
            free = from + length + 1;
        }
    }
    named(&timeline.clock.date(timeline.from), &row)
}

/// The checks of a lane, in the line of its name.
fn checks(lane: &Lane, scale: &Scale, plot: usize) -> Row {
    let found = lane.tracks.iter().find(|track| track.name == CHECKS);
    found.map_or_else(|| Row::blank(scale, plot), |track| row(track, scale, plot))
}

fn row(track: &Track, scale: &Scale, plot: usize) -> Row {
    let mut row = Row::blank(scale, plot);
    // What broke is drawn last, so that nothing hides it.
    let (broken, rest): (Vec<&Item>, Vec<&Item>) =
        track.items.iter().partition(|item| item.is_broken());
    for item in rest.into_iter().chain(broken) {
        draw(item, scale, &mut row);
    }
    row.tear(scale);
    row
}

fn draw(item: &Item, scale: &Scale, row: &mut Row) {
    let (from, to) = (column(scale.x(item.from)), column(scale.x(item.to)));
    match &item.shape {
        Shape::Ticks { at, tick, idle } => {
            let shown = at
                .iter()
                .filter(|at| (scale.from()..=scale.to()).contains(at));
            shown.for_each(|at| row.put(column(scale.x(*at)), tick_sign(*tick, *idle)));
        }
        Shape::Press { gesture, .. } => {
            row.fill(from, to, '\u{2500}');
            row.put(from, button_sign(*gesture));
        }
        Shape::Span(fill, label) => {
            row.fill(from, to, fill_sign(*fill));
            row.words(from + 1, to, &format!(" {label} "));
        }
        Shape::Timer { label, end, .. } => {
            row.fill(from, to, '\u{2500}');
            row.put(from, '\u{251c}');
            row.put(to, end_sign(*end));
            row.words(from + 2, to, &format!(" {label} "));
        }
        Shape::Light { points, .. } => {
            let level = |level: &Level| f64::from(level.hundredths()) / 10_000.0;
            let points = points.iter().map(|(at, to)| (scale.x(*at), level(to)));
            curve(&points.collect::<Vec<_>>(), from, to, row);
        }
        Shape::Curve(points) => {
            let most = f64::from(points.iter().map(|point| point.1).max().unwrap_or(0).max(1));
            let share = |value: u32| f64::from(value) / most;
            let points = points
                .iter()
                .map(|(at, value)| (scale.x(*at), share(*value)));
            curve(&points.collect::<Vec<_>>(), from, to, row);
        }
        Shape::Frame(fate) => row.put(from, frame_sign(*fate)),
        Shape::Check(verdict) | Shape::Duty(verdict) => {
            judged(item, *verdict, (from, to), scale, row);
        }
        Shape::Fault(begins) => row.put(from, if *begins { '!' } else { '\u{00a1}' }),
    }
}

const fn button_sign(gesture: Gesture) -> char {
    match gesture {
        Gesture::Up => '\u{25b2}',
        Gesture::Down => '\u{25bc}',
        Gesture::Toggle => '\u{25cf}',
        Gesture::Scene => '\u{25c6}',
    }
}

const fn fill_sign(fill: Fill) -> char {
    match fill {
        Fill::Solid => '\u{2501}',
        Fill::Dots => '\u{2504}',
        Fill::Slants => '\u{2571}',
        Fill::Cross => '\u{2573}',
        Fill::Outline => '\u{2500}',
    }
}

const fn end_sign(end: TimerEnd) -> char {
    match end {
        TimerEnd::Elapsed => '\u{2524}',
        TimerEnd::Stopped => '\u{254c}',
        TimerEnd::Running => '\u{2192}',
    }
}

const fn frame_sign(fate: FrameFate) -> char {
    match fate {
        FrameFate::Lost => '\u{00d7}',
        FrameFate::Copy => '=',
        FrameFate::NoPower => '\u{2205}',
    }
}

fn judged(item: &Item, verdict: Verdict, (from, to): (usize, usize), scale: &Scale, row: &mut Row) {
    if from < to {
        row.fill(
            from,
            to,
            if verdict == Verdict::Broken {
                '\u{254d}'
            } else {
                '\u{2500}'
            },
        );
        row.put(from, '\u{251c}');
    }
    if item.to <= scale.to() {
        row.put(to, verdict.sign().chars().next().unwrap_or('?'));
    }
}

const fn tick_sign(tick: Tick, idle: bool) -> char {
    match (tick, idle) {
        (Tick::Motion, false) => '\u{25cf}',
        (Tick::Motion, true) => '\u{25cb}',
        (Tick::Sound, false) => '\u{25b8}',
        (Tick::Sound, true) => '\u{25b9}',
        (Tick::Due, false) => '\u{25c6}',
        (Tick::Due, true) => '\u{25c7}',
        (Tick::Other, false) => '\u{25a0}',
        (Tick::Other, true) => '\u{25a1}',
    }
}

/// A curve of shares from 0 to 1 as blocks of eight heights; nothing at all is a low line.
fn curve(points: &[(f64, f64)], from: usize, to: usize, row: &mut Row) {
    for at in from..=to {
        let x = at as f64;
        let after = points.iter().position(|point| point.0 > x);
        let share = match after {
            None => points.last().map_or(0.0, |point| point.1),
            Some(0) => points[0].1,
            Some(index) => {
                let ((left, low), (right, high)) = (points[index - 1], points[index]);
                let part = if right > left {
                    (x - left) / (right - left)
                } else {
                    1.0
                };
                (high - low).mul_add(part, low)
            }
        };
        let eighths = (share.clamp(0.0, 1.0) * 8.0).ceil() as usize;
        row.put(at, BLOCKS[eighths]);
    }
}

/// The events of a timeline, one a line, with their numbers.
fn events(timeline: &Timeline) -> Vec<String> {
    let items = timeline.items();
    let whens: Vec<String> = items
        .iter()
        .map(|(_, _, item)| item.when(&timeline.clock))
        .collect();
    let width = whens
        .iter()
        .map(|when| when.chars().count())
        .max()
        .unwrap_or(0);
    let lines = items.iter().zip(&whens).map(|((lane, track, item), when)| {
        let subject = match (lane.sort, &item.shape) {
            (LaneSort::Clauses, _) => format!("clause {}: ", track.name),
            (_, Shape::Check(_)) => String::new(),
            _ => format!("{}: ", lane.name),
        };
        format!("{:>5}  {when:<width$}  {subject}{}", item.number, item.says)
    });
    lines.collect()
}

const NAMES: usize = 26;
const CHECKS: &str = "checks";
const BLOCKS: [char; 9] = [
    '_', '\u{2581}', '\u{2582}', '\u{2583}', '\u{2584}', '\u{2585}', '\u{2586}', '\u{2587}',
    '\u{2588}',
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::quiet_reading;
    use sim::Instant;

    #[test]
    fn a_quiet_reading_is_read_in_a_terminal() {
        let sketch = quiet_reading();
        let timeline = Timeline::of(&sketch.run(4_800_000));
        insta::assert_snapshot!(excerpt(&timeline, 100));
    }

    #[test]
    fn the_moment_of_a_failure_is_read_in_a_terminal() {
        let sketch = quiet_reading();
        let timeline = Timeline::of(&sketch.run(4_800_000));
        let (from, to) = (Instant::from_ms(3_599_000), Instant::from_ms(4_504_000));
        let part = timeline.window(from, to, &["wall-sensor", "desk-lights"]);
        insta::assert_snapshot!(excerpt(&part, 100));
    }
}
