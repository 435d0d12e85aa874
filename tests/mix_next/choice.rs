//! Whether the trials that are proposed are worth more than others, in workshops that a model makes up.

use masstone::colour::difference::delta_e_2000;
use masstone::colour::{Lab, Matrix};
use masstone::mix::bands::Spectrum;
use masstone::mix::next::{BLACK, WHITE, Wish, next};
use masstone::mix::{Coat, Ground, Known, Load, Model, Optics, Pigment, Trial, fit};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::f64::consts::TAU;

/// Noise of a trial in each coordinate.
const NOISE: f64 = 0.3;
pub(crate) const G_PER_M2: f64 = 150.0;
pub(crate) const FULL: f64 = 12.0;

pub(crate) struct Random(pub(crate) ChaCha8Rng);

impl Random {
    fn uniform(&mut self) -> f64 {
        (f64::from(self.0.next_u32()) + 0.5) / 2.0_f64.powi(32)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (TAU * self.uniform()).cos()
    }

    fn below(&mut self, n: usize) -> usize {
        self.0.next_u32() as usize % n
    }
}

fn at_bands(curve: impl Fn(f64) -> f64) -> Spectrum {
    std::array::from_fn(|band| curve(380.0 + 10.0 * band as f64))
}

/// A workshop's truth: pigments with an edge or a band somewhere, strong or weak, hiding or not.
pub(crate) fn truth(random: &mut Random, pigments: usize) -> Model {
    let pigment = |index: usize, random: &mut Random| {
        let (at, width) = (random.between(420.0, 640.0), random.between(12.0, 60.0));
        let strength = random.between(-2.0, 0.5).exp();
        let rest = strength * random.between(0.01, 0.1);
        let is_edge = random.uniform() < 0.5;
        let s = random.between(-4.0, -1.0).exp();
        Pigment {
            id: format!("P{index}"),
            optics: Optics {
                k: at_bands(|nm| {
                    let shape = if is_edge {
                        1.0 / (1.0 + ((nm - at) / width).exp())
                    } else {
                        (-((nm - at) / (2.0 * width)).powi(2)).exp()
                    };
                    rest + strength * shape
                }),
                s: at_bands(|nm| s * (nm / 560.0).powf(-0.5)),
            },
            known: Known::Both,
            loads: Vec::new(),
        }
    };
    let ground = |name: &str, curve: &dyn Fn(f64) -> f64| Ground {
        name: name.to_owned(),
        reflectance: at_bands(curve),
    };
    Model::of_optics(
        Optics {
            k: [0.0; 41],
            s: [0.0; 41],
        },
        (0..pigments).map(|it| pigment(it, random)).collect(),
        vec![
            ground("larch", &|nm| {
                0.3 + 0.4 / (1.0 + ((560.0 - nm) / 50.0).exp())
            }),
            ground(BLACK, &|_| 0.04),
            ground(WHITE, &|nm| {
                0.86 - 0.1 / (1.0 + ((nm - 420.0) / 15.0).exp())
            }),
        ],
    )
}

pub(crate) fn coat(parts: &[(usize, f64)]) -> Coat {
    Coat {
        pigments: (parts.iter())
            .map(|(index, load)| Load {
                pigment: format!("P{index}"),
                load: *load,
            })
            .collect(),
        g_per_m2: G_PER_M2,
        ground: "larch".into(),
    }
}

fn measured(truth: &Model, coat: &Coat, random: &mut Random) -> Trial {
    let Lab { l, a, b, .. } = truth.colour(coat).unwrap();
    let mut noise = || NOISE * random.normal();
    Trial {
        swatch: None,
        name: format!("{:?}", coat.pigments),
        pigments: coat.pigments.clone(),
        ground: coat.ground.clone(),
        g_per_m2: coat.g_per_m2,
        lab: Lab::new(l + noise(), a + noise(), b + noise()),
        covariance: Matrix::identity() * NOISE * NOISE,
        common: Matrix::zeros(),
    }
}

