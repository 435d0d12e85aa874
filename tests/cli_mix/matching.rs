//! `mix match`.

use crate::letdowns::{COAT, COATS, LETDOWNS, as_made, letdowns, library, panel, truth};
use crate::workshop::Ran;
use crate::{json, lab};
use masstone::colour::difference::delta_e_2000;
use masstone::record::{Record, json as records};
use serde_json::Value;

/// All recipes of an answer, in the order of the table.
fn rows(answer: &Value) -> Vec<&Value> {
    let groups = answer["groups"].as_array().unwrap().iter();
    groups.flat_map(|it| it.as_array().unwrap()).collect()
}

/// Pigments with loads as weighed, as the film's equations take them.
fn weighed(row: &Value) -> Vec<(String, f64)> {
    let pigments = row["pigments"].as_array().unwrap().iter();
    pigments
        .map(|it| {
            let id = it["pigment"].as_str().unwrap().to_owned();
            (id, it["rounded_load"].as_f64().unwrap())
        })
        .collect()
}

fn pigments(row: &Value) -> Vec<String> {
    weighed(row).into_iter().map(|it| it.0).collect()
}

#[test]
fn a_colour_that_two_pigments_make_is_made_again() {
    let workshop = letdowns();
    let wanted = truth(&[("PR101", 3.0), ("PBk11", 0.15)], COATS * COAT);
    let said = format!("{:.3},{:.3},{:.3}", wanted.l, wanted.a, wanted.b);
    let answer = json(workshop.run(&format!("mix match {said} --coats 3 --format json")));
    assert_eq!(answer["kind"], "match");
    assert!(answer["shortfall"].is_null(), "{answer:#}");
    let first = rows(&answer)[0];
    assert_eq!(first["reaches"], true);
    // Laid as it was weighed, it has the wanted colour as far as the answer says.
    let weighed = weighed(first);
    let weighed: Vec<(&str, f64)> = weighed.iter().map(|it| (it.0.as_str(), it.1)).collect();
    let off = delta_e_2000(truth(&weighed, COATS * COAT), wanted);
    let most = first["to"].as_f64().unwrap() + first["rounding"].as_f64().unwrap();
    assert!(off <= most, "{off} beyond {most}: {first:#}");
    let table = workshop.run(&format!("mix match {said}")).exits(0).stdout;
    for it in [
        "Wanted: ",
        "can't be told from the wanted colour",
        "loads, g per 100 g",
        "true within",
        "500 g of coating",
        "Dry pigments are dusts",
        "can sensitise skin and lungs",
    ] {
        assert!(table.contains(it), "{it:?} is missing in\n{table}");
    }
}

#[test]
fn every_way_to_say_a_target_means_the_same_colour() {
    let workshop = letdowns();
    let board = panel("letdowns", &LETDOWNS);
    let made = as_made(&board, &LETDOWNS);
    let record = Record {
        schema: masstone::record::SchemaNumber,
        photos: vec![made.photo],
        readings: made.readings,
    };
    let mut text = Vec::new();
    records::write(&record, &mut text).unwrap();
    std::fs::write(workshop.path("fresh.json"), text).unwrap();
    let of = |target: &str| json(workshop.run(&format!("mix match {target} --format json")));
    let swatch = of("swatch:4");
    assert!(rows(&swatch)[0]["reaches"].as_bool().unwrap());
    // PR101 6 itself.
    assert!(lab(&swatch["wanted"]) == lab(&of("letdowns/A4")["wanted"]));
    let patch = of("fresh.json:A4");
    assert!(delta_e_2000(lab(&swatch["wanted"]), lab(&patch["wanted"])) < 1e-3);
    assert!(patch["wanted"]["U95"].as_f64().unwrap() > 0.0);
    let css = of("#8a4a2f");
    assert!(css["wanted"]["U95"].is_null());
    assert_eq!(css["wanted"]["hex"], "#8a4a2f");
    let apart = of("45 20 25");
    assert_eq!(apart["wanted"]["L"], 45.0);
}

