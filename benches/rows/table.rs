//! A table of what was measured against what is to be reached, printed row by row and at the end as a whole.

use super::endtoend::without_u95;

/// What was measured against what is to be reached.
#[derive(Default)]
pub(crate) struct Table {
    rows: Vec<(String, String, String, Verdict)>,
    /// Readings with a colour, and those of them without U95.
    readings: usize,
    without: usize,
}

/// What a row says of its goal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Verdict {
    Reached,
    Missed,
    /// Too few were looked at to say that it is reached.
    TooFew,
}

impl Verdict {
    fn words(self) -> &'static str {
        match self {
            Self::Reached => "",
            Self::Missed => " **MISSED**",
            Self::TooFew => " *(too few to tell)*",
        }
    }
}

impl Table {
    pub(crate) fn row(&mut self, what: &str, goal: &str, found: String, reached: bool) {
        self.row_of(what, goal, found, reached, true);
    }

    /// A row that says nothing good if not `enough` were looked at; what is missed with few is missed.
    pub(crate) fn row_of(
        &mut self,
        what: &str,
        goal: &str,
        found: String,
        reached: bool,
        enough: bool,
    ) {
        let verdict = match (reached, enough) {
            (false, _) => Verdict::Missed,
            (true, false) => Verdict::TooFew,
            (true, true) => Verdict::Reached,
        };
        println!("  {what}: {found}{}", verdict.words());
        self.rows.push((what.into(), goal.into(), found, verdict));
    }

    pub(crate) fn count(&mut self, record: &masstone::record::PhotoRecord) {
        self.readings += record
            .readings
            .iter()
            .filter(|it| it.lab().is_some())
            .count();
        self.without += without_u95(record);
    }

    /// The row on the readings that were counted.
    pub(crate) fn readings_row(&mut self) {
        let (readings, without) = (self.readings, self.without);
        self.row(
            "every reading carries a U95",
            "all",
            format!("{} of {readings} readings", readings - without),
            readings > 0 && without == 0,
        );
    }

    pub(crate) fn print(&self) {
        println!("\n| what | to reach | measured |\n|---|---|---|");
        for (what, goal, found, verdict) in &self.rows {
            println!("| {what} | {goal} | {found}{} |", verdict.words());
        }
        let count = |verdict| self.rows.iter().filter(|it| it.3 == verdict).count();
        println!(
            "\n{} of {} rows miss what is to be reached; {} looked at too few to tell.",
            count(Verdict::Missed),
            self.rows.len(),
            count(Verdict::TooFew)
        );
    }
}
