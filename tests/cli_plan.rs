//! `masstone plan` as a user meets it: arguments, the library, files, messages, exit status.

#![expect(clippy::unwrap_used, reason = "helpers of tests may panic")]

#[allow(dead_code, reason = "not every test uses all of it")]
mod workshop;

#[path = "cli_plan/job.rs"]
mod job;

use masstone::library::Library;
use masstone::library::catalog::{Coating, Part, Pigment, Stock};
use serde_json::Value;
use std::fs;
use workshop::{Ran, Workshop};

/// The demo's panel file.
const LARCH: &str = include_str!("../samples/larch-2026-03.toml");
/// What its plan has to be told where there is no library.
const TOLD: &str = "--parts 4:1 --per-coat 80 --pot-life 60";
const COATING: &str = "clear exterior coating, two-part";

/// With the demo's panel file.
fn bench() -> Workshop {
    let workshop = Workshop::empty();
    fs::write(workshop.path("larch.toml"), LARCH).unwrap();
    workshop
}

/// A library that knows the coating and one pigment.
fn stock(workshop: &Workshop, coating: &str) {
    let mut library = Library::open_or_begin(&workshop.path("swatches.sqlite")).unwrap();
    let part = |name: &str, by_mass: f64, price: f64| Part {
        name: name.to_owned(),
        by_mass,
        price_per_kg: Some(price),
    };
    library
        .set_coating(&Coating {
            parts: vec![part("base", 80.0, 35.0), part("hardener", 20.0, 60.0)],
            coat_g_per_m2: Some(80.0),
            pot_life_min: Some(60.0),
            hazard: Some("isocyanates".to_owned()),
            ..Coating::named(coating)
        })
        .unwrap();
    library
        .set_pigment(&Pigment {
            price_per_kg: Some(30.0),
            wetting: Some("ten minutes in the base".to_owned()),
            stock: Stock::RunningOut,
            ..Pigment::named("PR101")
        })
        .unwrap();
}

/// A plan as JSON, which always holds to its schema.
fn json(ran: Ran) -> Value {
    let plan = serde_json::from_str(&ran.exits(0).stdout).unwrap();
    let schema = serde_json::from_str(masstone::plan::schema::COMMITTED).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let wrong: Vec<String> = validator
        .iter_errors(&plan)
        .map(|it| format!("{}: {it}", it.instance_path()))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    plan
}

/// With arguments that hold spaces.
fn run(workshop: &Workshop, arguments: &[&str]) -> Ran {
    Ran::from(workshop.command("plan").args(arguments).output().unwrap())
}

#[test]
fn a_panel_without_a_library_is_planned_from_what_is_told() {
    let workshop = bench();
    let table = workshop
        .run(&format!("plan larch.toml {TOLD} --limit PR101=12"))
        .exits(0)
        .stdout;
    for it in [
        "Mask the left half of every patch",
        "witness of A3",
        "control on an inert white",
        "after 1600 h",
        "1.00 of the tested limit",
        "safety data sheets",
        "Coats 1 to 3: weighed out anew for each",
    ] {
        assert!(table.contains(it), "{it:?} is missing in\n{table}");
    }
    let plan = json(workshop.run(&format!("plan larch.toml {TOLD} --format json")));
    assert_eq!(plan["schema"], 1);
    assert_eq!(plan["surfaces"].as_array().unwrap().len(), 24 + 2);
    // 24 patches, a witness and a control of 36 cm² in three coats of 80 g/m², with 20 % overage.
    let needed: f64 = plan["surfaces"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["wet_g"].as_f64().unwrap())
        .sum();
    assert!(
        (needed - 26.0 * 0.0036 * 240.0 * 1.2).abs() < 1e-9,
        "{needed}"
    );
    assert_eq!(workshop.names(), ["larch.toml"], "a plan begins no library");
}

