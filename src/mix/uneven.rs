//! How uneven a pigment's spectra are, by its own trials.
//!
//! Beforehand spectra of absorption and scattering are taken for smooth and of a usual unevenness. Some pigments have a far steeper flank or a narrower window
//! than most, and what their films show of it shows that they do in bands of which films say nothing, too: mixtures then bring it to light. So how uneven
//! a pigment is, beside the usual, is told by how likely its trials are with each, and what they leave open is as much wider or narrower.
//!
//! # Source
//! Marginal likelihood of a Gaussian process: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning*, MIT Press 2006, eq. 5.8; the mean
//! over what is left of a variance: common practice, no source.

use super::prior;
use super::solve::{Datum, Solved, shared, spread};
use nalgebra::DMatrix;

/// What is thought of the logarithm of the variance of shapes beforehand, beside the usual: one standard deviation, a factor of 1.6 in shapes. A choice, no
/// source; with 1.5 nothing changes to speak of.
const SD: f64 = 1.0;

/// Which of [`prior::uneven`] is nearest to what trials leave of it on average; none where their covariance is none.
pub(super) fn told(solved: &Solved, data: &[Datum]) -> Option<usize> {
    let whole = solved.inverse.clone().cholesky()?.inverse();
    let off = &whole * &solved.pull;
    let shapes = shapes(solved, data);
    let likely: Vec<f64> = (0..prior::SIZES)
        .map(|size| {
            let times = prior::times(size);
            let whole = (&whole + &shapes * (times - 1.0)).cholesky()?;
            let far = off.dot(&whole.solve(&off)) + whole.ln_determinant();
            let before = (times.ln() / SD).powi(2);
            Some(-(far + before) / 2.0)
        })
        .collect::<Option<_>>()?;
    let most = likely.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = likely.iter().map(|it| (it - most).exp());
    let (mut whole, mut sum) = (0.0, 0.0);
    for (size, weight) in weights.enumerate() {
        whole += weight;
        sum += weight * prior::times(size);
    }
    let mean = (sum / whole).ln();
    let away = |size: &usize| (prior::times(*size).ln() - mean).abs();
    (0..prior::SIZES).min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// What trials are off by together by the shapes of their pigments' spectra, of usual unevenness.
fn shapes(solved: &Solved, data: &[Datum]) -> DMatrix<f64> {
    let n = data.len();
    let mut out = DMatrix::zeros(3 * n, 3 * n);
    for (i, (one, here)) in data.iter().zip(&solved.sights).enumerate() {
        let reach: Vec<_> = (here.pigments.iter())
            .map(|by| spread(by, prior::shapes()))
            .collect();
        for (j, (other, there)) in data.iter().zip(&solved.sights).enumerate() {
            let block = shared(&one.parts, &reach, &other.parts, &there.pigments);
            out.fixed_view_mut::<3, 3>(3 * i, 3 * j).copy_from(&block);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::bands::BANDS;
    use super::super::fit;
    use super::super::made::{coat, materials, shelf, trial_of};
    use super::super::model::Model;
    use super::super::prior::{nm, uneven, usual};
    use super::*;

    #[test]
    fn levels_are_as_open_however_uneven_shapes_are() {
        for size in [0, prior::SIZES / 2, prior::SIZES - 1] {
            let (it, times) = (uneven(size), prior::times(size));
            for (own, usual) in [(&it.k, &usual().k), (&it.s, &usual().s)] {
                let shape = |of: &prior::Over| of[(0, 0)] + of[(20, 20)] - 2.0 * of[(0, 20)];
                assert!((shape(own) / shape(usual) - times).abs() < 1e-9);
            }
        }
        assert!((prior::times(prior::SIZES / 2) - 1.0).abs() < 1e-12);
        assert!(prior::times(0) < 0.18 && prior::times(prior::SIZES - 1) > 5.6);
    }

    /// Red and blue, and of red's absorption the logarithm made so much steeper.
    fn with_red(steeper: f64) -> (Model, Model) {
        let mut truth = materials();
        let red = truth.pigments.iter_mut().find(|it| it.id == "red");
        let k = &mut red.expect("there is a red").optics.k;
        let middle = k.iter().map(|it| it.ln()).sum::<f64>() / BANDS as f64;
        for (band, it) in k.iter_mut().enumerate() {
            let wave = (nm(band) / 20.0).sin() * (steeper - 1.0);
            *it = (middle + (it.ln() - middle) * steeper + wave).exp();
        }
        let trials = shelf(&truth, &[0.5, 1.0, 2.0, 4.0, 8.0]);
        (fit(&trials).expect("sound trials"), truth)
    }

    #[test]
    fn a_pigment_with_steep_flanks_leaves_more_open() {
        let open = |model: &Model, id: &str| {
            let groups = &model.evidence.groups;
            let own = groups.iter().find(|it| it.pigments == [id]).expect(id);
            let k = &own.priors[0].k;
            k[(0, 0)] - k[(0, 40)]
        };
        let ((even, _), (steep, truth)) = (with_red(0.3), with_red(2.5));
        let (before, after) = (open(&even, "red"), open(&steep, "red"));
        assert!(after > 2.0 * before, "{after} {before}");
        assert!((open(&even, "blue") - open(&steep, "blue")).abs() < 1e-9);
        // And its mixtures hold the truth.
        let asked = coat(&[("red", 2.0), ("blue", 2.0)]);
        let found = steep.predict(&asked).expect("tried");
        let away = crate::colour::difference::delta_e_2000(found.lab, trial_of(&truth, &asked).lab);
        assert!(away < found.u95, "{away} {}", found.u95);
    }
}
