//! A whole trace, step by step: as text for people and as JSON lines for programs.
//!
//! The JSON lines are the records of [`sim::export`], the header first; MessagePack of the same
//! records is [`sim::export::to_messagepack`].

use sim::export::{Header, Record};

use crate::run::Run;

/// The trace as text: instant, step, cause, who, what.
#[must_use]
pub fn text(run: &Run<'_>) -> String {
    let names = &run.names;
    let subjects: Vec<String> = run
        .trace
        .steps
        .iter()
        .map(|step| names.subject(&step.what))
        .collect();
    let width = subjects
        .iter()
        .map(|subject| subject.chars().count())
        .max()
        .unwrap_or(0);
    let numbers = run.trace.steps.len().to_string().len().max(4);
    let mut text = format!(
        "{}, {}: {}\n{:>16}  {:>numbers$} {:>numbers$}  {:<width$}  what\n",
        run.names.plan.name,
        run.clock.date(sim::Instant::START),
        run.title,
        "day and time",
        "step",
        "from",
        "who",
    );
    for ((id, step), subject) in run.steps().zip(&subjects) {
        let cause = step
            .cause
            .map_or_else(|| "-".to_owned(), |cause| cause.number().to_string());
        let what = names.predicate(&step.what);
        let place = run
            .places
            .get(&id)
            .map_or_else(String::new, |place| format!("  ({place})"));
        let at = run.clock.column(step.at);
        text.push_str(&format!(
            "{at:>16}  {:>numbers$} {cause:>numbers$}  {subject:<width$}  {what}{place}\n",
            id.number(),
        ));
    }
    text
}

/// The trace as JSON lines: a header, then a record for each step.
///
/// # Panics
///
/// Never: records are maps of flat values.
#[must_use]
pub fn json_lines(run: &Run<'_>) -> String {
    let (plan, slots) = (run.names.plan, &run.names.slots);
    let whole = "records are maps of flat values";
    let mut text = serde_json::to_string(&Header::new(plan)).expect(whole);
    text.push('\n');
    for record in Record::of(run.trace, plan, slots) {
        text.push_str(&serde_json::to_string(&record).expect(whole));
        text.push('\n');
    }
    text
}

/// The trace as MessagePack: the same header and records.
#[must_use]
pub fn messagepack(run: &Run<'_>) -> Vec<u8> {
    sim::export::to_messagepack(run.trace, run.names.plan, &run.names.slots)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples::morning;
    use crate::sketch::quiet_reading;

    #[test]
    fn a_trace_reads_line_by_line() {
        let sketch = quiet_reading();
        let text = text(&sketch.run(4_800_000));
        let lines: Vec<&str> = text.lines().collect();
        let ends = [&lines[..22], &lines[lines.len() - 22..]].concat();
        insta::assert_snapshot!(ends.join("\n"));
    }

    #[test]
    fn json_lines_and_messagepack_hold_the_same_records() {
        let sample = morning();
        let run = sample.run();
        let (header, records) = sim::export::from_messagepack(&messagepack(&run)).unwrap();
        let text = json_lines(&run);
        let mut lines = text.lines();
        let first: Header = serde_json::from_str(lines.next().unwrap()).unwrap();
        assert_eq!(first, header);
        let read: Vec<Record> = lines
            .map(|line| serde_json::from_str(line).unwrap())
            .collect();
        assert_eq!(read, records);
        assert_eq!(read.len(), run.trace.steps.len());
    }
}
