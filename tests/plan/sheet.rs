//! The sheet to print: nothing of a name becomes markup, and everything that is weighed is on it.

use crate::planned::coating;
use masstone::panel::{self, Panel};
use masstone::plan::board::{FadeOrder, Order, PanelPlan, plan};
use masstone::plan::page::{Paper, of_job, of_panel};
use masstone::plan::{Balance, Coating, Limits, PlanError, Settings};
use std::path::Path;

/// What a name may be.
const NASTY: &str = "</td><script>alert('x')</script> & \"é😀\" =1+1";

fn panel(name: &str, extra: &str) -> Panel {
    let text = format!(
        "id = \"board\"\ntitle = {name}\ncoating = {name}\ncoats = 2\n[grid]\nrows = 1\ncolumns = 3\npatch_mm = [60, 60]\npitch_mm = [70, 70]\nmasked = \"left\"\n\
         [[card]]\ncard = \"grey-18\"\nplace = \"right\"\n\
         [[patch]]\nat = \"A1\"\nname = {name}\npigments = [{{ pigment = \"PR101 <b>\", load = 12 }}]\n\
         [[patch]]\nat = \"A2\"\npigments = [{{ pigment = \"PR101 <b>\", load = 3 }}]\n{extra}",
        name = toml::Value::from(name)
    );
    panel::read_text(&text, Path::new("board.toml")).unwrap()
}

fn planned(panel: &Panel, fade: &FadeOrder) -> Result<PanelPlan, PlanError> {
    let mut coating = Coating {
        name: panel.coating.clone().unwrap(),
        ..coating()
    };
    coating.coat_g_per_m2 = Some(80.0);
    coating.pot_life_min = Some(60.0);
    let settings = Settings::usual(Balance::new(0.01, None).unwrap());
    plan(&Order {
        panel,
        coatings: &[coating],
        pigments: &[],
        limits: &Limits::default(),
        settings: &settings,
        currency: Some("<i>"),
        fade,
        taken: &[],
    })
}

#[test]
fn names_stay_text() {
    let mut panel = panel(
        NASTY,
        "control = \"clear\"\n"
            .replace("control", "[[patch]]\nat = \"A3\"\ncontrol")
            .as_str(),
    );
    // Panel files have no control characters; a library may.
    panel.title = Some(format!("{NASTY}\u{1}"));
    let plan = planned(&panel, &FadeOrder::default()).unwrap();
    for paper in [Paper::Any, Paper::A4, Paper::Letter] {
        let page = of_panel(&plan, &panel, paper);
        assert!(
            !page.contains("<script") && !page.contains("PR101 <b>") && !page.contains('\u{1}')
        );
        assert!(
            page.contains("&lt;script&gt;alert('x')&lt;/script&gt; &amp; &quot;é😀&quot; =1+1"),
            "{page}"
        );
        assert!(page.contains("PR101 &lt;b&gt;") && page.contains('\u{fffd}'));
        // Each tag that was opened is closed: no name closed one.
        for tag in ["td", "tr", "table", "section", "div", "svg", "body"] {
            let count = |it: &str| page.matches(it).count();
            let opened = count(&format!("<{tag}>")) + count(&format!("<{tag} "));
            assert!(opened > 0, "{tag}");
            assert_eq!(opened, count(&format!("</{tag}>")), "{tag}");
        }
        assert!(
            !page.contains("<?xml"),
            "within HTML there is no XML declaration"
        );
    }
    assert!(of_panel(&plan, &panel, Paper::A4).contains("@page { size: A4"));
    assert!(!of_panel(&plan, &panel, Paper::Any).contains("@page { size"));
}

#[test]
fn names_stay_text_on_a_job_s_sheet() {
    let recipe = crate::planned::mix(&[(NASTY, 10.0)]);
    let mut surface = crate::planned::surface(NASTY, &recipe, 12.0, 80.0);
    surface.name = Some(NASTY.to_owned());
    let tin = Coating {
        name: "clear".to_owned(),
        hazard: Some(NASTY.to_owned()),
        ..Coating::by_mass(NASTY, &[1.0]).unwrap()
    };
    let plan = masstone::plan::job::plan(&masstone::plan::job::Order {
        surface: &surface,
        coating: &tin,
        pigments: &[],
        limits: &Limits::default(),
        settings: &Settings::usual(Balance::new(0.1, None).unwrap()),
        currency: Some(NASTY),
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part: None,
        like: None,
        taken: &[],
        notes: &[],
    })
    .unwrap();
    let page = of_job(&plan, Paper::Any);
    assert!(
        !page.contains("<script") && page.contains("&lt;script&gt;"),
        "{page}"
    );
    assert_eq!(page.matches("<td").count(), page.matches("</td>").count());
    // 12 × 80 × 1.2 = 1152 g; at load 10, 1047.3 g of coating and 104.7 g of pigment.
    assert!(
        page.contains("104.7 g") && page.contains("1047.3 g"),
        "{:?}",
        plan.batch
    );
}

