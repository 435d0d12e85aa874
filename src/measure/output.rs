//! Puts a finished file in place: written beside, synced, renamed. What was there before is kept.

use std::ffi::OsString;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// A file can't be written.
#[derive(Debug, thiserror::Error)]
#[error("can't write {}", path.display())]
pub struct OutputError {
    /// Which file.
    pub path: PathBuf,
    /// Why.
    pub source: io::Error,
}

impl OutputError {
    /// For `map_err`.
    pub(super) fn at(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self { path, source }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self.source.kind() {
            io::ErrorKind::NotFound => "Make the folder first, or name one that exists.",
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                "Make room on the disk, then run the same command again."
            }
            _ => "Name a file in a folder where you may write.",
        }
    }
}

/// The path with something added to its whole name: `OUT` and `.bak` give `OUT.bak`.
#[must_use]
pub fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name: OsString = path.as_os_str().to_owned();
    name.push(suffix);
    name.into()
}

/// Checks, before any long work, that a file can be put at `path`, and follows a link to the file that it stands for.
///
/// # Errors
///
/// If something other than a regular file is there, or it is write-protected, or its folder does not exist.
pub fn check(path: &Path) -> Result<PathBuf, OutputError> {
    let other = |kind, reason: &str| OutputError {
        path: path.to_owned(),
        source: io::Error::new(kind, reason),
    };
    if path.file_name().is_none() {
        return Err(other(io::ErrorKind::InvalidInput, "it names no file"));
    }
    let link = fs::symlink_metadata(path).is_ok_and(|it| it.is_symlink());
    let path = if link {
        // Renaming onto a link would replace the link and leave its file as it was.
        path.canonicalize().map_err(OutputError::at(path))?
    } else {
        path.to_owned()
    };
    match fs::metadata(&path) {
        Ok(there) if there.is_dir() => Err(other(io::ErrorKind::IsADirectory, "it is a folder")),
        Ok(there) if !there.is_file() => Err(other(
            io::ErrorKind::InvalidInput,
            "it is not a regular file",
        )),
        Ok(there) if there.permissions().readonly() => Err(other(
            io::ErrorKind::PermissionDenied,
            "it is write-protected",
        )),
        Ok(_) => Ok(path),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            fs::metadata(folder_of(&path)).map_err(OutputError::at(&path))?;
            Ok(path)
        }
        Err(source) => Err(OutputError { path, source }),
    }
}

/// Writes `path` through `write`: beside first, then renamed over it. At no time is there half a file.
///
/// # Errors
///
/// If it can't be written; then `path` is as it was.
pub fn replace(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), OutputError> {
    beside(path, write)
        .and_then(|file| persist(file, path))
        .map_err(OutputError::at(path))
}

/// As [`replace`], and what was at `path` before is kept as `OUT.bak`, whose path is returned.
///
/// # Errors
///
/// If it can't be written; then `path` is as it was.
pub fn replace_and_keep(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<Option<PathBuf>, OutputError> {
    let file = beside(path, write).map_err(OutputError::at(path))?;
    let kept = with_suffix(path, ".bak");
    let existed = match fs::rename(path, &kept) {
        Ok(()) => true,
        Err(error) if error.kind() == io::ErrorKind::NotFound => false,
        Err(source) => return Err(OutputError { path: kept, source }),
    };
    match persist(file, path) {
        Ok(()) => Ok(existed.then_some(kept)),
        Err(source) => {
            if existed {
                // Back to where it was; if even that fails, the message names the file and its backup lies beside it.
                let _ = fs::rename(&kept, path);
            }
            Err(OutputError::at(path)(source))
        }
    }
}

/// A synced file in the same folder, with what `write` writes; it vanishes unless it is persisted.
fn beside(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".masstone-").suffix(".tmp");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any other new file: what the user's umask leaves. The default is for the user's eyes only.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let file = builder.tempfile_in(folder_of(path))?;
    let mut buffered = BufWriter::new(file);
    write(&mut buffered)?;
    let file = buffered
        .into_inner()
        .map_err(io::IntoInnerError::into_error)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// Renames the file to its place and makes the rename last.
fn persist(file: tempfile::NamedTempFile, path: &Path) -> io::Result<()> {
    file.persist(path)?;
    sync_folder(path);
    Ok(())
}

/// Makes a rename or a new file in the folder of `path` outlast a power cut, where the system can.
pub(super) fn sync_folder(path: &Path) {
    if let Ok(folder) = fs::File::open(folder_of(path)) {
        // Not every file system can; the file itself is synced already.
        let _ = folder.sync_all();
    }
}

/// The folder that a path's file is in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|it| it.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn what_was_there_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out.csv");
        assert_eq!(
            replace_and_keep(&out, |it| it.write_all(b"one")).unwrap(),
            None
        );
        let kept = replace_and_keep(&out, |it| it.write_all(b"two"))
            .unwrap()
            .unwrap();
        assert_eq!(fs::read(&out).unwrap(), b"two");
        assert_eq!(fs::read(kept).unwrap(), b"one");
        assert_eq!(names(folder.path()), ["out.csv", "out.csv.bak"]);
    }

    #[test]
    fn a_failure_leaves_everything_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out.csv");
        fs::write(&out, "one").unwrap();
        let error = replace_and_keep(&out, |it| {
            it.write_all(b"half of tw")?;
            Err(io::Error::other("the disk is gone"))
        })
        .unwrap_err();
        assert!(error.to_string().contains("out.csv"));
        assert_eq!(fs::read(&out).unwrap(), b"one");
        assert_eq!(names(folder.path()), ["out.csv"]);
    }

    #[test]
    fn a_target_is_checked_before_the_work() {
        let folder = tempfile::tempdir().unwrap();
        assert!(check(&folder.path().join("new.csv")).is_ok());
        let missing = check(&folder.path().join("none/new.csv")).unwrap_err();
        assert!(missing.hint().contains("Make the folder"));
        assert!(check(folder.path()).is_err());
        assert!(check(Path::new("/")).is_err());
        let protected = folder.path().join("protected.csv");
        fs::write(&protected, "").unwrap();
        let mut permissions = fs::metadata(&protected).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&protected, permissions).unwrap();
        assert!(check(&protected).is_err());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_followed_and_modes_are_ordinary() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (
            folder.path().join("file.csv"),
            folder.path().join("link.csv"),
        );
        fs::write(&file, "").unwrap();
        std::os::unix::fs::symlink(&file, &link).unwrap();
        assert_eq!(check(&link).unwrap(), file.canonicalize().unwrap());

        let usual = fs::metadata(&file).unwrap().permissions().mode();
        replace(&file, |it| it.write_all(b"new")).unwrap();
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode(), usual);
    }
}
