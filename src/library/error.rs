//! Why the library can't do what it is asked to, and what to do about it.

use rusqlite::ErrorCode;
use std::path::PathBuf;

/// The library can't be opened, read or written. What was in it is as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LibraryError {
    /// There is no file, and nothing is to be written that would begin one.
    #[error("there is no library at {}", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a library of swatches", path.display())]
    Foreign {
        /// Which file.
        path: PathBuf,
    },
    /// A later program wrote it.
    #[error(
        "{} was written by a later version of this program: its form is {found}, and this one knows forms up to {known}",
        path.display()
    )]
    Newer {
        /// Which file.
        path: PathBuf,
        /// Its form.
        found: i64,
        /// The newest form known here.
        known: i64,
    },
    /// The copy that is made before a migration, or a backup, can't be written.
    #[error("can't write {}", path.display())]
    Backup {
        /// The copy.
        path: PathBuf,
        /// Why.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// SQLite says no. Which file that is, the caller knows.
    #[error("{}", plain(.0))]
    Sql(#[from] rusqlite::Error),
    /// A value in the file makes no sense.
    #[error("{what} can't be read: {reason}")]
    Damaged {
        /// What in it.
        what: String,
        /// What is wrong with it.
        reason: String,
    },
    /// Nothing there by that name, or several.
    #[error("{0}")]
    Unknown(String, &'static str),
    /// What is to be written makes no sense.
    #[error("{0}")]
    Senseless(String, &'static str),
}

impl LibraryError {
    /// For values that can't be read.
    pub(super) fn damaged(what: impl Into<String>, reason: impl std::fmt::Display) -> Self {
        Self::Damaged {
            what: what.into(),
            reason: reason.to_string(),
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Missing { .. } => {
                "Name it with --library FILE or MASSTONE_LIBRARY; `masstone library add RECORD.json` begins one."
            }
            Self::Foreign { .. } => {
                "Name another file with --library FILE; a new name begins a new library."
            }
            Self::Newer { .. } => "Use that later version, or a backup from before it.",
            Self::Backup { .. } => {
                "Make room beside the library, and check that you may write there."
            }
            Self::Damaged { .. } => DAMAGED,
            Self::Unknown(_, hint) | Self::Senseless(_, hint) => hint,
            Self::Sql(source) => match source.sqlite_error_code() {
                Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
                    "Another program is writing to it. Wait until it is done, then run the command again."
                }
                Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
                    "Check that you may write to the file and to its folder. Nothing was changed."
                }
                Some(ErrorCode::DiskFull) => {
                    "Make room on the disk, then run the same command again. What was in the library is as it was."
                }
                Some(ErrorCode::SystemIoFailure) => {
                    "Check the disk, and that it has room. What was in the library is as it was."
                }
                Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => DAMAGED,
                _ => {
                    "Run `masstone library check`; if it finds nothing, this is a defect of the program."
                }
            },
        }
    }
}

const DAMAGED: &str = "The file is damaged. Keep it, put a backup in its place, and add the records since then again: \
     `masstone library check` says what is wrong.";

/// SQLite's message in the words of this program.
fn plain(error: &rusqlite::Error) -> String {
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            "the library is in use by another program".to_owned()
        }
        Some(ErrorCode::ReadOnly) => "the library can't be written to".to_owned(),
        Some(ErrorCode::DiskFull) => "the disk is full".to_owned(),
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
            format!("the library is damaged ({error})")
        }
        Some(ErrorCode::CannotOpen) => "the library can't be opened".to_owned(),
        _ => error.to_string(),
    }
}
