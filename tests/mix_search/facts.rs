//! Cost, fastness, grams, order and groups of recipes.

use super::tinted::{candidate, flat, library, model, pigment};
use super::{all, coat, colour, ids, nearest, task};
use masstone::colour::Matrix;
use masstone::colour::difference::delta_e_2000;
use masstone::mix::age::{Aged, age};
use masstone::mix::search::{Change, Order, search};
use masstone::plan::Balance;
use nalgebra::Vector3;

#[test]
fn cost_is_that_of_a_bookkeeper() {
    let (model, mut candidates) = library(2, 7000);
    candidates[0].per_kg = Some(50.0);
    candidates[1].per_kg = Some(100.0);
    let wanted = colour(&model, &[("P00", 0.5), ("P01", 0.8)]);
    let mut task = task(&model, &candidates, wanted);
    task.batch_g = 2000.0;
    let found = search(&task).unwrap();
    let both = all(&found).find(|it| it.parts.len() == 2).unwrap();
    // 2 kg of coating at 20, 10 g at 50 and 16 g at 100 a kilogram.
    let batch = 40.0 + 0.5 + 1.6;
    assert!(
        (both.cost.batch.unwrap() - batch).abs() < 0.02,
        "{:?}",
        both.cost
    );
    assert!(
        (both.cost.per_kg.unwrap() - batch / 2.026).abs() < 0.01,
        "{:?}",
        both.cost
    );
    candidates[1].per_kg = None;
    let mut task = super::task(&model, &candidates, wanted);
    task.coating_per_kg = None;
    let found = search(&task).unwrap();
    let both = all(&found).find(|it| it.parts.len() == 2).unwrap();
    assert_eq!(both.cost.batch, None);
    assert_eq!(both.cost.without, ["coating", "P01"]);
}

#[test]
fn fastness_is_that_of_the_worst_and_of_both() {
    let (model, mut candidates) = library(2, 7000);
    candidates[0].fastness = Some(Change {
        delta_e: 1.0,
        hours: 1500.0,
    });
    candidates[1].fastness = Some(Change {
        delta_e: 4.0,
        hours: 1000.0,
    });
    let wanted = colour(&model, &[("P00", 0.5), ("P01", 0.8)]);
    let found = search(&task(&model, &candidates, wanted)).unwrap();
    let both = all(&found).find(|it| it.parts.len() == 2).unwrap();
    let worst = both.fastness.worst.as_ref().unwrap();
    assert_eq!((worst.0.as_str(), worst.1.delta_e), ("P01", 4.0));
    let combined = both.fastness.combined.unwrap();
    assert!(1.0 < combined && combined < 4.0 && both.fastness.doses_differ);
    candidates[0].fastness = None;
    let found = search(&task(&model, &candidates, wanted)).unwrap();
    let both = all(&found).find(|it| it.parts.len() == 2).unwrap();
    assert_eq!(
        (both.fastness.combined, both.fastness.unknown.clone()),
        (None, vec!["P00".to_owned()])
    );
}

#[test]
fn grams_are_those_of_the_balance_and_cost_a_little() {
    let (model, candidates) = library(12, 7001);
    let wanted = colour(&model, &[("P03", 0.83), ("P10", 0.217)]);
    let mut last = 0.0;
    for step in [0.01, 0.1, 1.0] {
        let mut task = task(&model, &candidates, wanted);
        // What it can weigh is the same, so that the recipe is.
        task.balance = Balance::new(step, Some(1.0)).unwrap();
        task.most_pigments = 2;
        let found = search(&task).unwrap();
        let recipe = all(&found).find(|it| ids(it) == ["P03", "P10"]).unwrap();
        let weighed = recipe.rounded.as_ref().unwrap();
        let grams = &weighed.grams;
        assert!(
            grams
                .iter()
                .all(|it| ((it / step).round() * step - it).abs() < 1e-9),
            "{grams:?}"
        );
        let parts = [("P03", grams[0] / 10.0), ("P10", grams[1] / 10.0)];
        let rounded = colour(&model, &parts);
        assert!((delta_e_2000(rounded, wanted) - weighed.delta_e).abs() < 1e-9);
        assert!((delta_e_2000(rounded, recipe.fresh.lab) - weighed.moved).abs() < 1e-6);
        assert!(
            weighed.delta_e >= last - 1e-3,
            "a coarser balance costs more"
        );
        last = weighed.delta_e;
    }
    assert!(last > 0.05, "{last}");
}

