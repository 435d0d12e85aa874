//! Jobs worked out on paper.

use crate::planned::{close, coating, limit, mix, settings};
use masstone::plan::job::{JobPlan, Order, plan};
use masstone::plan::{
    Balance, Coating, Limits, Pigment, PigmentName, PlanError, Settings, Surface, Verdict,
};

/// 30 m² in two coats of 80 g/m².
fn fence(load: f64) -> Surface {
    Surface {
        id: "fence".to_owned(),
        name: None,
        recipe: mix(&[("PY42", load)]),
        area_m2: 30.0,
        wet_g_per_m2: 160.0,
        coats: 2,
    }
}

/// With an hour of pot life.
fn hardening() -> Coating {
    let mut coating = coating();
    coating.pot_life_min = Some(60.0);
    coating
}

fn tenth() -> Settings {
    settings(0.1, 5.0)
}

fn planned(
    surface: &Surface,
    coating: &Coating,
    limits: &Limits,
    settings: &Settings,
    tint_part: Option<usize>,
) -> Result<JobPlan, PlanError> {
    let pigments = [Pigment {
        name: PigmentName {
            pigment: "PY42".to_owned(),
            lot: None,
        },
        maker_name: None,
        price_per_kg: Some(30.0),
        g_per_ml: Some(4.0),
        hazard: None,
        wetting: None,
        stock: None,
    }];
    plan(&Order {
        surface,
        coating,
        pigments: &pigments,
        limits,
        settings,
        currency: None,
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part,
        like: None,
        taken: &[],
        notes: &[],
    })
}

fn weights(plan: &JobPlan) -> Vec<(&str, f64)> {
    plan.batch
        .iter()
        .map(|it| (it.what.as_str(), it.grams))
        .collect()
}

#[test]
fn a_job_by_hand() {
    // Three quarters of 60 minutes at 5 m²/h are 3.75 m²: 8 batches a coat, 16 in all.
    // 3.75 m² × 80 g/m² × 1.1 = 330 g of tinted coating: at load 10, 300 g of coating (240 + 60) and 30 g of pigment.
    let plan = planned(
        &fence(10.0),
        &hardening(),
        &Limits::default(),
        &tenth(),
        None,
    )
    .unwrap();
    assert_eq!((plan.times, plan.batches), (2, 8));
    assert_eq!(
        weights(&plan),
        [("PY42", 30.0), ("part A", 240.0), ("part B", 60.0)]
    );
    close(plan.batch_wet_g, 330.0);
    close(plan.batch_minutes.unwrap(), 45.0);
    let totals: Vec<f64> = plan.totals.iter().map(|it| it.grams).collect();
    assert_eq!(totals, [3840.0, 960.0, 480.0]);
    // 0.48 kg at 30, and 480 g at 4 g/ml.
    close(plan.cost.sum, 14.4);
    close(plan.totals[2].ml.unwrap(), 120.0);
    assert_eq!(plan.cost.without.len(), 2, "the parts have no price");
    close(plan.needed_g, 5280.0);
    close(plan.waste_g, 0.0);
}

#[test]
fn a_part_tinted_beforehand_by_hand() {
    // 16 batches of 240 g of part A with 30 g of pigment are 4320 g, and 1 g stays on the walls: 4321 g, of which 8/9 is part A
    // (3840.89 g) and 1/9 pigment (480.11 g; up to the next 0.01 g, 480.12, and part A to fit it: 3840.96 g).
    let plan = planned(
        &fence(10.0),
        &hardening(),
        &Limits::default(),
        &tenth(),
        Some(0),
    )
    .unwrap();
    let tinted = plan.tinted.as_ref().unwrap();
    let can: Vec<(&str, f64)> = tinted
        .weigh
        .iter()
        .map(|it| (it.what.as_str(), it.grams))
        .collect();
    assert_eq!(can, [("part A", 3840.96), ("PY42", 480.12)]);
    assert_eq!(weights(&plan), [("tinted part A", 270.0), ("part B", 60.0)]);
    close(tinted.left_g, 4321.08 - 4320.0);
    close(plan.loads[0].weighed, 10.0);
}

#[test]
fn what_keeps_is_mixed_once() {
    let tin = Coating::by_mass("clear", &[1.0]).unwrap();
    let plan = planned(&fence(10.0), &tin, &Limits::default(), &tenth(), None).unwrap();
    assert_eq!((plan.times, plan.batches), (1, 1));
    // 30 × 160 × 1.1 = 5280 g, of which 4800 g are coating.
    assert_eq!(weights(&plan), [("PY42", 480.0), ("clear", 4800.0)]);
}

