//! What no recipe may have.

use super::tinted::{Numbers, library};
use super::{all, colour, ids, loads, nearest, task};
use masstone::colour::Lab;
use masstone::mix::search::{Mark, Recipe, Tested, search};
use masstone::plan::Balance;
use proptest::prelude::*;

fn load(recipe: &Recipe, id: &str) -> f64 {
    recipe
        .parts
        .iter()
        .find(|it| it.pigment == id)
        .map_or(0.0, |it| it.load)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn limits_are_kept(
        l in 15.0..85.0_f64, a in -30.0..40.0_f64, b in -30.0..50.0_f64,
        seed in 0..1000_u64,
        step in prop::sample::select(vec![0.01, 0.1, 0.5]),
        batch in 200.0..3000.0_f64,
        most in 1..=3_usize,
        beyond in any::<bool>(),
        untested in any::<bool>(),
        in_stock in any::<bool>(),
        base in prop::option::of(0..6_usize),
    ) {
        let (model, mut candidates) = library(6, 5000 + seed);
        candidates[1].limit = None;
        candidates[2].lowest_failed = candidates[2].limit.map(|it| 1.2 * it);
        candidates[3].in_stock = false;
        let base = base.map(|it| candidates[it].id.clone());
        let failed = [(0, 0.3), (4, 0.3)].map(|(it, share)| (candidates[it].id.clone(), share * candidates[it].limit.unwrap()));
        let mixtures = [Tested { pigments: loads(&failed.each_ref().map(|it| (it.0.as_str(), it.1))), cured: false }];
        let mut task = task(&model, &candidates, Lab::new(l, a, b));
        task.mixtures = &mixtures;
        task.balance = Balance::new(step, None).unwrap();
        task.batch_g = batch;
        task.most_pigments = most;
        task.allow_beyond = beyond;
        task.allow_untested = untested;
        task.in_stock = in_stock;
        task.base = base.as_deref();
        // Refusals are tested by themselves.
        let Ok(found) = search(&task) else { return Ok(()) };
        prop_assert!(all(&found).count() <= task.count && all(&found).count() > 0);
        for recipe in all(&found) {
            prop_assert!((1..=most).contains(&recipe.parts.len()));
            prop_assert!(base.as_deref().is_none_or(|it| ids(recipe).contains(&it)));
            prop_assert!(!in_stock || !ids(recipe).contains(&"P03"));
            let weighed = recipe.rounded.as_ref().expect("no mixture of these was tested as it is");
            let rounded = weighed.loads.iter();
            for of in [recipe.parts.iter().map(|it| it.load).collect::<Vec<_>>(), rounded.copied().collect()] {
                let share = |it: usize| recipe.parts[it].limit.map_or(0.0, |limit| of[it] / limit);
                let sum: f64 = (0..of.len()).map(share).sum();
                prop_assert!(sum <= if beyond { 1.5 } else { 1.0 } + 1e-6, "{sum} {recipe:?}");
                for (part, load) in recipe.parts.iter().zip(&of) {
                    prop_assert!(load * batch / 100.0 >= task.balance.least_g() - 1e-6);
                    let failed = candidates.iter().find(|it| it.id == part.pigment).unwrap().lowest_failed;
                    prop_assert!(failed.is_none_or(|it| *load < it));
                }
                let at = |id: &str| recipe.parts.iter().position(|it| it.pigment == id).map_or(0.0, |it| of[it]);
                prop_assert!(!failed.iter().all(|(id, load)| at(id) >= *load), "{recipe:?}");
            }
            let has_untested = ids(recipe).contains(&"P01");
            prop_assert!(untested || !has_untested);
            let marked = |it: &dyn Fn(&Mark) -> bool| recipe.marks.iter().any(it);
            prop_assert_eq!(marked(&|it| matches!(it, Mark::Untested(_))), has_untested);
            prop_assert_eq!(marked(&|it| matches!(it, Mark::Beyond(_))), recipe.sum.is_some_and(|it| it > 1.0 + 1e-9));
            for grams in &weighed.grams {
                let steps = grams / step;
                prop_assert!((steps - steps.round()).abs() < 1e-6);
            }
            prop_assert!(recipe.interval[0] >= 0.0 && recipe.interval[0] <= recipe.delta_e + 1e-9 && recipe.delta_e <= recipe.interval[1] + 1e-9);
        }
    }
}

#[test]
fn a_mixture_that_did_not_cure_is_not_proposed_where_it_would_be_right() {
    let (model, candidates) = library(4, 6000);
    let failed = [
        ("P02", 0.25 * candidates[2].limit.unwrap()),
        ("P03", 0.25 * candidates[3].limit.unwrap()),
    ];
    let wanted = colour(&model, &failed);
    let two = &candidates[2..4];
    let free = search(&task(&model, two, wanted)).unwrap();
    assert!(nearest(&free).delta_e < 0.02);
    let mixtures = [Tested {
        pigments: loads(&failed),
        cured: false,
    }];
    let mut task = task(&model, two, wanted);
    task.mixtures = &mixtures;
    let found = search(&task).unwrap();
    for recipe in all(&found) {
        assert!(load(recipe, "P02") < failed[0].1 || load(recipe, "P03") < failed[1].1);
    }
    assert!(nearest(&found).delta_e > 0.02);
}

#[test]
fn a_mixture_that_cured_counts_whatever_the_sum() {
    let (model, candidates) = library(4, 6001);
    let cured = [
        ("P02", 0.9 * candidates[2].limit.unwrap()),
        ("P03", 0.9 * candidates[3].limit.unwrap()),
    ];
    let wanted = colour(&model, &cured);
    let mixtures = [Tested {
        pigments: loads(&cured),
        cured: true,
    }];
    let mut task = task(&model, &candidates[2..4], wanted);
    let without = search(&task).unwrap();
    assert!(nearest(&without).delta_e > 0.1);
    task.mixtures = &mixtures;
    let found = search(&task).unwrap();
    let best = nearest(&found);
    assert!(best.delta_e < 1e-9 && best.marks.contains(&Mark::TestedMixture));
    assert!((best.sum.unwrap() - 1.8).abs() < 1e-9);
    let weighed = best.rounded.as_ref().unwrap();
    for (rounded, (_, load)) in weighed.loads.iter().zip(&cured) {
        assert!(rounded <= load && *rounded >= 0.95 * load);
    }
    // Of steps of nine tenths of it one is too little and two are beyond: nothing is called weighed that isn't.
    let step = cured[0].1.min(cured[1].1) * 10.0 * 0.9;
    task.balance = Balance::new(step, Some(step)).unwrap();
    let found = search(&task).unwrap();
    let best = nearest(&found);
    assert!(best.marks.contains(&Mark::TestedMixture));
    assert!(
        best.rounded.is_none() && best.marks.contains(&Mark::TooCoarse),
        "{best:?}"
    );
}

#[test]
fn a_base_is_darkened() {
    let (model, candidates) = library(12, 6002);
    let mut numbers = Numbers::new(1);
    let wanted = colour(&model, &[("P03", numbers.between(0.5, 1.0)), ("P10", 0.1)]);
    let mut task = task(&model, &candidates, wanted);
    task.base = Some("P03");
    let found = search(&task).unwrap();
    assert!(all(&found).all(|it| ids(it).contains(&"P03")));
    assert!(nearest(&found).delta_e < 0.02);
    // 1 + 11 + 55.
    assert_eq!(found.combinations, 67);
}
