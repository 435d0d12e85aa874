//! The least of a small quadratic form where variables have bounds and a sum that they may not exceed.

use super::MOST_PIGMENTS;
use crate::colour::Matrix;
use nalgebra::Vector3;

/// Where a step may go.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    /// How many of the three are variables; the rest stay.
    pub(super) count: usize,
    /// Least of each, ≤ 0.
    pub(super) lower: Vector3<f64>,
    /// Most of each, ≥ 0, infinite where there is none.
    pub(super) upper: Vector3<f64>,
    /// Most of their sum, ≥ 0.
    pub(super) sum: f64,
}

/// What arithmetic may leave behind.
const SLACK: f64 = 1e-12;

/// The step p with the least gᵀp + ½ pᵀHp within the bounds, for a positive definite H. No step where there is none.
///
/// Sets of bounds that may be active are tried until one is right: with three variables there are few.
///
/// # Source
/// The conditions of Karush, Kuhn and Tucker, which suffice for a convex form: J. Nocedal, S. Wright, *Numerical Optimization*, 2nd ed., 16.
pub(super) fn least(hessian: &Matrix, gradient: &Vector3<f64>, bounds: &Bounds) -> Vector3<f64> {
    let value = |step: &Vector3<f64>| gradient.dot(step) + 0.5 * step.dot(&(hessian * step));
    let mut best = (0.0, Vector3::zeros());
    for pattern in 0..3_usize.pow(u32::try_from(bounds.count).unwrap_or(0)) {
        let Some(face) = Face::of(pattern, bounds) else {
            continue;
        };
        let Some((step, ones)) = face.least(hessian, gradient) else {
            continue;
        };
        let over = step.sum() - bounds.sum;
        let price = over / ones.sum();
        let (step, price) = match (over <= 0.0, price.is_finite()) {
            (true, _) => (step, 0.0),
            (false, true) => (step - ones * price, price),
            (false, false) => continue,
        };
        if !within(&step, bounds) {
            continue;
        }
        let slope = gradient + hessian * step;
        if face.is_right(&slope, price) {
            return step;
        }
        // Where rounding hides which is right.
        let value = value(&step);
        if value < best.0 {
            best = (value, step);
        }
    }
    best.1
}

/// Which variables are at a bound.
struct Face {
    /// −1 at the lower, 1 at the upper, 0 free; 0 and held beyond the last variable.
    side: [i8; MOST_PIGMENTS],
    free: [bool; MOST_PIGMENTS],
    at: Vector3<f64>,
}

impl Face {
    /// None where a bound is not there.
    fn of(pattern: usize, bounds: &Bounds) -> Option<Self> {
        let mut face = Self {
            side: [0; MOST_PIGMENTS],
            free: [false; MOST_PIGMENTS],
            at: Vector3::zeros(),
        };
        let mut rest = pattern;
        for it in 0..bounds.count {
            (face.side[it], face.at[it]) = match rest % 3 {
                0 => (0, 0.0),
                1 => (-1, bounds.lower[it]),
                _ => (1, bounds.upper[it]),
            };
            face.free[it] = face.side[it] == 0;
            rest /= 3;
        }
        face.at.iter().all(|it| it.is_finite()).then_some(face)
    }

    /// The least on it, and how that moves with a price on the sum.
    fn least(
        &self,
        hessian: &Matrix,
        gradient: &Vector3<f64>,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let mut reduced = *hessian;
        let mut target = -(gradient + hessian * self.at);
        let mut ones = Vector3::repeat(1.0);
        for it in (0..MOST_PIGMENTS).filter(|it| !self.free[*it]) {
            for other in 0..MOST_PIGMENTS {
                reduced[(it, other)] = 0.0;
                reduced[(other, it)] = 0.0;
            }
            reduced[(it, it)] = 1.0;
            target[it] = 0.0;
            ones[it] = 0.0;
        }
        let inverse = reduced.try_inverse()?;
        Some((self.at + inverse * target, inverse * ones))
    }

    /// Whether it costs to leave every bound.
    fn is_right(&self, slope: &Vector3<f64>, price: f64) -> bool {
        (self.side.iter().zip(slope)).all(|(side, slope)| f64::from(*side) * (slope + price) <= 0.0)
    }
}

fn within(step: &Vector3<f64>, bounds: &Bounds) -> bool {
    step.sum() <= bounds.sum + SLACK
        && (0..bounds.count)
            .all(|it| (bounds.lower[it] - SLACK..=bounds.upper[it] + SLACK).contains(&step[it]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number() -> impl Strategy<Value = f64> {
        -1.0..1.0_f64
    }

    proptest! {
        /// Against points all over the allowed steps: none is lower.
        #[test]
        fn no_point_within_is_lower(
            entries in proptest::array::uniform9(number()),
            gradient in proptest::array::uniform3(number()),
            lower in proptest::array::uniform3(-0.5..0.0_f64),
            capped in proptest::array::uniform3(proptest::option::of(0.0..0.4_f64)),
            sum in 0.0..0.6_f64,
            count in 1..=3_usize,
        ) {
            let root = Matrix::from_row_slice(&entries);
            let hessian = root.transpose() * root + Matrix::identity() * 1e-3;
            let gradient = Vector3::from(gradient);
            let bounds = Bounds {
                count,
                lower: Vector3::from(lower),
                upper: Vector3::from(capped.map(|it| it.unwrap_or(f64::INFINITY))),
                sum,
            };
            let value = |step: &Vector3<f64>| gradient.dot(step) + 0.5 * step.dot(&(hessian * step));
            let found = least(&hessian, &gradient, &bounds);
            prop_assert!(within(&found, &bounds));
            let steps = 12_u32;
            let along = |it: usize, part: u32| {
                let most = bounds.upper[it].min(sum + 1.5);
                bounds.lower[it] + (most - bounds.lower[it]) * f64::from(part) / f64::from(steps)
            };
            for index in 0..13_u32.pow(3) {
                let parts = [index % 13, index / 13 % 13, index / 169];
                let point = Vector3::from_fn(|it, _| if it < count { along(it, parts[it]) } else { 0.0 });
                if within(&point, &bounds) {
                    prop_assert!(value(&found) <= value(&point) + 1e-9, "{found} {point}");
                }
            }
        }
    }
}