#[test]
fn the_sheet_is_written_as_a_whole_page() {
    let workshop = bench();
    workshop
        .run(&format!(
            "plan larch.toml {TOLD} --sheet plan.html --paper letter"
        ))
        .exits(0);
    let page = workshop.read("plan.html");
    assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>"));
    assert!(
        page.contains("size: letter") && page.contains("<svg") && page.contains("class=\"box\"")
    );
    workshop
        .run(&format!(
            "plan job A6 --panel larch.toml --area 12 {TOLD} --sheet job.html"
        ))
        .exits(0);
    let page = workshop.read("job.html");
    assert!(page.contains("Each batch") && page.contains("PBr7") && page.contains("Cautions"));
    workshop
        .run(&format!("plan larch.toml {TOLD} --sheet nowhere/plan.html"))
        .exits(1)
        .says(&["can't write nowhere/plan.html", "Make the folder first"]);
}

#[test]
fn a_sheet_takes_the_place_of_nothing_that_is_needed() {
    let workshop = bench();
    stock(&workshop, COATING);
    let library = fs::read(workshop.path("swatches.sqlite")).unwrap();
    for plan in [
        "plan larch.toml",
        "plan job A6 --panel larch.toml --area 12",
    ] {
        for sheet in ["larch.toml", "./larch.toml", "swatches.sqlite"] {
            workshop
                .run(&format!("{plan} {TOLD} --sheet {sheet}"))
                .exits(2)
                .says(&["which the plan is made from", "another file with --sheet"]);
        }
        assert_eq!(workshop.read("larch.toml"), LARCH);
        assert_eq!(fs::read(workshop.path("swatches.sqlite")).unwrap(), library);
        // What was there otherwise is kept.
        fs::write(workshop.path("notes.html"), "by hand").unwrap();
        workshop
            .run(&format!("{plan} {TOLD} --sheet notes.html"))
            .exits(0);
        assert_eq!(workshop.read("notes.html.bak"), "by hand");
        assert!(workshop.read("notes.html").starts_with("<!DOCTYPE html>"));
    }
}

#[test]
fn what_is_missing_is_asked_for() {
    let workshop = bench();
    let says = |arguments: &str, status: i32, all: &[&str]| {
        workshop.run(arguments).exits(status).says(all);
    };
    says("plan", 2, &["nothing to plan", "plan job SWATCH --area M2"]);
    says(
        "plan larch.toml",
        2,
        &["the mixing ratio of", COATING, "--parts 4:1"],
    );
    says(
        "plan larch.toml --parts 4:1",
        2,
        &[
            "patch A1: how much coating is put on is not known",
            "--per-coat",
        ],
    );
    says(
        "plan job A1 --panel larch.toml --area 3 --parts 4:1 --per-coat 80",
        2,
        &["pot life", "--pot-life"],
    );
    says(
        "plan job A1 --area 3",
        1,
        &[
            "there is no library at swatches.sqlite",
            "--panel PANEL.toml",
        ],
    );
    says(
        "plan job Z9 --panel larch.toml --area 3",
        2,
        &["has no patch \"Z9\""],
    );
    says("plan nothing.toml", 2, &["nothing.toml"]);
    says(
        &format!("plan larch.toml {TOLD} --price PR110=3"),
        2,
        &["\"PR110\"", "PR101"],
    );
    says(
        &format!("plan larch.toml {TOLD} --witness D6"),
        2,
        &["D6", "not tinted"],
    );
    says(
        &format!("plan larch.toml {TOLD} --balance 0"),
        2,
        &["the balance's step is 0"],
    );
    says(
        &format!("plan larch.toml {TOLD} --library none.sqlite"),
        1,
        &["none.sqlite"],
    );
    says(
        &format!("plan job A1 --panel larch.toml --area -3 {TOLD}"),
        2,
        &["-3"],
    );
    says(
        "plan larch.toml --price =3",
        2,
        &["a name, =, and a number"],
    );
    says(
        "plan larch.toml --parts 4:x",
        2,
        &["\"x\" is not a number above 0"],
    );
}

