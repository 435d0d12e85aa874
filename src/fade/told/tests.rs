use super::*;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

/// Standard normal vectors by Box & Muller from a seeded stream: other draws than those within.
struct Draws(ChaCha8Rng);

impl Draws {
    fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    fn uniform(&mut self) -> f64 {
        (f64::from(self.0.next_u32()) + 0.5) / 2.0_f64.powi(32)
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }

    fn vector(&mut self) -> Vector3<f64> {
        Vector3::new(self.normal(), self.normal(), self.normal())
    }
}

fn isotropic(sd: f64) -> Matrix {
    Matrix::identity() * sd.powi(2)
}

fn colours() -> [Lab; 6] {
    [
        Lab::new(50.0, 0.0, 0.0),
        Lab::new(50.0, 20.0, 15.0),
        Lab::new(50.0, 40.0, 30.0),
        Lab::new(85.0, 1.0, 12.0),
        Lab::new(30.0, 10.0, -30.0),
        Lab::new(60.0, -30.0, 20.0),
    ]
}

/// What noise of such a kind does, by its symmetric root.
fn roots() -> [Matrix; 3] {
    [
        Matrix::identity() * 0.4,
        Matrix::from_diagonal(&Vector3::new(0.6, 0.15, 0.3)),
        Matrix::new(0.5, 0.1, -0.2, 0.1, 0.3, 0.15, -0.2, 0.15, 0.6),
    ]
}

/// ΔE00 by noise alone between two readings of standard deviation 0.2 each: mean and 95th percentile of 400,000 draws with colour-science
/// 0.4.7, three decimals.
#[test]
fn limit_of_detection_is_the_published_percentile() {
    let printed = [
        (0.529, 0.957),
        (0.352, 0.647),
        (0.311, 0.603),
        (0.409, 0.783),
        (0.316, 0.597),
        (0.285, 0.537),
    ];
    let covariance = isotropic(0.2 * 2.0_f64.sqrt());
    for (start, (mean, p95)) in colours().into_iter().zip(printed) {
        let it = told(start, Vector3::zeros(), &covariance, None).unwrap();
        assert!(
            (it.detection_limit / p95 - 1.0).abs() < 0.02,
            "{start:?} {it:?}"
        );
        // No change at all, yet noise shows its mean: the true one may be as large as what noise hides.
        assert!(it.de_00.abs() < 1e-9 && it.unbiased.abs() < 1e-9 && !it.significant);
        assert!(it.interval[0].abs() < 1e-9 && it.interval[1] > mean);
        // Scales linearly.
        let half = told(start, Vector3::zeros(), &(covariance / 4.0), None).unwrap();
        assert!((2.0 * half.detection_limit / it.detection_limit - 1.0).abs() < 0.01);
    }
}

/// (50, 20, 15) against (52, 18, 18), both with standard deviations (0.2, 0.15, 0.25): ΔE00 3.5186114, and 95 % of the draws within
/// 3.030–4.034 (colour-science 0.4.7, by Monte Carlo).
#[test]
fn a_plain_change_has_the_interval_of_propagation() {
    let covariance = Matrix::from_diagonal(&Vector3::new(0.04, 0.0225, 0.0625)) * 2.0;
    let it = told(
        Lab::new(50.0, 20.0, 15.0),
        Vector3::new(2.0, -2.0, 3.0),
        &covariance,
        None,
    )
    .unwrap();
    assert!((it.de_00 - 3.518_611_4).abs() < 1e-6);
    assert!(it.significant && it.p < 1e-9);
    // As wide; a little lower, since noise shifts what is observed up, so the truth down.
    let width = it.interval[1] - it.interval[0];
    assert!((width / (4.034 - 3.030) - 1.0).abs() < 0.03, "{it:?}");
    assert!((it.interval[0] - 3.030).abs() < 0.04 && (it.interval[1] - 4.034).abs() < 0.04);
    assert!(it.interval[0] < 3.030 && (0.49..0.53).contains(&it.u95));
    // χ² by hand: 4/0.08 + 4/0.045 + 9/0.125.
    assert!((it.statistic - (4.0 / 0.08 + 4.0 / 0.045 + 9.0 / 0.125)).abs() < 1e-9);
}