#[test]
fn no_batch_is_larger_than_may_be_mixed() {
    let mut coarse = tenth();
    coarse.balance = Balance::new(1.0, None).unwrap();
    let surface = Surface {
        area_m2: 0.05,
        ..fence(1.2)
    };
    let order = Order {
        surface: &surface,
        coating: &hardening(),
        pigments: &[],
        limits: &Limits::default(),
        settings: &coarse,
        currency: None,
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part: None,
        like: None,
        taken: &[],
        notes: &[],
    };
    // 20 g of pigment are the least: 1667 g of coating.
    let free = plan(&order).unwrap();
    assert!(free.batches == 1 && free.batch_wet_g > 1600.0);
    // 0.05 m² of 160 g/m² are 9 g with a tenth more: what is mixed beyond that doesn't go without a word.
    let told = |it: &JobPlan| it.notes.iter().any(|it| it.contains("9 g are needed"));
    assert!(told(&free), "{:?}", free.notes);
    let fine = Order {
        settings: &tenth(),
        ..order
    };
    let fine = plan(&Order {
        surface: &fence(1.2),
        ..fine
    });
    assert!(fine.unwrap().notes.iter().all(|it| !it.contains("needed")));
    let bounded = Order {
        largest_batch_g: Some(100.0),
        ..order
    };
    let refused = plan(&bounded).unwrap_err();
    assert!(
        matches!(refused, PlanError::TooLittle { least_g, .. } if (least_g - 20.0).abs() < 1e-9),
        "{refused}"
    );
}

#[test]
fn a_batch_too_small_for_the_balance_is_refused_with_a_way_out() {
    let mut coarse = tenth();
    coarse.balance = Balance::new(1.0, None).unwrap();
    // A batch holds 3 g of pigment, and 20 g is the least.
    let refused =
        planned(&fence(1.0), &hardening(), &Limits::default(), &coarse, None).unwrap_err();
    assert!(
        matches!(&refused, PlanError::TooLittle { what, .. } if what == "PY42"),
        "{refused}"
    );
    assert!(refused.hint().contains("--tint-part"));
    // All of it together is some 52 g.
    let plan = planned(
        &fence(1.0),
        &hardening(),
        &Limits::default(),
        &coarse,
        Some(0),
    )
    .unwrap();
    assert!(
        (plan.loads[0].weighed - 1.0).abs() < 0.01,
        "{:?}",
        plan.loads
    );
}

#[test]
fn a_pot_life_nobody_stated_is_asked_for() {
    let refused =
        planned(&fence(10.0), &coating(), &Limits::default(), &tenth(), None).unwrap_err();
    assert!(matches!(refused, PlanError::NoPotLife { .. }), "{refused}");
}

#[test]
fn limits_hold_for_batches_too() {
    let limits = Limits {
        single: vec![limit("PY42", 10.0)],
        ..Limits::default()
    };
    let plan = planned(&fence(10.0), &hardening(), &limits, &tenth(), None).unwrap();
    assert_eq!(plan.standing.verdict, Verdict::Within);
    let plan = planned(&fence(10.1), &hardening(), &limits, &tenth(), None).unwrap();
    assert_eq!(plan.standing.verdict, Verdict::Beyond);
}

#[test]
fn senseless_numbers_are_refused() {
    let mut order = fence(10.0);
    for area in [0.0, -3.0, f64::NAN, f64::INFINITY] {
        order.area_m2 = area;
        let refused =
            planned(&order, &hardening(), &Limits::default(), &tenth(), None).unwrap_err();
        assert!(
            matches!(refused, PlanError::Number { .. }),
            "{area}: {refused}"
        );
    }
    // More batches than anyone mixes.
    order.area_m2 = 1e5;
    let refused = planned(&order, &hardening(), &Limits::default(), &tenth(), None).unwrap_err();
    assert!(matches!(refused, PlanError::TooMany { .. }), "{refused}");
    // Only two parts.
    let refused = planned(
        &fence(10.0),
        &hardening(),
        &Limits::default(),
        &tenth(),
        Some(2),
    )
    .unwrap_err();
    assert!(matches!(refused, PlanError::Number { .. }), "{refused}");
}
