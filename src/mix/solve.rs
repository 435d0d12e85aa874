//! The pigments that their trials make likeliest, and how sure of them the trials leave one.
//!
//! Lab of every trial = film(ln k, ln s) + what the model can't say + noise. All three are Gaussian, the film after it is made straight at
//! the present guess; so the guess moves to the mean that the trials leave of it, until it stays (Gauss and Newton's method, in the form
//! that solves for as many unknowns as there are measured values, not as there are bands).
//!
//! # Source
//! A. Tarantola, *Inverse Problem Theory*, SIAM 2005, § 3.4: the nonlinear least-squares problem in data space.

use super::bands::{BANDS, Spectrum};
use super::model::Optics;
use super::prior::{K_LEVEL, Logs, Over, Prior};
use super::sight::{self, ByPigment, Sight};
use super::start;
use crate::colour::{Lab, Matrix};
use nalgebra::{DMatrix, DVector, Vector3};

/// A trial as the solver takes it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Datum {
    /// Which of the unknown pigments, grams per square metre.
    pub(super) parts: Vec<(usize, f64)>,
    /// Mixed coating, grams per square metre.
    pub(super) mixed: f64,
    /// Which ground.
    pub(super) ground: usize,
    pub(super) lab: Vector3<f64>,
    /// Covariance of the measured colour alone.
    pub(super) noise: Matrix,
    /// Symmetric square root of that covariance as stated.
    pub(super) root: Matrix,
}

/// What is known beside the pigments.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting<'a> {
    pub(super) coating: &'a Optics,
    pub(super) grounds: &'a [Spectrum],
    pub(super) priors: &'a [&'a Prior],
}

/// ln k and ln s of a pigment.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Logged {
    pub(super) k: Logs,
    pub(super) s: Logs,
}

impl Logged {
    fn nothing() -> Self {
        Self {
            k: Logs::zeros(),
            s: Logs::zeros(),
        }
    }

    /// Before any trial.
    pub(super) fn before(s_level: f64) -> Self {
        Self {
            k: Logs::repeat(K_LEVEL),
            s: Logs::repeat(s_level),
        }
    }
}

/// The end of the way.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Solved {
    pub(super) pigments: Vec<Guess>,
    /// Trial by trial, at the end.
    pub(super) sights: Vec<Sight>,
    /// Slopes times the prior, by trial and its part.
    pub(super) reach: Vec<Vec<ByPigment>>,
    /// Inverse of the covariance that the measured values have before any of them is known.
    pub(super) inverse: DMatrix<f64>,
    /// That times what they are off from what was thought.
    pub(super) pull: DVector<f64>,
}

/// How far a descent is followed.
#[derive(Clone, Copy, Debug)]
struct Patience {
    /// Most steps.
    steps: usize,
    /// A step that changes no trial by more than this, ΔE, is the last.
    still: f64,
}

/// To tell starts apart.
const SCOUTING: Patience = Patience {
    steps: 10,
    still: 0.1,
};
/// To the end.
const FINAL: Patience = Patience {
    steps: 40,
    still: 1e-3,
};
/// The shortest part of a step.
const SHORTEST: f64 = 1e-3;

/// `doubt` is the covariance of noise and of what the model can't say, over all trials' Lab values. `None` only if that is no covariance.
///
/// Dark trials alone fit many films nearly as well, and the way from one to the next leads over a hill: so several starts, and of where they
/// end, the likeliest.
pub(super) fn solve(
    setting: Setting<'_>,
    data: &[Datum],
    start: Option<Vec<Guess>>,
    doubt: &dyn Fn(&[Sight]) -> DMatrix<f64>,
) -> Option<Solved> {
    let start = match start {
        Some(it) => it,
        None => {
            let ends: Option<Vec<End>> = (start::guesses(setting, data, doubt)?.into_iter())
                .map(|it| descend(setting, data, it, SCOUTING, doubt))
                .collect();
            let ends = ends?.into_iter();
            ends.min_by(|a, b| a.cost.total_cmp(&b.cost))?.at
        }
    };
    let best = descend(setting, data, start, FINAL, doubt)?;
    let step = Step::from(setting, data, &best.at, &best.sights, doubt(&best.sights))?;
    Some(Solved {
        pigments: best.at,
        sights: best.sights,
        reach: step.reach,
        inverse: step.inverse,
        pull: step.pull,
    })
}

