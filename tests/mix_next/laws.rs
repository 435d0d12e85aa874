//! What proposals must be, whatever is known.

use crate::choice::{FULL, G_PER_M2, Random, begun, coat, truth, wish};
use masstone::colour::Matrix;
use masstone::mix::design::Joint;
use masstone::mix::next::{BLACK, Kind, NextError, WHITE, next};
use masstone::mix::{Coat, Known, Trial, fit};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use std::collections::BTreeMap;

fn random(seed: u64) -> Random {
    Random(ChaCha8Rng::seed_from_u64(seed))
}

/// One more trial by linear algebra, and the model fitted anew to trials that have it.
#[test]
fn what_a_trial_tells_is_what_a_fit_with_it_has() {
    for seed in 0..6 {
        let mut random = random(71_000 + seed);
        let truth = truth(&mut random, 3);
        let trials = begun(&truth, 3, &mut random);
        let model = fit(&trials).unwrap();
        let more = coat(&[(0, 4.0), (1, 2.0)]);
        let asked = [
            coat(&[(0, 2.0)]),
            coat(&[(1, 5.0)]),
            coat(&[(0, 1.0), (2, 3.0)]),
        ];
        let mut all = vec![more.clone()];
        all.extend(asked.iter().cloned());
        let mut joint = Joint::of(&model, &all).unwrap();
        let before = joint.clone();
        let noise = Matrix::identity() * 0.09;
        // What predictions have.
        for (index, it) in all.iter().enumerate() {
            let predicted = model.predict(it).unwrap().covariance;
            assert!((predicted - joint.own(index)).amax() < 1e-6 * predicted.amax());
        }
        joint.measure(0, &noise);
        let mut with = trials.clone();
        with.push(Trial {
            lab: model.colour(&more).unwrap(),
            covariance: noise,
            ..trial_of(&more)
        });
        let again = fit(&with).unwrap();
        let fitted = Joint::of(&again, &all).unwrap();
        // A mixture that came is counted by predictions as here, with what it took of the film's law.
        for (index, it) in all.iter().enumerate() {
            let predicted = again.predict(it).unwrap().covariance;
            let off = (predicted - fitted.own(index)).amax() / predicted.amax();
            assert!(off < 1e-6, "{seed} {index}: {off}");
        }
        let ratios: Vec<f64> = (0..all.len())
            .map(|index| joint.own(index).trace() / fitted.own(index).trace())
            .collect();
        // The fit weighs its trials by how well they agree, and gives scattering a shape once there are two loads: within a factor of two.
        for (index, it) in ratios.iter().enumerate() {
            assert!((0.5..2.0).contains(it), "{seed}: {ratios:.2?}");
            assert!(joint.own(index).trace() <= before.own(index).trace() + 1e-9);
        }
        assert!(joint.own(0).trace() < 0.2 * before.own(0).trace());
        // Measured in another order, all is the same; nearly so where a mixture comes before single pigments, which are not weighed by what it told of
        // the film's law.
        let in_order = |order: [usize; 3]| {
            let mut joint = before.clone();
            for it in order {
                joint.measure(it, &noise);
            }
            joint.own(3)
        };
        let apart = |one: Matrix, other: Matrix| (one - other).amax() / before.own(3).amax();
        let usual = in_order([1, 2, 0]);
        assert!(apart(usual, in_order([2, 1, 0])) < 1e-6, "{usual}");
        assert!(apart(usual, in_order([2, 0, 1])) < 0.05, "{usual}");
        let told = before.own(1) - before.told(0, &noise, 1);
        assert!((told - joint.own(1)).amax() < 1e-6 * before.own(1).amax());
    }
}

fn trial_of(coat: &Coat) -> Trial {
    Trial {
        swatch: None,
        name: "made up".into(),
        pigments: coat.pigments.clone(),
        ground: coat.ground.clone(),
        g_per_m2: coat.g_per_m2,
        lab: masstone::colour::Lab::new(50.0, 0.0, 0.0),
        covariance: Matrix::identity() * 0.09,
        common: Matrix::zeros(),
    }
}

#[test]
fn proposals_stay_within_the_limits_and_are_new() {
    for seed in 0..6 {
        let mut random = random(72_000 + seed);
        let truth = truth(&mut random, 4);
        let trials = begun(&truth, 4, &mut random);
        let model = fit(&trials).unwrap();
        let mut wish = wish(&model, &trials, 9);
        let limits = [12.0, 3.7, 0.45, 8.0];
        wish.most = (0..4).map(|it| (format!("P{it}"), limits[it])).collect();
        let found = next(&wish).unwrap();
        assert!(!found.proposals.is_empty());
        let mut before = found.mean_u95;
        for (index, it) in found.proposals.iter().enumerate() {
            let share: f64 = (it.coat.pigments.iter())
                .map(|it| it.load / wish.most[&it.pigment])
                .sum();
            assert!(share <= 1.0 + 1e-9, "{share} {:?}", it.coat);
            assert!(
                trials
                    .iter()
                    .all(|trial| trial.pigments != it.coat.pigments
                        || trial.ground != it.coat.ground)
            );
            assert!(
                found.proposals[..index]
                    .iter()
                    .all(|other| other.coat != it.coat)
            );
            assert!(it.mean_u95 <= before + 0.01, "{} {before}", it.mean_u95);
            before = it.mean_u95;
        }
        assert!(before < found.mean_u95);
        assert_eq!(next(&wish).unwrap(), found);
    }
}