/// Mean ΔE00 of predictions over loads and mixtures.
fn error(truth: &Model, trials: &[Trial], pigments: usize) -> f64 {
    let model = fit(trials).unwrap();
    let mut all = Vec::new();
    let mut ask = |parts: &[(usize, f64)]| {
        let coat = coat(parts);
        all.push(delta_e_2000(
            model.predict(&coat).unwrap().lab,
            truth.colour(&coat).unwrap(),
        ));
    };
    for one in 0..pigments {
        for load in [1.0, 2.0, 5.0, 8.0, 12.0] {
            ask(&[(one, load)]);
        }
        for other in 0..one {
            for (a, b) in [(3.0, 3.0), (1.5, 6.0), (6.0, 1.5)] {
                ask(&[(one, a), (other, b)]);
            }
        }
    }
    all.iter().sum::<f64>() / all.len() as f64
}

/// A control, and each pigment at full load; some at a paler one, too.
pub(crate) fn begun(truth: &Model, pigments: usize, random: &mut Random) -> Vec<Trial> {
    let mut trials = vec![measured(truth, &coat(&[]), random)];
    for it in 0..pigments {
        trials.push(measured(truth, &coat(&[(it, FULL)]), random));
        if random.uniform() < 0.4 {
            let load = random.between(2.0, 6.0);
            trials.push(measured(truth, &coat(&[(it, load)]), random));
        }
    }
    trials
}

pub(crate) fn wish<'a>(model: &'a Model, trials: &'a [Trial], count: usize) -> Wish<'a> {
    Wish {
        model,
        trials,
        most: (model.pigments.iter())
            .map(|it| (it.id.clone(), FULL))
            .collect(),
        ground: "larch".into(),
        g_per_m2: G_PER_M2,
        target: None,
        missing: Vec::new(),
        count,
    }
}

#[test]
fn proposed_trials_mend_more_than_random_ones() {
    const PIGMENTS: usize = 4;
    const COUNT: usize = 4;
    let (mut before, mut after, mut by_chance) = (0.0, 0.0, 0.0);
    let (mut better, mut smaller) = (0, 0);
    let seeds = 24;
    for seed in 0..seeds {
        let mut random = Random(ChaCha8Rng::seed_from_u64(56_000 + seed));
        let truth = truth(&mut random, PIGMENTS);
        let trials = begun(&truth, PIGMENTS, &mut random);
        let model = fit(&trials).unwrap();
        let found = next(&wish(&model, &trials, COUNT)).unwrap();
        assert_eq!(found.proposals.len(), COUNT);
        let with = |more: &[Coat], random: &mut Random| {
            let mut all = trials.clone();
            all.extend(more.iter().map(|it| measured(&truth, it, random)));
            error(&truth, &all, PIGMENTS)
        };
        let proposed: Vec<Coat> = found.proposals.iter().map(|it| it.coat.clone()).collect();
        let here = error(&truth, &trials, PIGMENTS);
        let mended = with(&proposed, &mut random);
        // Others of the same kinds: half alone, half in pairs, anywhere within the limits.
        let mut chance = 0.0;
        for _ in 0..3 {
            let others: Vec<Coat> = (0..COUNT)
                .map(|index| {
                    let one = random.below(PIGMENTS);
                    if index % 2 == 0 {
                        return coat(&[(one, random.between(0.05, 1.0) * FULL)]);
                    }
                    let other = (one + 1 + random.below(PIGMENTS - 1)) % PIGMENTS;
                    let total = random.between(0.1, 1.0) * FULL;
                    let share = random.uniform();
                    coat(&[(one, total * share), (other, total * (1.0 - share))])
                })
                .collect();
            chance += with(&others, &mut random) / 3.0;
        }
        before += here;
        after += mended;
        by_chance += chance;
        better += usize::from(mended < chance);
        smaller += usize::from(mended < here);
    }
    let n = seeds as f64;
    println!(
        "mean error {:.2}, proposed {:.2}, by chance {:.2}; better in {better}, smaller in {smaller} of {seeds}",
        before / n,
        after / n,
        by_chance / n
    );
    assert!(
        after < before && after < by_chance,
        "{before} {after} {by_chance}"
    );
    // By chance alone half of the seeds; so many of 24 come up once in 90 times.
    assert!(better >= 18, "{better} of {seeds}");
}
