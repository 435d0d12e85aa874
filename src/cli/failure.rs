//! How a command ends: the exit status, and the message where it could not do what was asked.

use masstone::measure::output::OutputError;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::ExitCode;

/// The exit statuses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Exit {
    /// Everything asked was done.
    Done = 0,
    /// Something was refused or could not be written; the rest was done all the same.
    Short = 1,
    /// Wrong usage, or a file that says what is to be done makes no sense.
    Usage = 2,
}

impl Exit {
    /// Help and version were asked for; everything else is wrong usage.
    pub(super) fn from_clap(error: &clap::Error) -> Self {
        if error.use_stderr() {
            Self::Usage
        } else {
            Self::Done
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// Why a command ended before its work was done.
#[derive(Debug)]
pub(super) struct Failure {
    exit: Exit,
    error: anyhow::Error,
    hint: String,
}

impl Failure {
    /// Wrong usage, or a panel, card or list of patches that makes no sense.
    pub(super) fn usage(error: impl Into<anyhow::Error>, hint: impl Into<String>) -> Self {
        Self {
            exit: Exit::Usage,
            error: error.into(),
            hint: hint.into(),
        }
    }

    /// The work could not be done.
    pub(super) fn work(error: impl Into<anyhow::Error>, hint: impl Into<String>) -> Self {
        Self {
            exit: Exit::Short,
            error: error.into(),
            hint: hint.into(),
        }
    }

    /// Adds to the hint.
    pub(super) fn and(mut self, hint: &str) -> Self {
        if !self.hint.is_empty() {
            self.hint.push(' ');
        }
        self.hint.push_str(hint);
        self
    }

    /// Says it on standard error; the status to exit with.
    pub(super) fn report(self) -> Exit {
        say(&message("error", &format!("{:#}", self.error), &self.hint));
        self.exit
    }
}

impl From<OutputError> for Failure {
    fn from(error: OutputError) -> Self {
        let hint = error.hint();
        Self::work(error, hint)
    }
}

impl From<rayon::ThreadPoolBuildError> for Failure {
    fn from(error: rayon::ThreadPoolBuildError) -> Self {
        Self::work(
            anyhow::Error::new(error).context("can't start the threads"),
            "Ask for fewer with --threads.",
        )
    }
}

/// A message and what to do about it.
pub(super) fn message(kind: &str, text: &str, hint: &str) -> String {
    let mut message = format!("{kind}: {}", printable(text));
    if !hint.is_empty() {
        let _ = write!(message, "\n  hint: {}", printable(hint));
    }
    message
}

/// A line on standard error. Where nobody can read it there is nobody to tell.
pub(super) fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// Without the control characters that a name could smuggle into a terminal; line ends and tabs stay.
pub(super) fn printable(text: &str) -> String {
    text.chars()
        .map(|it| match it {
            '\n' | '\t' => it,
            it if it.is_control() => char::REPLACEMENT_CHARACTER,
            it => it,
        })
        .collect()
}

/// An error and all of its causes, on one line.
pub(super) fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(it) = cause {
        let _ = write!(text, ": {it}");
        cause = it.source();
    }
    text
}
