//! A whole panel and a whole job with a calculator: parts, pigments, overage, letdowns, rounding, loads, time and cost.

use crate::planned::{close, coating, grams, mix, name, settings};
use masstone::panel::{self, Panel};
use masstone::plan::board::{self, FadeOrder, PanelPlan};
use masstone::plan::job::{self, JobPlan};
use masstone::plan::{
    Add, Balance, Coating, CupLoad, Limits, Pigment, PlanError, Price, Settings, Surface,
};
use std::fmt::Write as _;
use std::path::Path;

/// 4:1, 60 minutes, 35 and 60 a kilogram.
fn clear(coat_g_per_m2: f64) -> Coating {
    Coating {
        pot_life_min: Some(60.0),
        coat_g_per_m2: Some(coat_g_per_m2),
        price: Price::Parts(vec![Some(35.0), Some(60.0)]),
        ..coating()
    }
}

fn priced(pigment: &str, price_per_kg: f64) -> Pigment {
    Pigment {
        name: name(pigment),
        maker_name: None,
        price_per_kg: Some(price_per_kg),
        g_per_ml: None,
        hazard: None,
        wetting: None,
        stock: None,
    }
}

/// To the digits that the calculator was read off with.
#[track_caller]
fn near(value: f64, other: f64, within: f64) {
    assert!(
        (value - other).abs() <= within,
        "{value} is not {other} ± {within}"
    );
}

fn named(all: &[masstone::plan::Weighing]) -> Vec<(&str, f64)> {
    all.iter().map(|it| (it.what.as_str(), it.grams)).collect()
}

const PIGMENTS: [&str; 3] = ["PR101", "PY42", "PBk11"];

/// Three pigments at 12, 6 and 3 on patches of 200 × 250 mm in two coats.
fn nine() -> Panel {
    let mut text = "id = \"nine\"\ncoating = \"clear\"\ncoats = 2\n[grid]\nrows = 3\ncolumns = 3\npatch_mm = [200, 250]\npitch_mm = [210, 260]\n\
         [[card]]\ncard = \"grey-18\"\nplace = \"right\"\n"
        .to_owned();
    for (row, pigment) in ["A", "B", "C"].iter().zip(PIGMENTS) {
        for (column, load) in [(1, 12), (2, 6), (3, 3)] {
            let _ = write!(
                text,
                "[[patch]]\nat = \"{row}{column}\"\npigments = [{{ pigment = \"{pigment}\", load = {load} }}]\n"
            );
        }
    }
    panel::read_text(&text, Path::new("nine.toml")).unwrap()
}

fn planned_nine() -> PanelPlan {
    board::plan(&board::Order {
        panel: &nine(),
        coatings: &[clear(100.0)],
        pigments: &[
            priced("PR101", 30.0),
            priced("PY42", 25.0),
            priced("PBk11", 40.0),
        ],
        limits: &Limits::default(),
        // 20 % overage, at least 5 g in a cup; the balance shows 0.01 g and is trusted from 0.2 g on.
        settings: &settings(0.2, 5.0),
        currency: None,
        fade: &FadeOrder::default(),
        taken: &[],
    })
    .unwrap()
}

