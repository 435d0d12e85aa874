//! The report as JSON: everything that is known, in the form of `src/fade/schema.json`.

use super::Report;
use std::io::Write;

/// Writes the report as one object, indented, with a line end.
///
/// # Errors
///
/// What writing gives.
pub fn write(report: &Report, out: &mut dyn Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, report)?;
    out.write_all(b"\n")
}
