//! The file itself: opening, beginning, migrating, copying.

use super::error::LibraryError;
use super::tables::{APPLICATION_ID, FORMS};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long to wait while another program writes.
const PATIENCE: Duration = Duration::from_secs(60);

/// A library that is open.
#[derive(Debug)]
pub struct Library {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
}

impl Library {
    /// The form of the files that this program writes.
    #[expect(clippy::cast_possible_wrap, reason = "a handful")]
    pub const FORM: i64 = FORMS.len() as i64;

    /// Opens the library, and begins one if there is no file. An earlier form is taken to the present one.
    ///
    /// # Errors
    ///
    /// If it can't be opened or made, is something else, or was written by a later program.
    pub fn open_or_begin(path: &Path) -> Result<Self, LibraryError> {
        Self::connect(
            path,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
        )
    }

    /// Opens a library that is there. An earlier form is taken to the present one.
    ///
    /// # Errors
    ///
    /// As [`Self::open_or_begin`], and if there is no file.
    pub fn open(path: &Path) -> Result<Self, LibraryError> {
        if !path.exists() {
            return Err(LibraryError::Missing {
                path: path.to_owned(),
            });
        }
        Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
    }

    fn connect(path: &Path, how: OpenFlags) -> Result<Self, LibraryError> {
        let connection = Connection::open_with_flags(path, how | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
        connection.busy_timeout(PATIENCE)?;
        let mut library = Self {
            connection,
            path: path.to_owned(),
        };
        let settings = "
            PRAGMA foreign_keys = ON;
            PRAGMA cell_size_check = ON;
            PRAGMA trusted_schema = OFF;
            PRAGMA synchronous = EXTRA;
            PRAGMA cache_size = -65536;
            PRAGMA temp_store = MEMORY;";
        library
            .connection
            .execute_batch(settings)
            .map_err(|it| foreign_or(it, path))?;
        library.migrate()?;
        Ok(library)
    }

    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes an earlier form, or an empty file, to the present one.
    fn migrate(&mut self) -> Result<(), LibraryError> {
        // Most files need nothing, and looking locks nobody out.
        if form(&self.connection, &self.path)? == Self::FORM {
            return Ok(());
        }
        let path = self.path.clone();
        self.write(|transaction| {
            // What counts is what the file is now that nobody else can write: another program may have written to it, or taken it forward.
            let form = form(transaction, &path)?;
            if form == Self::FORM {
                return Ok(());
            }
            if form > 0 {
                let copy = crate::measure::output::with_suffix(&path, &format!(".form-{form}.bak"));
                // The connection that holds the lock can't be copied from. Another reads what was written last, which stays so until
                // this transaction ends.
                let reader = Connection::open_with_flags(
                    &path,
                    OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
                )?;
                reader.busy_timeout(PATIENCE)?;
                copy_from(&reader, &path, &copy)?;
            }
            let done = usize::try_from(form).unwrap_or(usize::MAX).min(FORMS.len());
            for step in &FORMS[done..] {
                transaction.execute_batch(step)?;
            }
            transaction.execute_batch(&format!(
                "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};",
                Self::FORM
            ))?;
            Ok(())
        })
    }

    /// Copies the library as it is now, whole, while others may read and write it. The copy is written beside and renamed. A library that
    /// was there is kept as `COPY.bak`, whose path is returned.
    ///
    /// # Errors
    ///
    /// If something other than a library is there, or the copy can't be written; what was there before stays then.
    pub fn copy_to(&self, copy: &Path) -> Result<Option<PathBuf>, LibraryError> {
        copy_from(&self.connection, &self.path, copy)
    }

    /// The library as it is at this moment, until what is returned is dropped: no writer changes it between two questions. SQLite also
    /// locks the file, and looks whether it was changed, once instead of for every question. There can't be two at a time.
    pub(super) fn moment(&self) -> Result<Transaction<'_>, LibraryError> {
        Ok(self.connection.unchecked_transaction()?)
    }

    /// Writes all or nothing: `work` in one transaction that no other writer enters.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, LibraryError>,
    ) -> Result<T, LibraryError> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let result = work(&transaction)?;
        transaction.commit()?;
        Ok(result)
    }
}

