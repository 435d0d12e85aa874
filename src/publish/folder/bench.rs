//! Where a site is built, beside its place; and the step in which it gets there.

use super::list::{LIST, List, digest, files_in, folders_of, read_list};
use crate::publish::PublishError;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// The folder beside, where a site is built, held against a second build.
pub(super) struct Bench {
    pub(super) folder: PathBuf,
    /// Where the site of before waits while two renames take the place of a swap.
    pub(super) waiting: PathBuf,
    lock: File,
}

impl Bench {
    pub(super) fn new(place: &Path) -> Result<Self, PublishError> {
        let folder = beside(place, "building");
        fs::create_dir_all(&folder).map_err(PublishError::at(&folder))?;
        let path = folder.join("lock");
        let lock = File::create(&path).map_err(PublishError::at(&path))?;
        lock.try_lock().map_err(|it| match it {
            fs::TryLockError::WouldBlock => PublishError::Busy(place.to_owned()),
            fs::TryLockError::Error(it) => PublishError::at(&path)(it),
        })?;
        clear_left(&folder.join("site"))?;
        Ok(Self {
            waiting: beside(place, "before"),
            folder,
            lock,
        })
    }

    /// Takes away the site of before, which lies here now. Only that: what somebody put there meanwhile stays, and the folder with it.
    pub(super) fn clear(self) {
        for folder in [self.folder.join("site"), self.waiting.clone()] {
            if let Ok(Some(list)) = read_list(&folder) {
                take_away(&folder, &list);
            }
        }
        // Nothing depends on what follows: the next build begins with it.
        let _ = fs::remove_dir(self.folder.join("site"));
        let _ = fs::remove_file(self.folder.join("lock"));
        let _ = self.lock.unlock();
        let _ = fs::remove_dir(&self.folder);
    }
}

/// Removes what a list names and is as it says, and the folders that are empty then; the list itself last, when nothing else is left.
fn take_away(folder: &Path, list: &List) {
    for (place, known) in &list.files {
        let path = folder.join(place);
        if fs::read(&path).is_ok_and(|it| digest(&it) == *known) {
            let _ = fs::remove_file(path);
        }
    }
    for it in folders_of(list.files.keys()).iter().rev() {
        let _ = fs::remove_dir(folder.join(it));
    }
    if files_in(folder).is_ok_and(|it| it == [LIST]) {
        let _ = fs::remove_file(folder.join(LIST));
        let _ = fs::remove_dir(folder);
    }
}

/// What a build left that was broken off: a half-written site, or after the swap the one of before, in which somebody may have put something.
fn clear_left(site: &Path) -> Result<(), PublishError> {
    if !site.exists() {
        return Ok(());
    }
    let Some(list) = read_list(site)? else {
        return fs::remove_dir_all(site).map_err(PublishError::at(site));
    };
    take_away(site, &list);
    let mut left = if site.exists() {
        files_in(site)?
    } else {
        Vec::new()
    };
    left.retain(|it| it != LIST);
    if left.is_empty() {
        Ok(())
    } else {
        Err(PublishError::Foreign {
            folder: site.to_owned(),
            files: left,
        })
    }
}

/// A hidden name beside the folder.
pub(super) fn beside(place: &Path, what: &str) -> PathBuf {
    let name = place.file_name().unwrap_or_default().to_string_lossy();
    place.with_file_name(format!(".{name}.{what}"))
}

/// Where two renames were broken off between them, the site of before is taken back.
pub(super) fn put_back(place: &Path) -> Result<(), PublishError> {
    let waiting = beside(place, "before");
    if !place.exists() && waiting.join(LIST).is_file() {
        fs::rename(&waiting, place).map_err(PublishError::at(place))?;
    }
    Ok(())
}

/// Puts the new site in the place of the old one, which lies where the new one was then.
pub(super) fn swap(site: &Path, place: &Path, bench: &Bench) -> Result<(), PublishError> {
    if !place.exists() {
        return fs::rename(site, place).map_err(PublishError::at(place));
    }
    if exchanged(site, place) {
        return Ok(());
    }
    fs::rename(place, &bench.waiting).map_err(PublishError::at(place))?;
    fs::rename(site, place).map_err(|it| {
        let _ = fs::rename(&bench.waiting, place);
        PublishError::at(place)(it)
    })
}

/// Exchanges two folders in one step, where the system and the disk can.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn exchanged(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn exchanged(_: &Path, _: &Path) -> bool {
    false
}
