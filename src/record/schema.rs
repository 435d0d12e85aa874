//! The record's JSON Schema (draft 2020-12), made from its types and committed as `src/record/schema.json`.
//!
//! A line of a `.jsonl` file holds to the same schema.

use super::Record;

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn generate() -> String {
    crate::schema::of::<Record>()
}
