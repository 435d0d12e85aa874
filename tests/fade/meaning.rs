//! What a change means: yellowness, parts of the coating, swatches over specimens.

use super::series::{Colour, PATCHES, changed_by, panel, shot, with_control};
use super::{board, patch};
use masstone::fade::report::{FadeFlag, Patch};
use masstone::fade::{Options, Report, assess};
use masstone::panel::{Control, Panel};
use masstone::record::PhotoRecord;

const YELLOWED: Colour = [-1.5, -0.3, 7.0];
const FADED: Colour = [2.0, -1.0, 1.0];

/// One later exposure: the last patch yellows, the others fade.
fn series(panel: &Panel, yellowed: Colour) -> Vec<PhotoRecord> {
    let late = |i| if i == PATCHES - 1 { yellowed } else { FADED };
    vec![
        shot(panel, "0.jpg", 0.0, &changed_by(|_| [0.0; 3])),
        shot(panel, "1.jpg", 500.0, &changed_by(late)),
    ]
}

fn report(panel: &Panel, yellowed: Colour) -> Report {
    assess(&series(panel, yellowed), &Options::default()).unwrap()
}

fn says(report: &Report, words: &str) -> bool {
    board(report).notes.iter().any(|it| it.contains(words))
}

#[test]
fn a_control_on_white_tells_the_coatings_part_and_a_clear_one_alone_does_not() {
    let on_white = report(&with_control(panel("b-1"), Control::ClearOnWhite), YELLOWED);
    let parts = |it: &Patch| it.changes[0].parts.clone();
    for it in &board(&on_white).patches[..PATCHES - 1] {
        let found = parts(it).unwrap();
        for (k, change) in FADED.into_iter().enumerate() {
            assert!((found.coating[k] + found.rest[k] - change).abs() < 1e-6);
        }
        assert!(
            found.coating[2] > 0.0 && found.coating_de_00 > 0.0,
            "{}: {found:?}",
            it.patch
        );
    }
    // A control is not taken apart.
    assert!(parts(patch(&on_white, "D4")).is_none());
    assert!(says(
        &on_white,
        "control D4: its change is that of the coating alone"
    ));
    let most = board(&on_white)
        .notes
        .iter()
        .find(|it| it.contains("shows most on"))
        .unwrap();
    assert!(
        most.starts_with("at 500 hours") && !most.contains("D4"),
        "{most}"
    );
    assert!(!says(&on_white, "no control on an inert white"));

    let clear = report(&with_control(panel("b-1"), Control::Clear), YELLOWED);
    assert!(board(&clear).patches.iter().all(|it| parts(it).is_none()));
    assert!(says(
        &clear,
        "control D4: its change is that of coating and substrate together"
    ));
    assert!(says(&clear, "no control on an inert white"));
    let none = report(&panel("b-1"), YELLOWED);
    assert!(says(&none, "no control on an inert white") && !says(&none, "control D4"));
    assert_eq!(patch(&clear, "D4").made_of, "clear");
    assert_eq!(patch(&none, "D4").made_of, "P15 10");
}

#[test]
fn a_control_that_cannot_serve_is_not_said_to_be_missing() {
    // Not on white: the control is on a brown patch.
    let mut brown = panel("b-1");
    brown.patches[0].control = Some(Control::ClearOnWhite);
    brown.patches[0].pigments.clear();
    let found = report(&brown, YELLOWED);
    assert!(says(&found, "A1: the control on white has L*"));
    assert!(!says(&found, "no control on an inert white") && !says(&found, "shows most"));

    // No half of it is masked.
    let mut whole = with_control(panel("b-1"), Control::ClearOnWhite);
    whole.patches[PATCHES - 1].masked = None;
    let mut records = series(&whole, YELLOWED);
    for it in &mut records {
        it.readings.retain(|it| it.patch != "D4");
    }
    let found = assess(&records, &Options::default()).unwrap();
    assert!(says(
        &found,
        "control D4: no later photo shows both its halves"
    ));

    // It hasn't changed: nothing is made of noise.
    let still = report(
        &with_control(panel("b-1"), Control::ClearOnWhite),
        [0.05, 0.02, 0.1],
    );
    assert!(says(
        &still,
        "control D4: its change at 500 hours isn't told from none"
    ));
    assert!(!says(&still, "shows most on"));
}

