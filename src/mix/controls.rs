//! What the controls of one ground say together, and whether they say the same.
//!
//! Their mean counts, weighted by what is known of each. Where they differ beyond what is unsure of them, one was measured wrongly or the
//! ground isn't the same everywhere: what they differ by, less what chance allows, is then in each one's covariance, and so in the mean's. Of two nobody knows
//! which is wrong, and the truth may be either; of three or more the odd one counts for less.

use super::bands::{self, Spectrum};
use super::directed;
use super::ground::within;
use super::residual::{Contradiction, Off, widened};
use super::solve::vector;
use super::surface::COATING;
use super::trial::Trial;
use crate::colour::Matrix;
use crate::colour::uncertainty::square_root;
use nalgebra::Vector3;

/// A mean colour with what it is off by.
pub(super) struct Mean {
    /// At the mean of the controls' amounts.
    pub(super) lab: Vector3<f64>,
    pub(super) covariance: Matrix,
    pub(super) together: Matrix,
    pub(super) apart: Matrix,
    pub(super) contradicts: Vec<Contradiction>,
}

/// Variance that is left where a control says it has none.
const FINEST: f64 = 1e-4;

/// Of controls of one ground, at least one; `coating` is what is known to absorb in them: those of other amounts are compared at the mean amount.
pub(super) fn mean(controls: &[&Trial], coating: Option<&Spectrum>) -> Mean {
    let stated: Vec<Matrix> = (controls.iter())
        .map(|it| it.covariance + Matrix::identity() * FINEST)
        .collect();
    let compared = compared(controls, coating);
    let mut noise = stated.clone();
    // At most all of them come to be in doubt, one after the other.
    for _ in 0..controls.len() {
        let Some(wider) = left_out(&compared, &noise).and_then(|it| widened(&stated, &noise, &it))
        else {
            break;
        };
        noise = wider;
    }
    if let ([one, other], [stated_one, stated_other]) = (&mut noise[..], &stated[..]) {
        // What two differ by is the error of one of them: half of its square each.
        *one = (*one + stated_one) / 2.0;
        *other = (*other + stated_other) / 2.0;
    }
    // Of two each is held against the other as that was stated, of more against what is left of the others.
    let held = if controls.len() == 2 { &stated } else { &noise };
    let contradicts = left_out(&compared, held).map(|all| {
        (all.iter().enumerate())
            .filter_map(|(i, off)| {
                let off = off.as_stated(&held[i], &stated[i])?;
                off.contradiction(i, controls[i].lab)
            })
            .collect()
    });
    let (shares, covariance) = shares(&noise);
    let shared = shares
        .iter()
        .zip(controls)
        .map(|(share, it)| share * square_root(&it.common).unwrap_or_else(Matrix::zeros));
    let shared: Vec<Matrix> = shared.collect();
    Mean {
        // At the mean amount, which is what the ground is stated for.
        lab: (shares.iter().zip(&compared))
            .map(|(share, it)| share * it)
            .sum(),
        covariance,
        together: shared.iter().sum(),
        apart: shared.iter().map(|it| it * it.transpose()).sum(),
        contradicts: contradicts.unwrap_or_default(),
    }
}

/// What part of their mean each of the values of these covariances is, and the covariance of that mean. Where one can't be inverted all have the same
/// part, and the mean's covariance is that of such a mean.
fn shares(noise: &[Matrix]) -> (Vec<Matrix>, Matrix) {
    weighed(noise).unwrap_or_else(|| {
        let n = noise.len() as f64;
        let sum: Matrix = noise.iter().sum();
        (vec![Matrix::identity() / n; noise.len()], sum / n.powi(2))
    })
}

fn weighed(noise: &[Matrix]) -> Option<(Vec<Matrix>, Matrix)> {
    let weights: Vec<Matrix> = noise
        .iter()
        .map(|it| it.try_inverse())
        .collect::<Option<_>>()?;
    let covariance = weights.iter().sum::<Matrix>().try_inverse()?;
    let shares = weights.iter().map(|it| covariance * it).collect();
    Some((shares, covariance))
}

/// What each is off from the mean of the others; `None` of one alone, and where nothing can be inverted.
fn left_out(labs: &[Vector3<f64>], noise: &[Matrix]) -> Option<Vec<Off>> {
    if labs.len() < 2 {
        return None;
    }
    (0..labs.len())
        .map(|out| {
            let others: Vec<usize> = (0..labs.len()).filter(|it| *it != out).collect();
            let own: Vec<Matrix> = others.iter().map(|it| noise[*it]).collect();
            let (shares, covariance) = shares(&own);
            let mean: Vector3<f64> = (shares.iter().zip(&others))
                .map(|(share, it)| share * labs[*it])
                .sum();
            let by = labs[out] - mean;
            let spread = covariance + noise[out];
            Some(Off {
                far: by.dot(&(spread.try_inverse()? * by)),
                by,
                spread,
            })
        })
        .collect()
}

