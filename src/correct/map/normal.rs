//! Least squares in ΔE00 over the coefficients of a map, with a ridge towards the neutral solution.

use super::{ColourMap, Sighting, Terms};
use crate::colour::{Matrix, difference, lab};
use nalgebra::{DMatrix, DVector, Vector3};

/// A reference with its weight in the least squares.
pub(super) struct Point {
    xyz: Vector3<f64>,
    /// `d` XYZ to ΔE00²: dᵀ metric d.
    metric: Matrix,
}

impl Point {
    pub(super) fn of(sighting: &Sighting) -> Self {
        let xyz = lab::to_xyz(sighting.lab);
        let slope = lab::jacobian(xyz);
        // ΔE00 grows by Y^(−2/3) for a given error in XYZ. Dark surfaces are the least certain (flare, gloss,
        // quantisation; instruments differ most on them): Y^(−1/2) is left to them.
        let dark = xyz.y.max(0.0).powf(1.0 / 3.0);
        Self {
            xyz: Vector3::new(xyz.x, xyz.y, xyz.z),
            metric: slope.transpose() * difference::local_metric(sighting.lab) * slope * dark,
        }
    }
}

/// The normal equations of a ridge fit.
#[derive(Clone)]
pub(super) struct Normal {
    terms: Terms,
    gains: [f64; 3],
    /// The lower triangle is filled.
    matrix: DMatrix<f64>,
    right: DVector<f64>,
}

impl Normal {
    pub(super) fn of(
        terms: Terms,
        ridge: f64,
        to_xyz: &Matrix,
        gains: [f64; 3],
        sightings: &[Sighting],
        points: &[Point],
        weights: &[f64],
    ) -> Self {
        let n = terms.count();
        let mut right = DVector::<f64>::zeros(3 * n);
        for (j, row) in ColourMap::neutral(to_xyz, gains)
            .coefficients
            .iter()
            .enumerate()
        {
            for c in 0..3 {
                right[3 * j + c] = ridge * row[c];
            }
        }
        let mut normal = Self {
            terms,
            gains,
            matrix: DMatrix::from_diagonal_element(3 * n, 3 * n, ridge),
            right,
        };
        for ((sighting, point), weight) in sightings.iter().zip(points).zip(weights) {
            if *weight > 0.0 {
                normal.add(sighting, point, *weight);
            }
        }
        normal
    }

    /// Adds a reference with a weight; a negative one takes it away.
    pub(super) fn add(&mut self, sighting: &Sighting, point: &Point, weight: f64) {
        let balanced = [0, 1, 2].map(|c| sighting.rgb[c] * self.gains[c]);
        let f = self.terms.of(balanced);
        let pull = point.metric * point.xyz * weight;
        for j in 0..self.terms.count() {
            for c in 0..3 {
                self.right[3 * j + c] += f[j] * pull[c];
            }
            for k in 0..=j {
                let factor = weight * f[j] * f[k];
                for d in 0..3 {
                    for c in 0..3 {
                        self.matrix[(3 * j + c, 3 * k + d)] += factor * point.metric[(c, d)];
                    }
                }
            }
        }
    }

    pub(super) fn solve(self) -> Option<ColourMap> {
        let solution = self.matrix.cholesky()?.solve(&self.right);
        let coefficients = (0..self.terms.count())
            .map(|j| [solution[3 * j], solution[3 * j + 1], solution[3 * j + 2]])
            .collect();
        Some(ColourMap {
            gains: self.gains,
            terms: self.terms,
            coefficients,
        })
    }
}