#[test]
fn options_narrow_what_may_be_taken() {
    let workshop = letdowns();
    let of = |more: &str| json(workshop.run(&format!("mix match 50,20,25 {more} --format json")));
    for row in rows(&of("--pigments-at-most 1")) {
        assert_eq!(pigments(row).len(), 1, "{row:#}");
    }
    for row in rows(&of("--base PBk11")) {
        assert!(pigments(row).contains(&"PBk11".to_owned()), "{row:#}");
    }
    let stock = of("--in-stock --count 100");
    assert!(!rows(&stock).is_empty());
    for row in rows(&stock) {
        assert!(!pigments(row).contains(&"PW6".to_owned()), "{row:#}");
    }
    let batch = of("--batch 200 --balance 0.1");
    for row in rows(&batch) {
        for part in row["pigments"].as_array().unwrap() {
            let grams = part["grams"].as_f64().unwrap();
            assert!(
                (10.0 * grams - (10.0 * grams).round()).abs() < 1e-9,
                "{part:#}"
            );
            assert!((part["rounded_load"].as_f64().unwrap() - grams / 2.0).abs() < 1e-3);
        }
    }
    // Within the limits, and of a kilogram's price.
    for row in rows(&of("--count 50")) {
        assert!(row["sum"].as_f64().unwrap() <= 1.0 + 1e-6, "{row:#}");
        if pigments(row) != ["PBr7"] && !pigments(row).contains(&"PBr7".to_owned()) {
            assert!(row["cost"].as_f64().unwrap() > 0.0, "{row:#}");
        }
    }
    let cheapest = of("--prefer cheapest --pigments-at-most 2");
    for group in cheapest["groups"].as_array().unwrap() {
        let costs: Vec<f64> = (group.as_array().unwrap().iter())
            .filter_map(|it| it["cost_per_kg"].as_f64())
            .collect();
        assert!(
            costs.windows(2).all(|it| it[0] <= it[1] + 1e-4),
            "{costs:?}"
        );
    }
    let fewest = of("--prefer fewest");
    for group in fewest["groups"].as_array().unwrap() {
        let counts: Vec<usize> = (group.as_array().unwrap().iter())
            .map(|it| pigments(it).len())
            .collect();
        assert!(counts.windows(2).all(|it| it[0] <= it[1]), "{counts:?}");
    }
}

#[test]
fn where_nothing_reaches_the_nearest_and_what_is_lacking_are_said() {
    let workshop = letdowns();
    let text = workshop.run("mix match #00a040").exits(0).stdout;
    assert!(
        text.contains("Nothing reaches the wanted colour. The nearest is "),
        "{text}"
    );
    assert!(text.contains(" enough"), "{text}");
    let answer = json(workshop.run("mix match #00a040 --format json"));
    let lacking = &answer["shortfall"];
    assert!(lacking["delta_e"].as_f64().unwrap() > 10.0, "{lacking:#}");
    assert!(!rows(&answer)[0]["reaches"].as_bool().unwrap());
}

#[test]
fn what_makes_no_sense_is_refused_with_the_way_to_say_it() {
    let workshop = letdowns();
    for (arguments, says) in [
        ("mix match", "no colour is wanted"),
        ("mix match 50,300,0", "a surface has 0 to"),
        ("mix match 500,0,0", "0 (black) to 100 (white)"),
        ("mix match swatch:99", "there is no swatch 99"),
        ("mix match nonsense", "there is no swatch nonsense"),
        ("mix match 40,30,20 --base PR102", "There are: PR101"),
        (
            "mix match 40,30,20 --batch 0",
            "it must be a number above 0",
        ),
        ("mix match 40,30,20 --balance 0", "the balance's step"),
        (
            "mix match 40,30,20 --pigments-at-most 4",
            "4 is not in 1..=3",
        ),
        ("mix match 40,30,20 --photo a.jpg", "cannot be used with"),
        ("mix match --photo a.jpg", "--card-at"),
        ("mix match none.json:A1", "none.json"),
    ] {
        workshop.run(arguments).exits(2).says(&[says]);
    }
    workshop
        .run("mix match 40,30,20 --hours 1000")
        .exits(1)
        .says(&["no half-masked patch"]);
}

#[test]
fn what_nobody_tested_takes_a_flag() {
    let workshop = letdowns();
    let mut library = library(&workshop);
    let green: [crate::letdowns::Meant<'_>; 1] = [("A1", &[("PBr7", 9.0)], None)];
    library
        .add(&[as_made(&panel("brown", &green), &green)])
        .unwrap();
    drop(library);
    let ran = Ran::from(
        workshop
            .command("mix match 40,15,20 --base PBr7 --allow-beyond --count 30 --format json")
            .output()
            .unwrap(),
    );
    let answer = json(ran);
    let beyond: Vec<_> = (rows(&answer).into_iter())
        .filter(|it| it["sum"].as_f64().is_some_and(|it| it > 1.0 + 1e-6))
        .collect();
    assert!(!beyond.is_empty(), "{answer:#}");
    for row in beyond {
        assert_eq!(row["beyond"], true, "{row:#}");
    }
}
