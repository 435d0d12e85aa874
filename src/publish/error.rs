//! Why a range can't be published, and what to do about it.

use crate::library::LibraryError;
use crate::panel::error::{Problem, list};
use std::io;
use std::path::PathBuf;

/// Nothing was changed: what was published before is as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PublishError {
    /// The settings file; never empty.
    #[error("{}", list(.0))]
    Settings(Vec<Problem>),
    /// The library.
    #[error(transparent)]
    Library(#[from] LibraryError),
    /// There is nothing to publish.
    #[error("there is nothing to publish: {0}")]
    Nothing(String, &'static str),
    /// The folder holds files that are not the site's.
    #[error("{} holds what this program didn't put there: {}", folder.display(), names(.files))]
    Foreign {
        /// The folder.
        folder: PathBuf,
        /// Its foreign files, relative to it; never empty.
        files: Vec<String>,
    },
    /// A page of the site was changed by hand.
    #[error("{} was changed by hand since it was built: {}", folder.display(), names(.files))]
    Edited {
        /// The folder.
        folder: PathBuf,
        /// Which of its files, relative to it; never empty.
        files: Vec<String>,
    },
    /// The folder is a file, or the one that the user is in.
    #[error("{} can't be the site's folder: it is a file, or the folder that you are in", .0.display())]
    NoFolder(PathBuf),
    /// Another build is at work.
    #[error("another build is writing {}", .0.display())]
    Busy(PathBuf),
    /// The library's file or the settings' can't be read.
    #[error("can't read {}", path.display())]
    Unread {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A file or folder can't be written.
    #[error("can't write {}", path.display())]
    Io {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

impl From<Problem> for PublishError {
    fn from(problem: Problem) -> Self {
        Self::Settings(vec![problem])
    }
}

impl PublishError {
    /// For `map_err`.
    pub(super) fn at(path: &std::path::Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Io { path, source }
    }

    /// What to do about it; empty where the message says it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Settings(_) => "",
            Self::Library(it) => it.hint(),
            Self::Nothing(_, hint) => hint,
            Self::Foreign { .. } => {
                "Nothing was changed. Name a folder that isn't there yet, an empty one, or one that this command made; copy the site from there to where it is served."
            }
            Self::Edited { .. } => {
                "Nothing was changed, so that the edit isn't lost. Move those files elsewhere; what a page says comes from the library and the settings file."
            }
            Self::Busy(_) => "Wait until it is done, then run the command again.",
            Self::NoFolder(_) => "Name a folder, or a name that isn't there yet.",
            Self::Unread { .. } => "Check the name, and that it is a file that you may read.",
            Self::Io { source, .. } => match source.kind() {
                io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                    "Make room on the disk, then run the same command again. What was published before is as it was."
                }
                _ => {
                    "Name a folder where you may write, within one where you may write, too: the site is built beside it. What was published before is as it was."
                }
            },
        }
    }
}

/// A few names, and how many more.
fn names(files: &[String]) -> String {
    const TOLD: usize = 5;
    let told = files
        .iter()
        .take(TOLD)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match files.len().saturating_sub(TOLD) {
        0 => told,
        more => format!("{told} and {more} more"),
    }
}
