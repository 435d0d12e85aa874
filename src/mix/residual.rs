//! Trials against what the others say of them.

use super::solve::vector;
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix, uncertainty};
use nalgebra::{DMatrix, DVector, Vector3};

/// A trial contradicts the others when its squared distance from what they say of it, in standard deviations, is above this: 0.1 % of the
/// values of χ² with three degrees of freedom are.
pub(super) const CONTRADICTION: f64 = 16.27;
/// From here on it counts for less: 99 % are below. At 95 % sound trials that films follow badly were weighed down, and predictions of translucent
/// films got worse (`cargo bench --profile dev --bench mix -- 6 94000002 study`: ΔE00 1.64 at 99 %, 2.10 at 95 %).
pub(super) const DOUBTFUL: f64 = 11.34;

/// What each trial is off from what the others say of it, and that squared in its own standard deviations: about the fit as straight lines.
///
/// # Source
/// Leave-one-out residuals of Gaussian processes: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning*, MIT Press
/// 2006, eq. 5.12, block by block.
pub(super) fn left_out(inverse: &DMatrix<f64>, pull: &DVector<f64>) -> Option<Vec<Off>> {
    (0..pull.len() / 3)
        .map(|i| {
            let precision = inverse.fixed_view::<3, 3>(3 * i, 3 * i).into_owned();
            let pull = pull.fixed_rows::<3>(3 * i).into_owned();
            let spread = precision.try_inverse()?;
            let by = spread * pull;
            Some(Off {
                far: by.dot(&pull),
                by,
                spread,
            })
        })
        .collect()
}

/// What a trial is off from what the others say of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Off {
    pub(super) by: Vector3<f64>,
    /// Covariance that it was thought to have.
    pub(super) spread: Matrix,
    /// Squared, in standard deviations.
    pub(super) far: f64,
}

impl Off {
    /// With the covariance that was stated of the trial in place of the one that it has by now.
    pub(super) fn as_stated(&self, now: &Matrix, stated: &Matrix) -> Option<Self> {
        let spread = self.spread - now + stated;
        Some(Self {
            far: self.by.dot(&(spread.try_inverse()? * self.by)),
            spread,
            ..*self
        })
    }

    /// How far it contradicts the others, if it does; `lab` is what was measured.
    pub(super) fn contradiction(&self, which: usize, lab: Lab) -> Option<Contradiction> {
        let there = vector(lab) - self.by;
        let others = Lab::new(there.x, there.y, there.z);
        (self.far > CONTRADICTION).then(|| Contradiction {
            which,
            off: delta_e_2000(lab, others),
            doubt: uncertainty::u95(others, &self.spread).unwrap_or_default(),
        })
    }
}

/// A trial that contradicts the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Contradiction {
    /// Which of those that were compared.
    pub(super) which: usize,
    /// ΔE00 from what the others say of it.
    pub(super) off: f64,
    /// What that is to be below in 95 % of cases, by all that is unsure.
    pub(super) doubt: f64,
}

/// Of those that are in doubt, these are the ones to weigh down first: as far off as the farthest, but for this share. What lies beside one that is
/// wrong is drawn off by it, less than it is off itself.
const FARTHEST: f64 = 0.5;

/// Covariances of trials, wider where they are off from what the others say of them: by what they are off, less what chance allows. `None` where
/// none of these is in doubt that was not before.
///
/// What a trial is off from the others doesn't hang on its own covariance; so this gives the same, however often it is applied. The farther
/// off, the less a trial draws the others: its variance grows with the square.
///
/// # Source
/// Redescending weights, as in P. J. Huber, E. M. Ronchetti, *Robust Statistics*, Wiley 2009, 4.8; this form is a choice, no source.
pub(super) fn widened(stated: &[Matrix], now: &[Matrix], off: &[Off]) -> Option<Vec<Matrix>> {
    let off: Vec<Off> = (off.iter().zip(now).zip(stated))
        .map(|((off, now), stated)| off.as_stated(now, stated))
        .collect::<Option<_>>()?;
    let wider: Vec<bool> = now.iter().zip(stated).map(|(a, b)| a != b).collect();
    let fresh = |i: &usize| !wider[*i] && off[*i].far > DOUBTFUL;
    let farthest = (0..off.len()).filter(fresh);
    let farthest = farthest.map(|i| off[i].far).reduce(f64::max)?;
    let widened = (0..off.len()).map(|i| {
        let weighed = wider[i] || (fresh(&i) && off[i].far >= FARTHEST * farthest);
        if weighed && off[i].far > DOUBTFUL {
            let beyond = 1.0 - DOUBTFUL / off[i].far;
            stated[i] + off[i].by * off[i].by.transpose() * beyond
        } else {
            stated[i]
        }
    });
    Some(widened.collect())
}
