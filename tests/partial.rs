//! Finished photos on disk: what survives a stop, and what an earlier run's photos are good for.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

mod made;

use made::{measured, panel};
use masstone::correct::Tone;
use masstone::measure::partial::{Partial, Resumed, resume};
use masstone::measure::{Job, files};
use masstone::record::{Dose, PanelEntry, PhotoRecord, Settings};
use std::fs;
use std::path::{Path, PathBuf};

/// A photo file of these bytes and its record.
fn photo(folder: &Path, name: &str, bytes: &str) -> (Job, PhotoRecord) {
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    let mut record = measured(path.to_str().unwrap());
    record.photo.sha256 = files::sha256(&path).unwrap();
    let job = Job {
        path,
        dose: Dose::of_hours(Some(168.5)),
        exposure: None,
        settings: Settings {
            upright: false,
            linear: false,
            tone: Tone::Auto,
            corners: None,
            correction: None,
            force_correction: false,
            blank: None,
            masked: None,
        },
    };
    (job, record)
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|it| it.unwrap().file_name().into_string().unwrap())
        .filter(|it| it.starts_with("out"))
        .collect();
    names.sort();
    names
}

#[test]
fn a_finished_photo_survives_and_a_torn_line_does_not() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out.csv");
    let (_, a) = photo(folder.path(), "a.jpg", "a");
    let (_, b) = photo(folder.path(), "b.jpg", "b");

    let (mut partial, leftover) = Partial::open(&out).unwrap();
    assert!(leftover.photos.is_empty());
    partial.append(&a).unwrap();
    let path = partial.path().to_owned();
    assert_eq!(path, folder.path().join("out.csv.partial.jsonl"));
    let one_line = fs::read(&path).unwrap();
    partial.append(&b).unwrap();
    drop(partial);

    // A crash in the middle of writing the second line, at several places.
    let whole = fs::read(&path).unwrap();
    for end in [one_line.len() + 1, whole.len() - 10, whole.len() - 1] {
        fs::write(&path, &whole[..end]).unwrap();
        let (mut partial, leftover) = Partial::open(&out).unwrap();
        assert_eq!(leftover.photos, std::slice::from_ref(&a));
        assert!(leftover.unreadable.is_empty());
        partial.append(&b).unwrap();
        drop(partial);
        assert_eq!(fs::read(&path).unwrap(), whole, "the torn line is replaced");
    }

    let (partial, leftover) = Partial::open(&out).unwrap();
    assert_eq!(leftover.photos, [a, b]);
    partial.remove().unwrap();
    assert!(names(folder.path()).is_empty());
}

#[test]
fn an_empty_one_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let (partial, _) = Partial::open(&folder.path().join("out.csv")).unwrap();
    assert!(!partial.leave().unwrap());
    assert!(names(folder.path()).is_empty());
}

#[test]
fn two_runs_never_share_an_output() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out.csv");
    let (first, _) = Partial::open(&out).unwrap();
    let error = Partial::open(&out).unwrap_err();
    let text = format!("{:#}", anyhow::Error::new(error));
    assert!(
        text.contains("out.csv.partial.jsonl: another run"),
        "{text}"
    );
    drop(first);
    assert!(Partial::open(&out).is_ok());
}

#[test]
fn a_line_that_is_no_photo_is_named_and_set_aside_with_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out.csv");
    let (_, a) = photo(folder.path(), "a.jpg", "a");
    let (mut partial, _) = Partial::open(&out).unwrap();
    partial.append(&a).unwrap();
    let path = partial.path().to_owned();
    drop(partial);
    let mut bytes = b"{\"schema\": 7}\n".to_vec();
    bytes.extend(fs::read(&path).unwrap());
    fs::write(&path, &bytes).unwrap();

    let (mut partial, leftover) = Partial::open(&out).unwrap();
    assert_eq!(leftover.photos, std::slice::from_ref(&a));
    assert_eq!(leftover.unreadable.len(), 1);
    assert!(
        leftover.unreadable[0].contains("jsonl:1:13: its schema is 7"),
        "{:?}",
        leftover.unreadable
    );

    let aside = partial.set_aside(&leftover.photos).unwrap();
    assert_eq!(aside, folder.path().join("out.csv.partial-1.jsonl"));
    assert_eq!(fs::read(&aside).unwrap(), bytes);
    assert_eq!(
        partial.set_aside(&[]).unwrap(),
        folder.path().join("out.csv.partial-2.jsonl")
    );
    drop(partial);
    let (_, leftover) = Partial::open(&out).unwrap();
    assert!(leftover.photos.is_empty());
}

#[test]
fn an_earlier_photo_serves_by_its_bytes_whatever_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let (mut a, record_a) = photo(folder.path(), "a.jpg", "a");
    let (b, _) = photo(folder.path(), "b.jpg", "b");
    let moved = folder.path().join("moved.jpg");
    fs::rename(&a.path, &moved).unwrap();
    a.path.clone_from(&moved);

    let resumed = resume(vec![record_a.clone()], &[b, a], &PanelEntry::from(&panel()));
    assert!(resumed.unused.is_empty());
    let [(index, record)] = &resumed.done[..] else {
        panic!("{resumed:?}");
    };
    assert_eq!(*index, 1);
    assert_eq!(PathBuf::from(&record.photo.path), moved);
    assert!(
        record
            .readings
            .iter()
            .all(|it| Path::new(&it.photo) == moved)
    );
    assert_eq!(record.readings.len(), record_a.readings.len());
}

#[test]
fn an_earlier_photo_measured_otherwise_does_not_serve() {
    let folder = tempfile::tempdir().unwrap();
    let (job, record) = photo(folder.path(), "a.jpg", "a");
    let board = PanelEntry::from(&panel());
    let with = |job: &Job, record: &PhotoRecord, board: &PanelEntry| -> Resumed {
        resume(vec![record.clone()], std::slice::from_ref(job), board)
    };
    assert_eq!(with(&job, &record, &board).done.len(), 1);

    // Only the names of the panel's files differ.
    let mut renamed = board.clone();
    renamed.file = Some("other/name.toml".into());
    assert_eq!(with(&job, &record, &renamed).done.len(), 1);

    let mut other_jobs = vec![job.clone(); 10];
    other_jobs[0].dose = Dose::default();
    other_jobs[1].settings.linear = true;
    other_jobs[2].settings.tone = Tone::None;
    other_jobs[3].settings.upright = true;
    other_jobs[4].settings.corners = Some([[0.0; 2]; 4]);
    other_jobs[5].settings.correction = Some("a".repeat(64));
    other_jobs[6].settings.force_correction = true;
    other_jobs[7].settings.blank = Some("a".repeat(64));
    other_jobs[8].dose.dose = Some(12.0);
    other_jobs[8].dose.dose_kind = Some("MJ/m2 total".into());
    other_jobs[9].dose.dose_kind = Some("MJ/m2 total".into());
    let mut other_board = board.clone();
    other_board.cards[0].card.patches[0].known = None;
    let mut other_version = record.clone();
    other_version.photo.program.version = "0.0.0".into();
    let mut other_bytes = record.clone();
    other_bytes.photo.sha256 = "0".repeat(64);

    let all = other_jobs
        .iter()
        .map(|it| with(it, &record, &board))
        .chain([
            with(&job, &record, &other_board),
            with(&job, &other_version, &board),
            with(&job, &other_bytes, &board),
        ]);
    for (number, resumed) in all.enumerate() {
        assert!(
            resumed.done.is_empty() && resumed.unused.len() == 1,
            "case {number}"
        );
    }
}
