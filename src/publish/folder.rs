//! Puts a site in place: built beside, then swapped in one step. What is no part of a site is never touched.
//!
//! A folder that this program filled holds a list of its files with their digests ([`LIST`]). By it the next build knows what it may replace: a
//! folder with anything else in it is refused, and so is one whose files were changed by hand. Files that stay the same are linked, not copied.

use super::PublishError;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The list of a site's files, in its folder.
pub const LIST: &str = "masstone-site.json";
/// The form's number.
const SCHEMA: u32 = 1;

/// The files of a site by their place in its folder, with `/` between the parts.
pub type Files = BTreeMap<String, Vec<u8>>;

/// What is in the folder of a site.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct List {
    schema: u32,
    /// Of what it was made: the same for the same.
    made_of: String,
    /// SHA-256 by place.
    files: BTreeMap<String, String>,
}

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

/// The folder beside, where a site is built, held against a second build.
struct Bench {
    folder: PathBuf,
    /// Where the site of before waits while two renames take the place of a swap.
    waiting: PathBuf,
    lock: File,
}

impl Bench {
    fn new(place: &Path) -> Result<Self, PublishError> {
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
    fn clear(self) {
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
fn beside(place: &Path, what: &str) -> PathBuf {
    let name = place.file_name().unwrap_or_default().to_string_lossy();
    place.with_file_name(format!(".{name}.{what}"))
}

/// Where two renames were broken off between them, the site of before is taken back.
fn put_back(place: &Path) -> Result<(), PublishError> {
    let waiting = beside(place, "before");
    if !place.exists() && waiting.join(LIST).is_file() {
        fs::rename(&waiting, place).map_err(PublishError::at(place))?;
    }
    Ok(())
}

/// Puts the new site in the place of the old one, which lies where the new one was then.
fn swap(site: &Path, place: &Path, bench: &Bench) -> Result<(), PublishError> {
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

/// All files below a folder, relative to it, in order; links and empty folders among them.
fn files_in(folder: &Path) -> Result<Vec<String>, PublishError> {
    fn go(folder: &Path, before: &str, all: &mut Vec<String>) -> io::Result<bool> {
        let mut any = false;
        for it in fs::read_dir(folder)? {
            let it = it?;
            any = true;
            let name = format!("{before}{}", it.file_name().to_string_lossy());
            // A link to a folder is no folder here.
            if !it.file_type()?.is_dir() {
                all.push(name);
            } else if !go(&it.path(), &format!("{name}/"), all)? {
                all.push(format!("{name}/"));
            }
        }
        Ok(any)
    }
    let mut all = Vec::new();
    go(folder, "", &mut all).map_err(PublishError::at(folder))?;
    all.sort_unstable();
    Ok(all)
}

/// The list of a folder; none where there is none, or what is there is none of ours.
fn read_list(folder: &Path) -> Result<Option<List>, PublishError> {
    let path = folder.join(LIST);
    let bytes = match fs::read(&path) {
        Ok(it) => it,
        Err(it) if it.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(it) => return Err(PublishError::at(&path)(it)),
    };
    let list: Option<List> = serde_json::from_slice(&bytes).ok();
    // No list makes this program touch anything outside of its folder.
    let inside = |place: &String| {
        !place.contains('\\')
            && place.split('/').all(|it| !matches!(it, "" | "." | ".."))
            && !Path::new(place).is_absolute()
    };
    Ok(list.filter(|it| it.schema == SCHEMA && it.files.keys().all(inside)))
}

/// The files that are other than the list says. One that is missing was not edited: it comes again.
fn edited(folder: &Path, list: &List) -> Result<Vec<String>, PublishError> {
    let files: Vec<(&String, &String)> = list.files.iter().collect();
    let edited = files.par_iter().map(|(place, known)| {
        let path = folder.join(place);
        match fs::read(&path) {
            Ok(bytes) => Ok((digest(&bytes) != **known).then(|| (*place).clone())),
            Err(it) if it.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(it) => Err(PublishError::at(&path)(it)),
        }
    });
    let edited: Vec<Option<String>> = edited.collect::<Result<_, _>>()?;
    Ok(edited.into_iter().flatten().collect())
}

fn digest(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// The folders that files lie in, a parent before what is in it.
fn folders_of<'a>(files: impl Iterator<Item = &'a String>) -> Vec<String> {
    let mut all: Vec<String> = files
        .flat_map(|it| it.match_indices('/').map(|(at, _)| it[..at].to_owned()))
        .collect();
    all.sort_unstable();
    all.dedup();
    all
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
mod tests {
    use super::*;

    fn site(text: &str) -> Files {
        let mut files = Files::new();
        files.insert("index.html".to_owned(), text.as_bytes().to_vec());
        files.insert("swatches/1.html".to_owned(), b"one".to_vec());
        files
    }

    fn all(folder: &Path) -> Vec<String> {
        files_in(folder).unwrap()
    }

    #[test]
    fn a_site_is_put_renewed_and_left_alone() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("site");
        let look = || Folder::look(&place).unwrap();
        let built = look().put(&site("a"), "first").unwrap();
        assert_eq!((built.files, built.written, built.removed), (2, 2, 0));
        assert!(look().is_made_of("first") && !look().is_made_of("second"));

        let mut next = site("b");
        next.insert("data/x.csv".to_owned(), b"x".to_vec());
        let built = look().put(&next, "second").unwrap();
        assert_eq!((built.files, built.written, built.removed), (3, 2, 0));
        assert_eq!(
            all(&place),
            ["data/x.csv", "index.html", LIST, "swatches/1.html"]
        );
        assert_eq!(fs::read(place.join("index.html")).unwrap(), b"b");

        let built = look().put(&site("b"), "third").unwrap();
        assert_eq!((built.files, built.written, built.removed), (2, 0, 1));
        assert_eq!(all(&place), ["index.html", LIST, "swatches/1.html"]);
        // Nothing is left beside it.
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);

        fs::remove_file(place.join("swatches/1.html")).unwrap();
        assert!(!look().is_made_of("third"), "a page is missing");
        look().put(&site("b"), "third").unwrap();
        assert!(look().is_made_of("third"));
    }

    #[test]
    fn what_is_foreign_or_edited_is_refused_and_stays() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("site");
        let note = place.join("swatches").join("note.txt");
        Folder::look(&place).unwrap().put(&site("a"), "1").unwrap();
        fs::write(&note, "mine").unwrap();
        let Err(PublishError::Foreign { files, .. }) = Folder::look(&place) else {
            panic!("a foreign file was not noticed");
        };
        assert_eq!(files, ["swatches/note.txt"]);
        assert_eq!(fs::read(&note).unwrap(), b"mine");
        fs::remove_file(&note).unwrap();

        fs::create_dir(place.join("empty")).unwrap();
        assert!(matches!(
            Folder::look(&place),
            Err(PublishError::Foreign { .. })
        ));
        fs::remove_dir(place.join("empty")).unwrap();

        fs::write(place.join("index.html"), "edited").unwrap();
        let Err(PublishError::Edited { files, .. }) = Folder::look(&place) else {
            panic!("an edit was not noticed");
        };
        assert_eq!(files, ["index.html"]);

        let other = home.path().join("other");
        fs::create_dir(&other).unwrap();
        fs::write(
            other.join(LIST),
            "{\"schema\": 1, \"made_of\": \"\", \"files\": {\"../x\": \"\"}}",
        )
        .unwrap();
        assert!(matches!(
            Folder::look(&other),
            Err(PublishError::Foreign { .. })
        ));
        let file = home.path().join("file");
        fs::write(&file, "").unwrap();
        assert!(matches!(
            Folder::look(&file),
            Err(PublishError::NoFolder(_))
        ));
        assert!(matches!(
            Folder::look(Path::new(".")),
            Err(PublishError::NoFolder(_))
        ));
    }

    #[test]
    fn a_build_that_was_broken_off_leaves_the_old_site() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("site");
        Folder::look(&place).unwrap().put(&site("a"), "1").unwrap();
        // In the middle of writing.
        let bench = beside(&place, "building");
        fs::create_dir_all(bench.join("site/swatches")).unwrap();
        fs::write(bench.join("site/index.html"), "half").unwrap();
        assert!(Folder::look(&place).unwrap().is_made_of("1"));
        Folder::look(&place).unwrap().put(&site("b"), "2").unwrap();
        assert_eq!(fs::read(place.join("index.html")).unwrap(), b"b");
        // After the swap, with a file that somebody had put into the old site meanwhile.
        let old = bench.join("site");
        fs::create_dir_all(&bench).unwrap();
        fs::rename(&place, &old).unwrap();
        fs::write(old.join("mine.txt"), "mine").unwrap();
        let refused = Folder::look(&place).unwrap().put(&site("c"), "3");
        let Err(PublishError::Foreign { files, .. }) = refused else {
            panic!("a foreign file was not noticed");
        };
        assert_eq!(files, ["mine.txt"]);
        // Again: it is still there, and still said.
        let refused = Folder::look(&place).unwrap().put(&site("c"), "3");
        assert!(matches!(refused, Err(PublishError::Foreign { .. })));
        assert_eq!(fs::read(old.join("mine.txt")).unwrap(), b"mine");
        fs::rename(old.join("mine.txt"), home.path().join("mine.txt")).unwrap();
        Folder::look(&place).unwrap().put(&site("b"), "2").unwrap();
        // Between two renames.
        fs::rename(&place, beside(&place, "before")).unwrap();
        assert!(Folder::look(&place).unwrap().is_made_of("2"));
        assert_eq!(fs::read(place.join("index.html")).unwrap(), b"b");
    }

    #[test]
    fn two_builds_at_once_do_not_mix() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("site");
        let bench = Bench::new(&place).unwrap();
        let second = Folder::look(&place).unwrap().put(&site("a"), "1");
        assert!(matches!(second, Err(PublishError::Busy(_))));
        bench.clear();
        Folder::look(&place).unwrap().put(&site("a"), "1").unwrap();
    }

    #[test]
    fn without_an_exchange_two_renames_do() {
        let home = tempfile::tempdir().unwrap();
        let place = home.path().join("site");
        Folder::look(&place).unwrap().put(&site("a"), "1").unwrap();
        let bench = Bench::new(&place).unwrap();
        fs::rename(&place, &bench.waiting).unwrap();
        fs::create_dir(&place).unwrap();
        bench.clear();
        assert_eq!(
            fs::read_dir(home.path()).unwrap().count(),
            1,
            "the old site is cleared away"
        );
    }
}
