//! From names to photo files: files, folders and patterns.

use super::{Refusal, chain};
use crate::photo::is_readable_raw;
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Endings of the files that are taken from a folder, in any case of letters.
const PHOTOS: [&str; 9] = [
    "jpg", "jpeg", "heic", "heif", "hif", "dng", "png", "tif", "tiff",
];
/// Of these, what a camera writes of a shot beside its raw file, and that.
const DEVELOPED: [&str; 5] = ["jpg", "jpeg", "heic", "heif", "hif"];
const RAW: [&str; 1] = ["dng"];
/// Endings of files that a camera makes and this program can't read: not to be passed over in silence.
const UNREADABLE: [&str; 8] = ["avif", "webp", "cr2", "cr3", "nef", "arw", "raf", "orf"];

/// What the name of a photo is followed by in the name of the file that holds its corners.
pub const CORNERS_SUFFIX: &str = ".corners.toml";

/// What the names stand for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Photos {
    /// Files, in the order of the bytes of their paths.
    pub paths: Vec<PathBuf>,
    /// Names that stand for no photo, and why.
    pub refused: Vec<Refusal>,
    /// What else the user should know.
    pub notes: Vec<String>,
}

/// Finds the photos that are named: a file, whatever it is called; a folder's photos, not those of folders in
/// it; or a pattern as a shell has it.
#[must_use]
pub fn expand(names: &[PathBuf]) -> Photos {
    let mut photos = Photos::default();
    for name in names {
        match pattern(name) {
            Some(pattern) => photos.add_pattern(name, &pattern),
            None => photos.add(name),
        }
    }
    photos.paths.sort_by(|a, b| {
        a.as_os_str()
            .as_encoded_bytes()
            .cmp(b.as_os_str().as_encoded_bytes())
    });
    photos
}

/// The name as a pattern, if it is one; a file that exists under that very name is not.
fn pattern(name: &Path) -> Option<String> {
    let text = name.to_str()?;
    (text.contains(['*', '?', '[']) && fs::symlink_metadata(name).is_err()).then(|| text.to_owned())
}

impl Photos {
    fn refuse(&mut self, path: &Path, reason: impl Into<String>, hint: &str) {
        self.refused.push(Refusal {
            path: path.to_owned(),
            reason: reason.into(),
            hint: hint.to_owned(),
        });
    }

    /// A photo file. Readings name their photo: two names must never become the same text.
    fn take(&mut self, path: PathBuf) {
        if path.to_str().is_some() {
            self.paths.push(path);
        } else {
            self.refuse(
                &path,
                "its name is not valid UTF-8, so readings can't name it",
                "Rename the file.",
            );
        }
    }

    /// A file or a folder.
    fn add(&mut self, path: &Path) {
        match fs::metadata(path) {
            Ok(there) if there.is_dir() => self.add_folder(path),
            Ok(there) if there.is_file() => {
                if !is_side_file(path) {
                    self.take(path.to_owned());
                }
            }
            Ok(_) => self.refuse(
                path,
                "it is neither a file nor a folder",
                "Save the photo as a file first.",
            ),
            Err(error) if error.kind() == io::ErrorKind::NotFound => self.refuse(
                path,
                "there is no such file or folder",
                "Check the name; quote it if it holds spaces.",
            ),
            Err(error) => self.refuse(path, chain(&error), "Check that you may read it."),
        }
    }