/// A coat of a patch takes 0.05 m² × 100 g/m² × 1.2 = 6.0 g of tinted coating, so that
///
/// | load | coating 6 ÷ (1 + load ÷ 100) | pigment | that much is in so much of the full cup: × 112 ÷ 12 |
/// |---|---|---|---|
/// | 6 | 5.66038 g | 0.33962 g | 3.16981 g |
/// | 3 | 5.82524 g | 0.17476 g (below the 0.2 g that can be weighed) | 1.63107 g |
///
/// - Full cup: 6 + 3.16981 + 1.63107 = 10.80088 g: ÷ 1.12 = 9.64364 g of coating and 1.15724 g of pigment, up to **1.16 g**; that fits
///   1.16 ÷ 0.12 = 9.66667 g of coating, up to **9.67 g**. Load 100 × 1.16 ÷ 9.67 = 11.99586; 10.83 g in all.
/// - Half: load 6 takes 0.06 × 10.83 ÷ 1.16 = 0.560172 g of the full cup for 1 g of coating: 5.66038 × 0.560172 = 3.17079, up to
///   **3.18 g**, which fits 5.67683 g of coating. It brings 3.18 × 9.67 ÷ 10.83 = 2.83939 g of it; 2.83744 are missing, up to
///   **2.84 g**. Pigment 3.18 × 1.16 ÷ 10.83 = 0.340609 g: load 100 × 0.340609 ÷ 5.67939 = 5.99729.
/// - Quarter: 0.280086 g for 1 g: 5.82524 × 0.280086 = 1.63157, up to **1.64 g**, which fits 5.85534 g; it brings 1.46434 g, 4.39100 are
///   missing, up to **4.40 g**. Pigment 0.175660 g: load 100 × 0.175660 ÷ 5.86434 = 2.99540.
/// - 3.18 + 1.64 = 4.82 g are poured, and 10.83 − 4.82 − 6 = 0.01 g is spare.
#[test]
fn cups_of_a_panel_of_nine() {
    let plan = planned_nine();
    assert_eq!(plan.rounds.len(), 1);
    let round = &plan.rounds[0];
    assert_eq!(
        (round.first_coat, round.last_coat, round.times()),
        (1, 2, 2)
    );
    let [session] = &round.sessions[..] else {
        panic!("one mixing: {round:#?}")
    };
    // Nine cups of 4 minutes; 45 of 60 are worked in.
    close(session.minutes, 36.0);
    assert_eq!(session.cups.len(), 9);
    for (at, (pigment, row)) in PIGMENTS.iter().zip(["A", "B", "C"]).enumerate() {
        let [full, half, quarter] = &session.cups[3 * at..3 * at + 3] else {
            panic!("three cups of {pigment}")
        };
        assert_eq!(full.patches, [format!("{row}1")]);
        assert_eq!(half.patches, [format!("{row}2")]);
        assert_eq!(quarter.patches, [format!("{row}3")]);
        assert_eq!(grams(&full.adds), [1.16, 9.67]);
        assert_eq!(grams(&half.adds), [3.18, 2.84]);
        assert_eq!(grams(&quarter.adds), [1.64, 4.4]);
        for it in [half, quarter] {
            assert!(matches!(it.adds[0], Add::Cup { from, .. } if from == full.number));
        }
        let load = |it: &CupLoad| (it.pigment.pigment.clone(), it.wanted, it.weighed);
        for (cup, wanted, weighed) in [
            (full, 12.0, 11.995_86),
            (half, 6.0, 5.997_29),
            (quarter, 3.0, 2.995_40),
        ] {
            let (name, asked, got) = load(&cup.loads[0]);
            assert_eq!(name, *pigment);
            close(asked, wanted);
            near(got, weighed, 1e-5);
            close(cup.needed_g, 6.0);
        }
        // Half a step of 0.01 g each way.
        close(full.loads[0].high, 100.0 * 1.165 / 9.665);
        close(full.loads[0].low, 100.0 * 1.155 / 9.675);
        // Relative: 11.99586 ÷ 12 − 1.
        near(full.loads[0].rounding(), -0.000_345, 1e-6);
        close(full.poured_g, 4.82);
        close(full.spare_g, 0.01);
    }
}

/// Clear coating: 9.67 + 2.84 + 4.40 = 16.91 g, three times 50.73 g, and 1 g stays in its cup: 51.73 g. A fifth is 10.346 g, up to
/// **10.35 g** of part B, and four times that, **41.40 g**, of part A. Twice, for two coats: 82.80 g, 20.70 g, and 2.32 g of each pigment.
///
/// It costs 0.0828 × 35 + 0.0207 × 60 + 0.00232 × (30 + 25 + 40) = 2.898 + 1.242 + 0.2204 = 4.3604. Of 82.80 + 20.70 + 6.96 = 110.46 g
/// the surfaces take 9 × 2 × 6 = 108 g.
#[test]
fn material_and_cost_of_a_panel_of_nine() {
    let plan = planned_nine();
    let session = &plan.rounds[0].sessions[0];
    assert_eq!(named(&session.parts), [("part A", 41.4), ("part B", 10.35)]);
    close(session.taken_g, 50.73);
    close(session.left_g, 1.02);
    near(session.ratio_off, 0.0, 1e-12);
    let totals: Vec<(&str, f64)> = plan
        .totals
        .iter()
        .map(|it| (it.what.as_str(), it.grams))
        .collect();
    assert_eq!(
        totals,
        [
            ("clear: part A", 82.8),
            ("clear: part B", 20.7),
            ("PBk11", 2.32),
            ("PR101", 2.32),
            ("PY42", 2.32)
        ]
    );
    let costs: Vec<f64> = plan.cost.lines.iter().map(|it| it.cost).collect();
    for (cost, by_hand) in costs.iter().zip([2.898, 1.242, 0.0928, 0.0696, 0.058]) {
        near(*cost, by_hand, 1e-9);
    }
    near(plan.cost.sum, 4.3604, 1e-9);
    near(plan.waste_g, 2.46, 1e-9);

    // What a patch takes, both coats together: 12 g, at load 12 of 10.71429 g of coating (8.57143 + 2.14286) and 1.28571 g.
    let full = &plan.surfaces[0];
    close(full.wet_g, 12.0);
    near(full.parts[0].grams, 8.571_43, 1e-5);
    near(full.parts[1].grams, 2.142_86, 1e-5);
    near(full.pigments[0].grams, 1.285_71, 1e-5);
}