/// Where a descent ends.
struct End {
    at: Vec<Guess>,
    sights: Vec<Sight>,
    cost: f64,
}

/// Twice the negative logarithm of the likelihood, but for a constant; lower is better.
pub(super) fn cost(data: &[Datum], at: &[Guess], sights: &[Sight], weight: &DMatrix<f64>) -> f64 {
    let off = off(data, sights);
    off.dot(&(weight * &off)) + at.iter().map(Guess::unlikely).sum::<f64>()
}

fn descend(
    setting: Setting<'_>,
    data: &[Datum],
    mut at: Vec<Guess>,
    patience: Patience,
    doubt: &dyn Fn(&[Sight]) -> DMatrix<f64>,
) -> Option<End> {
    let mut sights = look(setting, data, &at);
    let mut last = f64::INFINITY;
    for _ in 0..patience.steps {
        let doubts = doubt(&sights);
        let weight = doubts.clone().cholesky()?.inverse();
        let step = Step::from(setting, data, &at, &sights, doubts)?;
        let before = cost(data, &at, &sights, &weight);
        let mut part = 1.0;
        let (there, seen) = loop {
            let there: Vec<Guess> = (at.iter().zip(&step.to))
                .map(|(a, b)| a.towards(b, part))
                .collect();
            let seen = look(setting, data, &there);
            last = cost(data, &there, &seen, &weight);
            if part < SHORTEST || last <= before {
                break (there, seen);
            }
            part /= 2.0;
        };
        let moved = sights.iter().zip(&seen);
        let moved = moved.map(|(a, b)| (vector(a.lab) - vector(b.lab)).norm());
        let most = moved.fold(0.0, f64::max);
        at = there;
        sights = seen;
        if most < patience.still {
            break;
        }
    }
    Some(End {
        at,
        sights,
        cost: last,
    })
}

/// A guess, and what it is off from the prior's mean: the prior's covariance times `by`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Guess {
    pub(super) logs: Logged,
    by: Logged,
    s_level: f64,
}

impl Guess {
    pub(super) fn begin(prior: &Prior) -> Self {
        Self {
            logs: Logged::before(prior.s_level),
            by: Logged::nothing(),
            s_level: prior.s_level,
        }
    }

    /// Moves the levels of ln k and ln s, as easily as the prior allows.
    pub(super) fn shift(&mut self, prior: &Prior, k: f64, s: f64) {
        let mean = |it: &Over| it.sum() / BANDS as f64;
        self.by.k.add_scalar_mut(k / mean(&prior.k));
        self.by.s.add_scalar_mut(s / mean(&prior.s));
        let before = Logged::before(prior.s_level);
        self.logs.k = before.k + prior.k * self.by.k;
        self.logs.s = before.s + prior.s * self.by.s;
    }

    /// As far from what another prior of the same spread has.
    pub(super) fn with(&self, prior: &Prior) -> Self {
        let before = Logged::before(prior.s_level);
        Self {
            logs: Logged {
                k: before.k + prior.k * self.by.k,
                s: before.s + prior.s * self.by.s,
            },
            by: self.by.clone(),
            s_level: prior.s_level,
        }
    }

    fn towards(&self, other: &Self, part: f64) -> Self {
        Self {
            logs: self.logs.towards(&other.logs, part),
            by: self.by.towards(&other.by, part),
            s_level: self.s_level,
        }
    }

    /// Squared distance from the prior's mean, in its own measure.
    fn unlikely(&self) -> f64 {
        let before = Logged::before(self.s_level);
        self.by.k.dot(&(self.logs.k - before.k)) + self.by.s.dot(&(self.logs.s - before.s))
    }
}

impl Logged {
    fn towards(&self, other: &Self, part: f64) -> Self {
        Self {
            k: self.k + (other.k - self.k) * part,
            s: self.s + (other.s - self.s) * part,
        }
    }
}

/// L*, a*, b* as a vector.
pub(super) fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}