#[test]
fn noise_alone_is_called_significant_in_five_per_cent() {
    let mut draws = Draws::new(20_260_101);
    let n = 20_000;
    for root in roots() {
        let noise =
            Noise::new(Lab::new(50.0, 20.0, 15.0), &(root * root.transpose()), None).unwrap();
        let wrong = (0..n)
            .filter(|_| beyond(noise.distance(root * draws.vector()), None) < LEVEL)
            .count();
        let share = wrong as f64 / f64::from(n);
        // Three standard deviations of a share of 20,000.
        assert!(
            (share - 0.05).abs() < 3.0 * (0.05 * 0.95 / f64::from(n)).sqrt(),
            "{share}"
        );
    }
}

/// The same with a covariance from a few draws only, which the test is told.
#[test]
fn few_degrees_of_freedom_keep_five_per_cent() {
    let mut draws = Draws::new(7);
    let rounds = 20_000;
    for degrees in [3, 5, 10] {
        let (mut wrong, mut careless) = (0, 0);
        for _ in 0..rounds {
            // Large, so that the least width of a covariance plays no part.
            let root = roots()[2] * 100.0;
            let mut estimate = Matrix::zeros();
            for _ in 0..degrees {
                let it = root * draws.vector();
                estimate += it * it.transpose() / degrees as f64;
            }
            let noise = Noise::new(Lab::new(50.0, 20.0, 15.0), &estimate, None).unwrap();
            let distance = noise.distance(root * draws.vector());
            wrong += usize::from(beyond(distance, Some(degrees)) < LEVEL);
            careless += usize::from(beyond(distance, None) < LEVEL);
        }
        let share = wrong as f64 / f64::from(rounds);
        assert!(
            (share - 0.05).abs() < 3.0 * (0.05 * 0.95 / f64::from(rounds)).sqrt(),
            "{degrees} {share}"
        );
        // What it is for: as if known, it would be wrong at least twice as often.
        assert!(careless > 2 * wrong, "{careless} {wrong}");
    }
}

#[test]
fn power_grows_with_the_change_and_meets_its_formula() {
    let mut draws = Draws::new(3);
    let root = roots()[1];
    let noise = Noise::new(
        Lab::new(60.0, -30.0, 20.0),
        &(root * root.transpose()),
        None,
    )
    .unwrap();
    let all: Vec<Vector3<f64>> = (0..10_000).map(|_| root * draws.vector()).collect();
    let power: Vec<f64> = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 7.0]
        .iter()
        .map(|sds| {
            let truth = root * Vector3::new(1.0, -1.0, 1.0).normalize() * *sds;
            let found = all
                .iter()
                .filter(|it| beyond(noise.distance(truth + **it), None) < LEVEL);
            found.count() as f64 / all.len() as f64
        })
        .collect();
    assert!(power.is_sorted_by(|one, next| one < next), "{power:?}");
    // The chance that non-central χ² with three degrees of freedom is beyond 7.8147, by its sum over Poisson weights in Python.
    for (found, exact) in [
        (power[1], 0.1157),
        (power[2], 0.3585),
        (power[3], 0.7113),
        (power[4], 0.9341),
    ] {
        // Three standard deviations of a share of 10,000.
        assert!((found - exact).abs() < 0.015, "{found} {exact}");
    }
}

/// |ΔE00 − true| ≤ U95 and the truth within the interval, from no change to a large one, over colours and covariances.
#[test]
fn u95_and_the_interval_hold_the_truth() {
    let mut draws = Draws::new(11);
    let (mut within, mut covered, mut of) = (0, 0, 0);
    for size in [0.0, 0.5, 1.0, 2.0, 5.0, 15.0] {
        let (before, of_before) = (within, of);
        for start in colours() {
            for root in roots() {
                for _ in 0..20 {
                    let truth = draws.vector().normalize() * (size * 0.4);
                    let observed = truth + root * draws.vector();
                    let it = told(start, observed, &(root * root.transpose()), None).unwrap();
                    let exact = delta_e_2000(start, moved(start, truth));
                    within += usize::from((it.de_00 - exact).abs() <= it.u95);
                    covered +=
                        usize::from(it.interval[0] <= exact + 1e-9 && exact <= it.interval[1]);
                    of += 1;
                }
            }
        }
        // 360 draws a size: two and a half standard deviations of their share.
        let share = (within - before) as f64 / (of - of_before) as f64;
        assert!((share - 0.95).abs() < 2.5 * 0.0115, "{size} {share}");
    }
    let (u95, interval) = (within as f64 / of as f64, covered as f64 / of as f64);
    assert!((u95 - 0.95).abs() < 0.012, "{u95}");
    assert!((interval - 0.95).abs() < 0.012, "{interval}");
}