    /// The photos that lie in a folder.
    fn add_folder(&mut self, folder: &Path) {
        let entries = match fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>) {
            Ok(entries) => entries,
            Err(error) => {
                let reason = format!("can't read the folder: {}", chain(&error));
                return self.refuse(folder, reason, "Check that you may read it.");
            }
        };
        let paths: Vec<PathBuf> = entries.iter().map(fs::DirEntry::path).collect();
        let shots = Shots::of(&paths);
        let (mut found, mut unreadable, mut twice, mut instead) = (0, 0, 0, 0);
        for path in paths {
            let hidden = path
                .file_name()
                .is_some_and(|it| it.as_encoded_bytes().starts_with(b"."));
            if hidden || path.is_dir() {
                continue;
            }
            if shots.is_told_by_raw(&path) {
                twice += 1;
            } else if shots.is_raw_in_vain(&path) {
                instead += 1;
            } else if ends_with(&path, &PHOTOS) {
                self.take(path);
                found += 1;
            } else if ends_with(&path, &UNREADABLE) {
                unreadable += 1;
            }
        }
        if twice > 0 {
            self.notes.push(format!(
                "{}: {twice} JPEG or HEIC files were passed over, since a DNG of the same name lies beside each",
                folder.display()
            ));
        }
        if instead > 0 {
            self.notes.push(format!(
                "{}: {instead} DNG files can't be read and were passed over, since a JPEG or HEIC of the same name lies beside each; \
                 give one by name to see why",
                folder.display()
            ));
        }
        let how =
            "Set the camera to JPEG, HEIC or DNG, or give one of them by name to see what to do.";
        match (found, unreadable) {
            (0, 0) => self.refuse(
                folder,
                "no JPEG, HEIC, DNG, PNG or TIFF files lie in this folder",
                "Folders inside it are not searched; name them too.",
            ),
            (0, n) => self.refuse(
                folder,
                format!("none of its photos can be read: {n} of formats that are not read"),
                how,
            ),
            (_, 0) => {}
            (_, n) => self.notes.push(format!(
                "{}: {n} files of camera formats that are not read were passed over",
                folder.display()
            )),
        }
    }

    /// Whatever matches, as if the shell had put it there.
    fn add_pattern(&mut self, name: &Path, pattern: &str) {
        let as_in_a_shell = glob::MatchOptions {
            require_literal_separator: true,
            require_literal_leading_dot: true,
            ..glob::MatchOptions::new()
        };
        let matches = match glob::glob_with(pattern, as_in_a_shell) {
            Ok(matches) => matches,
            Err(error) => {
                let reason = format!("it is no pattern: {}", chain(&error));
                return self.refuse(
                    name,
                    reason,
                    "Use * for any characters, ? for one, [ab] for a choice.",
                );
            }
        };
        let mut any = false;
        for found in matches {
            any = true;
            match found {
                // The crate drops a leading `./`, which a shell keeps.
                Ok(path) if pattern.starts_with("./") => self.add(&Path::new(".").join(path)),
                Ok(path) => self.add(&path),
                Err(error) => {
                    let reason = chain(error.error());
                    self.refuse(error.path(), reason, "Check that you may read it.");
                }
            }
        }
        if !any {
            self.refuse(
                name,
                "nothing matches this pattern",
                "Check the folder and the ending: upper and lower case differ.",
            );
        }
    }
}

/// Shots of which both a raw file and what the camera made of it lie in a folder: one is measured, the one that says most.
#[derive(Debug, Default)]
struct Shots {
    /// Names without endings of those whose raw file can be read …
    read: BTreeSet<PathBuf>,
    /// … and of the others.
    unread: BTreeSet<PathBuf>,
}

impl Shots {
    fn of(paths: &[PathBuf]) -> Self {
        let stem = |it: &PathBuf| it.with_extension("");
        let files = |endings: &'static [&str]| {
            let chosen = move |it: &&PathBuf| ends_with(it, endings) && it.is_file();
            paths.iter().filter(chosen)
        };
        let developed: BTreeSet<PathBuf> = files(&DEVELOPED).map(stem).collect();
        let (read, unread): (Vec<&PathBuf>, Vec<&PathBuf>) = files(&RAW)
            .filter(|it| developed.contains(&stem(it)))
            .partition(|it| is_readable_raw(it));
        Self {
            read: read.into_iter().map(stem).collect(),
            unread: unread.into_iter().map(stem).collect(),
        }
    }

    fn is_told_by_raw(&self, path: &Path) -> bool {
        ends_with(path, &DEVELOPED) && self.read.contains(&path.with_extension(""))
    }

    fn is_raw_in_vain(&self, path: &Path) -> bool {
        ends_with(path, &RAW) && self.unread.contains(&path.with_extension(""))
    }
}

/// Corners beside a photo, which a pattern may match too.
fn is_side_file(path: &Path) -> bool {
    let name = path.as_os_str().as_encoded_bytes();
    name.ends_with(CORNERS_SUFFIX.as_bytes())
}

