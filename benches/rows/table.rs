//! A table of what was measured against what is to be reached, printed row by row and at the end as a whole.

use super::endtoend::without_u95;

/// What was measured against what is to be reached.
#[derive(Default)]
pub(crate) struct Table {
    rows: Vec<(String, String, String, bool)>,
    /// Readings with a colour, and those of them without U95.
    readings: usize,
    without: usize,
}

impl Table {
    pub(crate) fn row(&mut self, what: &str, goal: &str, found: String, reached: bool) {
        println!("  {what}: {found}{}", missed(reached));
        self.rows.push((what.into(), goal.into(), found, reached));
    }

    pub(crate) fn count(&mut self, record: &masstone::record::PhotoRecord) {
        self.readings += record
            .readings
            .iter()
            .filter(|it| it.lab().is_some())
            .count();
        self.without += without_u95(record);
    }

    pub(crate) fn print(&mut self) {
        let (readings, without) = (self.readings, self.without);
        self.row(
            "every reading carries a U95",
            "all",
            format!("{} of {readings} readings", readings - without),
            readings > 0 && without == 0,
        );
        println!("\n| what | to reach | measured |\n|---|---|---|");
        for (what, goal, found, reached) in &self.rows {
            println!("| {what} | {goal} | {found}{} |", missed(*reached));
        }
        let misses = self.rows.iter().filter(|it| !it.3).count();
        println!(
            "\n{misses} of {} rows miss what is to be reached.",
            self.rows.len()
        );
    }
}

fn missed(reached: bool) -> &'static str {
    if reached { "" } else { " **MISSED**" }
}
