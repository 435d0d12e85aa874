//! What mixing takes of a library, and what it leaves out.

use crate::letdowns::{
    CLEAR, COAT, COATS, LETDOWNS, Meant, as_made, cure, letdowns, library, panel, photo, truth,
};
use crate::workshop::Workshop;
use masstone::colour::Lab;
use masstone::library::catalog::Coating;
use masstone::mix::shelf::{PerCoatFrom, Shelf, WHITE};
use masstone::panel::Control;

/// A workshop with one panel of these patches, of which nothing else is known.
fn with(meant: &[Meant<'_>]) -> Workshop {
    let workshop = Workshop::empty();
    let panel = panel("p", meant);
    library(&workshop).add(&[as_made(&panel, meant)]).unwrap();
    workshop
}

const CONTROL: Meant<'_> = ("A1", &[], Some(Control::Clear));

#[test]
fn without_a_control_nothing_is_predicted() {
    let red: [Meant<'_>; 2] = [
        ("A1", &[("PR101", 2.0)], None),
        ("A2", &[("PR101", 8.0)], None),
    ];
    with(&red).run("mix predict PR101=3").exits(2).says(&[
        "swatches 1 and 2: there is no control on larch",
        "control = \"clear\"",
    ]);
}

#[test]
fn a_library_with_one_load_is_enough_and_says_what_it_leaves_open() {
    let one = [CONTROL, ("A2", &[("PR101", 6.0)][..], None)];
    let workshop = with(&one);
    let text = workshop.run("mix predict PR101=3").exits(0).stdout;
    assert!(
        text.contains("PR101") && text.contains("one load"),
        "{text}"
    );
    assert!(text.contains("not tested: PR101"), "{text}");
}

#[test]
fn where_nobody_weighed_amounts_are_in_coats() {
    let one = [CONTROL, ("A2", &[("PR101", 6.0)][..], None)];
    let workshop = with(&one);
    let text = workshop
        .run("mix predict PR101=3 --coats 2")
        .exits(0)
        .stdout;
    assert!(text.contains("on larch, 2 coats\n"), "{text}");
    assert!(text.contains("amounts are in coats"), "{text}");
    workshop
        .run("mix predict PR101=3 --g-per-m2 200")
        .exits(2)
        .says(&["grams say nothing", "library coatings NAME --coat G"]);
    let shelf = Shelf::of(&library(&workshop), None).unwrap();
    assert!(
        shelf
            .trials
            .iter()
            .all(|it| (it.g_per_m2 - 300.0).abs() < 1e-9)
    );
}

#[test]
fn what_was_weighed_goes_before_what_was_counted() {
    let meant = [
        CONTROL,
        ("A2", &[("PR101", 6.0)][..], None),
        ("A3", &[("PR101", 2.0)][..], None),
    ];
    let mut panel = panel("p", &meant);
    panel.patches[1].wet_g_per_m2 = Some(270.0);
    let workshop = Workshop::empty();
    let mut library = library(&workshop);
    library.add(&[as_made(&panel, &meant)]).unwrap();
    let amounts = |library: &_| {
        let shelf = Shelf::of(library, None).unwrap();
        let grams: Vec<f64> = shelf.trials.iter().map(|it| it.g_per_m2).collect();
        (shelf.per_coat.from, grams)
    };
    assert_eq!(amounts(&library), (PerCoatFrom::Weighed, vec![270.0; 3]));
    library
        .set_coating(&Coating {
            coat_g_per_m2: Some(COAT),
            ..Coating::named(CLEAR)
        })
        .unwrap();
    assert_eq!(
        amounts(&library),
        (PerCoatFrom::Stated, vec![COATS * COAT, 270.0, COATS * COAT])
    );
}

#[test]
fn what_foamed_or_contradicts_itself_is_left_out_by_name() {
    let workshop = letdowns();
    let mut library = library(&workshop);
    cure(&mut library, "letdowns", "A3", "foamed");
    // A second photo of the same board, in which one patch is another colour.
    let board = panel("letdowns", &LETDOWNS);
    let second = photo(&board, 0.0, |i| {
        let Lab { l, a, b, .. } = truth(LETDOWNS[i].1, COATS * COAT);
        let off = if LETDOWNS[i].0 == "B2" { 20.0 } else { 0.0 };
        Lab::new(l + off, a, b)
    });
    let mut second = second;
    second.photo.sha256 = "f".repeat(64);
    library.add(&[second]).unwrap();
    let ran = workshop.run("mix predict PR101=0.4 PY42=1").exits(0);
    let ran = ran.says(&[
        "left out: swatch 3: it did not cure as it should: foamed",
        "left out: swatch 7: its readings contradict each other",
    ]);
    assert_eq!(ran.stderr.matches("left out").count(), 2, "{ran:?}");
    for it in ["A2", "A4", "A5"] {
        cure(&mut library, "letdowns", it, "foamed");
    }
    workshop
        .run("mix predict PR101=0.4")
        .exits(0)
        .says(&["swatches 2, 3, 4 and 5: it did not cure as it should: foamed"]);
    cure(&mut library, "letdowns", "C4", "soft");
    workshop.run("mix predict PR101=0.4").exits(2).says(&[
        "no swatch of PR101",
        "foamed",
        "swatch 14",
        "soft",
    ]);
}

#[test]
fn of_several_coatings_and_substrates_one_is_to_be_named() {
    let workshop = letdowns();
    let mut other = panel("oil", &LETDOWNS[..3]);
    other.coating = Some("oil".to_owned());
    let mut oak = panel("oak", &LETDOWNS[..3]);
    oak.substrate = Some("oak".to_owned());
    library(&workshop)
        .add(&[as_made(&other, &LETDOWNS), as_made(&oak, &LETDOWNS)])
        .unwrap();
    workshop.run("mix predict PR101=3").exits(2).says(&[
        "in several coatings: clear exterior coating, two-part; oil",
        "--coating",
    ]);
    let named = |more: &[&str]| {
        let arguments = [&["mix", "predict", "PR101=1", "--coating", CLEAR][..], more].concat();
        crate::workshop::Ran::from(workshop.command("").args(arguments).output().unwrap())
    };
    named(&[])
        .exits(2)
        .says(&["on several substrates: larch; oak", "--substrate"]);
    let on_oak = named(&["--substrate", "oak"]).exits(0);
    assert!(on_oak.stdout.contains("on oak"), "{on_oak:?}");
}

#[test]
fn a_control_on_white_is_another_ground() {
    let meant = [
        CONTROL,
        ("A2", &[][..], Some(Control::ClearOnWhite)),
        ("A3", &[("PR101", 6.0)][..], None),
    ];
    let workshop = with(&meant);
    let shelf = Shelf::of(&library(&workshop), None).unwrap();
    let grounds: Vec<&str> = shelf.trials.iter().map(|it| it.ground.as_str()).collect();
    assert_eq!(grounds, ["larch", WHITE, "larch"]);
    assert_eq!(shelf.substrates(), ["larch"]);
}

#[test]
fn what_was_only_measured_outdoors_is_no_trial() {
    let meant = [CONTROL, ("A2", &[("PR101", 6.0)][..], None)];
    let workshop = with(&meant);
    let late: [Meant<'_>; 2] = [CONTROL, ("A2", &[("PY42", 6.0)], None)];
    let board = panel("late", &late);
    let aged = photo(&board, 900.0, |i| truth(late[i].1, COATS * COAT));
    library(&workshop).add(&[aged]).unwrap();
    workshop
        .run("mix predict PY42=3")
        .exits(2)
        .says(&["measured only after it had been outdoors"]);
    let shelf = Shelf::of(&library(&workshop), None).unwrap();
    // The control of both panels is one swatch, and it was measured fresh.
    assert_eq!(shelf.trials.len(), 2);
}
