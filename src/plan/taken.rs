//! Where the facts of a plan were taken from, so that a sheet can be trusted, or mended where it is wrong.

use schemars::JsonSchema;
use serde::Serialize;

/// A fact that a plan rests on, and where it was taken from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Taken {
    /// What it is of: `pot life of clear coating`.
    pub what: String,
    /// The fact with its unit: `60 minutes`.
    pub value: String,
    /// Where it was taken from: `the library`, `the command line`.
    pub from: String,
}

/// What a user said.
pub(super) const SAID: &str = "the command line";
/// What the library holds.
pub(super) const HELD: &str = "the library";

impl Taken {
    /// A fact and its origin.
    pub(super) fn new(
        what: impl Into<String>,
        value: impl Into<String>,
        from: impl Into<String>,
    ) -> Self {
        Self {
            what: what.into(),
            value: value.into(),
            from: from.into(),
        }
    }
}

/// What was said, else what is held, with its origin.
pub(super) fn said_or_held<T>(said: Option<T>, held: Option<T>) -> Option<(T, &'static str)> {
    said.map(|it| (it, SAID))
        .or_else(|| held.map(|it| (it, HELD)))
}
