//! The light's polynomial from levels and slopes: robust least squares, held by what light usually does.

use super::look::{Seen, Surface};
use super::{TERMS, terms};
use crate::correct::robust;
use crate::sample::float;
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

pub(super) type Coefficients = SVector<f64, TERMS>;
pub(super) type Covariance = SMatrix<f64, TERMS, TERMS>;

/// What is supposed of the coefficients before anything is seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prior {
    pub(super) mean: Coefficients,
    pub(super) covariance: Covariance,
    /// Standard deviation of the change of light by that of its surroundings.
    pub(super) around: f64,
}

impl Prior {
    /// The same with the light free to go with its surroundings.
    pub(super) fn with_surroundings(&self) -> Self {
        Self {
            around: super::SURROUNDINGS,
            ..*self
        }
    }
}

/// One region as the fit takes it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Observation {
    pub(super) surface: Surface,
    /// Place in the coordinates of the polynomial.
    pub(super) at: [f64; 2],
    /// Log light; compared between stretches of substrate only.
    pub(super) level: f64,
    /// Change of log light by log value there: how the tone curve stretches noise.
    pub(super) stretch: f64,
    /// Slope of log light over the coordinates of the polynomial, with the inverse of its covariance.
    pub(super) slope: Option<(Vector2<f64>, Matrix2<f64>)>,
    /// Log light of the surroundings, up to a constant, and its slope over the same coordinates.
    pub(super) around: (f64, Vector2<f64>),
}

/// Two places with neutrals of like lightness: their colours are known, so what they differ by is the light.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tied {
    /// The terms of the one less those of the other.
    pub(super) row: Coefficients,
    /// Log light of the one less that of the other.
    pub(super) level: f64,
    pub(super) sd: f64,
}

impl Tied {
    /// Log light by which a tie may be off before it loses its say: a spot of glare on one of the cards.
    const FOREIGN: f64 = 0.05;

    fn weight(&self, coefficients: &Coefficients, unheard: bool) -> f64 {
        if unheard {
            return self.sd.powi(-2);
        }
        let off = self.level - self.row.dot(coefficients);
        robust::tukey(off / self.sd.hypot(Self::FOREIGN)) / (self.sd * self.sd)
    }
}

/// What a fit goes by.
#[derive(Clone, Debug)]
pub(super) struct Evidence {
    pub(super) observations: Vec<Observation>,
    pub(super) ties: Vec<Tied>,
}

/// A judged fit.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    pub(super) coefficients: Coefficients,
    pub(super) covariance: Covariance,
    /// Change of light by that of its surroundings, and its variance.
    pub(super) around: (f64, f64),
    /// Robust standard deviation of what is left between stretches of substrate.
    pub(super) between: f64,
    pub(super) weights: Weights,
}

/// How much everything counts.
#[derive(Clone, Debug, Default)]
pub(super) struct Weights {
    each: Vec<Weight>,
    /// Inverse variances.
    ties: Vec<f64>,
}

/// How much an observation counts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weight {
    /// Inverse variance of its level, in the file's log values.
    level: f64,
    /// Factor on the inverse covariance of its slope.
    slope: f64,
}

/// The normal equations.
struct Normal {
    matrix: SMatrix<f64, ALL, ALL>,
    right: SVector<f64, ALL>,
}

impl Normal {
    fn of(evidence: &Evidence, weights: &Weights, prior: &Prior) -> Self {
        let hold = prior
            .covariance
            .try_inverse()
            .unwrap_or_else(Covariance::identity);
        let mut normal = Self {
            matrix: SMatrix::zeros(),
            right: SVector::zeros(),
        };
        for i in 0..TERMS {
            for j in 0..TERMS {
                normal.matrix[(i, j)] = hold[(i, j)];
                normal.right[i] += hold[(i, j)] * prior.mean[j];
            }
        }
        // A trace keeps the level determined where there is no substrate.
        normal.matrix[(TERMS, TERMS)] = 1e-6;
        normal.matrix[(AROUND, AROUND)] = prior.around.powi(-2);
        normal.matrix[(SHELTER, SHELTER)] = AGED.powi(-2);
        for (it, weight) in evidence.observations.iter().zip(&weights.each) {
            normal.add(it, *weight);
        }
        for (it, weight) in evidence.ties.iter().zip(&weights.ties) {
            normal.tie(it, *weight);
        }
        normal
    }

    fn tie(&mut self, it: &Tied, weight: f64) {
        let row = SVector::<f64, ALL>::from_fn(|i, _| if i < TERMS { it.row[i] } else { 0.0 });
        self.matrix += row * row.transpose() * weight;
        self.right += row * (weight * it.level);
    }

