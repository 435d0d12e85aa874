//! Directions within a film: cosines and weights for light that a surface of some index of refraction lets out or throws back.

use std::f64::consts::FRAC_1_SQRT_2;

/// Directions of one hemisphere, by the cosine with the normal.
///
/// Half of them lie beyond the critical angle (Gauss's rule), half within it and among them the normal itself (Radau's), so that what a
/// surface throws back wholly and what it lets out are never in one sum. The last is that of a beam that came in at 45°, with a weight
/// that adds nothing.
#[derive(Clone, Debug)]
pub(crate) struct Angles<const N: usize> {
    /// Cosines.
    pub(crate) mu: [f64; N],
    /// Share of a diffuse flux that each carries: 2 µ times the rule's weight; they sum to 1.
    pub(crate) share: [f64; N],
    /// Reflectance of the surface for light from within.
    pub(crate) thrown_back: [f64; N],
    /// Index of refraction.
    pub(crate) index: f64,
}

/// Weight of the beam's direction.
const NOTHING: f64 = 1e-12;

impl<const N: usize> Angles<N> {
    /// The direction along the normal, and that of the beam.
    pub(crate) const NORMAL: usize = N - 2;
    pub(crate) const BEAM: usize = N - 1;
    /// Directions of each half, and the terms of a phase function that their rules integrate without error.
    const HALF: usize = (N - 1) / 2;
    pub(crate) const TERMS: usize = 2 * Self::HALF - 1;

    /// For a coating of this index of refraction, > 1; N is odd.
    pub(crate) fn of(index: f64) -> Self {
        let critical = (1.0 - index.powi(-2)).sqrt();
        let mut mu = [0.0; N];
        let mut share = [0.0; N];
        let mut put = |place: usize, low: f64, high: f64, (x, weight): (f64, f64)| {
            mu[place] = low + (high - low) * (x + 1.0) / 2.0;
            share[place] = 2.0 * mu[place] * weight * (high - low) / 2.0;
        };
        for (i, node) in gauss(Self::HALF).into_iter().enumerate() {
            put(i, 0.0, critical, node);
        }
        for (i, node) in radau(Self::HALF).into_iter().enumerate() {
            put(Self::HALF + i, critical, 1.0, node);
        }
        mu[Self::BEAM] = (1.0 - (FRAC_1_SQRT_2 / index).powi(2)).sqrt();
        share[Self::BEAM] = NOTHING;
        Self {
            mu,
            share,
            thrown_back: mu.map(|mu| fresnel(index, mu)),
            index,
        }
    }
}

/// Reflectance of unpolarised light from within a medium of this index against air, by the cosine within.
///
/// # Source
/// Fresnel's equations.
pub(crate) fn fresnel(index: f64, mu: f64) -> f64 {
    let sine = index * (1.0 - mu * mu).max(0.0).sqrt();
    if sine >= 1.0 {
        return 1.0;
    }
    let out = (1.0 - sine * sine).sqrt();
    let across = (index * mu - out) / (index * mu + out);
    let along = (mu - index * out) / (mu + index * out);
    f64::midpoint(across * across, along * along)
}

/// Legendre's polynomials 0 … `top` at x.
pub(crate) fn legendre(top: usize, x: f64) -> Vec<f64> {
    let mut all = vec![1.0, x];
    for l in 2..=top {
        let n = crate::spectrum::as_f64(l);
        all.push(((2.0 * n - 1.0) * x * all[l - 1] - (n - 1.0) * all[l - 2]) / n);
    }
    all.truncate(top + 1);
    all
}

/// Roots of a function on −1…1, found by its changes of sign and halving.
fn roots(of: impl Fn(f64) -> f64) -> Vec<f64> {
    const CELLS: u32 = 4000;
    let at = |cell: u32| -1.0 + 2.0 * (f64::from(cell) + 0.37) / f64::from(CELLS);
    (0..CELLS - 1)
        .filter(|&i| of(at(i)) * of(at(i + 1)) < 0.0)
        .map(|i| {
            let (mut low, mut high) = (at(i), at(i + 1));
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if of(low) * of(middle) <= 0.0 {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            f64::midpoint(low, high)
        })
        .collect()
}

/// Gauss's rule on −1…1: nodes and weights.
fn gauss(n: usize) -> Vec<(f64, f64)> {
    let order = crate::spectrum::as_f64(n);
    roots(|x| legendre(n, x)[n])
        .into_iter()
        .map(|x| {
            let all = legendre(n, x);
            let slope = order * (x * all[n] - all[n - 1]) / (x * x - 1.0);
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// Radau's rule on −1…1 with the node 1, which is last: nodes and weights.
fn radau(n: usize) -> Vec<(f64, f64)> {
    let order = crate::spectrum::as_f64(n);
    let mut all: Vec<(f64, f64)> = roots(|x| {
        let all = legendre(n, x);
        (all[n - 1] - all[n]) / (1.0 - x)
    })
    .into_iter()
    .map(|x| {
        let before = legendre(n, x)[n - 1];
        (x, (1.0 + x) / (order * before).powi(2))
    })
    .collect();
    all.push((1.0, 2.0 / (order * order)));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_integrate_polynomials() {
        for n in 2..=8 {
            for (rule, exact_to) in [(gauss(n), 2 * n - 1), (radau(n), 2 * n - 2)] {
                assert_eq!(rule.len(), n);
                for power in 0..=exact_to {
                    let sum: f64 = rule
                        .iter()
                        .map(|(x, w)| w * x.powi(i32::try_from(power).expect("small")))
                        .sum();
                    let exact = if power % 2 == 0 {
                        2.0 / (crate::spectrum::as_f64(power) + 1.0)
                    } else {
                        0.0
                    };
                    assert!((sum - exact).abs() < 1e-12, "{n} {power}: {sum}");
                }
            }
        }
    }

    /// Handbooks: 4 % along the normal and 59.6 % of diffuse light for n = 1.5, 5.02 % at 45° outside.
    #[test]
    fn the_surface_is_the_one_in_handbooks() {
        let angles = Angles::<21>::of(1.5);
        assert!((angles.share.iter().sum::<f64>() - 1.0).abs() < 1e-8);
        assert!((angles.thrown_back[Angles::<21>::NORMAL] - 0.04).abs() < 1e-12);
        assert!((angles.thrown_back[Angles::<21>::BEAM] - 0.050_24).abs() < 1e-5);
        let diffuse: f64 = (angles.share.iter().zip(&angles.thrown_back))
            .map(|(share, r)| share * r)
            .sum();
        assert!((diffuse - 0.5963).abs() < 2e-4, "{diffuse}");
    }
}
