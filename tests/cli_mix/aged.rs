//! Colours after exposure.

use crate::letdowns::{COAT, COATS, Meant, letdowns, library, panel, season, truth, truth_with};
use crate::workshop::Workshop;
use crate::{json, lab};
use masstone::colour::difference::delta_e_2000;
use masstone::panel::Control;

/// What is left of the red pigment's absorption after the season.
const KEPT: f64 = 0.8;
const HOURS: f64 = 1000.0;

const OUTDOORS: [Meant<'static>; 4] = [
    ("A1", &[], Some(Control::Clear)),
    ("A2", &[("PR101", 2.0)], None),
    ("A3", &[("PR101", 6.0)], None),
    ("A4", &[("PBk11", 0.5)], None),
];

/// With a half-masked panel that was outdoors.
fn exposed() -> Workshop {
    let workshop = letdowns();
    let board = panel("outdoors", &OUTDOORS);
    let fresh = |i: usize| truth(OUTDOORS[i].1, COATS * COAT);
    let aged = |i: usize| {
        truth_with(OUTDOORS[i].1, COATS * COAT, &|it| {
            if it == "PR101" { KEPT } else { 1.0 }
        })
    };
    library(&workshop)
        .add(&season(&board, HOURS, fresh, aged))
        .unwrap();
    workshop
}

#[test]
fn the_aged_colour_stands_beside_the_fresh_one() {
    let workshop = exposed();
    let answer = json(workshop.run("mix predict PR101=3 --coats 3 --hours 1000 --format json"));
    let aged = &answer["aged"];
    let red = [("PR101", 3.0)];
    let true_aged = truth_with(&red, COATS * COAT, &|_| KEPT);
    let u95 = aged["colour"]["U95"].as_f64().unwrap();
    let off = delta_e_2000(lab(&aged["colour"]), true_aged);
    assert!(off <= u95, "{off} beyond {u95}");
    let moved = delta_e_2000(truth(&red, COATS * COAT), true_aged);
    let said = aged["delta_e"].as_f64().unwrap();
    assert!((said - moved).abs() < 0.5 * moved, "{said} for {moved}");
    let table = workshop
        .run("mix predict PR101=3 --hours 1000")
        .exits(0)
        .stdout;
    assert!(
        table.contains("as made") && table.contains("after 1000 h"),
        "{table}"
    );
}

#[test]
fn where_the_ageing_is_unknown_the_fresh_colour_is_given_and_the_rest_said() {
    let workshop = exposed();
    let ran = workshop
        .run("mix predict PY42=3 --hours 1000")
        .exits(1)
        .says(&["how PY42 fades isn't known"]);
    assert!(ran.stdout.contains("as made"), "{ran:?}");
    workshop
        .run("mix predict PR101=3 --hours 9000")
        .exits(1)
        .says(&["9000 hours are beyond what the exposures say"]);
    letdowns()
        .run("mix predict PR101=3 --hours 1000")
        .exits(1)
        .says(&["no half-masked patch"]);
}

#[test]
fn a_recipe_can_be_wanted_for_the_aged_colour() {
    let workshop = exposed();
    let wanted = truth_with(&[("PR101", 3.0)], COATS * COAT, &|_| KEPT);
    let answer = json(workshop.run(&format!(
        "mix match {:.3},{:.3},{:.3} --hours 1000 --format json",
        wanted.l, wanted.a, wanted.b
    )));
    assert_eq!(answer["hours"], 1000.0);
    let first = &answer["groups"][0][0];
    assert_eq!(first["reaches"], true, "{answer:#}");
    // Only pigments whose ageing is known are taken; made, it is another colour.
    for part in first["pigments"].as_array().unwrap() {
        assert!(
            ["PR101", "PBk11"].contains(&part["pigment"].as_str().unwrap()),
            "{part}"
        );
    }
    let apart = delta_e_2000(lab(&first["made"]), lab(&first["aged"]));
    assert!(apart > 1.0, "{first:#}");
    assert!(
        (first["change"].as_f64().unwrap() - apart).abs() < 0.01,
        "{first:#}"
    );
}
