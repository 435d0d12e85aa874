//! Panels worked out on paper.

mod whole;

use crate::planned::{clear, close, coating, grams, limit, mix, one_session, settings, surface};
use masstone::plan::mixing::{coating_in, pigment_for, wet_of};
use masstone::plan::{Add, Balance, Coating, Limits, PlanError, Recipe, Round, Verdict};

#[test]
fn loads_are_per_hundred_grams_of_mixed_coating_before_pigment() {
    // 80 g of part A and 20 g of part B are 100 g of mixed coating. At load 12 that takes 12 g of pigment and weighs 112 g.
    close(pigment_for(100.0, 12.0), 12.0);
    close(wet_of(100.0, 12.0), 112.0);
    close(coating_in(112.0, 12.0), 100.0);
    // Not 12 % of the tinted coating: 112 g hold 10.7 % of pigment.
    close(
        pigment_for(coating_in(112.0, 12.0), 12.0) / 112.0,
        0.107_142_857_142_857_15,
    );
}

#[test]
fn a_ratio_by_volume_becomes_one_by_mass() {
    // 2 ml of 1.2 g/ml are 2.4 g, 1 ml of 0.9 g/ml is 0.9 g: of 3.3 g, 8/11 and 3/11.
    let coating = Coating::by_volume("clear", &[2.0, 1.0], &[1.2, 0.9]).unwrap();
    close(coating.parts[0].share, 8.0 / 11.0);
    close(coating.parts[1].share, 3.0 / 11.0);
    // 33 g are 20 ml and 10 ml.
    close(coating.volume_ml(33.0).unwrap(), 30.0);
    let wrong = Coating::by_volume("clear", &[2.0, 1.0], &[1.2]).unwrap_err();
    assert!(
        matches!(
            wrong,
            PlanError::Densities {
                parts: 2,
                densities: 1,
                ..
            }
        ),
        "{wrong}"
    );
}

#[test]
fn one_patch_by_hand() {
    // 100 × 100 mm at 250 g/m² are 2.5 g of tinted coating. At load 25: 2.5 ÷ 1.25 = 2.0 g of coating and 0.5 g of pigment.
    // 1 g stays in the coating cup: 3.0 g at 4:1 are 2.4 g and 0.6 g.
    let session = one_session(
        &[surface("A1", &mix(&[("PY42", 25.0)]), 0.01, 250.0)],
        &settings(0.0, 0.0),
    );
    let cup = &session.cups[0];
    assert_eq!(grams(&cup.adds), [0.5, 2.0]);
    assert!(
        matches!(cup.adds[0], Add::Pigment { .. }) && matches!(cup.adds[1], Add::Coating { .. })
    );
    assert_eq!(
        session.parts.iter().map(|it| it.grams).collect::<Vec<_>>(),
        [2.4, 0.6]
    );
    close(session.taken_g, 2.0);
    close(session.left_g, 1.0);
    close(cup.spare_g, 0.0);
    // Half a step of 0.01 g more pigment and less coating: 100 × 0.505 ÷ 1.995.
    close(cup.loads[0].weighed, 25.0);
    close(cup.loads[0].high, 100.0 * 0.505 / 1.995);
    close(cup.loads[0].low, 100.0 * 0.495 / 2.005);
}

#[test]
fn overage_is_on_top_of_what_lies_on_the_surface() {
    // 0.01 m² × 200 g/m² × 1.5 = 3.0 g = 2.4 g of coating + 0.6 g of pigment at load 25.
    let session = one_session(
        &[surface("A1", &mix(&[("PY42", 25.0)]), 0.01, 200.0)],
        &settings(0.5, 0.0),
    );
    close(session.cups[0].needed_g, 3.0);
    assert_eq!(grams(&session.cups[0].adds), [0.6, 2.4]);
}