    fn add(&mut self, it: &Observation, weight: Weight) {
        if it.surface.is_substrate() {
            let weight = weight.level / it.stretch.powi(2);
            let mut row = SVector::<f64, ALL>::zeros();
            row[TERMS] = 1.0;
            row[SHELTER] = it.sheltered();
            row[AROUND] = it.around.0;
            for (to, term) in row.iter_mut().zip(terms(it.at)) {
                *to = term;
            }
            self.matrix += row * row.transpose() * weight;
            self.right += row * (weight * it.level);
        }
        if let Some((slope, inverse)) = &it.slope {
            let [along_x, along_y] = gradient(it.at);
            let rows = SMatrix::<f64, ALL, 2>::from_fn(|term, axis| match (term, axis) {
                (TERMS | SHELTER, _) => 0.0,
                (AROUND, _) => it.around.1[axis],
                (_, 0) => along_x[term],
                _ => along_y[term],
            });
            let pull = rows * inverse * weight.slope;
            self.right += pull * slope;
            self.matrix += pull * rows.transpose();
        }
    }
}

/// Half the squared distance of observations from the polynomial that fits them best with these weights, and of that from what is
/// supposed.
pub(super) fn misfit(evidence: &Evidence, weights: &Weights, prior: &Prior) -> f64 {
    let normal = Normal::of(evidence, weights, prior);
    let Some(solution) = normal.matrix.cholesky().map(|it| it.solve(&normal.right)) else {
        return 0.0;
    };
    let coefficients: Coefficients = solution.fixed_rows::<TERMS>(0).into();
    let observations = &evidence.observations;
    let left = left(
        observations,
        &coefficients,
        [solution[TERMS], solution[AROUND], solution[SHELTER]],
    );
    let d = coefficients - prior.mean;
    let held = prior
        .covariance
        .cholesky()
        .map_or(0.0, |it| d.dot(&it.solve(&d)));
    let seen: f64 = observations
        .iter()
        .zip(&weights.each)
        .zip(&left.each)
        .map(|((it, weight), (level, distance))| {
            let of_level = if it.surface.is_substrate() {
                weight.level * (level / it.stretch).powi(2)
            } else {
                0.0
            };
            of_level + weight.slope * distance
        })
        .sum();
    let tied: f64 = (evidence.ties.iter().zip(&weights.ties))
        .map(|(it, weight)| weight * (it.level - it.row.dot(&coefficients)).powi(2))
        .sum();
    let held =
        held + (solution[AROUND] / prior.around).powi(2) + (solution[SHELTER] / AGED).powi(2);
    (seen + tied + held) / 2.0
}

/// The level of the substrate, the share of the surroundings and what shelter adds are the last unknowns.
const AROUND: usize = TERMS + 1;
/// What sheltered substrate has more than the rest.
const SHELTER: usize = TERMS + 2;
const ALL: usize = TERMS + 3;
/// Standard deviation of log light between sheltered substrate and the rest: larch darkens by half in a summer (from memory, no source).
const AGED: f64 = 0.5;
/// Rounds of reweighting, at most.
const ROUNDS: usize = 12;
/// Change of a coefficient in one round that is none.
const SETTLED: f64 = 1e-5;
/// Standard deviation of log light between stretches of a substrate before any is seen, and how many seen stretches that is worth.
const USUAL_BETWEEN: (f64, f64) = (0.02, 3.0);
/// Variance of slopes over that of independent parts before any is seen, and how many seen slopes that is worth: mottle and
/// the drift of a coat are smooth.
const USUAL_SMOOTH: (f64, f64) = (3.0, 6.0);
/// By what the variance of a stretch's level is raised, since neighbours share the grain of one board.
const SHARED_GRAIN: f64 = 2.0;
/// Median of χ² with two degrees of freedom.
const MEDIAN_2: f64 = 1.386_294;

/// The slopes of the terms by x and by y.
fn gradient([x, y]: [f64; 2]) -> [[f64; TERMS]; 2] {
    [[1.0, 0.0, 2.0 * x, y, 0.0], [0.0, 1.0, 0.0, x, 2.0 * y]]
}

/// Fits the polynomial.
pub(super) fn solve(evidence: &Evidence, prior: &Prior) -> Solved {
    let observations = &evidence.observations;
    let mut solved = Solved {
        coefficients: prior.mean,
        covariance: prior.covariance,
        around: (0.0, prior.around.powi(2)),
        between: USUAL_BETWEEN.0,
        weights: Weights::default(),
    };
    let level = median_level(observations, Surface::Substrate, &solved.coefficients);
    // Without the rest of the board there is nothing to have more than.
    let mut shelter = match (
        level,
        median_level(observations, Surface::Sheltered, &solved.coefficients),
    ) {
        (Some(level), Some(sheltered)) => sheltered - level,
        _ => 0.0,
    };
    let mut level = level.unwrap_or_default();
    for round in 0..ROUNDS {
        let left = left(
            observations,
            &solved.coefficients,
            [level, solved.around.0, shelter],
        );
        let between = usual(&left.levels);
        let smooth = [0, 1, 2].map(|class| smoothness(&left.slopes, class));
        let weights: Vec<Weight> = observations
            .iter()
            .zip(left.each)
            .map(|(it, (of_level, distance))| {
                let smooth = smooth[class(it.surface)];
                Weight {
                    level: robust::tukey(of_level / between) / SHARED_GRAIN
                        * (it.stretch / between).powi(2),
                    slope: robust::tukey((distance / smooth).sqrt() / 1.2) / smooth,
                }
            })
            .collect();
        let ties = evidence.ties.iter();
        let weights = Weights {
            each: weights,
            // At first it has its say: what is usual of light is no reason to take it for foreign.
            ties: ties
                .map(|it| it.weight(&solved.coefficients, round == 0))
                .collect(),
        };
        let normal = Normal::of(evidence, &weights, prior);
        let Some(inverse) = normal.matrix.cholesky().map(|it| it.inverse()) else {
            break;
        };
        let solution = inverse * normal.right;
        let coefficients: Coefficients = solution.fixed_rows::<TERMS>(0).into();
        let settled = (coefficients - solved.coefficients).amax() < SETTLED;
        level = solution[TERMS];
        shelter = solution[SHELTER];
        solved = Solved {
            coefficients,
            covariance: inverse.fixed_view::<TERMS, TERMS>(0, 0).into(),
            around: (solution[AROUND], inverse[(AROUND, AROUND)]),
            between,
            weights,
        };
        if settled {
            break;
        }
    }
    solved
}