/// Copies what `source` reads, the library at `path`, to another place: as [`Library::copy_to`].
fn copy_from(
    source: &Connection,
    path: &Path,
    copy: &Path,
) -> Result<Option<PathBuf>, LibraryError> {
    let failed = |reason: Box<dyn std::error::Error + Send + Sync>| LibraryError::Backup {
        path: copy.to_owned(),
        source: reason,
    };
    if let (Ok(one), Ok(other)) = (copy.canonicalize(), path.canonicalize())
        && one == other
    {
        return Err(LibraryError::Senseless(
            format!("{} is the library itself", copy.display()),
            "Name another file for the backup.",
        ));
    }
    let place = crate::measure::output::check(copy).map_err(|it| failed(it.source.into()))?;
    let there = is_library(&place).map_err(|it| failed(it.into()))?;
    if there == Some(false) {
        return Err(LibraryError::Senseless(
            format!("{} is there already, and is no library", place.display()),
            "Name another file for the backup.",
        ));
    }
    let beside = crate::measure::output::with_suffix(&place, ".tmp");
    let kept = there.map(|_| crate::measure::output::with_suffix(&place, ".bak"));
    let done = (|| -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
        // What a run that was stopped left behind is of no use to anybody.
        let _ = std::fs::remove_file(&beside);
        let mut target = Connection::open(&beside)?;
        let backup = rusqlite::backup::Backup::new(source, &mut target)?;
        backup.run_to_completion(4096, Duration::ZERO, None)?;
        drop(backup);
        target.close().map_err(|(_, it)| it)?;
        std::fs::File::open(&beside)?.sync_all()?;
        if let Some(kept) = &kept {
            std::fs::rename(&place, kept)?;
        }
        std::fs::rename(&beside, &place).inspect_err(|_| {
            // Back to where it was; if even that fails, it lies beside.
            let _ = kept.as_ref().map(|it| std::fs::rename(it, &place));
        })?;
        Ok(())
    })();
    done.map(|()| kept).map_err(|it| {
        let _ = std::fs::remove_file(&beside);
        failed(it)
    })
}

/// A file that SQLite can't take for its own is something else; any other trouble is itself.
fn foreign_or(source: rusqlite::Error, path: &Path) -> LibraryError {
    if source.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) {
        LibraryError::Foreign {
            path: path.to_owned(),
        }
    } else {
        source.into()
    }
}

/// The form of the file, after making sure that it is a library or empty.
fn form(connection: &Connection, path: &Path) -> Result<i64, LibraryError> {
    let number = |sql: &str| {
        connection
            .query_row(sql, [], |row| row.get::<_, i64>(0))
            .map_err(|it| foreign_or(it, path))
    };
    let tables = number("SELECT count(*) FROM sqlite_schema")?;
    let id = number("PRAGMA application_id")?;
    let form = number("PRAGMA user_version")?;
    if id != i64::from(APPLICATION_ID) && (tables > 0 || id != 0 || form != 0) {
        return Err(LibraryError::Foreign {
            path: path.to_owned(),
        });
    }
    if form > Library::FORM {
        return Err(LibraryError::Newer {
            path: path.to_owned(),
            found: form,
            known: Library::FORM,
        });
    }
    Ok(form)
}

/// Whether the file at `path` is a library, by its header; `None` if there is no file.
///
/// # Source
/// The application id is four bytes from 68 on, big-endian: SQLite, "Database File Format", 1.3.
fn is_library(path: &Path) -> std::io::Result<Option<bool>> {
    use std::io::Read as _;
    let file = match std::fs::File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let mut header = Vec::new();
    file.take(72).read_to_end(&mut header)?;
    Ok(Some(
        header.starts_with(b"SQLite format 3\0")
            && header.get(68..72) == Some(&APPLICATION_ID.to_be_bytes()),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::find::{Filter, Sort};

    #[test]
    fn no_writer_comes_between_the_questions_of_a_moment() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("l.sqlite");
        let library = Library::open_or_begin(&path).unwrap();
        let writer = Connection::open(&path).unwrap();
        writer.busy_timeout(Duration::ZERO).unwrap();
        let write = || {
            writer.execute(
                "INSERT INTO swatch (digest, name) VALUES (randomblob(8), 'oak')",
                [],
            )
        };
        let count = || {
            let sql = "SELECT count(*) FROM swatch";
            let number = library.connection.query_row(sql, [], |row| row.get(0));
            number.unwrap_or(-1)
        };
        let moment = library.moment().unwrap();
        assert_eq!(count(), 0);
        assert!(write().is_err(), "it was let in");
        assert_eq!(count(), 0);
        drop(moment);
        // Nor does a list, once it is there, keep anybody out.
        library.list(&Filter::default(), Sort::Number).unwrap();
        write().unwrap();
        assert_eq!(count(), 1);
    }
}
