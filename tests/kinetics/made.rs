//! Made-up patches: a true course, and what is measured of it.

use masstone::colour::{Lab, Matrix, difference};
use masstone::fade::kinetics::{Point, Points};
use nalgebra::Vector3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::f64::consts::TAU;

/// Random numbers of one seed.
pub(crate) struct Random(ChaCha8Rng);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub(crate) fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * (f64::from(self.0.next_u32()) + 0.5) / 2.0_f64.powi(32)
    }

    /// Alike in each factor, not in each step.
    pub(crate) fn by_factors(&mut self, from: f64, to: f64) -> f64 {
        self.between(from.ln(), to.ln()).exp()
    }

    pub(crate) fn normal(&mut self) -> f64 {
        (-2.0 * self.between(0.0, 1.0).ln()).sqrt() * (TAU * self.between(0.0, 1.0)).cos()
    }

    pub(crate) fn vector(&mut self) -> Vector3<f64> {
        Vector3::new(self.normal(), self.normal(), self.normal())
    }

    /// A covariance about `sd` in each coordinate: unlike in its directions, and leaning.
    pub(crate) fn covariance(&mut self, sd: f64) -> Matrix {
        let scales = Vector3::from_fn(|_, _| self.by_factors(0.7, 1.4));
        let mix = Matrix::from_diagonal(&scales) + Matrix::from_fn(|_, _| 0.25 * self.normal());
        let raw = mix * mix.transpose();
        raw * (3.0 * sd.powi(2) / raw.trace())
    }
}

/// What a true course is like. The last two are none of the models.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Nothing,
    Linear,
    Plateau,
    Power,
    /// Nothing for a while, then towards a plateau.
    Induction,
    /// Two plateaus in different directions, one early, one late: a coating that yellows, then a pigment that fades.
    TwoPlateaus,
}

pub(crate) const KINDS: [Kind; 6] = [
    Kind::Nothing,
    Kind::Linear,
    Kind::Plateau,
    Kind::Power,
    Kind::Induction,
    Kind::TwoPlateaus,
];

/// A patch with a true course.
pub(crate) struct Patch {
    pub(crate) start: Lab,
    /// The furthest dose.
    pub(crate) last: f64,
    kind: Kind,
    rates: [f64; 2],
    changes: [Vector3<f64>; 2],
}

pub(crate) fn moved(from: Lab, by: &Vector3<f64>) -> Lab {
    Lab::new(from.l + by.x, from.a + by.y, from.b + by.z)
}

impl Patch {
    /// A patch that changes by ΔE00 up to 12 at the furthest dose.
    pub(crate) fn new(kind: Kind, random: &mut Random) -> Self {
        let hue = random.between(0.0, TAU);
        let chroma = random.between(2.0, 50.0);
        let start = Lab::new(
            random.between(25.0, 85.0),
            chroma * hue.cos(),
            chroma * hue.sin(),
        );
        let rates = match kind {
            Kind::Nothing | Kind::Linear => [0.0; 2],
            Kind::Plateau => [random.by_factors(0.5, 8.0), 0.0],
            Kind::Power => [random.by_factors(0.4, 2.0), 0.0],
            Kind::Induction => [random.by_factors(0.5, 4.0), random.between(0.1, 0.35)],
            Kind::TwoPlateaus => [random.by_factors(4.0, 12.0), random.by_factors(0.3, 2.0)],
        };
        let mut patch = Self {
            start,
            last: random.by_factors(5.0, 3000.0),
            kind,
            rates,
            changes: [random.vector(), random.vector() * 0.7],
        };
        let size = random.by_factors(0.7, 12.0);
        for _ in 0..20 {
            let now = difference::delta_e_2000(start, moved(start, &patch.change(patch.last)));
            patch.changes = patch.changes.map(|it| it * (size / now));
        }
        patch
    }

    /// True change at a dose.
    pub(crate) fn change(&self, dose: f64) -> Vector3<f64> {
        let x = dose / self.last;
        let towards = |rate: f64, x: f64| -(-rate * x).exp_m1() / -(-rate).exp_m1();
        let [one, other] = self.rates;
        match self.kind {
            Kind::Nothing => Vector3::zeros(),
            Kind::Linear => self.changes[0] * x,
            Kind::Plateau => self.changes[0] * towards(one, x),
            Kind::Power => self.changes[0] * x.powf(one),
            Kind::Induction => self.changes[0] * towards(one, (x - other).max(0.0)),
            Kind::TwoPlateaus => {
                self.changes[0] * towards(one, x) + self.changes[1] * towards(other, x)
            }
        }
    }

    /// True dose at which ΔE00 first reaches a threshold, if by 1.5 times the furthest dose.
    pub(crate) fn dose(&self, threshold: f64) -> Option<f64> {
        let changed = |dose: f64| {
            difference::delta_e_2000(self.start, moved(self.start, &self.change(dose))) >= threshold
        };
        let steps = 600;
        let at = |step: u32| 1.5 * self.last * f64::from(step) / f64::from(steps);
        let step = (1..=steps).find(|it| changed(at(*it)))?;
        let (mut before, mut after) = (at(step - 1), at(step));
        for _ in 0..40 {
            let middle = f64::midpoint(before, after);
            if changed(middle) {
                after = middle;
            } else {
                before = middle;
            }
        }
        Some(after)
    }

    /// What is measured after so many exposures: noise of `sd` of each point's own, and what all share from dose 0.
    pub(crate) fn measured(&self, exposures: u32, sd: f64, random: &mut Random) -> Points {
        let sd_shared = sd * random.between(0.4, 1.0);
        let shared = random.covariance(sd_shared);
        let root = |it: &Matrix| it.cholesky().unwrap().l();
        let start_error = root(&shared) * random.vector();
        let bend = random.between(1.0, 1.8);
        let points = (1..=exposures)
            .map(|it| {
                let dose = self.last * (f64::from(it) / f64::from(exposures)).powf(bend);
                let covariance = random.covariance(sd);
                let noise = root(&covariance) * random.vector();
                Point {
                    dose,
                    change: (self.change(dose) + noise - start_error).into(),
                    covariance,
                }
            })
            .collect();
        Points {
            start: self.start,
            points,
            shared,
            scale: [0.0; 3],
            leak: 0.0,
        }
    }
}