#[test]
fn the_library_knows_the_materials_and_options_go_before_it() {
    let workshop = bench();
    stock(&workshop, COATING);
    let plan = json(run(
        &workshop,
        &["larch.toml", "--format", "json", "--currency", "EUR"],
    ));
    let priced = |plan: &Value, what: &str| {
        let lines = plan["cost"]["lines"].as_array().unwrap();
        lines
            .iter()
            .find(|it| it["what"] == what)
            .unwrap_or_else(|| panic!("{what} of {lines:#?}"))
            .clone()
    };
    let base = priced(&plan, &format!("{COATING}: base"));
    assert_eq!(base["price_per_kg"], 35.0);
    let red = priced(&plan, "PR101");
    assert!((red["cost"].as_f64().unwrap() - 0.03 * red["grams"].as_f64().unwrap()).abs() < 1e-9);
    let said = |key: &str, what: &str| {
        plan[key]
            .as_array()
            .unwrap()
            .iter()
            .any(|it| it.as_str().unwrap().contains(what))
    };
    let taken = |plan: &Value, what: &str| {
        let all = plan["taken"].as_array().unwrap();
        let of_it = all
            .iter()
            .find(|it| it["what"] == format!("{what} of {COATING}"));
        let of_it = of_it.unwrap_or_else(|| panic!("{what} of {all:#?}"));
        (of_it["value"].clone(), of_it["from"].clone())
    };
    assert_eq!(
        taken(&plan, "pot life"),
        ("60 minutes".into(), "the library".into())
    );
    assert!(said("notes", "PR101 is noted as running out"));
    assert!(said("wetting", "ten minutes in the base"));
    assert!(said("cautions", "isocyanates"));
    let other = json(run(
        &workshop,
        &[
            "larch.toml",
            "--format",
            "json",
            "--price",
            "PR101=50",
            "--per-coat",
            &format!("{COATING}=40"),
        ],
    ));
    assert_eq!(priced(&other, "PR101")["price_per_kg"], 50.0);
    assert_eq!(other["surfaces"][0]["wet_g_per_m2"], 120.0);
    let coat = taken(&other, "wet coating of a coat");
    assert_eq!(coat, ("40 g/m²".into(), "the command line".into()));
}

#[test]
fn a_coating_has_one_price_or_one_for_each_part() {
    let workshop = bench();
    stock(&workshop, COATING);
    let with = |prices: &[&str]| {
        let mut arguments = vec!["larch.toml", "--format", "json"];
        for it in prices {
            arguments.extend(["--price", it]);
        }
        run(&workshop, &arguments)
    };
    let lines = |plan: &Value| -> Vec<(String, f64)> {
        let lines = plan["cost"]["lines"].as_array().unwrap().iter();
        lines
            .map(|it| {
                let what = it["what"].as_str().unwrap().to_owned();
                (what, it["price_per_kg"].as_f64().unwrap())
            })
            .filter(|it| it.0.starts_with(COATING))
            .collect()
    };
    let parts = |base: f64| {
        vec![
            (format!("{COATING}: base"), base),
            (format!("{COATING}: hardener"), 60.0),
        ]
    };
    // Of the library's parts, one said otherwise; by its own name or its coating's.
    assert_eq!(lines(&json(with(&[]))), parts(35.0));
    assert_eq!(lines(&json(with(&["base=40"]))), parts(40.0));
    let full = format!("{COATING}: base=41");
    assert_eq!(lines(&json(with(&[&full]))), parts(41.0));
    // The whole is said: no part counts.
    let whole = format!("{COATING}=30");
    let plan = json(with(&[&whole]));
    assert_eq!(lines(&plan), [(format!("{COATING}, as mixed"), 30.0)]);
    let sum: f64 = plan["cost"]["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["cost"].as_f64().unwrap())
        .sum();
    assert!((plan["cost"]["sum"].as_f64().unwrap() - sum).abs() < 1e-9);
    with(&[&whole, "hardener=60"]).exits(2).says(&[
        "prices of",
        "hardener",
        "as mixed, or of each",
    ]);
}
