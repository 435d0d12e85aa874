//! Whatever numbers records hold: no panic, and a report that can be written and read again.

use super::only;
use super::series::{changed_by, panel, shot, with_control, with_drift};
use masstone::fade::{Report, assess};
use masstone::panel::Control;
use masstone::record::PhotoRecord;
use proptest::prelude::*;

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        -200.0..200.0,
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(1e300),
        Just(-1e300),
        Just(1e154),
        Just(5e-324),
        Just(-0.0),
    ]
}

/// Where a number is put.
#[derive(Clone, Copy, Debug)]
enum Place {
    Colour(usize),
    Noise,
    Unevenness,
    Alone(usize),
    Drift(usize),
    Dose,
    Hours,
    Load,
}

fn place() -> impl Strategy<Value = Place> {
    prop_oneof![
        (0..3_usize).prop_map(Place::Colour),
        Just(Place::Noise),
        Just(Place::Unevenness),
        (0..3_usize).prop_map(Place::Alone),
        (0..6_usize).prop_map(Place::Drift),
        Just(Place::Dose),
        Just(Place::Hours),
        Just(Place::Load),
    ]
}

fn put(record: &mut PhotoRecord, place: Place, which: usize, number: f64) {
    let n = record.readings.len();
    let reading = &mut record.readings[which % n];
    let correction = &mut record.photo.correction;
    let references = correction.references.len();
    match place {
        Place::Colour(0) => reading.l = Some(number),
        Place::Colour(1) => reading.a = Some(number),
        Place::Colour(_) => reading.b = Some(number),
        Place::Noise => reading.components[0].sd_lab[which % 3] = number,
        Place::Unevenness => reading.unevenness = Some(number),
        Place::Alone(k) => {
            if let Some(alone) = &mut correction.references[which % references].alone {
                alone[k] = number;
            }
        }
        Place::Drift(k) => {
            if let Some(drift) = &mut correction.drift {
                match k {
                    0..3 => drift.lab[k] = number,
                    _ => drift.covariance[k - 3][which % 3] = number,
                }
            }
        }
        Place::Dose => record.photo.dose = Some(number),
        Place::Hours => record.photo.hours = Some(number),
        Place::Load => record.photo.panel.coats = Some(number),
    }
}

fn series() -> Vec<PhotoRecord> {
    let panel = with_control(panel("b-1"), Control::ClearOnWhite);
    let late = |name: &str, hours: f64| {
        let record = shot(
            &panel,
            name,
            hours,
            &changed_by(|_| [0.01 * hours, 0.5, -1.0]),
        );
        with_drift(record, [0.1, 0.2, 1.0], 0.3)
    };
    vec![
        shot(&panel, "0.jpg", 0.0, &changed_by(|_| [0.0; 3])),
        late("1.jpg", 100.0),
        late("2.jpg", 200.0),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn no_number_breaks_a_report(
        changes in proptest::collection::vec((0..3_usize, place(), 0..32_usize, number()), 1..12)
    ) {
        let mut records = series();
        for (record, place, which, number) in changes {
            put(&mut records[record], place, which, number);
        }
        if let Ok(report) = assess(&records, &only("A1")) {
            let text = serde_json::to_string(&report).unwrap();
            // What isn't finite is written as null, which can't be read where a number must be.
            let back: Result<Report, _> = serde_json::from_str(&text);
            prop_assert!(back.is_ok(), "{:?} {text}", back.err());
        }
    }
}

#[test]
fn one_absurd_colour_spoils_no_other_patch() {
    let sound = assess(&series(), &only("A1")).unwrap();
    let mut records = series();
    // Of another patch: the reading, and the photo's own word on its masked half.
    for it in records[1].readings.iter_mut().filter(|it| it.patch == "C2") {
        it.b = Some(1e300);
    }
    let report = assess(&records, &only("A1")).unwrap();
    assert_eq!(report.boards[0].patches, sound.boards[0].patches);
    for it in &mut records[1].photo.correction.references {
        if it.name == "masked half of C2" {
            it.alone = Some([1e300, 0.0, 0.0]);
        }
    }
    let report = assess(&records, &only("A1")).unwrap();
    assert_eq!(report.boards[0].patches[0].changes.len(), 2);
}

#[test]
fn what_is_no_number_is_no_reading() {
    let mut records = series();
    records[0].readings[0].l = Some(f64::NAN);
    let report = assess(&records, &only("A1")).unwrap();
    let start = report.boards[0].patches[0].start.unwrap();
    assert!(start.iter().all(|it| it.is_finite()), "{start:?}");
}