fn ends_with(path: &Path, endings: &[&str]) -> bool {
    path.extension()
        .is_some_and(|it| endings.iter().any(|ending| it.eq_ignore_ascii_case(ending)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder with the files, and one inside it.
    fn folder(files: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("inner")).unwrap();
        for file in files {
            fs::write(folder.path().join(file), file).unwrap();
        }
        folder
    }

    fn names(photos: &Photos, folder: &Path) -> Vec<String> {
        let relative = photos
            .paths
            .iter()
            .map(|it| it.strip_prefix(folder).unwrap());
        relative.map(|it| it.to_str().unwrap().to_owned()).collect()
    }

    #[test]
    fn a_folder_gives_its_photos_in_the_order_of_bytes() {
        let files = [
            "b.JPG",
            "a.tiff",
            "ä 1.png",
            "Z.jpeg",
            "notes.txt",
            "panel.toml",
            ".hidden.jpg",
            "raw.CR3",
            "IMG_1.HEIC",
            "inner/c.jpg",
        ];
        let folder = folder(&files);
        let photos = expand(&[folder.path().to_owned()]);
        assert_eq!(
            names(&photos, folder.path()),
            ["IMG_1.HEIC", "Z.jpeg", "a.tiff", "b.JPG", "ä 1.png"]
        );
        assert_eq!(photos.refused, []);
        assert!(photos.notes[0].contains("1 files of camera formats"));
    }

    #[test]
    fn a_shot_that_lies_there_twice_is_measured_from_its_raw_file_if_that_can_be_read() {
        let folder = folder(&["1.jpg", "2.HEIC", "2.png", "3.jpg", "3.DNG", "4.jpg"]);
        let at = |name: &str| folder.path().join(name);
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photo/dng");
        for name in ["1.DNG", "2.dng"] {
            fs::copy(data.join("packed-12.dng"), at(name)).unwrap();
        }
        // The third is no raw file in truth, the fourth not even a file.
        fs::create_dir(at("4.dng")).unwrap();
        let photos = expand(&[folder.path().to_owned()]);
        assert_eq!(
            names(&photos, folder.path()),
            ["1.DNG", "2.dng", "2.png", "3.jpg", "4.jpg"]
        );
        let notes = photos.notes.join("\n");
        assert!(
            notes.contains("2 JPEG or HEIC files were passed over"),
            "{notes}"
        );
        assert!(notes.contains("1 DNG files can't be read"), "{notes}");
        // What is named by itself is taken.
        let both = [at("1.jpg"), at("1.DNG")];
        assert_eq!(names(&expand(&both), folder.path()), ["1.DNG", "1.jpg"]);
    }

    #[test]
    fn a_quoted_pattern_gives_what_a_shell_would() {
        let folder = folder(&[
            "a1.jpg",
            "a2.jpg",
            "b1.jpg",
            ".a3.jpg",
            "inner/a4.jpg",
            "a1.jpg.corners.toml",
        ]);
        let of = |pattern: &str| names(&expand(&[folder.path().join(pattern)]), folder.path());
        assert_eq!(of("a*"), ["a1.jpg", "a2.jpg"]);
        assert_eq!(of("?1.jpg"), ["a1.jpg", "b1.jpg"]);
        assert_eq!(of("*/*.jpg"), ["inner/a4.jpg"]);
        let none = expand(&[folder.path().join("*.png")]);
        assert!(none.refused[0].reason.contains("nothing matches"));
        assert!(
            expand(&[folder.path().join("[")]).refused[0]
                .reason
                .contains("no pattern")
        );
    }

    #[test]
    fn a_file_with_a_pattern_for_a_name_is_that_file() {
        let folder = folder(&["[1].jpg", "1.jpg"]);
        let photos = expand(&[folder.path().join("[1].jpg")]);
        assert_eq!(names(&photos, folder.path()), ["[1].jpg"]);
    }

    #[test]
    fn what_is_no_photo_is_named_and_the_rest_taken() {
        let folder = folder(&["a.jpg", "text.txt", "inner/x.nef"]);
        let at = |name: &str| folder.path().join(name);
        let photos = expand(&[
            at("none.jpg"),
            at("inner"),
            at("a.jpg"),
            at("text.txt"),
            at("a.jpg/below"),
        ]);
        // A file that is named is taken at its word: opening it will say what is wrong with it.
        assert_eq!(names(&photos, folder.path()), ["a.jpg", "text.txt"]);
        let refused: Vec<_> = photos.refused.iter().map(|it| it.path.clone()).collect();
        assert_eq!(refused, [at("none.jpg"), at("inner"), at("a.jpg/below")]);
        assert!(photos.refused[1].reason.contains("1 of formats"));
    }

    #[cfg(unix)]
    #[test]
    fn a_name_that_is_no_text_is_refused() {
        use std::os::unix::ffi::OsStrExt;
        let folder = folder(&["a.jpg"]);
        let name = std::ffi::OsStr::from_bytes(b"\xff.jpg");
        fs::write(folder.path().join(name), "").unwrap();
        let photos = expand(&[folder.path().to_owned()]);
        assert_eq!(names(&photos, folder.path()), ["a.jpg"]);
        assert_eq!(photos.refused[0].path, folder.path().join(name));
    }

    #[cfg(unix)]
    #[test]
    fn what_can_not_be_read_is_named() {
        let folder = folder(&[]);
        let looped = folder.path().join("loop");
        std::os::unix::fs::symlink(&looped, &looped).unwrap();
        let photos = expand(std::slice::from_ref(&looped));
        assert_eq!(photos.refused[0].path, looped);
        assert!(photos.refused[0].hint.contains("may read"));
    }
}