#[test]
fn everything_weighed_is_on_the_sheet_with_boxes_and_cautions() {
    let panel = panel("larch", "");
    let plan = planned(&panel, &FadeOrder::default()).unwrap();
    let page = of_panel(&plan, &panel, Paper::Any);
    let mut weighed = 0;
    for session in plan.rounds.iter().flat_map(|it| &it.sessions) {
        for add in session.cups.iter().flat_map(|it| &it.adds) {
            let text = format!("{:.2} g", crate::planned::gram(add));
            assert!(page.contains(&text), "{text} is missing");
            weighed += 1;
        }
    }
    assert!(weighed >= 4, "{weighed}");
    // Two coats: two boxes for each.
    assert!(page.matches("class=\"box\"").count() >= 2 * weighed);
    for it in ["dusts", "sensitise", "safety data sheets", "local codes"] {
        assert!(page.contains(it), "{it}");
    }
    assert!(page.contains("<svg"), "the layout");
}

#[test]
fn a_test_of_fading_gets_a_witness_and_a_control_on_white() {
    let plain = panel("larch", "");
    let plan = planned(&plain, &FadeOrder::default()).unwrap();
    let fade = plan.fade.as_ref().unwrap();
    assert_eq!(fade.witnesses, ["A2"], "the palest tint");
    assert!(fade.white_beside && fade.clear_on_panel.is_empty());
    let ids: Vec<&str> = plan
        .surfaces
        .iter()
        .map(|it| it.surface.id.as_str())
        .collect();
    assert_eq!(
        ids,
        ["A1", "A2", "witness of A2", "control on an inert white"]
    );
    // Material for both is in the cups: 0.0036 m² × 80 g/m² × 1.2 of each in one coat.
    let cups = &plan.rounds[0].sessions[0].cups;
    let with = |id: &str| {
        cups.iter()
            .find(|it| it.patches.iter().any(|it| it == id))
            .unwrap()
    };
    crate::planned::close(with("witness of A2").needed_g, 2.0 * 0.3456);
    crate::planned::close(with("control on an inert white").needed_g, 0.3456);
    assert!(
        plan.notes
            .iter()
            .any(|it| it.contains("control = \"clear\"")),
        "{:?}",
        plan.notes
    );
    assert!(
        plan.notes.iter().any(|it| it.contains("A3")),
        "A3 has nothing in it: {:?}",
        plan.notes
    );
    let hours: Vec<f64> = fade.shots.iter().map(|it| it.hours).collect();
    assert_eq!(hours[..3], [0.0, 100.0, 200.0]);

    let white = panel(
        "larch",
        "[[patch]]\nat = \"A3\"\ncontrol = \"clear-on-white\"\n",
    );
    let fade = planned(&white, &FadeOrder::default())
        .unwrap()
        .fade
        .unwrap();
    assert!(!fade.white_beside);
    assert_eq!(fade.white_on_panel, ["A3"]);

    let asked = FadeOrder {
        hours: vec![500.0, 250.0, 500.0],
        witnesses: vec!["A1".to_owned(), "A1".to_owned()],
        ..FadeOrder::default()
    };
    let fade = planned(&white, &asked).unwrap().fade.unwrap();
    assert_eq!(
        fade.shots.iter().map(|it| it.hours).collect::<Vec<_>>(),
        [0.0, 250.0, 500.0]
    );
    assert_eq!(fade.witnesses, ["A1"]);

    let none = FadeOrder {
        meant: Some(false),
        ..FadeOrder::default()
    };
    assert!(planned(&white, &none).unwrap().fade.is_none());
    let unknown = FadeOrder {
        witnesses: vec!["Z9".to_owned()],
        ..FadeOrder::default()
    };
    assert!(matches!(
        planned(&white, &unknown).unwrap_err(),
        PlanError::Witness { .. }
    ));
    let clear = FadeOrder {
        witnesses: vec!["A3".to_owned()],
        ..FadeOrder::default()
    };
    assert!(matches!(
        planned(&white, &clear).unwrap_err(),
        PlanError::Witness { .. }
    ));
}

#[test]
fn a_job_is_ticked_off_batch_by_batch() {
    let plan = crate::like::planned_job();
    let page = of_job(&plan, Paper::Any);
    let batches = usize::try_from(plan.times).unwrap() * plan.batches;
    let tinted = plan.tinted.as_ref().unwrap().weigh.len();
    assert!(batches > 1 && plan.batch.len() > 1);
    assert_eq!(
        page.matches("class=\"box\"").count(),
        batches * plan.batch.len() + tinted,
        "a box for each weighing of each batch, and for what is tinted beforehand"
    );
    // What it was taken from, and what is other than the swatch.
    for it in [
        "swatch 3 of the library",
        "planed larch",
        "lot 0400 against 0312",
        "the mean of 2 weighed specimens",
        // Neither "lot 0400 12" nor "0400 0.9": a number beside a number is misread.
        "PR101 (lot 0400) 12 in clear",
        "PR101 (lot 0400) 12 → ",
    ] {
        assert!(page.contains(it), "{it}");
    }
}

#[test]
fn only_numbers_and_boxes_may_not_wrap() {
    // What can't wrap runs off the paper when it is long, and a name can be anything.
    let style = include_str!("../../src/plan/page/style.css");
    let rules = style.lines().filter(|it| it.contains("nowrap"));
    let selectors: Vec<&str> = rules
        .map(|it| it.split('{').next().unwrap().trim())
        .collect();
    assert_eq!(selectors, [".number", ".ticks", ".grams"]);
    assert!(style.contains("overflow-wrap: anywhere"));
}