/// Colours as they would be at the mean amount.
fn compared(controls: &[&Trial], coating: Option<&Spectrum>) -> Vec<Vector3<f64>> {
    let mean = controls.iter().map(|it| it.g_per_m2).sum::<f64>() / controls.len() as f64;
    (controls.iter())
        .map(|it| {
            let lab = vector(it.lab);
            let Some((seen, k)) = within(lab).zip(coating) else {
                return lab;
            };
            let moved: Spectrum = std::array::from_fn(|band| {
                let passes =
                    directed::clear(k[band] * mean) / directed::clear(k[band] * it.g_per_m2);
                COATING.seen(f64::min(seen[band] * passes, 1.0))
            });
            vector(bands::to_lab(&moved))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Lab;
    use crate::colour::difference::delta_e_2000;

    fn control(name: &str, l: f64, sd: f64) -> Trial {
        Trial {
            swatch: None,
            name: name.to_owned(),
            pigments: Vec::new(),
            ground: "larch".to_owned(),
            g_per_m2: 200.0,
            lab: Lab::new(l, 8.0, 20.0),
            covariance: Matrix::identity() * sd.powi(2),
            common: Matrix::zeros(),
        }
    }

    fn mean_of(all: &[Trial]) -> Mean {
        mean(&all.iter().collect::<Vec<_>>(), None)
    }

    #[test]
    fn of_two_that_differ_the_truth_may_be_either() {
        let it = mean_of(&[control("one", 70.0, 0.5), control("other", 78.0, 0.5)]);
        assert!((it.lab.x - 74.0).abs() < 1e-9);
        // Half of what they differ by, one standard deviation, and more than chance and less than 5 % beyond.
        let sd = it.covariance[(0, 0)].sqrt();
        assert!((3.6..4.2).contains(&sd), "{sd}");
        // In the other coordinates they agree.
        assert!((it.covariance[(1, 1)].sqrt() - 0.5 / 2.0_f64.sqrt()).abs() < 1e-3);
        assert_eq!(it.contradicts.len(), 2);
        let apart = delta_e_2000(Lab::new(70.0, 8.0, 20.0), Lab::new(78.0, 8.0, 20.0));
        assert!((it.contradicts[0].off - apart).abs() < 1e-9);
        assert!(it.contradicts[0].doubt < 2.0);
    }

    #[test]
    fn the_odd_one_of_three_counts_for_less_and_is_the_one_that_is_named() {
        let all = [70.0, 70.4, 79.0].map(|l| control("it", l, 0.5));
        let it = mean_of(&all);
        assert!((it.lab.x - 70.2).abs() < 0.3, "{}", it.lab);
        assert_eq!(it.contradicts.len(), 1);
        assert_eq!(it.contradicts[0].which, 2);
        // In another order the same.
        let turned = mean_of(&[all[2].clone(), all[0].clone(), all[1].clone()]);
        assert!((turned.lab - it.lab).norm() < 1e-9);
        assert_eq!(turned.contradicts[0].which, 0);
    }

    #[test]
    fn values_that_cannot_be_weighed_have_equal_parts_and_their_own_doubt() {
        // Sure in one direction, and so without an inverse.
        let flat = Matrix::from_diagonal(&Vector3::new(9.0, 25.0, 0.0));
        let (parts, covariance) = shares(&[flat, Matrix::identity() * 7.0]);
        assert!(
            parts
                .iter()
                .all(|it| (it - Matrix::identity() / 2.0).norm() < 1e-12)
        );
        let expected = Matrix::from_diagonal(&Vector3::new(4.0, 8.0, 1.75));
        assert!((covariance - expected).norm() < 1e-12, "{covariance}");
    }

    #[test]
    fn what_agrees_is_as_sure_as_before() {
        let all = [70.0, 70.7, 69.6].map(|l| control("it", l, 0.5));
        let it = mean_of(&all);
        assert!((it.covariance - Matrix::identity() * (0.25 / 3.0)).norm() < 1e-3);
        assert!(it.contradicts.is_empty());
        // Nothing is said to be unsure: what differs is.
        let exact = [70.0, 73.0].map(|l| control("it", l, 0.0));
        let it = mean_of(&exact);
        assert!(it.covariance[(0, 0)] > 1.0, "{}", it.covariance);
    }
}
