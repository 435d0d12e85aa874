//! `mix predict`.

use crate::letdowns::{COAT, COATS, letdowns, truth};
use crate::workshop::Ran;
use crate::{json, lab};
use masstone::colour::difference::delta_e_2000;

/// U95 is of 95 %: of these, one in ten may be beyond.
#[test]
fn what_was_measured_and_what_lies_between_is_predicted_within_its_u95() {
    let workshop = letdowns();
    let mut all: Vec<Vec<(&str, f64)>> = vec![vec![], vec![("PR101", 6.0)]];
    for (pigment, loads) in [
        ("PR101", [1.0, 4.0, 9.0]),
        ("PY42", [2.0, 6.0, 9.0]),
        ("PBk11", [0.2, 1.0, 3.0]),
        ("PW6", [3.0, 5.0, 8.0]),
    ] {
        all.extend(loads.map(|load| vec![(pigment, load)]));
    }
    for (one, other) in [("PR101", "PY42"), ("PY42", "PW6"), ("PR101", "PW6")] {
        for loads in [[1.0, 3.0], [3.0, 1.0]] {
            all.push(vec![(one, loads[0]), (other, loads[1])]);
        }
    }
    for (pigment, load) in [("PR101", 4.0), ("PR101", 2.0), ("PY42", 4.0), ("PW6", 5.0)] {
        all.push(vec![(pigment, load), ("PBk11", 0.3)]);
    }
    let beyond: Vec<String> = (all.iter())
        .filter_map(|pigments| {
            let words: Vec<String> = pigments
                .iter()
                .map(|(id, load)| format!("{id}={load}"))
                .collect();
            let words = if words.is_empty() {
                "clear".to_owned()
            } else {
                words.join(" ")
            };
            let answer =
                json(workshop.run(&format!("mix predict {words} --coats 3 --format json")));
            assert_eq!(answer["kind"], "predict");
            let off = delta_e_2000(lab(&answer["made"]), truth(pigments, COATS * COAT));
            let u95 = answer["made"]["U95"].as_f64().unwrap();
            (off > u95).then(|| format!("{words}: {off} beyond {u95}"))
        })
        .collect();
    assert!(
        10 * beyond.len() <= all.len(),
        "of {}: {beyond:#?}",
        all.len()
    );
}

#[test]
fn the_table_says_how_far_from_data_and_what_to_beware_of() {
    let workshop = letdowns();
    let measured = workshop.run("mix predict PR101=6").exits(0).stdout;
    for it in [
        "PR101 6 in clear exterior coating, two-part on larch, 240 g/m² (3 coats)",
        "This very coat was measured;",
        "each predicted from the others",
        "0.50 of the tested limit",
        "as most swatches on larch have it",
        "Dry pigments are dusts",
        "can sensitise skin and lungs",
        "isocyanates",
    ] {
        assert!(measured.contains(it), "{it:?} is missing in\n{measured}");
    }
    let between = workshop
        .run("mix predict PR101=4 --coats 3")
        .exits(0)
        .stdout;
    assert!(between.contains("Between measured loads"), "{between}");
    assert!(!between.contains("as most swatches"), "{between}");
    let black = workshop.run("mix predict PBk11=2").exits(0).stdout;
    assert!(
        black.contains("Dark (Y") && black.contains("infrared"),
        "{black}"
    );
    let pale = workshop.run("mix predict PW6=10").exits(0).stdout;
    assert!(!pale.contains("Dark (Y"), "{pale}");
}

#[test]
fn coats_and_grams_say_the_same() {
    let workshop = letdowns();
    let of = |film: &str| json(workshop.run(&format!("mix predict PY42=3 {film} --format json")));
    let (coats, grams) = (of("--coats 2"), of("--g-per-m2 160"));
    assert_eq!(coats, grams);
    assert_eq!(coats["g_per_m2"], 160.0);
    let thick = of("--coats 6");
    let chroma = |it: &serde_json::Value| it["made"]["C"].as_f64().unwrap();
    assert!(
        chroma(&thick) > chroma(&coats) + 2.0,
        "{thick:#}\n{coats:#}"
    );
}

#[test]
fn loads_beyond_the_tested_limit_take_a_flag_and_are_red() {
    let workshop = letdowns();
    workshop
        .run("mix predict PR101=20")
        .exits(1)
        .says(&["BEYOND: 1.67 of the tested limit", "--allow-beyond"]);
    let plain = workshop.run("mix predict PR101=20 --allow-beyond").exits(0);
    assert!(plain.stdout.contains("BEYOND: 1.67"), "{plain:?}");
    assert!(
        plain.stdout.contains("BEYOND what was measured"),
        "{plain:?}"
    );
    let mut command = workshop.command("mix predict PR101=20 --allow-beyond");
    let red = Ran::from(command.env("CLICOLOR_FORCE", "1").output().unwrap()).exits(0);
    assert!(
        red.stdout
            .contains("\u{1b}[31mBEYOND: 1.67 of the tested limit"),
        "{red:?}"
    );
    let answer = json(workshop.run("mix predict PR101=20 --allow-beyond --format json"));
    assert_eq!(answer["standing"]["verdict"], "beyond");
    assert_eq!(answer["distance"]["reach"], "beyond");
    // Half of both limits is one whole; what nobody tested is said and not refused.
    workshop.run("mix predict PR101=6 PY42=6").exits(0);
    workshop
        .run("mix predict PR101=7 PY42=6")
        .exits(1)
        .says(&["BEYOND: 1.08"]);
}

#[test]
fn what_makes_no_sense_is_refused_with_the_way_to_say_it() {
    let workshop = letdowns();
    for (arguments, says) in [
        ("mix predict PR102=6", "There are: PR101"),
        (
            "mix predict PR101=-3",
            "a load of -3: it is 0 or more grams",
        ),
        ("mix predict PR101=much", "much is no number"),
        ("mix predict PR101", "say PIGMENT=LOAD"),
        ("mix predict", "PIGMENT=LOAD"),
        (
            "mix predict PR101=3 PR101=4",
            "PR101 is there twice; add up its loads",
        ),
        ("mix predict PR101=60 PY42=50", "add up to 110"),
        ("mix predict PR101=3 --coats 0", "a number above 0"),
        (
            "mix predict PR101=3 --coats 2 --g-per-m2 100",
            "cannot be used with",
        ),
        (
            "mix predict PR101=3 --substrate oak",
            "no control of clear exterior coating, two-part on oak",
        ),
        (
            "mix predict PR101=3 --coating oil",
            "no swatch with the coating oil",
        ),
        ("mix predict PR101=3 --hours 0", "leave --hours out"),
    ] {
        workshop.run(arguments).exits(2).says(&[says]);
    }
}

#[test]
fn a_single_load_is_said_to_be_one() {
    let workshop = letdowns();
    let answer = json(workshop.run("mix predict PBr7=3 --format json"));
    let notes = answer["notes"].as_array().unwrap();
    let says = |it: &serde_json::Value| it.as_str().unwrap().contains("PBr7");
    assert!(notes.iter().any(says), "{answer:#}");
}
