//! The record as JSON: what later stages read.
//!
//! `.json` is one object; `.jsonl` is one such object a line, each with one photo and its readings.

use super::{PhotoRecord, Record};
use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes the record as one object, indented, with a line end.
///
/// # Errors
///
/// What writing gives.
pub fn write(record: &Record, out: &mut dyn Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, record)?;
    out.write_all(b"\n")
}

/// Writes the record as one object a line, one line a photo.
///
/// # Errors
///
/// What writing gives.
pub fn write_lines(record: &Record, out: &mut dyn Write) -> std::io::Result<()> {
    for photo in by_photo(record.clone()) {
        out.write_all(line(photo)?.as_bytes())?;
    }
    Ok(())
}

/// One photo as a line of a `.jsonl` file, line end included.
///
/// # Errors
///
/// If it has no JSON form, which its plain numbers and words always have.
pub fn line(photo: PhotoRecord) -> std::io::Result<String> {
    let mut text = serde_json::to_string(&Record::new(vec![photo]))?;
    text.push('\n');
    Ok(text)
}

/// The photos of a record, each with its readings, in the record's order.
#[must_use]
pub fn by_photo(record: Record) -> Vec<PhotoRecord> {
    let mut photos: Vec<PhotoRecord> = record
        .photos
        .into_iter()
        .map(|photo| PhotoRecord {
            photo,
            readings: Vec::new(),
        })
        .collect();
    for reading in record.readings {
        if let Some(owner) = photos.iter_mut().find(|it| it.photo.path == reading.photo) {
            owner.readings.push(reading);
        }
    }
    photos
}

/// Why a record can't be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The file can't be read.
    #[error("can't read {}", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// It is not a record.
    #[error("{place}: {reason}")]
    Form {
        /// File, line and column.
        place: String,
        /// What is wrong there.
        reason: String,
    },
}

impl ReadError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::File { .. } => "Check the name, and that you may read the file.",
            Self::Form { .. } => {
                "Give a .json or .jsonl file that `masstone measure --out` wrote, unchanged."
            }
        }
    }
}

/// Reads a `.json` or `.jsonl` record, by its extension.
///
/// # Errors
///
/// If the file can't be read, isn't JSON, isn't of this form, or holds a reading whose photo it doesn't hold; with file,
/// line and column.
pub fn read(path: &Path) -> Result<Record, ReadError> {
    let bytes = std::fs::read(path).map_err(|source| ReadError::File {
        path: path.to_owned(),
        source,
    })?;
    let name = path.display().to_string();
    if !path
        .extension()
        .is_some_and(|it| it.eq_ignore_ascii_case("jsonl"))
    {
        return parse(&bytes, &name, 0);
    }
    let mut photos = Vec::new();
    for (number, line) in bytes.split(|it| *it == b'\n').enumerate() {
        if !line.trim_ascii().is_empty() {
            photos.extend(by_photo(parse(line, &name, number)?));
        }
    }
    Ok(Record::new(photos))
}

/// Reads one object that starts after `lines_before` lines of the file called `name`.
pub(crate) fn parse(bytes: &[u8], name: &str, lines_before: usize) -> Result<Record, ReadError> {
    let record: Record = serde_json::from_slice(bytes).map_err(|it| {
        let mut place = name.to_owned();
        // serde_json counts from one; line 0 means that the error has no place.
        if it.line() > 0 {
            let _ = write!(place, ":{}:{}", lines_before + it.line(), it.column());
        }
        ReadError::Form {
            place,
            reason: without_place(&it),
        }
    })?;
    let stray = record
        .readings
        .iter()
        .find(|reading| !record.photos.iter().any(|it| it.path == reading.photo));
    match stray {
        None => Ok(record),
        Some(reading) => Err(ReadError::Form {
            place: format!("{name}:{}", lines_before + 1),
            reason: format!(
                "the reading of patch {} names the photo {}, which is not among its photos",
                reading.patch, reading.photo
            ),
        }),
    }
}

/// The message without `serde_json`'s own " at line … column …".
fn without_place(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at line ") {
        Some(end) => text[..end].to_owned(),
        None => text,
    }
}
