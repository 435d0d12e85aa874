//! Least squares on outlines: maps and poses are moved until predicted outlines lie on seen ones.

use crate::geometry::{PlaneMap, Point};
use nalgebra::{DMatrix, DVector, Vector2};

/// A place of an outline as it was seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Where the layout has it, millimetres.
    pub mm: Point,
    /// Where it was seen, pixels; meaningful across the outline only.
    pub at: Point,
    /// Unit normal of the outline, pixels.
    pub normal: Vector2<f64>,
}

impl Seen {
    /// Distance of the seen outline from the predicted, pixels.
    fn residual(&self, map: &PlaneMap) -> f64 {
        (map.map(self.mm) - self.at).dot(&self.normal)
    }
}

/// Root mean square of residuals, those beyond three times the median left out.
pub(super) fn rms(residuals: &[f64]) -> f64 {
    if residuals.is_empty() {
        return f64::INFINITY;
    }
    let far: Vec<f64> = residuals.iter().map(|it| it.abs()).collect();
    let limit = 3.0 * median(&far) + 1e-9;
    let kept: Vec<f64> = far.into_iter().filter(|it| *it <= limit).collect();
    (kept.iter().map(|it| it * it).sum::<f64>() / kept.len().max(1) as f64).sqrt()
}

/// Median; zero of nothing.
pub(super) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// Gauss–Newton on parameters, reweighted by Tukey's biweight; none if it gets nowhere.
///
/// `residuals` gives those of a parameter vector, as many each time; `steps` are the parameters' steps for the numeric derivative.
pub(super) fn solve(
    residuals: &dyn Fn(&[f64]) -> Option<Vec<f64>>,
    start: &[f64],
    steps: &[f64],
) -> Option<Vec<f64>> {
    let n = start.len();
    let mut now = start.to_vec();
    for _ in 0..6 {
        let here = residuals(&now)?;
        if here.len() < n {
            return None;
        }
        let spread = 1.4826 * median(&here.iter().map(|it| it.abs()).collect::<Vec<_>>());
        let limit = 4.685 * spread.max(0.05);
        let mut jacobian = DMatrix::<f64>::zeros(here.len(), n);
        let mut right = DVector::<f64>::zeros(here.len());
        let mut shifted = Vec::with_capacity(n);
        for k in 0..n {
            let mut moved = now.clone();
            moved[k] += steps[k];
            shifted.push(residuals(&moved)?);
        }
        for (row, it) in here.iter().enumerate() {
            let u = it / limit;
            if u.abs() >= 1.0 {
                continue;
            }
            // The square root of the biweight, since rows are squared.
            let weight = 1.0 - u * u;
            for (k, other) in shifted.iter().enumerate() {
                jacobian[(row, k)] = weight * (other[row] - it) / steps[k];
            }
            right[row] = -weight * it;
        }
        let mut normal = jacobian.transpose() * &jacobian;
        for k in 0..n {
            normal[(k, k)] *= 1.0 + 1e-9;
        }
        let step = normal.cholesky()?.solve(&(jacobian.transpose() * right));
        for (value, by) in now.iter_mut().zip(step.iter()) {
            *value += by;
        }
        if !now.iter().all(|it| it.is_finite()) {
            return None;
        }
    }
    Some(now)
}

/// Distances of seen outlines from those that a map predicts, pixels.
pub(super) fn residuals(map: &PlaneMap, seen: &[Seen]) -> Vec<f64> {
    seen.iter().map(|it| it.residual(map)).collect()
}

/// A homography moved onto seen outlines; its parameters are where the corners of `frame` fall.
pub(super) fn homography(start: &PlaneMap, frame: [Point; 4], seen: &[Seen]) -> Option<PlaneMap> {
    let radial = start.radial;
    let model = |it: &[f64]| {
        let to = [0, 1, 2, 3].map(|i| Point::new(it[2 * i], it[2 * i + 1]));
        PlaneMap::fit(&frame, &to).map(|map| PlaneMap { radial, ..map })
    };
    let plain = PlaneMap {
        radial: None,
        ..*start
    };
    let first: Vec<f64> = frame
        .iter()
        .flat_map(|it| {
            let p = plain.map(*it);
            [p.x, p.y]
        })
        .collect();
    let of = |it: &[f64]| model(it).map(|map| residuals(&map, seen));
    model(&solve(&of, &first, &[0.05; 8])?)
}