#[test]
fn a_letdown_by_hand() {
    // Full load 12, 22.4 g wanted (20 g of coating); letdown 3, 10.3 g wanted (10 g of coating).
    // The letdown takes 0.3 g of pigment. That is in 0.3 × 112 ÷ 12 = 2.8 g of the full load, which bring 2.5 g of coating:
    // 7.5 g of clear are added. The full load is made 22.4 + 2.8 = 25.2 g: 22.5 g of coating and 2.7 g of pigment.
    let surfaces = [
        surface("full", &mix(&[("PR101", 12.0)]), 0.112, 200.0),
        surface("quarter", &mix(&[("PR101", 3.0)]), 0.0515, 200.0),
    ];
    let session = one_session(&surfaces, &settings(0.0, 0.0));
    let [full, quarter] = &session.cups[..] else {
        panic!("two cups: {session:#?}")
    };
    assert_eq!(grams(&full.adds), [2.7, 22.5]);
    assert_eq!(grams(&quarter.adds), [2.8, 7.5]);
    assert!(matches!(quarter.adds[0], Add::Cup { from: 1, .. }));
    close(quarter.loads[0].weighed, 3.0);
    close(full.poured_g, 2.8);
    close(full.spare_g, 0.0);
    assert_eq!(session.order, [1, 2], "the stronger cup is filled first");
}

#[test]
fn a_mixture_of_two_cups_by_hand() {
    // 10 g of coating with 3 of the one (whose cup has 12) and 5 of the other (10): 0.3 g are in 2.8 g, with 2.5 g of coating;
    // 0.5 g are in 5.5 g, with 5 g of coating; 2.5 g of clear make it 10. It weighs 10.8 g.
    let surfaces = [
        surface("red", &mix(&[("PR101", 12.0)]), 0.112, 200.0),
        surface("yellow", &mix(&[("PY42", 10.0)]), 0.11, 200.0),
        surface(
            "orange",
            &mix(&[("PR101", 3.0), ("PY42", 5.0)]),
            0.054,
            200.0,
        ),
    ];
    let session = one_session(&surfaces, &settings(0.0, 0.0));
    let orange = &session.cups[2];
    assert_eq!(grams(&orange.adds), [2.8, 5.5, 2.5]);
    close(orange.wet_g, 10.8);
    close(orange.loads[0].weighed, 3.0);
    close(orange.loads[1].weighed, 5.0);
}

#[test]
fn what_is_hardly_weaker_is_weighed_by_itself() {
    // 5 g of coating at 11.8 from 12: 5 × (1 − 11.8 ÷ 12) = 0.083 g of clear can't be weighed. Made larger until 0.2 g of clear
    // are in it, the cup would hold 12 g of coating; dry it takes 0.59 g of pigment and 5 g.
    let surfaces = [
        surface("full", &mix(&[("PR101", 12.0)]), 0.028, 200.0),
        surface("nearly", &mix(&[("PR101", 11.8)]), 0.027_95, 200.0),
    ];
    let session = one_session(&surfaces, &settings(0.0, 0.0));
    assert!(
        matches!(session.cups[1].adds[0], Add::Pigment { grams, .. } if (grams - 0.59).abs() < 1e-9),
        "{session:#?}"
    );
}

#[test]
fn a_cup_only_to_pour_from_is_made_where_that_wastes_less() {
    // 5 g of coating at 0.8 hold 0.04 g. Dry, 0.2 g would need 25 g of coating. A cup of 5 g at 12 with 0.6 g of pigment, and
    // 0.04 × 112 ÷ 12 = 0.37 g from it, waste less.
    let small = surface("grey", &mix(&[("PBk11", 0.8)]), 0.025, 200.0);
    let session = one_session(std::slice::from_ref(&small), &settings(0.0, 5.0));
    let stock = session
        .cups
        .iter()
        .find(|it| it.patches.is_empty())
        .expect("a cup to pour from");
    close(stock.recipe.total_load(), 12.0);
    assert!(
        session.cups.iter().map(|it| it.wet_g).sum::<f64>() < 12.0,
        "{session:#?}"
    );
    close_to(session.cups[0].loads[0].weighed, 0.8, 0.02);
    // A patch that takes 30 g anyway needs none.
    let large = surface("grey", &mix(&[("PBk11", 0.8)]), 0.15, 200.0);
    assert_eq!(one_session(&[large], &settings(0.0, 5.0)).cups.len(), 1);
}

