//! How clauses fare with each value of a setting, for a terminal.
//!
//! Invariant: what is said of a value was asked of it.

use super::record::{Case, ProofVerdict, Sweep, SweptClause};
use crate::table::Paint;

/// The tables of a sweep, and what they come to; nothing when nothing was swept.
pub(super) fn tables(case: &Case, paint: &Paint) -> String {
    let tables = case.sweeps.iter().map(|sweep| sweep.table(paint));
    let mut text: String = tables.collect();
    if !text.is_empty() {
        let signs = ProofVerdict::ALL.map(|it| format!("{} {}", it.sign(), it.words()));
        text.push_str(&format!("{}\n\n", signs.join("   ")));
    }
    text
}

impl Sweep {
    /// A row for each value, a column for each clause.
    fn table(&self, paint: &Paint) -> String {
        let wide = self.values.iter().map(|it| it.chars().count());
        let wide = wide.max().unwrap_or(0).max(self.setting.chars().count());
        let ids: Vec<&str> = self.clauses.iter().map(|it| it.id.as_str()).collect();
        let mut text = format!("{}  ({})\n", self.room, self.file);
        text.push_str(&format!("  {:<wide$}  {}\n", self.setting, ids.join("  ")));
        for (place, value) in self.values.iter().enumerate() {
            let mut line = format!("  {value:<wide$}");
            for clause in &self.clauses {
                let verdict = clause.verdicts[place];
                let gap = " ".repeat(clause.id.chars().count().saturating_sub(1));
                let sign = paint(verdict.plain(), verdict.sign());
                line.push_str(&format!("  {sign}{gap}"));
            }
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text.push('\n');
        for line in self.lines() {
            text.push_str(&format!("  {line}\n"));
        }
        text.push('\n');
        text
    }

    /// What the table comes to: a line for each clause that the setting moves, and one for all
    /// others.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let moved = self.clauses.iter().filter(|clause| clause.moves);
        let mut lines: Vec<String> = moved.map(|clause| self.line(clause)).collect();
        let still = self.clauses.iter().filter(|clause| !clause.moves);
        let still: Vec<&str> = still.map(|clause| clause.id.as_str()).collect();
        if !still.is_empty() && self.values.len() > 1 {
            let them = if still.len() == 1 {
                "it was"
            } else {
                "they were"
            };
            lines.push(format!(
                "{}: the setting does not reach what is asked, so {them} asked once",
                still.join(", ")
            ));
        }
        lines.push("each value was asked by itself; nothing is said of values between".to_owned());
        lines
    }

    /// `A5 is proved for 5 min to 15 min, broken for 20 min to 30 min`.
    fn line(&self, clause: &SweptClause) -> String {
        let all = self.values.iter().zip(&clause.verdicts);
        let all: Vec<(&String, &ProofVerdict)> = all.collect();
        let runs = all.chunk_by(|(_, one), (_, other)| one == other);
        let said = runs.filter_map(|run| {
            let ((first, verdict), (last, _)) = (run.first()?, run.last()?);
            let values = match run.len() {
                1 => (*first).clone(),
                2 => format!("{first} and {last}"),
                _ => format!("{first} to {last}"),
            };
            Some(format!("{} for {values}", verdict.words()))
        });
        let said: Vec<String> = said.collect();
        format!("{} is {}", clause.id, said.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::plain;

    use ProofVerdict::{Broken, NeverExercised, Proved, Undecided};

    fn sweep() -> Sweep {
        let clause = |id: &str, verdicts: [ProofVerdict; 4], moves| SweptClause {
            id: id.to_owned(),
            verdicts: verdicts.to_vec(),
            moves,
        };
        let values = ["5 min", "10 min", "15 min", "20 min"];
        let never = [Undecided, NeverExercised, NeverExercised, NeverExercised];
        Sweep {
            room: "Office 112".to_owned(),
            file: "office/room.toml".to_owned(),
            setting: "eye time-delay".to_owned(),
            values: values.map(str::to_owned).to_vec(),
            clauses: vec![
                clause("A1", [Proved; 4], false),
                clause("A5", [Proved, Proved, Broken, Broken], true),
                clause("A10", never, true),
            ],
        }
    }

    #[test]
    fn a_table_has_a_row_for_each_value_and_a_column_for_each_clause() {
        let table = sweep().table(&plain);
        let lines: Vec<&str> = table.lines().collect();
        assert_eq!(
            lines,
            [
                "Office 112  (office/room.toml)",
                "  eye time-delay  A1  A5  A10",
                "  5 min           ✓   ✓   ?",
                "  10 min          ✓   ✓   ·",
                "  15 min          ✓   ✗   ·",
                "  20 min          ✓   ✗   ·",
                "",
                "  A5 is proved for 5 min and 10 min, broken for 15 min and 20 min",
                "  A10 is undecided for 5 min, never exercised for 10 min to 20 min",
                "  A1: the setting does not reach what is asked, so it was asked once",
                "  each value was asked by itself; nothing is said of values between",
                "",
            ]
        );
    }

    #[test]
    fn one_value_is_no_reason_to_say_what_did_not_move() {
        let mut sweep = sweep();
        sweep.values.truncate(1);
        for clause in &mut sweep.clauses {
            clause.verdicts.truncate(1);
            clause.moves = false;
        }
        assert_eq!(sweep.lines().len(), 1);
    }
}
