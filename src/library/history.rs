//! What was corrected, as it was before.

use super::digest::{self, Digest};
use super::document::{Corrected, NoteOfSpecimen};
use super::{LibraryError, pack};
use crate::record::{Record, json};
use rusqlite::{Connection, params};

/// How the names of photos begin here; their SHA-256 follows, and `before` is a record.
const PHOTO: &str = "photo ";
/// How the names of notes begin here; panel/patch follows, and `before` is the note with its specimen.
const NOTE: &str = "note ";

/// Keeps what is about to be replaced: `before` is JSON.
pub(super) fn keep(
    connection: &Connection,
    what: &str,
    why: Option<&str>,
    before: &str,
) -> Result<(), LibraryError> {
    let now: String =
        connection.query_row("SELECT strftime('%Y-%m-%dT%H:%M:%SZ', 'now')", [], |row| {
            row.get(0)
        })?;
    insert(connection, &now, what, why, before)
}

fn insert(
    connection: &Connection,
    date: &str,
    what: &str,
    why: Option<&str>,
    before: &str,
) -> Result<(), LibraryError> {
    let before = pack::text(before);
    connection.execute(
        "INSERT INTO history (date, what, why, before, digest) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![date, what, why, before, stored(date, what, why, &before)],
    )?;
    Ok(())
}

/// Of what is stored of an entry.
fn stored(date: &str, what: &str, why: Option<&str>, before: &[u8]) -> Digest {
    let said = [u8::from(why.is_some())];
    let why = why.unwrap_or_default().as_bytes();
    digest::of_bytes(&[date.as_bytes(), what.as_bytes(), &said, why, before])
}

/// Keeps an entry of another library's history, unless one is there that says the same.
pub(super) fn bring(connection: &Connection, it: &Corrected) -> Result<(), LibraryError> {
    let there = connection
        .prepare_cached("SELECT before FROM history WHERE date = ?1 AND what = ?2 AND why IS ?3")?
        .query_map(params![it.date, it.what, it.why], |row| {
            row.get::<_, Vec<u8>>(0)
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let meant = digest::of_said(&it.before)?;
    for packed in there {
        let text = pack::unpacked(&packed, &it.what)?;
        let value: serde_json::Value =
            serde_json::from_str(&text).map_err(|error| LibraryError::damaged(&it.what, error))?;
        if digest::of_said(&value)? == meant {
            return Ok(());
        }
    }
    let before = it.before.to_string();
    insert(connection, &it.date, &it.what, it.why.as_deref(), &before)
}

/// Whether what an entry says was there can be read again: what shows the past of a swatch rests on it.
pub(super) fn check(it: &Corrected) -> Result<(), LibraryError> {
    let readable =
        if it.what.starts_with(PHOTO) {
            serde_json::from_value::<Record>(it.before.clone()).and_then(|record| {
                match json::by_photo(record).len() {
                    1 => Ok(()),
                    n => Err(serde::de::Error::custom(format!(
                        "it holds {n} photos, not 1"
                    ))),
                }
            })
        } else if it.what.starts_with(NOTE) {
            serde_json::from_value::<NoteOfSpecimen>(it.before.clone()).map(|_| ())
        } else {
            Ok(())
        };
    readable.map_err(|error| {
        LibraryError::damaged(format!("the history, {} of {}", it.what, it.date), error)
    })
}

/// What is not as it was written, in words.
pub(super) fn faults(connection: &Connection) -> Result<Vec<String>, LibraryError> {
    let mut statement = connection
        .prepare_cached("SELECT date, what, why, before, digest FROM history ORDER BY id")?;
    let mut rows = statement.query([])?;
    let mut faults = Vec::new();
    while let Some(row) = rows.next()? {
        let (date, what): (String, String) = (row.get(0)?, row.get(1)?);
        let (why, before): (Option<String>, Vec<u8>) = (row.get(2)?, row.get(3)?);
        let digest: Vec<u8> = row.get(4)?;
        if digest != stored(&date, &what, why.as_deref(), &before) {
            faults.push(format!(
                "the history: what was there of {what} on {date} is not what was written"
            ));
        } else if let Err(error) = pack::unpacked(&before, &what) {
            faults.push(format!("the history: {error}"));
        }
    }
    Ok(faults)
}