/// 7.5 m² in two coats of 80 g/m² at load 6, with 10 % overage, on a balance of so many grams.
fn bench(step_g: f64, tint_part: Option<usize>) -> Result<JobPlan, PlanError> {
    let surface = Surface {
        id: "bench".to_owned(),
        name: None,
        recipe: mix(&[("PY42", 6.0)]),
        area_m2: 7.5,
        wet_g_per_m2: 160.0,
        coats: 2,
    };
    let settings = Settings {
        balance: Balance::new(step_g, None).unwrap(),
        ..settings(0.1, 5.0)
    };
    job::plan(&job::Order {
        surface: &surface,
        coating: &clear(80.0),
        pigments: &[priced("PY42", 30.0)],
        limits: &Limits::default(),
        settings: &settings,
        currency: None,
        pace_m2_per_h: 5.0,
        largest_batch_g: None,
        tint_part,
        like: None,
        taken: &[],
        notes: &[],
    })
}

/// Three quarters of 60 minutes at 5 m²/h are 3.75 m²: two batches a coat, four in all. One takes 3.75 × 80 × 1.1 = 330 g: ÷ 1.06 =
/// 311.3208 g of coating and 18.6792 g of pigment.
///
/// On a balance of 0.1 g a fifth of the coating, 62.2642, is 62.3 g up, and all of it 311.5 g; 18.69 g of pigment are 18.7 g, load 6.0032.
/// Up to a fiftieth more is tried where that brings the load nearer by more than 1 in 2000: with 63.0 g of part B there are 315.0 g of
/// coating and just **18.9 g** of pigment, 6 exactly. Parts **252 g** and **63 g**, 333.9 g in all.
///
/// Four times: 1008 g, 252 g and 75.6 g, for 35.28 + 15.12 + 2.268 = 52.668; 1335.6 g, of which the job takes 7.5 × 160 × 1.1 = 1320 g.
#[test]
fn a_job_of_seven_and_a_half_square_metres() {
    let plan = bench(0.1, None).unwrap();
    assert_eq!((plan.times, plan.batches), (2, 2));
    close(plan.batch_m2, 3.75);
    close(plan.batch_minutes.unwrap(), 45.0);
    assert_eq!(
        named(&plan.batch),
        [("PY42", 18.9), ("part A", 252.0), ("part B", 63.0)]
    );
    close(plan.loads[0].weighed, 6.0);
    close(plan.batch_wet_g, 333.9);
    // Each of the three weighings off by 0.05 g: 100 × 18.95 ÷ 314.9.
    near(plan.loads[0].high, 100.0 * 18.95 / 314.9, 2e-3);
    near(plan.loads[0].low, 100.0 * 18.85 / 315.1, 2e-3);
    let totals: Vec<f64> = plan.totals.iter().map(|it| it.grams).collect();
    assert_eq!(totals, [1008.0, 252.0, 75.6]);
    near(plan.cost.sum, 52.668, 1e-9);
    close(plan.needed_g, 1320.0);
    near(plan.waste_g, 15.6, 1e-6);
}

/// A balance of 1 g is trusted from 20 g on, and a batch holds 18.7 g. All of part A is tinted beforehand instead:
///
/// A batch takes 311.3208 × (0.8 + 0.06) = 267.736 g of it, up to **268 g**, and 311.3208 ÷ 5 = 62.264 g of part B. Four of them and 1 g on
/// the can's walls are 1073 g: ÷ 1.075 = 998.14 g of part A with 74.860 g of pigment, up to **75 g**, which fits **1000 g**. In 268 g of these
/// 1075 g are 249.3023 g of part A, which take 62.3256 g of part B, nearest **62 g**, and 18.6977 g of pigment: load 100 × 18.6977 ÷
/// 311.3023 = 6.00627. 3 g stay in the can. Part B is 0.42 % short: 62 ÷ 311.3023 ÷ 0.2 = 0.99582.
///
/// 1.000 × 35 + 0.248 × 60 + 0.075 × 30 = 35 + 14.88 + 2.25 = 52.13.
#[test]
fn the_same_job_on_a_coarse_balance() {
    let refused = bench(1.0, None).unwrap_err();
    assert!(
        matches!(&refused, PlanError::TooLittle { what, grams, .. } if what == "PY42" && (grams - 18.679).abs() < 1e-3),
        "{refused}"
    );
    let plan = bench(1.0, Some(0)).unwrap();
    let tinted = plan.tinted.as_ref().unwrap();
    assert_eq!(named(&tinted.weigh), [("part A", 1000.0), ("PY42", 75.0)]);
    assert_eq!(
        named(&plan.batch),
        [("tinted part A", 268.0), ("part B", 62.0)]
    );
    close(tinted.left_g, 3.0);
    near(plan.loads[0].weighed, 6.006_27, 1e-5);
    near(plan.ratio_off, 0.004_18, 1e-5);
    let totals: Vec<f64> = plan.totals.iter().map(|it| it.grams).collect();
    assert_eq!(totals, [1000.0, 248.0, 75.0]);
    near(plan.cost.sum, 52.13, 1e-9);
}