#[test]
fn the_first_of_a_group_is_the_one_asked_for() {
    let (model, candidates) = library(10, 7002);
    let wanted = colour(&model, &[("P03", 0.8), ("P01", 0.9)]);
    let mut task = task(&model, &candidates, wanted);
    // So unsure that many recipes can't be told apart.
    task.covariance = Matrix::identity() * 4.0;
    task.count = 200;
    let first = |order: Order| {
        let mut task = task.clone();
        task.order = order;
        search(&task).unwrap()
    };
    let cheapest = first(Order::Cheapest);
    let cost: Vec<f64> = cheapest.groups[0]
        .iter()
        .map(|it| it.cost.per_kg.unwrap())
        .collect();
    assert!(
        cost.len() > 5 && cost.windows(2).all(|it| it[0] <= it[1] + 0.011),
        "{cost:?}"
    );
    let fewest = first(Order::FewestPigments);
    let count: Vec<usize> = fewest.groups[0].iter().map(|it| it.parts.len()).collect();
    assert!(
        count[0] < count[count.len() - 1] && count.is_sorted(),
        "{count:?}"
    );
    let fastest = first(Order::MostLightfast);
    let worst: Vec<f64> = fastest.groups[0]
        .iter()
        .map(|it| it.fastness.worst.as_ref().unwrap().1.delta_e)
        .collect();
    assert!(
        worst.windows(2).all(|it| it[0] <= it[1] + 0.011),
        "{worst:?}"
    );
    let nearest_first = first(Order::Nearest);
    let off: Vec<f64> = nearest_first.groups[0]
        .iter()
        .map(|it| it.delta_e)
        .collect();
    assert!(off.windows(2).all(|it| it[0] <= it[1] + 0.011), "{off:?}");
    // The group does not hang on the order.
    let sets = [&cheapest, &fewest, &fastest, &nearest_first].map(|found| {
        let mut ids: Vec<String> = found.groups[0].iter().map(|it| ids(it).join("+")).collect();
        ids.sort();
        ids
    });
    assert!(sets.iter().all(|it| *it == sets[0]));
}

#[test]
fn what_is_far_is_in_a_group_of_its_own() {
    // White, grey by more or less black: two pigments that can't replace each other.
    let white = pigment("PW", flat(0.001, 0.4), &[5.0, 10.0]);
    let black = pigment("PBk", flat(1.5, 0.01), &[1.0, 4.0]);
    let model = model(vec![white, black]);
    let candidates = [candidate("PBk", 4.0), candidate("PW", 20.0)];
    let wanted = colour(&model, &[("PBk", 0.1), ("PW", 8.0)]);
    let mut task = task(&model, &candidates, wanted);
    task.covariance = Matrix::identity() * 0.01;
    let found = search(&task).unwrap();
    assert_eq!(ids(&found.groups[0][0]), ["PBk", "PW"]);
    assert!(
        found.groups.len() == 3 && found.groups.iter().all(|it| it.len() == 1),
        "{:?}",
        found.groups
    );
    let off: Vec<f64> = all(&found).map(|it| it.delta_e).collect();
    assert!(off.is_sorted());
    assert!(found.groups[0][0].reaches && !found.groups[1][0].reaches);
    assert!(found.groups[0][0].interval[0] < 1e-12 && found.groups[1][0].interval[0] > 1.0);
}

#[test]
fn the_aged_colour_is_the_wanted_one() {
    let (fresh, candidates) = library(12, 7003);
    // Paler when aged: two thirds of the absorption are left.
    let mut aged = fresh.clone();
    for it in &mut aged.pigments {
        it.optics.k = it.optics.k.map(|it| it * 2.0 / 3.0);
    }
    let recipe = [("P03", 0.8), ("P10", 0.2)];
    // Told from two coats of each pigment, and from a control that stayed.
    let changed = |name: &str, parts: &[(&str, f64)]| {
        let (before, after) = (colour(&fresh, parts), colour(&aged, parts));
        Aged {
            name: name.to_owned(),
            coat: coat(parts),
            inert: false,
            change: Vector3::new(after.l - before.l, after.a - before.a, after.b - before.b),
            covariance: Matrix::identity() * 0.04,
        }
    };
    let mut changes = vec![changed("clear", &[])];
    for it in &fresh.pigments {
        for load in [1.0, 4.0] {
            changes.push(changed(&it.id, &[(&it.id, load)]));
        }
    }
    let film = age(&fresh, &changes);
    let after = film.predict(&coat(&recipe)).unwrap();
    assert!(delta_e_2000(after.lab, colour(&aged, &recipe)) < 1.0);
    let wanted = after.lab;
    let mut task = task(&fresh, &candidates, wanted);
    task.aged = Some(&film);
    task.most_pigments = 2;
    let found = search(&task).unwrap();
    let own = all(&found).find(|it| ids(it) == ["P03", "P10"]).unwrap();
    assert!(own.delta_e < 0.02);
    let seen = own.aged.as_ref().unwrap().lab;
    assert!(delta_e_2000(seen, wanted) < 0.02);
    let when_fresh = colour(&fresh, &recipe);
    assert!(delta_e_2000(own.fresh.lab, when_fresh) < 0.1 && when_fresh.l < wanted.l - 1.0);
    // What ageing leaves unsure is in what is said of the recipe.
    let told = own.aged.as_ref().unwrap();
    assert!(told.u95 > own.fresh.u95 && (told.u95 / after.u95 - 1.0).abs() < 0.05);
    let whole = own.fastness.whole.unwrap();
    assert!((whole - delta_e_2000(own.fresh.lab, seen)).abs() < 1e-6);
    assert!(nearest(&found).aged.is_some());
}
