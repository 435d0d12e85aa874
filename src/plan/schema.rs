//! Plans as JSON, and their JSON Schema (draft 2020-12), made from their types and committed as `src/plan/schema.json`.

use super::board::PanelPlan;
use super::job::JobPlan;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;

/// A plan as `--format json` writes it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
#[schemars(title = "Plan")]
pub enum Plan {
    /// Of a panel of test patches.
    Panel(Box<PanelPlan>),
    /// Of a job.
    Job(Box<JobPlan>),
}

/// The committed schema.
pub const COMMITTED: &str = include_str!("schema.json");

/// The schema as the types have it now, indented, with a line end.
#[must_use]
pub fn generate() -> String {
    // What is written, so that every key is required, and null where nothing is known.
    let schema = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<Plan>();
    format!("{:#}\n", schema.as_value())
}
