//! `masstone plan job` as a user meets it.

use crate::workshop::{Ran, Workshop};
use crate::{COATING, TOLD, bench, json, run, stock};
use masstone::library::Library;
use serde_json::Value;
use std::fs;

#[test]
fn loads_beyond_the_tested_limit_are_not_planned_for_a_job_unless_told() {
    let workshop = bench();
    let job = format!("plan job A1 --panel larch.toml --area 3 {TOLD} --limit PR101=10");
    workshop
        .run(&job)
        .exits(1)
        .says(&["BEYOND: 1.20 of the tested limit", "--beyond-limit"]);
    let table = workshop
        .run(&format!("{job} --beyond-limit"))
        .exits(0)
        .stdout;
    assert!(table.contains("BEYOND: 1.20"), "{table}");
    // A panel is what limits are found with.
    let table = workshop
        .run(&format!("plan larch.toml {TOLD} --limit PR101=10"))
        .exits(0)
        .stdout;
    assert!(table.contains("BEYOND: 1.20"), "{table}");
}

#[test]
fn a_job_takes_its_swatch_and_limits_from_the_library() {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg --panel panel.toml --hours 0 --library swatches.sqlite")
        .exits(0);

    let panel = masstone::panel::read(&workshop.path("panel.toml")).unwrap();
    let patch = panel
        .patches
        .iter()
        .find(|it| it.pigments.len() == 1)
        .expect("a patch of one pigment");
    let load = &patch.pigments[0];
    let swatch = format!("{}/{}", panel.id, patch.id);
    let library = Library::open(&workshop.path("swatches.sqlite")).unwrap();
    let coating = library
        .find_swatch(&swatch)
        .unwrap()
        .recipe
        .coating
        .expect("the panel names its coating");
    drop(library);
    stock(&workshop, &coating);
    let job = [
        "job",
        swatch.as_str(),
        "--area",
        "12",
        "--coats",
        "2",
        "--format",
        "json",
    ];
    let plan = json(run(&workshop, &job));
    assert_eq!(
        plan["surface"]["recipe"]["loads"][0]["pigment"],
        load.pigment.as_str()
    );
    assert_eq!(plan["surface"]["recipe"]["loads"][0]["load"], load.load);
    assert_eq!(plan["standing"]["verdict"], "untested");
    assert_eq!(plan["batch"][1]["what"], "base");
    // Its own load cured: then it is the limit, and rounding doesn't lead beyond.
    let note = [
        "note",
        panel.id.as_str(),
        patch.id.as_str(),
        "cured",
        "--date",
        "2026-03-01",
    ];
    Ran::from(workshop.command("library").args(note).output().unwrap()).exits(0);
    let plan = json(run(&workshop, &job));
    assert_eq!(plan["standing"]["verdict"], "within");
    assert!(plan["standing"]["share"].as_f64().unwrap() <= 1.0 + 1e-9);
    // It did not cure after all.
    let note = [
        "note",
        panel.id.as_str(),
        patch.id.as_str(),
        "soft",
        "--date",
        "2026-03-02",
    ];
    Ran::from(workshop.command("library").args(note).output().unwrap()).exits(0);
    run(&workshop, &job)
        .exits(1)
        .says(&["BEYOND: did not cure at this load"]);
    run(&workshop, &["job", "no such", "--area", "3"])
        .exits(2)
        .says(&["there is no swatch no such"]);
}

/// Says more of patches of the rendered panel; the first is the one of which the others become specimens.
fn say(workshop: &Workshop, all: &[(usize, &str, f64)]) -> (String, String) {
    let mut panel: toml::Table = workshop.read("panel.toml").parse().unwrap();
    panel.insert("substrate".to_owned(), "planed larch".into());
    panel.insert("coating".to_owned(), COATING.into());
    panel.insert("coats".to_owned(), 2.into());
    let id = panel["id"].as_str().unwrap().to_owned();
    let patches = panel["patch"].as_array_mut().unwrap();
    for (at, lot, wet) in all {
        let patch = patches[*at].as_table_mut().unwrap();
        for other in ["coating", "coats", "substrate", "control"] {
            patch.remove(other);
        }
        let pigments: toml::Table = "pigments = [{ pigment = \"PR101\", load = 12 }]"
            .parse()
            .unwrap();
        patch.extend(pigments);
        patch.insert("lot".to_owned(), (*lot).into());
        patch.insert("wet_g_per_m2".to_owned(), (*wet).into());
    }
    let at = patches[all[0].0]
        .get("id")
        .unwrap_or(&patches[all[0].0]["at"]);
    let patch = at.as_str().unwrap().to_owned();
    fs::write(workshop.path("panel.toml"), panel.to_string()).unwrap();
    (id, patch)
}

