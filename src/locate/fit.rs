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

/// Steps that a fit takes.
const STEPS: usize = 6;
/// Of these, those of a rough start that leave out nothing.
const PATIENT: usize = 3;

/// What a fit starts from, and what lies around.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Start {
    /// Near the truth, and beside it lie other edges, as a board's beside a card: what is far off is one of these.
    Near,
    /// As regions had it, one of which may be cut short: all of a side may be off by more than the rest, and still be right. Left out, nothing would hold the
    /// map there. So nothing is, until the map had time to give way.
    Rough,
}

/// Where the weights begin to fall, and where nothing is left of them, in standard deviations.
const TUNED: (f64, f64) = (1.345, 4.685);
/// Least standard deviation, pixels.
const LEAST_SPREAD: f64 = 0.05;

/// Gauss–Newton on parameters, reweighted by Tukey's biweight, at first by Huber's weights where the start is rough; none if it gets nowhere.
///
/// `residuals` gives those of a parameter vector, as many each time; `steps` are the parameters' steps for the numeric derivative.
///
/// # Source
/// Weights and their constants, and that weights which fall to nothing want a good start: P. J. Huber, E. M. Ronchetti, *Robust Statistics*, Wiley 2009,
/// chapters 4 and 7, from memory.
pub(super) fn solve(
    residuals: &dyn Fn(&[f64]) -> Option<Vec<f64>>,
    (from, start): (&[f64], Start),
    steps: &[f64],
) -> Option<Vec<f64>> {
    let n = from.len();
    let mut now = from.to_vec();
    for turn in 0..STEPS {
        let here = residuals(&now)?;
        if here.len() < n {
            return None;
        }
        let spread = 1.4826 * median(&here.iter().map(|it| it.abs()).collect::<Vec<_>>());
        let far = |it: f64| it.abs() / spread.max(LEAST_SPREAD);
        let mut jacobian = DMatrix::<f64>::zeros(here.len(), n);
        let mut right = DVector::<f64>::zeros(here.len());
        let mut shifted = Vec::with_capacity(n);
        for k in 0..n {
            let mut moved = now.clone();
            moved[k] += steps[k];
            shifted.push(residuals(&moved)?);
        }
        for (row, it) in here.iter().enumerate() {
            // Square roots, since rows are squared.
            let weight = if start == Start::Rough && turn < PATIENT {
                (TUNED.0 / far(*it)).sqrt().min(1.0)
            } else {
                1.0 - (far(*it) / TUNED.1).powi(2)
            };
            if weight <= 0.0 {
                continue;
            }
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
pub(super) fn homography(
    (from, start): (&PlaneMap, Start),
    frame: [Point; 4],
    seen: &[Seen],
) -> Option<PlaneMap> {
    let radial = from.radial;
    let model = |it: &[f64]| {
        let to = [0, 1, 2, 3].map(|i| Point::new(it[2 * i], it[2 * i + 1]));
        PlaneMap::fit(&frame, &to).map(|map| PlaneMap { radial, ..map })
    };
    let plain = PlaneMap {
        radial: None,
        ..*from
    };
    let first: Vec<f64> = frame
        .iter()
        .flat_map(|it| {
            let p = plain.map(*it);
            [p.x, p.y]
        })
        .collect();
    let of = |it: &[f64]| model(it).map(|map| residuals(&map, seen));
    model(&solve(&of, (&first, start), &[0.05; 8])?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use nalgebra::Matrix3;

    /// The half sides of six patches in a row, as a map shows them.
    fn row(map: &PlaneMap) -> Vec<Seen> {
        let mut out = Vec::new();
        for k in 0..6 {
            let rect = Rect {
                x: 70.0 * f64::from(k),
                y: 0.0,
                width: 64.0,
                height: 70.0,
            };
            let corners = rect.corners();
            for i in 0..4 {
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                for t in [0.25, 0.75] {
                    let along = (map.map(b) - map.map(a)).normalize();
                    let mm = a + (b - a) * t;
                    out.push(Seen {
                        mm,
                        at: map.map(mm),
                        normal: Vector2::new(along.y, -along.x),
                    });
                }
            }
        }
        out
    }

    const FRAME: Rect = Rect {
        x: 0.0,
        y: 0.0,
        width: 414.0,
        height: 70.0,
    };

    #[test]
    fn a_long_side_that_starts_off_is_no_outlier() {
        let truth = PlaneMap::new(Matrix3::new(
            1.1, 0.02, 60.0, -0.02, 1.05, 80.0, 1e-5, 1e-5, 1.0,
        ));
        // One region that is narrower than its patch draws that side in by three pixels.
        let start = PlaneMap::new(
            truth.homography * Matrix3::new_nonuniform_scaling(&Vector2::new(1.0, 0.96)),
        );
        let mut seen = row(&truth);
        for (k, it) in (0_u8..).zip(&mut seen) {
            it.at += it.normal * (0.4 * (f64::from(k) * 2.4).sin());
        }
        let off = |map: &PlaneMap| {
            let corners = FRAME.corners();
            let far = corners.iter().map(|p| (map.map(*p) - truth.map(*p)).norm());
            far.fold(0.0, f64::max)
        };
        assert!(off(&start) > 2.5, "{}", off(&start));
        let found = homography((&start, Start::Rough), FRAME.corners(), &seen).unwrap();
        assert!(off(&found) < 0.5, "{}", off(&found));
        // What lies far off, here and there, still counts for nothing.
        for it in seen.iter_mut().step_by(7) {
            it.at += it.normal * 5.0;
        }
        let found = homography((&start, Start::Rough), FRAME.corners(), &seen).unwrap();
        assert!(off(&found) < 0.5, "{}", off(&found));
    }
}
