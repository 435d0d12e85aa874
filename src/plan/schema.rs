//! Plans as JSON, and their JSON Schema (draft 2020-12), made from their types and committed as `src/plan/schema.json`.

use super::board::PanelPlan;
use super::job::JobPlan;
use schemars::JsonSchema;
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
    crate::schema::of::<Plan>()
}