fn class(surface: Surface) -> usize {
    match surface {
        Surface::Substrate | Surface::Sheltered => 0,
        Surface::Card => 1,
        Surface::Patch => 2,
    }
}

fn along(coefficients: &Coefficients, row: &[f64; TERMS]) -> f64 {
    (0..TERMS).map(|i| coefficients[i] * row[i]).sum()
}

/// None where nothing is of that surface.
fn median_level(
    observations: &[Observation],
    surface: Surface,
    coefficients: &Coefficients,
) -> Option<f64> {
    let own = observations.iter().filter(|it| it.surface == surface);
    let mut levels: Vec<f64> = own
        .map(|it| it.level - along(coefficients, &terms(it.at)))
        .collect();
    (!levels.is_empty()).then(|| robust::median(&mut levels))
}

/// What a fit leaves.
struct Left {
    /// Of levels of substrate.
    levels: Vec<f64>,
    /// Of slopes, as squared distances in their covariance, with the class of surface.
    slopes: Vec<(usize, f64)>,
    /// Both of each observation.
    each: Vec<(f64, f64)>,
}

fn left(
    observations: &[Observation],
    coefficients: &Coefficients,
    [level, around, shelter]: [f64; 3],
) -> Left {
    let mut left = Left {
        levels: Vec::new(),
        slopes: Vec::new(),
        each: Vec::new(),
    };
    for it in observations {
        let of_surroundings = around * it.around.0;
        let own = level + shelter * it.sheltered();
        let of_level = it.level - own - of_surroundings - along(coefficients, &terms(it.at));
        if it.surface.is_substrate() {
            left.levels.push(of_level);
        }
        let mut distance = 0.0;
        if let Some((slope, inverse)) = &it.slope {
            let rows = gradient(it.at);
            let of_light =
                Vector2::new(along(coefficients, &rows[0]), along(coefficients, &rows[1]));
            let d = slope - of_light - it.around.1 * around;
            distance = d.dot(&(*inverse * d));
            left.slopes.push((class(it.surface), distance));
        }
        left.each.push((of_level, distance));
    }
    left
}

/// Robust spread of the levels, with the degrees of freedom that the fit took.
fn between_of(levels: &[f64]) -> f64 {
    let n = float(levels.len());
    robust::sigma(levels) * (n / (n - 3.0).max(1.0)).sqrt()
}

/// The same held by what is usual.
fn usual(levels: &[f64]) -> f64 {
    let (usual, worth) = USUAL_BETWEEN;
    let n = float(levels.len());
    let seen = if levels.len() > 3 {
        between_of(levels)
    } else {
        usual
    };
    ((n * seen * seen + worth * usual * usual) / (n + worth)).sqrt()
}

fn smoothness(slopes: &[(usize, f64)], class: usize) -> f64 {
    let mut distances: Vec<f64> = slopes
        .iter()
        .filter(|it| it.0 == class)
        .map(|it| it.1)
        .collect();
    let (usual, worth) = USUAL_SMOOTH;
    let n = float(distances.len());
    (robust::median(&mut distances) / MEDIAN_2 * n + usual * worth) / (n + worth)
}

impl Observation {
    /// Share of what shelter adds to the level.
    fn sheltered(&self) -> f64 {
        if self.surface == Surface::Sheltered {
            1.0
        } else {
            0.0
        }
    }

    /// The part of a look that `value` makes of its three channels.
    pub(super) fn of(
        surface: Surface,
        at: [f64; 2],
        scale: f64,
        (around, slope): (f64, Vector2<f64>),
        seen: &Seen,
        value: impl Fn([f64; 3]) -> f64,
    ) -> Self {
        Self {
            surface,
            at,
            around: (around, slope * scale),
            level: value(seen.level),
            stretch: seen.stretch,
            slope: seen.slope.and_then(|(log, covariance)| {
                let along = |axis: usize| value(log.map(|it| it[axis])) * scale;
                let inverse = (covariance * (scale * scale)).try_inverse()?;
                Some((Vector2::new(along(0), along(1)), inverse))
            }),
        }
    }
}
