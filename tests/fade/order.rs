//! What order, number and kinds of records make of a report: nothing that isn't said.

use super::series::{Colour, changed_by, panel, shot};
use super::{board, only, patch};
use masstone::fade::report::FadeFlag;
use masstone::fade::{FadeError, Options, Report, assess};
use masstone::panel::Side;
use masstone::record::PhotoRecord;

const FADED: Colour = [1.5, -1.0, 2.0];

fn series(id: &str) -> Vec<PhotoRecord> {
    let panel = panel(id);
    let at = |hours: f64, share: f64| {
        let path = format!("{id}-{hours}.jpg");
        shot(
            &panel,
            &path,
            hours,
            &changed_by(|_| FADED.map(|it| share * it)),
        )
    };
    vec![at(0.0, 0.0), at(100.0, 0.3), at(400.0, 0.8), at(900.0, 1.0)]
}

fn text(report: &Report) -> String {
    serde_json::to_string(report).unwrap()
}

#[test]
fn the_order_of_records_and_the_number_of_threads_change_nothing() {
    let mut records = series("b-1");
    records.extend(series("b-2"));
    // Twins that say other things, and one panel file that was changed.
    let mut twin = records[1].clone();
    twin.photo.doubts.push("another run".into());
    twin.photo.settings.masked = None;
    records.push(twin);
    let mut renamed = panel("b-2");
    renamed.title = Some("second".into());
    records.push(shot(&renamed, "x.jpg", 50.0, &changed_by(|_| FADED)));
    let options = only("C3");
    let of = |records: &[PhotoRecord], threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| text(&assess(records, &options).unwrap()))
    };
    let first = of(&records, 1);
    assert_eq!(of(&records, 4), first);
    for turn in [1, 3, 5] {
        let mut other = records.clone();
        other.rotate_left(turn);
        if turn > 1 {
            other.reverse();
        }
        assert_eq!(of(&other, 1), first, "turned by {turn}");
    }
}

#[test]
fn exposures_come_by_dose_whenever_they_were_measured() {
    let mut records = series("b-1");
    records.swap(0, 3);
    records.swap(1, 2);
    let report = assess(&records, &only("A1")).unwrap();
    let doses: Vec<f64> = board(&report).exposures.iter().map(|it| it.dose).collect();
    assert_eq!(doses, [0.0, 100.0, 400.0, 900.0]);
    let found = patch(&report, "A1");
    assert!(found.changes.windows(2).all(|it| it[0].de_00 < it[1].de_00));
    let course = found.course.as_ref().unwrap();
    assert!((course.limit_dose - 1350.0).abs() < 1e-9 && course.range_over_models);
}

#[test]
fn the_same_photo_twice_says_nothing_more() {
    let once = series("b-1");
    let mut twice = once.clone();
    twice.extend(once.iter().cloned().map(|mut it| {
        it.rename(&format!("copies/{}", it.photo.path));
        it
    }));
    let options = only("A1");
    let (one, two) = (
        assess(&once, &options).unwrap(),
        assess(&twice, &options).unwrap(),
    );
    assert_eq!(patch(&one, "A1"), patch(&two, "A1"));
    assert_eq!(two.notes, [""; 0]);
}

#[test]
fn a_photo_of_two_doses_is_left_out_and_named() {
    let mut records = series("b-1");
    let mut twin = records[1].clone();
    twin.photo.hours = Some(1000.0);
    records.push(twin);
    let report = assess(&records, &only("A1")).unwrap();
    let doses: Vec<f64> = board(&report).exposures.iter().map(|it| it.dose).collect();
    assert_eq!(doses, [0.0, 400.0, 900.0]);
    assert!(
        report.notes[0].contains("b-1-100.jpg"),
        "{:?}",
        report.notes
    );
}

#[test]
fn kinds_of_dose_are_never_pooled_and_dose_0_begins_each() {
    let mut records = series("b-1");
    let as_dose = |it: &mut PhotoRecord, dose: f64, kind: &str| {
        it.photo.dose = Some(dose);
        it.photo.dose_kind = Some(kind.into());
    };
    as_dose(&mut records[1], 12.5, "MJ/m2 UV 295-385 nm");
    as_dose(&mut records[2], 12.5, "kWh/m2 total");
    let report = assess(&records, &only("A1")).unwrap();
    let expected = [
        (
            "MJ/m2 UV 295-385 nm",
            [(0.0, Some(0.0)), (12.5, Some(100.0))],
        ),
        ("hours", [(0.0, Some(0.0)), (900.0, Some(900.0))]),
        ("kWh/m2 total", [(0.0, Some(0.0)), (12.5, Some(400.0))]),
    ];
    assert_eq!(report.boards.len(), expected.len());
    for (it, (kind, exposures)) in report.boards.iter().zip(expected) {
        assert_eq!(it.dose_kind, kind);
        let found: Vec<(f64, Option<f64>)> =
            it.exposures.iter().map(|it| (it.dose, it.hours)).collect();
        assert_eq!(found, exposures);
    }
    let shares = [0.3, 1.0, 0.8];
    for (it, share) in report.boards.iter().zip(shares) {
        let [change] = &it.patches[0].changes[..] else {
            panic!();
        };
        assert!((change.dl - share * FADED[0]).abs() < 1e-6);
        assert!(!change.flags.contains(&FadeFlag::NoStart));
    }
}

