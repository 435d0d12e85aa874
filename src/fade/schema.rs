//! The report's JSON Schema (draft 2020-12), made from its types and committed as `src/fade/schema.json`.

use super::Report;

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn generate() -> String {
    crate::schema::of::<Report>()
}