#[test]
fn a_job_repeats_what_was_put_on_its_swatch_and_says_what_is_other() {
    let workshop = Workshop::new();
    let specimens = [
        (0, "0312", 190.0),
        (1, "0312", 200.0),
        (2, "0400", 210.0),
        (3, "0400", 220.0),
    ];
    let (panel, patch) = say(&workshop, &specimens);
    workshop
        .run("measure 1.jpg --panel panel.toml --hours 0 --library swatches.sqlite")
        .exits(0);
    stock(&workshop, COATING);
    let swatch = format!("{panel}/{patch}");
    let job = ["job", swatch.as_str(), "--area", "7.5", "--format", "json"];
    let told = |plan: &Value, key: &str, what: &str| {
        let all = plan[key].as_array().unwrap();
        all.iter().any(|it| it.to_string().contains(what))
    };
    let plan = json(run(&workshop, &job));
    // What was weighed there, not two coats of 80 g/m².
    assert_eq!(plan["surface"]["wet_g_per_m2"], 190.0);
    assert_eq!(plan["surface"]["recipe"]["loads"][0]["lot"], "0312");
    assert!(
        told(&plan, "taken", &format!("weighed on {swatch}")),
        "{plan:#}"
    );
    assert!(told(&plan, "notes", "that on planed larch"), "{plan:#}");
    // By its number it is the mean of all four.
    let number = plan["like"]["source"].as_str().unwrap();
    let number = number
        .split(' ')
        .nth(1)
        .unwrap()
        .trim_end_matches(',')
        .to_owned();
    let all = json(run(
        &workshop,
        &[
            "job",
            &number,
            "--area",
            "7.5",
            "--lot",
            "PR101=0312",
            "--format",
            "json",
        ],
    ));
    assert_eq!(all["surface"]["wet_g_per_m2"], 205.0);
    assert!(
        told(
            &all,
            "taken",
            "the mean of 4 weighed specimens, 190 to 220 g/m²"
        ),
        "{all:#}"
    );

    // The lot is gone, and another is there: these patches are of other colours, so the lots are apart.
    let lots = ["pigments", "PR101", "--lot", "0312", "--stock", "gone"];
    Ran::from(workshop.command("library").args(lots).output().unwrap()).exits(0);
    let lots = ["pigments", "PR101", "--lot", "0400"];
    Ran::from(workshop.command("library").args(lots).output().unwrap()).exits(0);
    let plan = json(run(&workshop, &job));
    assert_eq!(plan["surface"]["recipe"]["loads"][0]["lot"], "0400");
    assert!(
        told(
            &plan,
            "notes",
            "lot 0312, of which there is none any more: there is lot 0400"
        ),
        "{plan:#}"
    );
    assert!(told(&plan, "notes", "lot 0400 against 0312"), "{plan:#}");
    // A panel file knows no colours, but its patch is in the library.
    let of_panel = [
        "job",
        patch.as_str(),
        "--panel",
        "panel.toml",
        "--area",
        "7.5",
        "--format",
        "json",
    ];
    let of_panel = json(run(&workshop, &of_panel));
    assert_eq!(of_panel["surface"]["wet_g_per_m2"], 190.0);
    assert!(
        told(&of_panel, "notes", "lot 0400 against 0312"),
        "{of_panel:#}"
    );
    let weaker = [
        "job",
        swatch.as_str(),
        "--area",
        "7.5",
        "--load",
        "PR101=10.8",
        "--format",
        "json",
    ];
    let weaker = json(run(&workshop, &weaker));
    assert_eq!(weaker["surface"]["recipe"]["loads"][0]["load"], 10.8);
    assert!(
        told(&weaker, "notes", "load 12 of PR101, this job 10.8"),
        "{weaker:#}"
    );
    let sheet = [
        "job",
        swatch.as_str(),
        "--area",
        "7.5",
        "--substrate",
        "oak",
        "--sheet",
        "job.html",
    ];
    let table = run(&workshop, &sheet).exits(0).stdout;
    let page = workshop.read("job.html");
    for it in [
        "this job on oak",
        "lot 0400 against 0312",
        "weighed on",
        "60 minutes",
    ] {
        assert!(
            page.contains(it) && table.contains(it),
            "{it:?} is missing in\n{table}"
        );
    }
}

#[test]
fn a_tin_that_keeps_is_one_batch_for_all_coats() {
    let workshop = bench();
    let job = "plan job A1 --panel larch.toml --area 7.5 --per-coat 80";
    let tin = workshop
        .run(&format!("{job} --parts 1 --sheet tin.html"))
        .exits(0)
        .stdout;
    for it in [&tin, &workshop.read("tin.html")] {
        assert!(it.contains("for 7.50 m² in all 3 coats"), "{it}");
        assert!(
            !it.contains("of one coat") && !it.contains("off their ratio"),
            "{it}"
        );
    }
    let two = workshop
        .run(&format!("{job} --parts 4:1 --pot-life 60"))
        .exits(0)
        .stdout;
    assert!(
        two.contains("for 3.75 m² of one coat") && two.contains("off their ratio"),
        "{two}"
    );
}