#[test]
fn the_balance_sets_the_least_that_is_weighed() {
    // 1.25 g at load 25 hold 0.25 g of pigment; 2 g are the least: the cup is made eight times as large, 8 g of coating.
    let mut coarse = settings(0.0, 0.0);
    coarse.balance = Balance::new(0.1, None).unwrap();
    let session = one_session(
        &[surface("A1", &mix(&[("PY42", 25.0)]), 0.005, 250.0)],
        &coarse,
    );
    assert_eq!(grams(&session.cups[0].adds), [2.0, 8.0]);
    close(session.cups[0].spare_g, 10.0 - 1.25);
}

#[test]
fn a_coating_that_hardens_is_mixed_for_each_coat() {
    let mut one = surface("A1", &mix(&[("PY42", 10.0)]), 0.11, 300.0);
    one.coats = 3;
    let mut two = surface("A2", &mix(&[("PY42", 5.0)]), 0.105, 200.0);
    two.coats = 2;
    let plan = |coating: &Coating| {
        masstone::plan::sessions(
            &[one.clone(), two.clone()],
            std::slice::from_ref(coating),
            &Limits::default(),
            &settings(0.0, 0.0),
        )
        .unwrap()
    };
    let rounds = plan(&coating());
    let coats: Vec<(u32, u32, u32)> = rounds
        .iter()
        .map(|it| (it.first_coat, it.last_coat, it.times()))
        .collect();
    assert_eq!(coats, [(1, 2, 2), (3, 3, 1)]);
    // One coat of A1 is 11 g (10 g of coating), of A2 10.5 g (10 g of coating).
    let needed = |it: &Round| {
        it.sessions[0]
            .cups
            .iter()
            .map(|it| it.needed_g)
            .collect::<Vec<_>>()
    };
    for (now, then) in needed(&rounds[0]).iter().zip([11.0, 10.5]) {
        close(*now, then);
    }
    assert_eq!(needed(&rounds[1]).len(), 1, "only A1 gets a third coat");

    let tin = Coating::by_mass("clear", &[1.0]).unwrap();
    let rounds = plan(&tin);
    assert_eq!(
        (rounds.len(), rounds[0].times()),
        (1, 1),
        "what keeps is mixed once for all coats"
    );
    close(rounds[0].sessions[0].cups[0].needed_g, 33.0);
}

#[test]
fn what_the_pot_life_is_too_short_for_is_mixed_twice() {
    let mut coating = coating();
    // At four minutes a cup and three quarters of it worked in, 32 minutes are enough for six cups.
    coating.pot_life_min = Some(32.0);
    let surfaces: Vec<_> = (1..=4_u8)
        .flat_map(|it| {
            let load = f64::from(it);
            [
                surface(&format!("R{it}"), &mix(&[("PR101", load)]), 0.1, 200.0),
                surface(&format!("Y{it}"), &mix(&[("PY42", load)]), 0.1, 200.0),
            ]
        })
        .collect();
    let rounds = masstone::plan::sessions(
        &surfaces,
        &[coating],
        &Limits::default(),
        &settings(0.0, 0.0),
    )
    .unwrap();
    let cups: Vec<Vec<String>> = rounds[0]
        .sessions
        .iter()
        .map(|it| it.cups.iter().flat_map(|it| it.patches.clone()).collect())
        .collect();
    // Not six and two: the cups of one pigment stay together.
    assert_eq!(cups, [["R4", "R3", "R2", "R1"], ["Y4", "Y3", "Y2", "Y1"]]);
    assert!(rounds[0].sessions.iter().all(|it| it.minutes <= 24.0));
}

