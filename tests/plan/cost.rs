//! Costs worked out on paper: each part at its price, or the whole at its price.

use crate::planned::{close, coating, mix, settings};
use masstone::plan::job::{JobPlan, Order, plan};
use masstone::plan::{Coating, Limits, Pigment, Price, Surface};

/// 10 m² at 110 g/m² at load 10, no overage: 1100 g, of which 1000 g are coating (800 + 200 at 4:1) and 100 g pigment.
fn job(price: Price, of_pigment: Option<f64>) -> JobPlan {
    let mut clear = coating();
    clear.pot_life_min = Some(240.0);
    job_in(&Coating { price, ..clear }, of_pigment)
}

fn job_in(coating: &Coating, of_pigment: Option<f64>) -> JobPlan {
    let surface = Surface {
        id: "fence".to_owned(),
        name: None,
        recipe: mix(&[("PY42", 10.0)]),
        area_m2: 10.0,
        wet_g_per_m2: 110.0,
        coats: 1,
    };
    let pigments = [Pigment {
        name: crate::planned::name("PY42"),
        maker_name: None,
        price_per_kg: of_pigment,
        g_per_ml: None,
        hazard: None,
        wetting: None,
        stock: None,
    }];
    plan(&Order {
        surface: &surface,
        coating,
        pigments: &pigments,
        limits: &Limits::default(),
        settings: &settings(0.0, 5.0),
        currency: None,
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part: None,
        like: None,
        taken: &[],
        notes: &[],
    })
    .unwrap()
}

fn lines(plan: &JobPlan) -> Vec<(&str, f64)> {
    plan.cost
        .lines
        .iter()
        .map(|it| (it.what.as_str(), (it.cost * 1e6).round() / 1e6))
        .collect()
}

#[test]
fn each_part_at_its_price() {
    // 0.8 kg × 35 = 28; 0.2 kg × 60 = 12; 0.1 kg × 28.5 = 2.85: 42.85.
    let plan = job(Price::Parts(vec![Some(35.0), Some(60.0)]), Some(28.5));
    assert_eq!(
        lines(&plan),
        [
            ("clear: part A", 28.0),
            ("clear: part B", 12.0),
            ("PY42", 2.85)
        ]
    );
    close(plan.cost.sum, 42.85);
    assert!(plan.cost.without.is_empty());
}

#[test]
fn the_whole_at_its_price() {
    // 1.0 kg × 50 = 50, and 2.85 of pigment.
    let plan = job(Price::Mixed(50.0), Some(28.5));
    assert_eq!(lines(&plan), [("clear, as mixed", 50.0), ("PY42", 2.85)]);
    close(plan.cost.sum, 52.85);
    assert!(plan.cost.without.is_empty());
    // What is weighed is listed by part all the same.
    let grams: Vec<f64> = plan.totals.iter().map(|it| it.grams).collect();
    assert_eq!(grams, [800.0, 200.0, 100.0]);
    // What comes in one tin is called by its name.
    let tin = Coating {
        price: Price::Mixed(50.0),
        ..Coating::by_mass("clear", &[1.0]).unwrap()
    };
    assert_eq!(lines(&job_in(&tin, None)), [("clear", 50.0)]);
}

#[test]
fn a_part_without_a_price_is_named_and_takes_no_other_price() {
    // 28 for part A; part B and the pigment are left out, and said to be.
    let plan = job(Price::Parts(vec![Some(35.0), None]), None);
    assert_eq!(lines(&plan), [("clear: part A", 28.0)]);
    close(plan.cost.sum, 28.0);
    assert_eq!(plan.cost.without, ["clear: part B", "PY42"]);
    let plan = job(Price::Unknown, None);
    assert_eq!(
        plan.cost.without,
        ["clear: part A", "clear: part B", "PY42"]
    );
    close(plan.cost.sum, 0.0);
}
