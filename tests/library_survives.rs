//! What happens to a library when something goes wrong: killed in the middle, two writers, no room, no right to write, flipped bits,
//! other files, earlier and later forms.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[path = "made/mod.rs"]
mod made;
mod shelf;

use masstone::library::document::Document;
use masstone::library::find::{Filter, Sort};
use masstone::library::{Library, LibraryError};
use masstone::record::{PhotoRecord, Record, json};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore as _, SeedableRng as _};
use shelf::{Generator, set_colour, set_uncertainty};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const PATCHES: usize = 6;
/// Readings of a photo.
const READINGS: usize = 2 * PATCHES;

/// A record made by hand, every reading of which has a colour.
fn mould() -> PhotoRecord {
    let mut it = made::measured("a.jpg");
    let good = it
        .readings
        .iter()
        .find(|it| it.l.is_some())
        .unwrap()
        .clone();
    let mut good = good;
    set_colour(&mut good, [50.0, 10.0, 10.0]);
    set_uncertainty(&mut good, 0.04, 1.0);
    it.readings = vec![good];
    it.photo.panel.substrate = Some("planed larch".into());
    it.photo.panel.coating = Some("clear exterior coating, two-part".into());
    it
}

fn photos(seed: u64, count: usize) -> Vec<PhotoRecord> {
    let mut generator = Generator::new(mould(), seed);
    (0..count)
        .map(|photo| {
            let panel = generator.panel(
                usize::try_from(seed).unwrap() * 10_000 + photo / 4 * PATCHES,
                PATCHES,
            );
            #[expect(clippy::cast_precision_loss, reason = "four hours")]
            generator.photo(&panel, (photo % 4) as f64 * 100.0)
        })
        .collect()
}

struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn records(&self, name: &str, photos: &[PhotoRecord]) {
        let mut lines = Vec::new();
        json::write_lines(&Record::new(photos.to_vec()), &mut lines).unwrap();
        std::fs::write(self.path(name), lines).unwrap();
    }

    fn start(&self, library: &str, record: &str) -> Child {
        Command::new(env!("CARGO_BIN_EXE_masstone"))
            .current_dir(self.folder.path())
            .args(["library", "add", record, "--library", library])
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    fn open(&self, library: &str) -> Library {
        Library::open(&self.path(library)).unwrap()
    }
}