/// Taking out the mean square of noise leaves the true ΔE00 in the mean square, which plain ΔE00 overstates.
#[test]
fn the_bias_is_taken_out() {
    let start = Lab::new(50.0, 20.0, 15.0);
    let covariance = isotropic(0.3 * 2.0_f64.sqrt());
    let mut draws = Draws::new(5);
    let noise: Vec<Vector3<f64>> = (0..20_000)
        .map(|_| draws.vector() * (0.3 * 2.0_f64.sqrt()))
        .collect();
    let of_noise = Noise::new(start, &covariance, None)
        .unwrap()
        .differences(Vector3::zeros());
    let mean_square = of_noise.iter().map(|it| it * it).sum::<f64>() / of_noise.len() as f64;
    for truth in [0.0, 0.5, 1.0, 3.0] {
        // Lighter only: at L* 50 one unit is one ΔE00.
        let there = Vector3::new(truth, 0.0, 0.0);
        let exact = delta_e_2000(start, moved(start, there));
        let seen = |it: &Vector3<f64>| delta_e_2000(start, moved(start, there + it));
        let mean = noise.iter().map(seen).sum::<f64>() / noise.len() as f64;
        let corrected =
            noise.iter().map(|it| seen(it).powi(2)).sum::<f64>() / noise.len() as f64 - mean_square;
        // Null mean 0.528: 400,000 draws with colour-science 0.4.7.
        if truth < 0.1 {
            assert!((mean - 0.528).abs() < 0.01, "{mean}");
        }
        assert!(mean > exact);
        assert!(
            (corrected - exact.powi(2)).abs() < 0.02 * exact.powi(2).max(0.5),
            "{corrected} {exact}"
        );
    }
    let it = told(start, Vector3::new(1.0, 0.0, 0.0), &covariance, None).unwrap();
    assert!((it.unbiased.powi(2) - (it.de_00.powi(2) - mean_square)).abs() < 1e-12);
    assert!(it.unbiased < it.de_00);
}

#[test]
fn covariances_without_width_are_no_trouble() {
    let start = Lab::new(50.0, 20.0, 15.0);
    let line = Vector3::new(1.0, -0.5, 2.0);
    let flat = Matrix::from_diagonal(&Vector3::new(0.09, 0.0, 0.04));
    for covariance in [
        Matrix::zeros(),
        line * line.transpose(),
        flat,
        Matrix::from_diagonal(&Vector3::new(1.0, -1e-15, 0.25)),
    ] {
        for change in [
            Vector3::zeros(),
            Vector3::new(0.3, -0.2, 0.1),
            line,
            Vector3::new(-9.0, 14.0, 3.0),
        ] {
            for freedom in [None, Some(3), Some(12)] {
                let it = told(start, change, &covariance, freedom).unwrap();
                assert!((0.0..=1.0).contains(&it.p) && it.u95 > 0.0 && it.detection_limit > 0.0);
                assert!(
                    it.interval[0] >= 0.0
                        && it.interval[0] <= it.de_00 + 1e-9
                        && it.de_00 <= it.interval[1]
                );
                assert!(
                    it.significant || it.interval[0] < 0.5 * it.de_00 + 0.05,
                    "{it:?}"
                );
            }
        }
    }
    // Rounding of a change along the only direction that is noisy is no evidence.
    let rounded = line * 0.5 + Vector3::new(4e-4, 5e-4, -4e-4);
    assert!(
        !told(start, rounded, &(line * line.transpose()), None)
            .unwrap()
            .significant
    );
    // One beside it is.
    assert!(
        told(
            start,
            Vector3::new(1.0, 1.0, 0.0),
            &(line * line.transpose()),
            None
        )
        .unwrap()
        .significant
    );
}

