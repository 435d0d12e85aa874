//! From a library and settings to a site in its folder.

use super::error::PublishError;
use super::folder::{Built, Folder};
use super::range::Range;
use super::settings::Settings;
use super::site;
use crate::library::Library;
use crate::record::Program;
use sha2::{Digest as _, Sha256};
use std::fs::File;
use std::io;
use std::path::Path;

/// What became of a site.
#[derive(Debug)]
pub enum Outcome {
    /// A whole site of the same library and settings was there: so many files.
    Unchanged(usize),
    /// It was built.
    Built(Built, Box<Range>),
}

/// Builds the site of a library in a folder, unless it is there already.
///
/// # Errors
///
/// Whatever keeps it from being whole; what was in the folder is as it was then.
pub fn build(library: &Path, settings: Option<&Path>, out: &Path) -> Result<Outcome, PublishError> {
    let folder = Folder::look(out)?;
    // Opening it first takes back what a broken-off write left.
    let open = Library::open(library)?;
    let made_of = made_of(library, settings)?;
    if folder.is_made_of(&made_of) {
        folder.sweep();
        return Ok(Outcome::Unchanged(folder.count()));
    }
    // What is read after its digest was taken can be newer than that, and then it is built again: never the other way round.
    let range = Range::gather(&open, &read(settings)?)?;
    let files = site::files(&range);
    let built = folder.put(&files, &made_of)?;
    Ok(Outcome::Built(built, Box::new(range)))
}

/// The settings of a file; the default without one.
///
/// # Errors
///
/// Everything that is wrong with it.
pub fn read(settings: Option<&Path>) -> Result<Settings, PublishError> {
    settings.map_or_else(|| Ok(Settings::default()), Settings::read)
}

/// A digest of all that a site is made of: the library's bytes, the settings', and this program.
fn made_of(library: &Path, settings: Option<&Path>) -> Result<String, PublishError> {
    let mut hasher = Sha256::new();
    hasher.update(Program::this().version);
    hasher.update(site::FORM);
    for path in std::iter::once(library).chain(settings) {
        hash(path, &mut hasher).map_err(|source| PublishError::Unread {
            path: path.to_owned(),
            source,
        })?;
    }
    Ok(format!("{:x}", hasher.finalize()))
}

/// With its length first: where a file ends, its neighbour begins.
fn hash(path: &Path, hasher: &mut Sha256) -> io::Result<()> {
    let mut file = File::open(path)?;
    hasher.update(file.metadata()?.len().to_le_bytes());
    io::copy(&mut file, hasher)?;
    Ok(())
}
