//! Sites that are put, refused, broken off and put again.

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