#[test]
fn the_yellowness_index_is_for_the_coated_white_only() {
    let found = report(&with_control(panel("b-1"), Control::ClearOnWhite), YELLOWED);
    let white = &patch(&found, "D4").changes[0];
    // A white that is 7 yellower in b*: E313's index rises by about 1.7 times that.
    assert!(
        (9.0..16.0).contains(&white.yellowness.unwrap()),
        "{white:?}"
    );
    assert_eq!(white.why_no_yellowness, "");
    let other = &patch(&found, "A2").changes[0];
    assert!(other.yellowness.is_none() && other.why_no_yellowness.contains("coated white only"));
}

/// Two boards whose patches fade by so much.
fn boards(one: Colour, other: Colour) -> Vec<PhotoRecord> {
    let mut records = Vec::new();
    for (id, change) in [("b-1", one), ("b-2", other)] {
        let panel = panel(id);
        records.push(shot(
            &panel,
            &format!("{id}-0.jpg"),
            0.0,
            &changed_by(|_| [0.0; 3]),
        ));
        records.push(shot(
            &panel,
            &format!("{id}-1.jpg"),
            500.0,
            &changed_by(|_| change),
        ));
    }
    records
}

#[test]
fn a_swatch_is_the_mean_of_its_specimens_and_holds_their_spread() {
    let options = super::only("B1");
    let found = assess(&boards([2.0, 1.0, 0.0], [4.0, 0.0, 0.0]), &options).unwrap();
    let [swatch] = &found.swatches[..] else {
        panic!("{:?}", found.swatches);
    };
    assert_eq!(swatch.specimens, ["b-1 B1", "b-2 B1"]);
    assert_eq!(
        (swatch.swatch.as_str(), swatch.dose_kind.as_str()),
        ("P4 10", "hours")
    );
    let change = &swatch.changes[0];
    assert!((change.dl - 3.0).abs() < 1e-6 && (change.da - 0.5).abs() < 1e-6);
    assert_eq!(
        (change.photos, change.flags.as_slice()),
        (2, [FadeFlag::SinglePhoto].as_slice())
    );
    // Half the variance between two: ½ · 2 for L*, ½ · ½ for a*, and they go against each other.
    let spread = [[1.0, -0.5], [-0.5, 0.25]];
    let alike = assess(&boards([3.0, 0.5, 0.0], [3.0, 0.5, 0.0]), &options).unwrap();
    let own = &alike.swatches[0].changes[0].covariance;
    for (i, row) in spread.iter().enumerate() {
        for (j, expected) in row.iter().enumerate() {
            let more = change.covariance[i][j] - own[i][j];
            assert!(
                (more - expected).abs() < 0.1,
                "{:?} {own:?}",
                change.covariance
            );
        }
    }
    // Specimens that agree say more than either.
    let single = &patch(&alike, "B1").changes[0];
    assert!(own[0][0] < 0.75 * single.covariance[0][0]);
}

#[test]
fn specimens_without_a_common_dose_are_not_pooled() {
    let mut records = boards(FADED, FADED);
    records[3].photo.hours = Some(510.0);
    let found = assess(&records, &super::only("B1")).unwrap();
    assert!(found.swatches.is_empty());
    assert!(
        found.notes[0].contains("b-1 B1, b-2 B1") && found.notes[0].contains("share no dose"),
        "{:?}",
        found.notes
    );
    // Nor are those of which the panel file leaves something open.
    let mut records = boards(FADED, FADED);
    for it in &mut records {
        it.photo.panel.coating = None;
    }
    let found = assess(&records, &super::only("B1")).unwrap();
    assert!(found.swatches.is_empty() && found.notes.is_empty());
    assert_eq!(found.boards[0].patches[0].made_of, "P4 10");
}
