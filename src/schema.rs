//! JSON Schemas of what the program writes.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;

/// The schema (draft 2020-12) of a type as it is written: every key is required, and null where nothing is known. Indented, with a line end.
pub(crate) fn of<T: JsonSchema>() -> String {
    let schema = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<T>();
    format!("{:#}\n", schema.as_value())
}