#[test]
fn near_a_target_other_trials_tell() {
    let mut random = random(73_000);
    let truth = truth(&mut random, 4);
    let trials = begun(&truth, 4, &mut random);
    let model = fit(&trials).unwrap();
    let mut wish = wish(&model, &trials, 3);
    wish.target = model.colour(&coat(&[(1, 4.0), (2, 2.0)]));
    let found = next(&wish).unwrap();
    assert_eq!(found.proposals.len(), 3);
    assert!(
        found.proposals[2].mean_u95 < 0.7 * found.mean_u95,
        "{found:?}"
    );
    let of = |it: &str| {
        found
            .proposals
            .iter()
            .any(|p| p.coat.pigments.iter().any(|l| l.pigment == it))
    };
    assert!(of("P1") || of("P2"), "{found:?}");
    assert!(
        found
            .notes
            .iter()
            .any(|it| it.contains("nearest to the wanted colour"))
    );
}

#[test]
fn a_missing_control_goes_first_and_a_new_ground_brings_its_own() {
    let mut random = random(74_000);
    let truth = truth(&mut random, 2);
    let full = [coat(&[]), coat(&[(0, FULL)]), coat(&[(1, FULL)])];
    let trials: Vec<Trial> = (full.iter())
        .map(|it| Trial {
            lab: truth.colour(it).unwrap(),
            ..trial_of(it)
        })
        .collect();
    let mut model = fit(&trials).unwrap();
    for it in &mut model.pigments {
        it.known = Known::Ratio;
    }
    let mut wish = wish(&model, &trials, 40);
    wish.missing = vec![("oak".into(), 3), ("ash".into(), 5), ("larch".into(), 1)];
    let found = next(&wish).unwrap();
    let kinds: Vec<Kind> = found.proposals.iter().map(|it| it.kind).collect();
    assert_eq!(kinds[..2], [Kind::Control, Kind::Control]);
    assert_eq!(found.proposals[0].coat.ground, "ash");
    assert_eq!(found.proposals[1].coat.ground, "oak");
    for ground in [BLACK, WHITE] {
        let mut there = found.proposals.iter().filter(|it| it.coat.ground == ground);
        if let Some(first) = there.next() {
            assert_eq!(first.kind, Kind::Control, "{found:?}");
            assert!(there.next().is_some_and(|it| it.kind == Kind::OtherGround));
        }
    }
    assert!(kinds.contains(&Kind::OtherGround), "{kinds:?}");
    assert!(kinds.len() <= 40);
}

#[test]
fn one_pigment_or_none() {
    let mut random = random(75_000);
    let truth = truth(&mut random, 1);
    let trials = begun(&truth, 1, &mut random);
    let model = fit(&trials).unwrap();
    let mut only = wish(&model, &trials, 20);
    let found = next(&only).unwrap();
    assert!(!found.proposals.is_empty() && found.proposals.len() < 20);
    assert!(found.proposals.iter().all(|it| it.coat.g_per_m2 <= G_PER_M2
        && !it.coat.pigments.is_empty()
        || it.kind == Kind::Control));
    only.most = BTreeMap::from([("P9".to_owned(), 5.0), ("P0".to_owned(), 0.0)]);
    assert_eq!(next(&only), Err(NextError::NoPigment));
    only.ground = "oak".into();
    let error = next(&only).unwrap_err();
    assert!(error.to_string().contains("oak") && error.hint().contains("clear"));
    let mut controls = wish(&model, &trials, 1);
    controls.missing = vec![("oak".into(), 1)];
    let found = next(&controls).unwrap();
    assert_eq!(
        (found.proposals.len(), found.proposals[0].kind),
        (1, Kind::Control)
    );
}

/// One coat laid twice, a trifle apart, is one load, as the notes have it.
#[test]
fn a_load_that_was_laid_again_is_counted_once() {
    let truth = truth(&mut random(77_000), 1);
    let trials: Vec<Trial> = [vec![], vec![(0, 4.0)], vec![(0, 4.08)]]
        .iter()
        .map(|it| Trial {
            lab: truth.colour(&coat(it)).unwrap(),
            ..trial_of(&coat(it))
        })
        .collect();
    let model = fit(&trials).unwrap();
    assert_eq!(model.pigments[0].loads.len(), 2);
    let found = next(&wish(&model, &trials, 3)).unwrap();
    let alone: Vec<&str> = (found.proposals.iter())
        .filter(|it| it.kind == Kind::Alone)
        .map(|it| it.why.as_str())
        .collect();
    assert!(alone.contains(&"Of P0 one load is measured."), "{found:?}");
}

/// All that was worked out, to the last bit: Rust writes as many digits of a number as tell it from all others.
fn to_the_last_bit(threads: usize) -> [String; 3] {
    let mut random = random(76_000);
    let truth = truth(&mut random, 5);
    let mut trials = begun(&truth, 5, &mut random);
    // So far off that all mixtures are less sure by it.
    for (pair, off) in [([0, 1], 9.0), ([2, 3], -9.0), ([1, 4], -9.0)] {
        let mixture = coat(&pair.map(|it| (it, 3.0)));
        let mut lab = truth.colour(&mixture).unwrap();
        lab.l += off;
        trials.push(Trial {
            lab,
            ..trial_of(&mixture)
        });
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .unwrap();
    pool.install(|| {
        assert_eq!(rayon::current_num_threads(), threads);
        let model = fit(&trials).unwrap();
        let found = next(&wish(&model, &trials, 4)).unwrap();
        let left_out = masstone::mix::leave_one_out(&trials).unwrap();
        [
            format!("{model:?}"),
            format!("{found:?}"),
            format!("{left_out:?}"),
        ]
    })
}

#[test]
fn nothing_hangs_on_the_number_of_threads() {
    let [one, two, many] = [1, 2, 7].map(to_the_last_bit);
    assert!(one[0].len() > 10_000 && one[1].contains("mean_u95"));
    for (i, it) in one.iter().enumerate() {
        assert!(*it == two[i] && *it == many[i], "{i}");
    }
}