#[test]
fn a_dose_below_zero_is_none_and_minus_zero_is_zero() {
    let mut records = series("b-1");
    records[0].photo.hours = Some(-0.0);
    records.push(shot(
        &panel("b-1"),
        "before.jpg",
        -5.0,
        &changed_by(|_| FADED),
    ));
    let report = assess(&records, &only("A1")).unwrap();
    assert_eq!(board(&report).exposures.len(), 4);
    assert!((patch(&report, "A1").changes[2].dl - FADED[0]).abs() < 1e-6);
    assert!(
        report.notes[0].contains("1 of 5 photos"),
        "{:?}",
        report.notes
    );
    // Both zeros are one exposure.
    records[4] = shot(&panel("b-1"), "also.jpg", 0.0, &changed_by(|_| [0.0; 3]));
    let report = assess(&records, &only("A1")).unwrap();
    assert_eq!(
        board(&report).exposures[0].photos,
        ["also.jpg", "b-1-0.jpg"]
    );
}

#[test]
fn what_was_measured_with_another_panel_file_is_not_compared() {
    let mut records = series("b-1");
    let mut other = panel("b-1");
    other.patches[0].masked = Some(Side::Right);
    records[3] = shot(&other, "b-1-900.jpg", 900.0, &changed_by(|_| FADED));
    let report = assess(&records, &only("A1")).unwrap();
    assert!(
        report.notes[0].contains("panel file of `b-1` was changed"),
        "{:?}",
        report.notes
    );
    let doses: Vec<Vec<f64>> = (report.boards.iter())
        .map(|it| it.exposures.iter().map(|it| it.dose).collect())
        .collect();
    assert!(
        doses.contains(&vec![0.0, 100.0, 400.0]) && doses.contains(&vec![900.0]),
        "{doses:?}"
    );
}

#[test]
fn a_board_of_another_id_keeps_to_itself() {
    let alone = assess(&series("b-1"), &only("A1")).unwrap();
    let mut records = series("b-1");
    records.push(shot(&panel("b-2"), "x.jpg", 0.0, &changed_by(|_| [0.0; 3])));
    let report = assess(&records, &only("A1")).unwrap();
    assert_eq!(patch(&report, "A1"), patch(&alone, "A1"));
    assert!(report.notes[0].contains("`b-2` has photos before any sun only"));
    // Nor do its notes come along when the first is asked for.
    let options = Options {
        panel: Some("b-1".into()),
        ..only("A1")
    };
    assert_eq!(assess(&records, &options).unwrap(), alone);
}

#[test]
fn a_series_of_one() {
    let records = series("b-1");
    let late = assess(&records[3..], &only("A1")).unwrap();
    let found = patch(&late, "A1");
    assert_eq!(found.changes.len(), 1);
    assert!(found.changes[0].flags.contains(&FadeFlag::NoStart) && found.course.is_none());
    assert!(matches!(
        assess(&records[..1], &only("A1")),
        Err(FadeError::NoDose { .. })
    ));
}

#[test]
fn every_error_says_what_and_what_to_do() {
    let records = series("b-1");
    let with = |panel: Option<&str>, patches: &[&str]| Options {
        panel: panel.map(Into::into),
        patches: patches.iter().map(|it| (*it).into()).collect(),
    };
    let mut undated = records.clone();
    for it in &mut undated {
        it.photo.hours = None;
    }
    let mut whole = panel("b-1");
    whole.patches[0].masked = None;
    let halves = changed_by(|_| FADED);
    let unmasked = [shot(&whole, "1.jpg", 10.0, &halves)];
    for it in &mut whole.patches {
        it.masked = None;
    }
    let bare = [shot(&whole, "1.jpg", 10.0, &halves)];
    let cases: [(&[PhotoRecord], Options, &str); 7] = [
        (&[], with(None, &[]), "no measured photo"),
        (
            &records,
            with(Some("b-9"), &[]),
            "`b-9` is among the records; there are b-1",
        ),
        (
            &records,
            with(None, &["Z9"]),
            "no board has a patch `Z9` with a masked half; there are A1, ",
        ),
        (
            &unmasked,
            with(None, &["A1"]),
            "no board has a patch `A1` with a masked half; there are A2, ",
        ),
        (&bare, with(None, &[]), "no patch of b-1 has a masked half"),
        (
            &undated,
            with(None, &["A1"]),
            "no photo of b-1 states a dose after zero",
        ),
        (
            &records[..1],
            with(Some("b-1"), &[]),
            "no photo of b-1 states a dose after zero",
        ),
    ];
    for (records, options, words) in cases {
        let error = assess(records, &options).unwrap_err();
        assert!(error.to_string().contains(words), "{error}");
        let hint = error.hint();
        assert!(hint.ends_with('.') && hint.len() > 30, "{hint}");
    }
}

#[test]
fn asking_for_a_patch_changes_no_number() {
    let mut records = series("b-1");
    records.extend(series("b-2"));
    let options = |patches: &[&str]| Options {
        patches: patches.iter().map(|it| (*it).into()).collect(),
        ..Options::default()
    };
    let both = assess(&records, &options(&["A1", "C3"])).unwrap();
    let one = assess(&records, &options(&["C3"])).unwrap();
    assert_eq!((both.boards.len(), one.boards.len()), (2, 2));
    for (all, asked) in both.boards.iter().zip(&one.boards) {
        assert_eq!(asked.patches.len(), 1);
        assert_eq!(asked.patches[0], all.patches[1]);
    }
    // The swatch over both boards comes along.
    assert_eq!((both.swatches.len(), one.swatches.len()), (2, 1));
    assert!(both.swatches.contains(&one.swatches[0]));
}
