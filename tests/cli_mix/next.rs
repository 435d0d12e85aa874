//! `mix next`.

use crate::letdowns::{CLEAR, COATS, letdowns, library, panel};
use crate::workshop::Ran;
use masstone::mix::Load;
use masstone::mix::shelf::Shelf;
use masstone::panel::{self as panels, Control};
use masstone::plan::Verdict;
use std::fs;

#[test]
fn proposals_are_a_panel_that_is_planned() {
    let workshop = letdowns();
    let ran = workshop
        .run("mix next --count 5 --out trials.toml")
        .exits(0);
    assert!(
        ran.stdout.contains("U95 of predictions as it is"),
        "{ran:?}"
    );
    assert!(ran.stderr.contains("masstone plan trials.toml"), "{ran:?}");
    let panel = panels::read(&workshop.path("trials.toml")).unwrap();
    assert_eq!(panel.id, "trials");
    assert_eq!(panel.coating.as_deref(), Some(CLEAR));
    assert_eq!(
        (panel.substrate.as_deref(), panel.coats),
        (Some("larch"), Some(COATS))
    );
    let meant: Vec<_> = panel.patches.iter().filter(|it| !it.empty).collect();
    assert_eq!(meant.len(), 5);
    let shelf = Shelf::of(&library(&workshop), None).unwrap();
    for it in meant {
        assert!(!it.pigments.is_empty() || it.control == Some(Control::Clear));
        let loads: Vec<Load> = (it.pigments.iter())
            .map(|it| Load {
                pigment: it.pigment.clone(),
                load: it.load,
            })
            .collect();
        assert_ne!(shelf.standing(&loads).verdict, Verdict::Beyond, "{loads:?}");
        // The table has it, too.
        let words: Vec<String> = loads
            .iter()
            .map(|it| format!("{} {}", it.pigment, it.load))
            .collect();
        assert!(
            ran.stdout.contains(&words[0]),
            "{words:?} in {}",
            ran.stdout
        );
    }
    let plan = workshop.run("plan trials.toml --format json").exits(0);
    let plan: serde_json::Value = serde_json::from_str(&plan.stdout).unwrap();
    let (mut patches, mut wanted) = (Vec::new(), Vec::new());
    gather(&plan, &mut patches, &mut wanted);
    for it in panel.patches.iter().filter(|it| !it.empty) {
        assert!(patches.contains(&it.id), "{} in {patches:?}", it.id);
        for load in &it.pigments {
            let is_there = |it: &f64| (it - load.load).abs() < 1e-9;
            assert!(wanted.iter().any(is_there), "{load:?} in {wanted:?}");
        }
    }
}

/// The patches of all cups, and the loads that are wanted of them.
fn gather(plan: &serde_json::Value, patches: &mut Vec<String>, wanted: &mut Vec<f64>) {
    if let Some(all) = plan.as_array() {
        for it in all {
            gather(it, patches, wanted);
        }
    }
    for (key, it) in plan.as_object().into_iter().flatten() {
        match (key.as_str(), it.as_array(), it.as_f64()) {
            ("patches", Some(all), _) => {
                patches.extend(all.iter().filter_map(|it| Some(it.as_str()?.to_owned())));
            }
            ("wanted", _, Some(load)) => wanted.push(load),
            _ => gather(it, patches, wanted),
        }
    }
}

#[test]
fn a_panel_that_is_there_is_left_alone() {
    let workshop = letdowns();
    fs::write(workshop.path("trials.toml"), "mine").unwrap();
    workshop
        .run("mix next --out trials.toml")
        .exits(1)
        .says(&["trials.toml is there already and was left alone"]);
    assert_eq!(workshop.read("trials.toml"), "mine");
}

#[test]
fn near_a_colour_and_with_other_wishes() {
    let workshop = letdowns();
    let near = workshop
        .run("mix next --count 2 --target 45,25,20")
        .exits(0)
        .stdout;
    assert!(near.contains("nearest to the wanted colour"), "{near}");
    workshop.run("mix next --target nowhere:7").exits(2);
    workshop.run("mix next --count 0").exits(2);
    workshop
        .run("mix next --card no-such-card")
        .exits(2)
        .says(&["no-such-card"]);
    // The same twice.
    let again = workshop
        .run("mix next --count 2 --target 45,25,20")
        .exits(0)
        .stdout;
    assert_eq!(near, again);
}

#[test]
fn a_substrate_without_a_control_comes_first() {
    let workshop = letdowns();
    let mut oak = panel("oak", &[("A1", &[("PR101", 3.0)], None)]);
    oak.substrate = Some("oak".to_owned());
    library(&workshop)
        .add(&[crate::letdowns::as_made(
            &oak,
            &[("A1", &[("PR101", 3.0)], None)],
        )])
        .unwrap();
    let ran: Ran = workshop.run("mix next --count 2 --out two.toml").exits(0);
    assert!(ran.stdout.contains("a control"), "{ran:?}");
    let panel = panels::read(&workshop.path("two.toml")).unwrap();
    assert_eq!(panel.patches[0].control, Some(Control::Clear));
    assert_eq!(panel.patches[0].substrate.as_deref(), Some("oak"));
    assert_eq!(panel.patches[1].substrate, None);
}
