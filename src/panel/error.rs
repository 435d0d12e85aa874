//! What can be wrong with a panel file, where, and what would be right.

use std::fmt;

/// A place in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// The file as it was named.
    pub file: String,
    /// Line, from 1; none if the file as a whole is meant.
    pub line: Option<usize>,
    /// Column in characters, from 1, if one is meant.
    pub column: Option<usize>,
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = self.column {
            write!(f, ", column {column}")?;
        }
        Ok(())
    }
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where.
    pub spot: Spot,
    /// What is wrong, and where it fits on a line, what would be right.
    pub message: String,
    /// What to do about it, as full sentences.
    pub hint: Option<String>,
}

impl Problem {
    /// A problem without a hint.
    pub(crate) fn new(spot: Spot, message: impl Into<String>) -> Self {
        Self {
            spot,
            message: message.into(),
            hint: None,
        }
    }

    /// The same problem with what to do about it.
    pub(crate) fn with_hint(self, hint: impl Into<String>) -> Self {
        Self {
            hint: Some(hint.into()),
            ..self
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.spot, self.message)?;
        if let Some(hint) = &self.hint {
            let stop = if self.message.ends_with('?') { "" } else { "." };
            write!(f, "{stop} {hint}")?;
        }
        Ok(())
    }
}

/// Why a panel or card could not be read: everything that is wrong with it, in the order of reading.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", list(problems))]
pub struct PanelError {
    problems: Vec<Problem>,
}

/// After these many the cause is likely one and the same.
const SHOWN: usize = 20;

/// Problems a line each, as many as anyone reads.
pub(crate) fn list(problems: &[Problem]) -> String {
    let mut lines: Vec<String> = problems
        .iter()
        .take(SHOWN)
        .map(ToString::to_string)
        .collect();
    if problems.len() > SHOWN {
        lines.push(format!("… and {} more", problems.len() - SHOWN));
    }
    lines.join("\n")
}

impl PanelError {
    /// Everything that is wrong; never empty.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl From<Problem> for PanelError {
    fn from(problem: Problem) -> Self {
        Self {
            problems: vec![problem],
        }
    }
}

/// Problems found so far, so that a reader sees them all at once.
#[derive(Debug, Default)]
pub(crate) struct Problems(Vec<Problem>);

impl Problems {
    /// The value, or none with its problem put down.
    pub(crate) fn keep<T>(&mut self, result: Result<T, Problem>) -> Option<T> {
        result.map_err(|it| self.0.push(it)).ok()
    }

    /// Puts down one more.
    pub(crate) fn add(&mut self, problem: Problem) {
        self.0.push(problem);
    }

    /// Puts down all of another file's.
    pub(crate) fn add_all(&mut self, error: PanelError) {
        self.0.extend(error.problems);
    }

    /// All of them, in the order in which they were put down.
    pub(crate) fn into_list(self) -> Vec<Problem> {
        self.0
    }

    /// # Errors
    /// If there was any problem.
    pub(crate) fn check(&mut self) -> Result<(), PanelError> {
        if self.0.is_empty() {
            Ok(())
        } else {
            Err(PanelError {
                problems: std::mem::take(&mut self.0),
            })
        }
    }
}