#[test]
fn limits_add_up_unless_the_mixture_was_tested() {
    let limits = Limits {
        single: vec![limit("PR101", 12.0), limit("PY42", 10.0)],
        ..Limits::default()
    };
    let standing = limits.standing(&mix(&[("PR101", 3.0), ("PY42", 5.0)]));
    // 3 ÷ 12 + 5 ÷ 10.
    close(standing.share.unwrap(), 0.75);
    assert_eq!(standing.verdict, Verdict::Within);
    let strong = mix(&[("PR101", 9.0), ("PY42", 5.0)]);
    assert_eq!(limits.standing(&strong).verdict, Verdict::Beyond);
    close(limits.standing(&strong).share.unwrap(), 1.25);
    assert_eq!(
        limits
            .standing(&mix(&[("PR101", 3.0), ("PB29", 1.0)]))
            .verdict,
        Verdict::Untested
    );
    assert_eq!(
        limits
            .standing(&mix(&[("PR101", 13.0), ("PB29", 1.0)]))
            .verdict,
        Verdict::Beyond
    );
    assert_eq!(limits.standing(&clear()).verdict, Verdict::Clear);

    let tested = Limits {
        cured: vec![strong.clone()],
        ..limits.clone()
    };
    assert_eq!(tested.standing(&strong).verdict, Verdict::Within);
    assert_eq!(
        tested
            .standing(&mix(&[("PR101", 9.5), ("PY42", 5.0)]))
            .verdict,
        Verdict::Beyond
    );
    let weak = mix(&[("PR101", 3.0), ("PY42", 5.0)]);
    let failed = Limits {
        failed: vec![weak.clone()],
        ..limits
    };
    assert_eq!(
        failed.standing(&weak).verdict,
        Verdict::Beyond,
        "that very mixture did not cure"
    );
    // Within by the sum, 0.76 or less and 0.85, but with at least as much of each.
    for stronger in [
        mix(&[("PR101", 3.05), ("PY42", 5.05)]),
        mix(&[("PR101", 3.0), ("PY42", 6.0)]),
        mix(&[("PR101", 3.0), ("PY42", 5.0), ("PB29", 0.5)]),
    ] {
        assert_eq!(failed.standing(&stronger).verdict, Verdict::Beyond);
    }
    // Less of one: nobody can say from that test, and the sum counts.
    let other = mix(&[("PR101", 1.0), ("PY42", 9.0)]);
    close(failed.standing(&other).share.unwrap(), 1.0 / 12.0 + 0.9);
    assert_eq!(failed.standing(&other).verdict, Verdict::Within);
    // One that cured itself is not beyond for being near one that did not.
    let just_below = mix(&[("PR101", 2.95), ("PY42", 4.9)]);
    assert_eq!(failed.standing(&just_below).verdict, Verdict::Beyond);
    let both = Limits {
        cured: vec![just_below.clone()],
        ..failed
    };
    assert_eq!(both.standing(&just_below).verdict, Verdict::Within);
}

#[test]
fn a_lot_of_its_own_limit_goes_before_the_pigment() {
    let mut of_lot = limit("PR101", 8.0);
    of_lot.lot = Some("0312".to_owned());
    let limits = Limits {
        single: vec![limit("PR101", 12.0), of_lot],
        ..Limits::default()
    };
    let share = |lot: Option<&str>| {
        let mut recipe = mix(&[("PR101", 6.0)]);
        recipe.loads[0].pigment.lot = lot.map(str::to_owned);
        limits.standing(&recipe).share.unwrap()
    };
    close(share(Some("0312")), 0.75);
    close(share(Some("0400")), 0.5);
    close(share(None), 0.75);
}

#[test]
fn senseless_numbers_are_refused() {
    let recipe = mix(&[("PR101", 12.0)]);
    let refused = |area: f64, wet: f64, recipe: &Recipe| {
        let one = surface("A1", recipe, area, wet);
        masstone::plan::sessions(
            &[one],
            &[coating()],
            &Limits::default(),
            &settings(0.0, 0.0),
        )
        .unwrap_err()
    };
    for (area, wet) in [
        (0.0, 200.0),
        (f64::NAN, 200.0),
        (0.1, -1.0),
        (0.1, f64::INFINITY),
    ] {
        assert!(
            matches!(refused(area, wet, &recipe), PlanError::Number { .. }),
            "{area} {wet}"
        );
    }
    assert!(matches!(
        refused(0.1, 200.0, &mix(&[("PR101", -3.0)])),
        PlanError::Number { .. }
    ));
    let mut elsewhere = recipe;
    elsewhere.coating = "another".to_owned();
    assert!(matches!(
        refused(0.1, 200.0, &elsewhere),
        PlanError::NoRatio { .. }
    ));
}

#[track_caller]
fn close_to(value: f64, other: f64, within: f64) {
    assert!(
        (value - other).abs() <= within,
        "{value} is not {other} ± {within}"
    );
}
