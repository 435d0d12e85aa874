//! What grows with the dose, of something that is also off by the same at every dose.

use crate::sample::float;
use nalgebra::Vector3;

/// A straight line over the square root of the dose: most changes are fast at first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Trend {
    /// Change by the furthest dose.
    last: Vector3<f64>,
    furthest: f64,
    /// Variance of `last` if each point has the variance 1.
    pub(super) leverage: f64,
}

/// Fewest doses that tell growth from an offset.
const ENOUGH: usize = 3;

/// From doses (> 0) with what is seen there; none with fewer than three doses, or where they are too alike.
pub(super) fn of(points: &[(f64, Vector3<f64>)]) -> Option<Trend> {
    let furthest = points.iter().map(|it| it.0).fold(0.0, f64::max);
    if points.len() < ENOUGH || furthest <= 0.0 || !furthest.is_finite() {
        return None;
    }
    let n = float(points.len());
    let x = |dose: f64| (dose / furthest).sqrt();
    let middle = points.iter().map(|it| x(it.0)).sum::<f64>() / n;
    let spread: f64 = points.iter().map(|it| (x(it.0) - middle).powi(2)).sum();
    let pull: Vector3<f64> = points.iter().map(|it| it.1 * (x(it.0) - middle)).sum();
    (spread > 0.05).then(|| Trend {
        last: pull / spread,
        furthest,
        leverage: 1.0 / spread,
    })
}

impl Trend {
    /// What has grown by a dose.
    pub(super) fn at(&self, dose: f64) -> Vector3<f64> {
        self.last * (dose / self.furthest).sqrt()
    }

    /// What has grown by the furthest dose.
    pub(super) fn last(&self) -> Vector3<f64> {
        self.last
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_is_no_growth_and_growth_comes_back() {
        let still = Vector3::new(1.0, -2.0, 0.5);
        let grown = Vector3::new(0.0, 0.3, 2.0);
        let points: Vec<_> = [100.0, 400.0, 900.0]
            .map(|dose: f64| (dose, still + grown * (dose / 900.0).sqrt()))
            .into();
        let trend = of(&points).unwrap();
        assert!((trend.last() - grown).amax() < 1e-12);
        assert!((trend.at(225.0) - grown / 2.0).amax() < 1e-12);
        assert!(of(&points[..2]).is_none());
        assert!(of(&[points[0]; 4]).is_none());
    }
}
