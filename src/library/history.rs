//! What was corrected, as it was before.

use super::LibraryError;
use super::pack;
use rusqlite::{Connection, params};

/// Keeps what is about to be replaced: `before` is JSON.
pub(super) fn keep(
    connection: &Connection,
    what: &str,
    why: Option<&str>,
    before: &str,
) -> Result<(), LibraryError> {
    connection.execute(
        "INSERT INTO history (date, what, why, before) VALUES (strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?1, ?2, ?3)",
        params![what, why, pack::text(before)],
    )?;
    Ok(())
}