pub(super) fn look(setting: Setting<'_>, data: &[Datum], at: &[Guess]) -> Vec<Sight> {
    let logs = |slot: usize| &at[slot].logs;
    data.iter()
        .map(|it| {
            let parts = it.parts.iter();
            let parts = parts.map(|(slot, amount)| (&logs(*slot).k, &logs(*slot).s, *amount));
            let ground = &setting.grounds[it.ground];
            sight::look(setting.coating, it.mixed, parts, ground)
        })
        .collect()
}

fn off(data: &[Datum], sights: &[Sight]) -> DVector<f64> {
    let mut out = DVector::zeros(3 * data.len());
    for (i, (datum, sight)) in data.iter().zip(sights).enumerate() {
        let off = datum.lab - vector(sight.lab);
        out.fixed_rows_mut::<3>(3 * i).copy_from(&off);
    }
    out
}

struct Step {
    to: Vec<Guess>,
    reach: Vec<Vec<ByPigment>>,
    inverse: DMatrix<f64>,
    pull: DVector<f64>,
}

impl Step {
    fn from(
        setting: Setting<'_>,
        data: &[Datum],
        at: &[Guess],
        sights: &[Sight],
        doubt: DMatrix<f64>,
    ) -> Option<Self> {
        let reach: Vec<Vec<ByPigment>> = data
            .iter()
            .zip(sights)
            .map(|(datum, sight)| {
                datum
                    .parts
                    .iter()
                    .zip(&sight.pigments)
                    .map(|((slot, _), by)| spread(by, setting.priors[*slot]))
                    .collect()
            })
            .collect();
        let mut whole = doubt;
        for (i, one) in data.iter().enumerate() {
            for (j, other) in data.iter().enumerate().take(i + 1) {
                let block = shared(&one.parts, &reach[i], &other.parts, &sights[j].pigments);
                let mut view = whole.fixed_view_mut::<3, 3>(3 * i, 3 * j);
                view += block;
                if i != j {
                    let mut view = whole.fixed_view_mut::<3, 3>(3 * j, 3 * i);
                    view += block.transpose();
                }
            }
        }
        let before = |slot: usize| Logged::before(setting.priors[slot].s_level);
        let mut off = off(data, sights);
        for (i, (datum, sight)) in data.iter().zip(sights).enumerate() {
            for ((slot, _), by) in datum.parts.iter().zip(&sight.pigments) {
                let (logs, before) = (&at[*slot].logs, before(*slot));
                let known = by.k * (logs.k - before.k) + by.s * (logs.s - before.s);
                let mut view = off.fixed_rows_mut::<3>(3 * i);
                view += known;
            }
        }
        let inverse = whole.cholesky()?.inverse();
        let pull = &inverse * off;
        let mut by = vec![Logged::nothing(); at.len()];
        for (i, (datum, sight)) in data.iter().zip(sights).enumerate() {
            let own = pull.fixed_rows::<3>(3 * i);
            for ((slot, _), slopes) in datum.parts.iter().zip(&sight.pigments) {
                by[*slot].k += slopes.k.transpose() * own;
                by[*slot].s += slopes.s.transpose() * own;
            }
        }
        let to = (by.into_iter().zip(setting.priors).enumerate())
            .map(|(slot, (by, prior))| Guess {
                logs: Logged {
                    k: before(slot).k + prior.k * by.k,
                    s: before(slot).s + prior.s * by.s,
                },
                by,
                s_level: prior.s_level,
            })
            .collect();
        Some(Self {
            to,
            reach,
            inverse,
            pull,
        })
    }
}

/// Slopes times the prior's covariance.
pub(super) fn spread(by: &ByPigment, prior: &Prior) -> ByPigment {
    ByPigment {
        k: by.k * prior.k,
        s: by.s * prior.s,
    }
}

/// Covariance of two coats' colours by the pigments that they share: `spread` of one, slopes of the other.
pub(super) fn shared<S: Copy + PartialEq>(
    parts: &[(S, f64)],
    spread: &[ByPigment],
    other: &[(S, f64)],
    slopes: &[ByPigment],
) -> Matrix {
    let mut out = Matrix::zeros();
    for ((slot, _), one) in parts.iter().zip(spread) {
        for ((there, _), two) in other.iter().zip(slopes) {
            if slot == there {
                out += one.k * two.k.transpose() + one.s * two.s.transpose();
            }
        }
    }
    out
}