#[test]
fn fewer_degrees_of_freedom_claim_less() {
    let start = Lab::new(50.0, 20.0, 15.0);
    let covariance = isotropic(0.4);
    let by = |freedom| told(start, Vector3::new(0.8, -0.9, 0.6), &covariance, freedom).unwrap();
    let all = [
        by(None),
        by(Some(60)),
        by(Some(12)),
        by(Some(6)),
        by(Some(4)),
    ];
    assert!(all.is_sorted_by(|one, next| one.p < next.p
        && one.detection_limit < next.detection_limit
        && one.u95 < next.u95));
    // What noise adds on average doesn't depend on how well it is known.
    assert!(
        all.windows(2)
            .all(|it| (it[0].unbiased - it[1].unbiased).abs() < 1e-12)
    );
    assert!(all[0].unbiased > 0.1);
    // More than plenty is as good as known.
    assert_eq!(by(Some(usize::MAX)), by(None));
    // T² at its 5 % point is the same distance in the draws: F(3, 4) = 6.591 for six degrees of freedom.
    let edge = (6.591 * 3.0 * 6.0 / 4.0_f64).sqrt() * 0.4;
    let it = told(start, Vector3::new(edge, 0.0, 0.0), &covariance, Some(6)).unwrap();
    assert!((it.p - 0.05).abs() < 1e-4, "{it:?}");
}

#[test]
fn what_is_no_number_is_no_change() {
    let start = Lab::new(50.0, 20.0, 15.0);
    let change = Vector3::new(1.0, 0.0, 0.0);
    assert!(
        told(
            start,
            Vector3::new(f64::NAN, 0.0, 0.0),
            &isotropic(0.3),
            None
        )
        .is_none()
    );
    assert!(
        told(
            Lab::new(f64::INFINITY, 0.0, 0.0),
            change,
            &isotropic(0.3),
            None
        )
        .is_none()
    );
    assert!(told(start, change, &Matrix::from_element(f64::NAN), None).is_none());
    assert!(told(start, change, &(Matrix::identity() * f64::INFINITY), None).is_none());
    for few in [0, 1, 2] {
        assert!(told(start, change, &isotropic(0.3), Some(few)).is_none());
    }
    for huge in [1e20, 1e100, 1e300] {
        assert!(
            told(start, change, &(Matrix::identity() * huge), None)
                .is_none_or(|it| !it.significant)
        );
    }
}

#[test]
fn noise_alone_says_the_same_without_the_interval() {
    let mut draws = Draws::new(77);
    for (start, root) in colours().into_iter().zip(roots().into_iter().cycle()) {
        let covariance = root * root.transpose();
        let change: Vector3<f64> = root * draws.vector() * 2.0;
        let whole = told(start, change, &covariance, None).unwrap();
        let short = by_noise(start, change, &covariance).unwrap();
        assert!((whole.p - short.p).abs() < 1e-12);
        assert_eq!(whole.significant, short.significant);
        assert!((whole.detection_limit - short.detection_limit).abs() < 1e-12);
    }
}

/// The reach is that of all draws, though a third of them is asked.
#[test]
fn the_reach_is_that_of_all_draws() {
    let mut random = Draws::new(11);
    let mut farthest = 0.0_f64;
    for start in colours() {
        for root in roots() {
            for (size, freedom) in [(0.0, None), (0.5, None), (2.0, None), (8.0, Some(5))] {
                for louder in [0.25, 1.0, 4.0] {
                    let covariance = root * root * (louder * louder);
                    let noise = Noise::new(start, &covariance, freedom).unwrap();
                    let truth = random.vector() * size;
                    let de_00 = delta_e_2000(start, moved(start, truth));
                    let mut all: Vec<f64> = (noise.differences(truth).into_iter())
                        .map(|it| (it - de_00).abs())
                        .collect();
                    let by_all = quantile_95(&mut all, 0);
                    farthest = farthest.max((noise.reach(truth, de_00) / by_all - 1.0).abs());
                }
            }
        }
    }
    assert!(farthest < 0.005, "{farthest}");
}
