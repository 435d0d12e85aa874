//! Puts a site in place: built beside, then swapped in one step. What is no part of a site is never touched.
//!
//! A folder that this program filled holds a list of its files with their digests ([`LIST`]). By it the next build knows what it may replace: a
//! folder with anything else in it is refused, and so is one whose files were changed by hand. Files that stay the same are linked, not copied.

mod bench;
mod list;

pub use list::LIST;

use super::PublishError;
use bench::{Bench, beside, put_back, swap};
use list::{List, SCHEMA, digest, edited, files_in, folders_of, read_list};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The files of a site by their place in its folder, with `/` between the parts.
pub type Files = BTreeMap<String, Vec<u8>>;

/// What a build did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Built {
    /// Files of the site.
    pub files: usize,
    /// Files that are new, or other than before.
    pub written: usize,
    /// Files of before that are not there any more.
    pub removed: usize,
}

/// Where a site is to be.
#[derive(Debug)]
pub struct Folder {
    /// Without links.
    place: PathBuf,
    /// What is there.
    list: Option<List>,
}

impl Folder {
    /// Looks at a folder that a site is to be put into: it isn't there yet, is empty, or holds a site.
    ///
    /// # Errors
    ///
    /// If it is no folder, is the one that the user is in, holds anything else, was changed by hand, or can't be read.
    pub fn look(place: &Path) -> Result<Self, PublishError> {
        let place = resolved(place)?;
        put_back(&place)?;
        if !place.exists() {
            return Ok(Self { place, list: None });
        }
        if !place.is_dir() || is_around_us(&place) {
            return Err(PublishError::NoFolder(place));
        }
        let there = files_in(&place)?;
        let list = there.iter().any(|it| it == LIST).then(|| read_list(&place));
        let list = list.transpose()?.flatten();
        let folders = (list.as_ref()).map(|it| folders_of(it.files.keys()));
        let ours = |it: &String| {
            it == LIST
                || list.as_ref().is_some_and(|of| of.files.contains_key(it))
                || (folders.iter().flatten()).any(|of| it.strip_suffix('/') == Some(of))
        };
        // A list that is not ours is foreign, too.
        let foreign: Vec<String> = match &list {
            Some(_) => there.iter().filter(|it| !ours(it)).cloned().collect(),
            None => there,
        };
        if !foreign.is_empty() {
            return Err(PublishError::Foreign {
                folder: place,
                files: foreign,
            });
        }
        if let Some(list) = &list {
            let edited = edited(&place, list)?;
            if !edited.is_empty() {
                return Err(PublishError::Edited {
                    folder: place,
                    files: edited,
                });
            }
        }
        Ok(Self { place, list })
    }

    /// Whether a whole site made of the same is there.
    #[must_use]
    pub fn is_made_of(&self, made_of: &str) -> bool {
        let whole = |list: &List| (list.files.keys()).all(|it| self.place.join(it).is_file());
        (self.list.as_ref()).is_some_and(|it| it.made_of == made_of && whole(it))
    }

    /// Takes away what a build left that was broken off, unless another one is at work.
    pub fn sweep(&self) {
        if beside(&self.place, "building").exists()
            && let Ok(bench) = Bench::new(&self.place)
        {
            bench.clear();
        }
    }

    /// How many files there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.list.as_ref().map_or(0, |it| it.files.len())
    }

    /// Puts the site there in the place of what was there.
    ///
    /// # Errors
    ///
    /// If a file can't be written, or another build is at work. What was there is as it was then.
    pub fn put(self, files: &Files, made_of: &str) -> Result<Built, PublishError> {
        let list = List {
            schema: SCHEMA,
            made_of: made_of.to_owned(),
            files: (files.par_iter())
                .map(|(place, bytes)| (place.clone(), digest(bytes)))
                .collect(),
        };
        let before = self.list.unwrap_or_else(|| List {
            schema: SCHEMA,
            made_of: String::new(),
            files: BTreeMap::new(),
        });
        let bench = Bench::new(&self.place)?;
        let site = bench.folder.join("site");
        make_folders(&site, files)?;
        let same = |place: &String| before.files.get(place) == list.files.get(place);
        let written = (files.par_iter())
            .map(|(place, bytes)| {
                let (from, to) = (self.place.join(place), site.join(place));
                // Where a disk knows no links the file is written like a new one.
                if same(place) && fs::hard_link(&from, &to).is_ok() {
                    return Ok(0);
                }
                write(&to, bytes)?;
                Ok(usize::from(!same(place)))
            })
            .try_reduce(|| 0, |a, b| Ok::<_, PublishError>(a + b))?;
        let text = serde_json::to_string_pretty(&list).map_err(io::Error::from);
        let text = text.map_err(PublishError::at(&site))? + "\n";
        write(&site.join(LIST), text.as_bytes())?;
        swap(&site, &self.place, &bench)?;
        let gone = (before.files.keys()).filter(|it| !files.contains_key(*it));
        let built = Built {
            files: files.len(),
            written,
            removed: gone.count(),
        };
        bench.clear();
        Ok(built)
    }
}

/// The place without links, and with all of its parents: the folder itself need not be there.
fn resolved(place: &Path) -> Result<PathBuf, PublishError> {
    if let Ok(there) = place.canonicalize() {
        return Ok(there);
    }
    let name = (place.file_name()).ok_or_else(|| PublishError::NoFolder(place.to_owned()))?;
    let parent = match place.parent() {
        Some(it) if !it.as_os_str().is_empty() => it,
        _ => Path::new("."),
    };
    let parent = parent.canonicalize().map_err(PublishError::at(parent))?;
    Ok(parent.join(name))
}

/// Whether it is the folder that the user is in, or one around it: they would be left in one that is gone.
fn is_around_us(place: &Path) -> bool {
    let here = std::env::current_dir().and_then(|it| it.canonicalize());
    here.is_ok_and(|it| it.starts_with(place))
}

fn make_folders(site: &Path, files: &Files) -> Result<(), PublishError> {
    fs::create_dir_all(site).map_err(PublishError::at(site))?;
    for it in folders_of(files.keys()) {
        let path = site.join(it);
        fs::create_dir_all(&path).map_err(PublishError::at(&path))?;
    }
    Ok(())
}

/// Writes a file through to the disk: after a power cut there is the old site or the new one.
fn write(path: &Path, bytes: &[u8]) -> Result<(), PublishError> {
    let written = File::create(path).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_data()
    });
    written.map_err(PublishError::at(path))
}

#[cfg(test)]
mod tests;
