//! The report's JSON Schema (draft 2020-12), made from its types and committed as `src/fade/schema.json`.

use super::Report;
use schemars::generate::SchemaSettings;

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn generate() -> String {
    // What is written, so that every key is required, and null where nothing is known.
    let schema = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<Report>();
    format!("{:#}\n", schema.as_value())
}
