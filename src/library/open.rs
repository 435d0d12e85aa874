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
            .map_err(|it| library.foreign_or(it))?;
        library.migrate()?;
        Ok(library)
    }

    /// A file that SQLite can't take for its own is something else; any other trouble is itself.
    fn foreign_or(&self, source: rusqlite::Error) -> LibraryError {
        if source.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) {
            LibraryError::Foreign {
                path: self.path.clone(),
            }
        } else {
            source.into()
        }
    }

    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The form of the file, after making sure that it is a library or empty.
    fn form(&self) -> Result<i64, LibraryError> {
        let number = |pragma: &str| {
            self.connection
                .query_row(&format!("PRAGMA {pragma}"), [], |row| row.get::<_, i64>(0))
                .map_err(|it| self.foreign_or(it))
        };
        let tables: i64 = self
            .connection
            .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
            .map_err(|it| self.foreign_or(it))?;
        let id = number("application_id")?;
        let form = number("user_version")?;
        if id != i64::from(APPLICATION_ID) && (tables > 0 || id != 0 || form != 0) {
            return Err(LibraryError::Foreign {
                path: self.path.clone(),
            });
        }
        if form > Self::FORM {
            return Err(LibraryError::Newer {
                path: self.path.clone(),
                found: form,
                known: Self::FORM,
            });
        }
        Ok(form)
    }

    fn migrate(&mut self) -> Result<(), LibraryError> {
        let form = self.form()?;
        if form == Self::FORM {
            return Ok(());
        }
        if form > 0 {
            let copy =
                crate::measure::output::with_suffix(&self.path, &format!(".form-{form}.bak"));
            self.copy_to(&copy)?;
        }
        self.write(|transaction| {
            // Another program may have done it meanwhile.
            let form: i64 = transaction.query_row("PRAGMA user_version", [], |row| row.get(0))?;
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
        let failed = |source: Box<dyn std::error::Error + Send + Sync>| LibraryError::Backup {
            path: copy.to_owned(),
            source,
        };
        if let (Ok(one), Ok(other)) = (copy.canonicalize(), self.path.canonicalize())
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
            let backup = rusqlite::backup::Backup::new(&self.connection, &mut target)?;
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