fn document(library: &Library) -> String {
    let mut out = Vec::new();
    library.export(&mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// Every photo that is there is there with all of its readings, and all is well; how many there are.
#[track_caller]
fn whole_photos(library: &Library) -> usize {
    assert_eq!(library.check().unwrap().faults, []);
    let all: Document = serde_json::from_str(&document(library)).unwrap();
    for it in &all.measurements {
        assert_eq!(it.record.readings.len(), READINGS, "half a photo");
    }
    all.measurements.len()
}

#[test]
fn killed_at_any_moment_it_holds_whole_photos() {
    const PHOTOS: usize = 200;
    let place = Place::new();
    place.records("many.jsonl", &photos(1, PHOTOS));
    // How long a whole run takes, on this machine now.
    let start = Instant::now();
    assert!(
        place
            .start("whole.sqlite", "many.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    let whole = start.elapsed();
    assert_eq!(whole_photos(&place.open("whole.sqlite")), PHOTOS);

    let mut random = ChaCha8Rng::seed_from_u64(5);
    let (mut nothing, mut some, mut all) = (0, 0, 0);
    for run in 0..50 {
        // Half of the runs go on where another was killed.
        if run % 2 == 0 {
            for name in ["killed.sqlite", "killed.sqlite-journal"] {
                let _ = std::fs::remove_file(place.path(name));
            }
        }
        let mut child = place.start("killed.sqlite", "many.jsonl");
        std::thread::sleep(whole.mul_f64(f64::from(random.next_u32()) / f64::from(u32::MAX)));
        child.kill().unwrap();
        child.wait().unwrap();
        let path = place.path("killed.sqlite");
        if !path.exists() {
            nothing += 1;
            continue;
        }
        // An empty file, whose first transaction was not finished, is an empty library.
        match whole_photos(&Library::open(&path).unwrap()) {
            0 => nothing += 1,
            PHOTOS => all += 1,
            _ => some += 1,
        }
    }
    assert!(
        some >= 5,
        "killed too early or too late to tell: {nothing} with nothing, {some}, {all} with all"
    );
    assert!(
        place
            .start("killed.sqlite", "many.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    assert_eq!(whole_photos(&place.open("killed.sqlite")), PHOTOS);
}

#[test]
fn two_at_once_lose_nothing() {
    let place = Place::new();
    place.records("one.jsonl", &photos(2, 100));
    place.records("other.jsonl", &photos(3, 100));
    // Both begin the library, too.
    let mut children = [
        place.start("both.sqlite", "one.jsonl"),
        place.start("both.sqlite", "other.jsonl"),
    ];
    let copy = place.path("copy.sqlite");
    for child in &mut children {
        assert!(child.wait().unwrap().success());
    }
    let library = place.open("both.sqlite");
    assert_eq!(whole_photos(&library), 200);
    library.copy_to(&copy).unwrap();
    assert_eq!(document(&Library::open(&copy).unwrap()), document(&library));
    assert!(
        library.copy_to(&place.path("both.sqlite")).is_err(),
        "not onto itself"
    );
}

#[test]
fn a_backup_while_others_write_is_whole() {
    let place = Place::new();
    place.records("first.jsonl", &photos(2, 8));
    place.records("many.jsonl", &photos(3, 200));
    assert!(
        place
            .start("library.sqlite", "first.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    let mut writer = place.start("library.sqlite", "many.jsonl");
    let mut copies = 0;
    while writer.try_wait().unwrap().is_none() {
        let copy = place.path("copy.sqlite");
        place.open("library.sqlite").copy_to(&copy).unwrap();
        assert!(whole_photos(&Library::open(&copy).unwrap()) >= 8);
        copies += 1;
    }
    assert!(copies > 0);
    assert_eq!(whole_photos(&place.open("library.sqlite")), 208);
}

/// A shell that runs the program in the folder; its status and what it says.
#[cfg(unix)]
fn shell(place: &Place, script: &str) -> (bool, String) {
    let output = Command::new("sh")
        .current_dir(place.folder.path())
        .env("MASSTONE", env!("CARGO_BIN_EXE_masstone"))
        .args(["-c", script])
        .output()
        .unwrap();
    (
        output.status.success(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    )
}

#[cfg(unix)]
#[test]
fn without_room_what_was_there_stays() {
    let place = Place::new();
    place.records("first.jsonl", &photos(2, 8));
    place.records("many.jsonl", &photos(3, 400));
    assert!(
        place
            .start("library.sqlite", "first.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    let before = document(&place.open("library.sqlite"));
    // No file may grow beyond 400 blocks of 512 bytes: the system says so where the disk would.
    let limited = "trap '' XFSZ; ulimit -f 400; exec \"$MASSTONE\" library add many.jsonl --library library.sqlite";
    let (done, says) = shell(&place, limited);
    assert!(
        !done && says.contains("error: library.sqlite: ") && says.contains("hint: "),
        "{says}"
    );
    let library = place.open("library.sqlite");
    assert!(whole_photos(&library) >= 8);
    assert!(document(&library).contains(&before[before.find("\"added\"").unwrap()..][..500]));
    drop(library);
    // With room again the same command goes on.
    assert!(
        place
            .start("library.sqlite", "many.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    assert_eq!(whole_photos(&place.open("library.sqlite")), 408);

    // A real full disk, where one can be had for the test: a file system of its own in a name space of its own.
    let full =
        "mkdir small && exec unshare -m sh -c 'mount -t tmpfs -o size=256k none small || exit 99
        \"$MASSTONE\" library add first.jsonl --library small/l.sqlite 2>/dev/null || exit 98
        \"$MASSTONE\" library add many.jsonl --library small/l.sqlite 1>&2 && exit 97
        \"$MASSTONE\" library check --library small/l.sqlite 1>&2 || exit 96'";
    let (done, says) = shell(&place, full);
    // Where none can be had, the limit above has to do.
    if !done && !says.contains("library") {
        return;
    }
    assert!(
        done && says.contains("the disk is full") && says.contains("all is well"),
        "{says}"
    );
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_written_can_be_read() {
    use std::os::unix::fs::PermissionsExt as _;
    use std::os::unix::process::CommandExt as _;
    let place = Place::new();
    place.records("first.jsonl", &photos(2, 4));
    place.records("more.jsonl", &photos(3, 4));
    assert!(
        place
            .start("library.sqlite", "first.jsonl")
            .wait()
            .unwrap()
            .success()
    );
    let program = place.path("masstone");
    std::fs::copy(env!("CARGO_BIN_EXE_masstone"), &program).unwrap();
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap()
    };
    mode(&place.path("library.sqlite"), 0o444);
    mode(&place.path("more.jsonl"), 0o444);
    mode(place.folder.path(), 0o555);
    let before = std::fs::read(place.path("library.sqlite")).unwrap();
    // The superuser may write to anything: then somebody else tries.
    let superuser = std::fs::write(place.path("probe"), "").is_ok();
    let run = |arguments: &[&str]| {
        let mut command = Command::new(&program);
        command
            .current_dir(place.folder.path())
            .args(arguments)
            .args(["--library", "library.sqlite"]);
        if superuser {
            command.uid(65_534);
        }
        // A child that another test begins just now holds the copy open for writing until it becomes its own program.
        let output = loop {
            match command.output() {
                Err(it) if it.kind() == std::io::ErrorKind::ExecutableFileBusy => {
                    std::thread::sleep(Duration::from_millis(20));
                }
                other => break other.unwrap(),
            }
        };
        let text = |it: Vec<u8>| String::from_utf8(it).unwrap();
        (
            output.status.code().unwrap(),
            text(output.stdout),
            text(output.stderr),
        )
    };
    let (status, list, says) = run(&["library", "list"]);
    assert!(status == 0 && list.contains("swatch"), "{says}");
    let (status, _, says) = run(&["library", "add", "more.jsonl"]);
    assert_eq!(status, 1, "{says}");
    assert!(
        says.contains("library.sqlite: the library can't be written to") && says.contains("hint: "),
        "{says}"
    );
    assert_eq!(std::fs::read(place.path("library.sqlite")).unwrap(), before);
    mode(place.folder.path(), 0o755);
}

#[test]
fn flipped_bits_are_found_or_change_nothing() {
    let place = Place::new();
    let path = place.path("library.sqlite");
    let mut library = Library::open_or_begin(&path).unwrap();
    library.add(&photos(4, 60)).unwrap();
    let whole = document(&library);
    let list = library.list(&Filter::default(), Sort::Number).unwrap();
    drop(library);
    let bytes = std::fs::read(&path).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let (mut refused, mut found, mut harmless) = (0, 0, 0);
    for _ in 0..400 {
        let mut flipped = bytes.clone();
        let at = usize::try_from(random.next_u64() % bytes.len() as u64).unwrap();
        flipped[at] ^= 1 << (random.next_u32() % 8);
        std::fs::write(&path, &flipped).unwrap();
        let library = match Library::open(&path) {
            Ok(library) => library,
            Err(error) => {
                assert!(!error.hint().is_empty() && !error.to_string().is_empty());
                refused += 1;
                continue;
            }
        };
        match library.check() {
            Err(error) => {
                assert!(!error.hint().is_empty());
                refused += 1;
            }
            Ok(findings) if findings.faults.is_empty() => {
                // Room that nothing is in.
                let mut out = Vec::new();
                let now = library
                    .export(&mut out)
                    .map(|()| String::from_utf8(out).unwrap());
                assert_eq!(now.unwrap(), whole, "byte {at}");
                // A bit at the end of a derived number is within what machines differ by.
                let now = library.list(&Filter::default(), Sort::Number).unwrap();
                let alike = now.iter().zip(&list).all(|(a, b)| {
                    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
                    a.swatch == b.swatch
                        && a.exposure == b.exposure
                        && near(a.lab.l, b.lab.l)
                        && near(a.lab.a, b.lab.a)
                        && near(a.lab.b, b.lab.b)
                        && (a.covariance - b.covariance).amax() < 1e-5
                        && (a.specimens, a.readings, a.disagree, &a.cure)
                            == (b.specimens, b.readings, b.disagree, &b.cure)
                });
                assert!(alike && now.len() == list.len(), "byte {at}");
                harmless += 1;
            }
            Ok(_) => found += 1,
        }
        drop(library);
        // Looking at a damaged file leaves it as it is.
        assert_eq!(std::fs::read(&path).unwrap(), flipped, "byte {at}");
    }
    assert!(
        found > 100,
        "refused {refused}, found {found}, harmless {harmless}"
    );
}

#[test]
fn other_files_are_told_from_libraries() {
    let place = Place::new();
    let path = place.path("it.sqlite");
    assert!(matches!(
        Library::open(&path),
        Err(LibraryError::Missing { .. })
    ));
    assert!(!path.exists(), "looking makes no file");
    std::fs::write(&path, "Not a library, but a shopping list of some length: ochre, umber, larch boards, brushes, gloves.").unwrap();
    assert!(matches!(
        Library::open_or_begin(&path),
        Err(LibraryError::Foreign { .. })
    ));
    std::fs::remove_file(&path).unwrap();
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("CREATE TABLE recipes (name TEXT)")
        .unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(
        Library::open_or_begin(&path),
        Err(LibraryError::Foreign { .. })
    ));
    assert_eq!(std::fs::read(&path).unwrap(), before);
    std::fs::remove_file(&path).unwrap();
    drop(Library::open_or_begin(&path).unwrap());
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("PRAGMA user_version = 99")
        .unwrap();
    let error = Library::open_or_begin(&path).unwrap_err();
    assert!(matches!(error, LibraryError::Newer { found: 99, .. }));
    assert!(error.to_string().contains("later version"));
    assert!(Library::open_or_begin(&place.path("no/such/folder.sqlite")).is_err());
}

#[test]
fn an_earlier_form_is_taken_forward_with_a_copy_beside() {
    let place = Place::new();
    let path = place.path("library.sqlite");
    let mut library = Library::open_or_begin(&path).unwrap();
    library.add(&photos(4, 8)).unwrap();
    let whole = document(&library);
    drop(library);
    // Form 1 had no crops.
    let back = rusqlite::Connection::open(&path).unwrap();
    back.execute_batch("DROP TABLE crop; PRAGMA user_version = 1; VACUUM")
        .unwrap();
    drop(back);
    let before = std::fs::read(&path).unwrap();
    // A copy that can't be written: nothing is changed.
    let copy = place.path("library.sqlite.form-1.bak");
    std::fs::create_dir(&copy).unwrap();
    assert!(matches!(
        Library::open(&path),
        Err(LibraryError::Backup { .. })
    ));
    assert_eq!(std::fs::read(&path).unwrap(), before);
    std::fs::remove_dir(&copy).unwrap();

    let library = Library::open(&path).unwrap();
    assert_eq!(library.check().unwrap().faults, []);
    assert_eq!(document(&library), whole);
    let form = |path: &Path| -> i64 {
        let raw = rusqlite::Connection::open(path).unwrap();
        raw.query_row("PRAGMA user_version", [], |row| row.get(0))
            .unwrap()
    };
    assert_eq!((form(&path), form(&copy)), (Library::FORM, 1));
    // A transaction that holds the file for a moment is waited for.
    let held = rusqlite::Connection::open(&path).unwrap();
    held.execute_batch("BEGIN IMMEDIATE").unwrap();
    let adding = std::thread::spawn({
        let path = path.clone();
        move || {
            Library::open(&path)
                .unwrap()
                .add(&photos(5, 1))
                .unwrap()
                .photos
        }
    });
    std::thread::sleep(Duration::from_millis(300));
    held.execute_batch("COMMIT").unwrap();
    assert_eq!(adding.join().unwrap(), 1);
}

/// A library of form 1, which had no crops; what makes the table of crops.
fn of_form_1(path: &Path) -> String {
    let mut library = Library::open_or_begin(path).unwrap();
    library.add(&photos(4, 4)).unwrap();
    drop(library);
    let back = rusqlite::Connection::open(path).unwrap();
    let mut statement = back
        .prepare("SELECT sql FROM sqlite_schema WHERE tbl_name = 'crop' AND sql IS NOT NULL")
        .unwrap();
    let rows = statement
        .query_map([], |row| row.get::<_, String>(0))
        .unwrap();
    let crops: Vec<String> = rows.map(Result::unwrap).collect();
    back.execute_batch("DROP TABLE crop; PRAGMA user_version = 1; VACUUM")
        .unwrap();
    crops.join(";")
}

/// Opens the library while another program holds it, which then does `last` and lets it go.
fn opened_while_held(path: &Path, last: &str) -> Library {
    let held = rusqlite::Connection::open(path).unwrap();
    held.execute_batch("BEGIN IMMEDIATE").unwrap();
    held.execute_batch(last).unwrap();
    let opening = std::thread::spawn({
        let path = path.to_owned();
        move || Library::open(&path).unwrap()
    });
    std::thread::sleep(Duration::from_millis(500));
    held.execute_batch("COMMIT").unwrap();
    opening.join().unwrap()
}

#[test]
fn the_copy_before_a_migration_has_all_that_was_written_before_it() {
    let place = Place::new();
    let path = place.path("library.sqlite");
    let copy = place.path("library.sqlite.form-1.bak");
    let crops = of_form_1(&path);
    // Another program of that form writes a last thing while this one begins.
    let library = opened_while_held(
        &path,
        "UPDATE swatch SET name = 'written at the last moment' WHERE id = 3",
    );
    let migrated = library.swatch(3).unwrap().name;
    assert_eq!(migrated.as_deref(), Some("written at the last moment"));
    drop(library);
    let name = |path: &Path| -> String {
        let raw = rusqlite::Connection::open(path).unwrap();
        raw.query_row("SELECT name FROM swatch WHERE id = 3", [], |row| row.get(0))
            .unwrap()
    };
    assert_eq!(name(&copy), "written at the last moment");

    // Another program takes it forward meanwhile: there is nothing left to copy, and nothing to do.
    std::fs::remove_file(&copy).unwrap();
    std::fs::remove_file(&path).unwrap();
    of_form_1(&path);
    let library = opened_while_held(&path, &format!("{crops}; PRAGMA user_version = 2"));
    assert_eq!(library.check().unwrap().faults, []);
    assert!(!copy.exists(), "a copy of what was taken forward already");
    // A later program takes it farther than this one knows.
    drop(library);
    std::fs::remove_file(&path).unwrap();
    of_form_1(&path);
    let held = rusqlite::Connection::open(&path).unwrap();
    held.execute_batch("BEGIN IMMEDIATE; PRAGMA user_version = 99")
        .unwrap();
    let opening = std::thread::spawn({
        let path = path.clone();
        move || Library::open(&path)
    });
    std::thread::sleep(Duration::from_millis(500));
    held.execute_batch("COMMIT").unwrap();
    let error = opening.join().unwrap().unwrap_err();
    assert!(matches!(error, LibraryError::Newer { found: 99, .. }));
}
